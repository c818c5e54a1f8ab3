"""How long the report on a long take needs, and how much memory: both follow the length.

Run it with ``python tests/benchmarks/bench_listen_report.py [HOURS]`` (2 unless told otherwise,
which takes about a minute). Takes of 260 catches a minute, half as long and whole, are held against
their catches with the call on the take and without it, and against nothing.
"""

import sys
import time
import tracemalloc
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parent.parent / "helpers"))

from thud_times import Manner, Take, catches_of, take_of

from engine.catching.expected import Catch
from engine.catching.report import listen_report

TEMPO = 260


def measured(catches: list[Catch], take: Take, *, placed: bool) -> tuple[float, float]:
    """Return the seconds that a report takes, and the most memory that it holds, in MB."""
    began = time.process_time()
    listen_report(take.thuds, take.seconds, catches, placed=placed)
    seconds = time.process_time() - began
    tracemalloc.start()
    listen_report(take.thuds, take.seconds, catches, placed=placed)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return seconds, most / 1e6


def main() -> None:
    """Measure and print."""
    hours = float(sys.argv[1]) if len(sys.argv) > 1 else 2.0
    for share in (0.5, 1.0):
        catches = catches_of("531", TEMPO, round(share * hours * 60 * TEMPO))
        take = take_of(catches, Random(1), Manner(sd=0.015))
        for name, against, placed in (
            ("with the call on the take", catches, True),
            ("without it", catches, False),
            ("against nothing", [], False),
        ):
            seconds, most = measured(against, take, placed=placed)
            sys.stdout.write(
                f"{take.seconds / 3600:.2f} h, {name}: {seconds:.1f} s, {most:.0f} MB at most\n"
            )


if __name__ == "__main__":
    main()
