"""How long reports on long takes need, and a look at a live set; and how much memory they hold.

Run it with ``python tests/benchmarks/bench_catching.py [HOURS]`` (2 unless told otherwise, which
takes about a minute). Takes of 260 catches a minute with a drop every two minutes, half as long and
whole, are held against their catches with the call on the take and without it, and against nothing:
time and memory follow the length. Then drops are watched for in as long a set, looked at ten times
a second: no look needs more than some ten milliseconds, and no more memory however long the set is.
"""

import gc
import sys
import time
import tracemalloc
from collections.abc import Iterator
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parent.parent / "helpers"))

from thud_times import Dropped, Heard, Manner, Take, catches_of, take_of

from throwcount.engine.takes.catches import Catch
from throwcount.engine.takes.drops import DropWatch
from throwcount.engine.takes.report import listen_report

TEMPO = 260
POLL = 0.1
WATCHED = 0.25
"""Seconds between two looks, and the share of the hours that is watched."""


def reported(catches: list[Catch], take: Take, *, placed: bool) -> tuple[float, float]:
    """Return the seconds that a report takes, and the most memory that it holds, in MB."""
    began = time.process_time()
    listen_report(take.thuds, take.seconds, catches, placed=placed)
    seconds = time.process_time() - began
    tracemalloc.start()
    listen_report(take.thuds, take.seconds, catches, placed=placed)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return seconds, most / 1e6


def looks(catches: list[Catch], take: Take) -> Iterator[float]:
    """Yield the seconds that each look at a set takes."""
    watch, coming = DropWatch(catches), iter(take.thuds)
    waiting = next(coming, None)
    for poll in range(int(take.seconds / POLL)):
        heard: list[Heard] = []
        while waiting is not None and waiting.time <= poll * POLL:
            heard.append(waiting)
            waiting = next(coming, None)
        began = time.process_time()
        watch.hear(heard)
        watch.judge(poll * POLL)
        yield time.process_time() - began


def print_reports(hours: float) -> None:
    """Measure reports on takes of half the hours and of all."""
    for share in (0.5, 1.0):
        catches = catches_of("531", TEMPO, round(share * hours * 60 * TEMPO))
        drops = [Dropped(catch, resumed=6.0) for catch in range(500, len(catches) - 500, 500)]
        take = take_of(catches, Random(1), Manner(sd=0.015), drops)
        for name, against, placed in (
            ("with the call on the take", catches, True),
            ("without it", catches, False),
            ("against nothing", [], False),
        ):
            seconds, most = reported(against, take, placed=placed)
            sys.stdout.write(
                f"{take.seconds / 3600:.2f} h, {name}: {seconds:.1f} s, {most:.0f} MB at most\n"
            )


def print_looks(hours: float) -> None:
    """Measure the looks at a live set, and the memory held meanwhile."""
    catches = catches_of("531", TEMPO, round(WATCHED * hours * 60 * TEMPO))
    take = take_of(catches, Random(2), Manner(sd=0.015, missing=0.03))
    taken = sorted(looks(catches, take))
    sys.stdout.write(
        f"{take.seconds / 60:.0f} min watched: {1000 * sum(taken) / len(taken):.2f} ms a look in "
        f"the mean, one in a hundred more than {1000 * taken[-len(taken) // 100]:.1f} ms, "
        f"{1000 * taken[-1]:.1f} ms at most\n"
    )
    for look, _ in enumerate(looks(catches, take)):
        if look in {len(taken) // 4, len(taken) // 2, len(taken) - 1}:
            gc.collect()
            blocks = sys.getallocatedblocks()
            sys.stdout.write(f"  {blocks} blocks of memory held after {look} looks\n")


def main() -> None:
    """Measure and print."""
    hours = float(sys.argv[1]) if len(sys.argv) > 1 else 2.0
    print_reports(hours)
    print_looks(hours)


if __name__ == "__main__":
    main()
