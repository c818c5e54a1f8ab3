"""How long ``throwcount --help`` takes, against a bare import of click.

Run it with ``python tests/benchmarks/bench_startup.py``. It prints ratios: the fastest of many
whole processes each, taken in turns so that a busy machine weighs on all alike.
"""

import shutil
import subprocess
import sys
import sysconfig
from time import perf_counter

ROUNDS = 40
COMMANDS = {
    "import click": [sys.executable, "-c", "import click"],
    "python -m caller --help": [sys.executable, "-m", "caller", "--help"],
}


def seconds(command: list[str]) -> float:
    """Return the duration of one whole process."""
    start = perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return perf_counter() - start


def main() -> None:
    """Measure and print."""
    script = shutil.which("throwcount", path=sysconfig.get_path("scripts"))
    commands = COMMANDS | ({"throwcount --help": [script, "--help"]} if script else {})
    fastest = dict.fromkeys(commands, float("inf"))
    for _ in range(ROUNDS):
        for name, command in commands.items():
            fastest[name] = min(fastest[name], seconds(command))
    bare = fastest["import click"]
    for name, taken in fastest.items():
        sys.stdout.write(f"{name:24} {taken * 1000:6.1f} ms   {taken / bare:.2f} x import click\n")


if __name__ == "__main__":
    main()
