"""What helps and quick commands cost to start, against a bare import of click.

Run it with ``python tests/benchmarks/bench_startup.py``. It prints the processor time (user and
system) of whole processes and its ratio to that of the import: the least of many runs each, taken
in turns so that a busy machine weighs on all alike. The log that `throwcount log` shows holds a
few dozen sets.
"""

import os
import shutil
import subprocess
import sys
import sysconfig
from pathlib import Path
from tempfile import TemporaryDirectory

from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.records import Plan, Thrown
from throwcount.engine.patterns.rules import read

ROUNDS = 15
BARE = "import click"
ARGUMENTS = ("--help", "play --help", "render --help", "listen --help", "plan --help", "log",
             "log --help", "check 531")  # fmt: skip
SETS = 30


def fill(path: Path) -> None:
    """Write a log of some sets, as a practice leaves it."""
    pattern = read("531")
    with PracticeLog.open(path) as log:
        session = log.begin_session("beanbags")
        for number in range(SETS):
            tempo = 160.0 + number
            begun = log.begin_set(session, Plan(pattern, tempo, beats=60))
            log.end_set(begun, Thrown(60, 3600 / tempo, tempo), "finished")
        log.end_session(session)


def processor_seconds(command: list[str], log: Path) -> float:
    """Return what one whole process took of the processor.

    Raises
    ------
    subprocess.CalledProcessError
        If it fails.
    """
    environment = os.environ | {"THROWCOUNT_LOG": str(log)}
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, env=environment)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise subprocess.CalledProcessError(process.returncode, command)
    return used.ru_utime + used.ru_stime


def main() -> None:
    """Measure and print."""
    script = shutil.which("throwcount", path=sysconfig.get_path("scripts"))
    start = [script] if script else [sys.executable, "-m", "throwcount.caller"]
    commands = {BARE: [sys.executable, "-c", BARE]}
    commands |= {text: [*start, *text.split()] for text in ARGUMENTS}
    least = dict.fromkeys(commands, float("inf"))
    with TemporaryDirectory() as folder:
        log = Path(folder) / "log.sqlite"
        fill(log)
        for _ in range(ROUNDS):
            for name, command in commands.items():
                least[name] = min(least[name], processor_seconds(command, log))
    for name, taken in least.items():
        ratio = taken / least[BARE]
        sys.stdout.write(f"{name:16} {taken * 1000:6.1f} ms   {ratio:.2f} x {BARE}\n")


if __name__ == "__main__":
    main()
