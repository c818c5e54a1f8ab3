"""How often a drop is found on its catch and within a beat of it, against the best possible guess.

Run it with ``python tests/benchmarks/bench_drops.py``, or give another number of takes of each
pattern in each way of dropping after it. On every take 5 % of the catches are missing and 5 % of
the sounds are extra. The best guesses are those of one who knows all chances of the simulation
(`best_guess`), but not the last two ways: nobody who only hears the take does better on average.
"""

import sys
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import mean

sys.path.insert(0, str(Path(__file__).parent.parent / "helpers"))

from best_guess import best_guesses
from dropped_takes import BESIDE, WAYS, DroppedTake, dropped_takes
from rich.progress import track

from throwcount.engine.takes.report import listen_report

TAKES = 50
ON_IT, WITHIN = 0.01, 1.01
"""Beats that count as none, and as one."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """Beats by which the engine and both best guesses are off, and what the engine tells."""

    off: float
    likeliest: float
    nearest: float
    within_beat: float
    drops: int


def outcome(told: DroppedTake) -> Outcome:
    """Return how far off the engine's surest drop and the best guesses are."""
    take = told.take
    drops = listen_report(take.thuds, take.seconds, told.catches, placed=True).drops
    surest = max(drops, key=lambda drop: drop.confidence, default=None)
    likeliest, nearest = best_guesses(told)
    return Outcome(
        off=told.beats_off(surest.catch if surest else None),
        likeliest=told.beats_off(likeliest),
        nearest=told.beats_off(nearest),
        within_beat=surest.within_beat if surest else 0.0,
        drops=len(drops),
    )


def line(name: str, outcomes: Sequence[Outcome]) -> str:
    """Return the shares of a kind of takes."""
    shares = (
        mean(each.off < ON_IT for each in outcomes),
        mean(each.off < WITHIN for each in outcomes),
        mean(each.within_beat for each in outcomes),
        mean(each.likeliest < ON_IT for each in outcomes),
        mean(each.likeliest < WITHIN for each in outcomes),
        mean(each.nearest < WITHIN for each in outcomes),
        mean(each.drops == 1 for each in outcomes),
    )
    return f"{name:26}{len(outcomes):5}" + "".join(f"{share:10.1%}" for share in shares) + "\n"


HEADS = ("on it", "in a beat", "told", "best on", "its beat", "best in", "one drop")
"""By the engine, and how often it says so; by the best guesses; and how often no more was told."""


def main() -> None:
    """Find and print."""
    takes = int(sys.argv[1]) if len(sys.argv) > 1 else TAKES
    outcomes: dict[str, list[Outcome]] = defaultdict(list)
    for way, told in track(list(dropped_takes(takes, ways=[*WAYS, *BESIDE])), "Takes"):
        outcomes[way].append(outcome(told))
    sys.stdout.write(f"{'':26}{'takes':>5}" + "".join(f"{head:>10}" for head in HEADS) + "\n")
    for way, each in outcomes.items():
        sys.stdout.write(line(way, each))
    sys.stdout.write(line("all but the last two", [each for way in WAYS for each in outcomes[way]]))


if __name__ == "__main__":
    main()
