"""How long listening takes and how much memory, for a short take and one of two hours.

Run it with ``python tests/benchmarks/bench_takes.py``, or give other lengths in minutes after
it; two hours take some minutes. It prints, for each length, the processor time as a multiple of
that with headphones, its share of real time, and the peak memory of the process: with headphones,
with a call that is looked for in vain, and with one that is found and taken out. Memory should be
flat, and time in proportion.
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
HELPERS = ROOT / "tests" / "helpers"
sys.path[:0] = [str(ROOT), str(HELPERS)]

from long_takes import PATTERN, TEMPO, write_long_take  # noqa: E402 - found on the path above

MINUTES = (10.0, 120.0)

LISTEN = """\
import sys
from throwcount.caller.main import run
try:
    run()
finally:
    import resource, time
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    megabytes = peak / (2**20 if sys.platform == 'darwin' else 2**10)
    sys.stderr.write(f"{time.process_time()} {megabytes}\\n")
"""
"""The command, which tells its seconds of processor time and its peak memory in megabytes."""

CASES = {
    "headphones": (False, False),
    "no call on it": (False, True),
    "the call on it": (True, True),
}
"""Whether the call is on the take, and whether it is looked for."""


def listened(path: Path, minutes: float, *, looked_for: bool) -> tuple[float, float]:
    """Return the seconds of processor time of listening, and the peak memory in megabytes."""
    beats = ("--beats", str(round(minutes * TEMPO)))
    asked = ("--pattern", PATTERN, "--tempo", str(TEMPO), *beats, "--json")
    command = [sys.executable, "-c", LISTEN, "listen", str(path), *asked]
    if not looked_for:
        command.append("--headphones")
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, check=True, env=environment, capture_output=True, text=True)
    seconds, peak = map(float, done.stderr.splitlines()[-1].split())
    return seconds, peak


def main() -> None:
    """Measure and print."""
    lengths = tuple(map(float, sys.argv[1:])) or MINUTES
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "take.wav"
        for minutes in lengths:
            least = 0.0
            for title, (called, looked_for) in CASES.items():
                write_long_take(path, minutes, called=called)
                seconds, peak = listened(path, minutes, looked_for=looked_for)
                least = least or seconds
                sys.stdout.write(
                    f"{minutes:5g} minutes, {title:15} {seconds / least:4.1f} x headphones, "
                    f"{seconds / minutes / 0.6:5.2f} % of real time, {peak:5.0f} MB at the most\n"
                )
                sys.stdout.flush()


if __name__ == "__main__":
    main()
