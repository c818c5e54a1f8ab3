"""How long listening takes and how much memory, for a short take and one of two hours.

Run it with ``python tests/benchmarks/bench_takes.py``, or give other lengths in minutes after
it; two hours take some minutes. It prints, for each length, with the call on the take, which is
found and left out, and without it: the time as a multiple of real time, and the peak memory of
the process, where the system tells it. Memory should be flat, and time in proportion.
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path
from time import perf_counter

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
    import resource
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    sys.stderr.write(f"{peak / (2**20 if sys.platform == 'darwin' else 2**10):.0f}\\n")
"""
"""The command, which tells its peak memory in megabytes on standard error."""


def listened(path: Path, minutes: float, *, called: bool) -> tuple[float, float]:
    """Return the seconds that listening takes, and the peak memory in megabytes."""
    beats = ("--beats", str(round(minutes * TEMPO)))
    asked = ("--pattern", PATTERN, "--tempo", str(TEMPO), *beats, "--json")
    command = [sys.executable, "-c", LISTEN, "listen", str(path), *asked]
    if not called:
        command.append("--headphones")
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    start = perf_counter()
    done = subprocess.run(command, check=True, env=environment, capture_output=True, text=True)
    return perf_counter() - start, float(done.stderr.splitlines()[-1])


def main() -> None:
    """Measure and print."""
    lengths = tuple(map(float, sys.argv[1:])) or MINUTES
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "take.wav"
        for called in (False, True):
            for minutes in lengths:
                write_long_take(path, minutes, called=called)
                seconds, peak = listened(path, minutes, called=called)
                sys.stdout.write(
                    f"{'with' if called else 'without'} the call, {minutes:5g} minutes: "
                    f"{seconds:6.1f} s, {60 * minutes / seconds:4.0f} x real time, "
                    f"{peak:5.0f} MB at the most\n"
                )
                sys.stdout.flush()


if __name__ == "__main__":
    main()
