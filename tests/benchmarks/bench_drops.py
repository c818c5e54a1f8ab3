"""How often a drop is found on its catch and within a beat of it, against the best possible guess.

Run it with ``python tests/benchmarks/bench_drops.py``, or give another number of takes of each
pattern in each way of dropping after it. On every take 5 % of the catches are missing and 5 % of
the sounds are extra. The best guess is that of one who knows all chances of the simulation
(`best_guess`): nobody who only hears the take does better on average.
"""

import sys
from collections import defaultdict
from pathlib import Path
from statistics import mean

sys.path.insert(0, str(Path(__file__).parent.parent / "helpers"))

from best_guess import best_guess
from dropped_takes import DroppedTake, dropped_takes
from rich.progress import track

from engine.catching.report import listen_report

TAKES = 50
ON_IT, WITHIN = 0.01, 1.01
"""Beats that count as none, and as one."""

Outcome = tuple[float, float, float]
"""Beats that are off by the engine, how surely it says it is within one, and by the best guess."""


def outcome(told: DroppedTake) -> Outcome:
    """Return how far off the engine and the best guess are."""
    take = told.take
    drops = listen_report(take.thuds, take.seconds, told.catches, placed=True).drops
    found = [(told.beats_off(drop.catch), drop.within_beat) for drop in drops]
    off, sure = min(found, default=(float("inf"), 0.0))
    return off, sure, told.beats_off(best_guess(told))


def line(name: str, outcomes: list[Outcome]) -> str:
    """Return the shares of a kind of takes."""
    off, sure, best = zip(*outcomes, strict=True)
    shares = [mean(beats < most for beats in by) for by in (off, best) for most in (ON_IT, WITHIN)]
    told = "".join(f"{share:12.1%}" for share in (*shares, mean(sure)))
    return f"{name:28}{len(outcomes):6}{told}\n"


def main() -> None:
    """Find and print."""
    takes = int(sys.argv[1]) if len(sys.argv) > 1 else TAKES
    outcomes: dict[str, list[Outcome]] = defaultdict(list)
    for way, told in track(list(dropped_takes(takes)), "Takes"):
        outcomes[way].append(outcome(told))
    heads = ("on it", "in a beat", "best: on it", "in a beat", "told")
    sys.stdout.write(f"{'':28}{'takes':>6}" + "".join(f"{head:>12}" for head in heads) + "\n")
    for way, each in outcomes.items():
        sys.stdout.write(line(way, each))
    sys.stdout.write(line("all", [each for some in outcomes.values() for each in some]))


if __name__ == "__main__":
    main()
