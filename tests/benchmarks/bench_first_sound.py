"""How soon after Enter `throwcount play 531 --ready 0` is heard, against a bare import of numpy.

Run it with ``python tests/benchmarks/bench_first_sound.py``; it needs what
``tests/helpers/sound_server.py`` names. It plays on a software device, and prints the median time
of many runs of each, taken in turns so that a busy machine weighs on both alike, and their ratio.
The time ends when the first frame that is not silent comes out at the device's monitor: it holds
the latency of the player (50 ms), that of the sound server and that of the recorder (10 ms).
"""

import os
import shutil
import signal
import statistics
import subprocess
import sys
import sysconfig
import time
from pathlib import Path
from tempfile import TemporaryDirectory

sys.path.insert(0, str(Path(__file__).parents[1] / "helpers"))

from sound_server import CHANNELS, RATE, SINK, SoundServer, missing_parts

ROUNDS = 15
BARE = "import numpy"
ARGUMENTS = ("play", "531", "--ready", "0")
LONGEST = 60.0
"""Seconds after which a run without sound is given up."""


def seconds_of(command: list[str]) -> float:
    """Return how long a process takes from its start to its end."""
    start = time.monotonic()
    subprocess.run(command, check=True)
    return time.monotonic() - start


def seconds_to_sound(command: list[str], environment: dict[str, str]) -> float:
    """Return how long after the start of a process the first sound of it is heard.

    Raises
    ------
    TimeoutError
        If there is none.
    """
    recorder = subprocess.Popen(
        ("parec", f"--device={SINK}.monitor", "--raw", "--format=s16le", f"--rate={RATE}",
         f"--channels={CHANNELS}", "--latency-msec=10"),
        env=environment, stdout=subprocess.PIPE,
    )  # fmt: skip
    assert recorder.stdout is not None
    arrived = recorder.stdout.fileno()
    os.read(arrived, 1 << 16)  # which may be waited for: the recorder runs
    start = time.monotonic()
    player = subprocess.Popen(
        command, env=environment, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL
    )
    try:
        while not any(os.read(arrived, 1 << 16)):
            if time.monotonic() - start > LONGEST:
                raise TimeoutError(f"{' '.join(command)} was not heard.")
        return time.monotonic() - start
    finally:
        player.send_signal(signal.SIGINT)
        player.wait()
        recorder.kill()
        recorder.wait()


def main() -> None:
    """Measure and print."""
    if missing := missing_parts():
        sys.exit(f"A sound server in software needs what is missing here: {', '.join(missing)}.")
    script = shutil.which("throwcount", path=sysconfig.get_path("scripts"))
    command = [*([script] if script else [sys.executable, "-m", "throwcount.caller"]), *ARGUMENTS]
    bare, heard = [], []
    with TemporaryDirectory() as folder:
        server = SoundServer(Path(folder))
        environment = server.environment | {"THROWCOUNT_LOG": str(Path(folder) / "log.sqlite")}
        try:
            seconds_to_sound(command, environment)  # what is read once is in store from here on
            for _ in range(ROUNDS):
                bare.append(seconds_of([sys.executable, "-c", BARE]))
                heard.append(seconds_to_sound(command, environment))
        finally:
            server.close()
    imported, sound = statistics.median(bare), statistics.median(heard)
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else 0.0
    sys.stdout.write(
        f"{BARE} {imported * 1000:.0f} ms   first sound {sound * 1000:.0f} ms   "
        f"ratio {sound / imported:.2f}   (load {load:.1f})\n"
    )


if __name__ == "__main__":
    main()
