"""How long the difficulty of a pattern takes, against reading it, and how the time grows.

Run it with ``python tests/benchmarks/bench_hands.py``. It prints ratios of processor time, of the
fastest of some runs taken in turns:

- the difficulty of each pattern against reading it from its text;
- ranking the patterns that a search finds against reading each of them;
- the difficulty of a pattern of ten times as many beats against that of one.
"""

import sys
from collections.abc import Callable
from time import process_time

from throwcount.engine.hands.difficulty import difficulty
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.rules import read
from throwcount.engine.search.find import PatternQuery, find
from throwcount.engine.search.ranking import Ranking

ROUNDS = 5
TIMES = 500
PATTERNS = ("3", "531", "97531", "7777700", "[33]33", "(4,2x)*", "(4,4)(4x,4x)")
LONG = "97531" * 20


def seconds(*works: Callable[[], object]) -> list[float]:
    """Return the processor time of each, the least of some rounds."""
    least = [float("inf")] * len(works)
    for _ in range(ROUNDS):
        for index, work in enumerate(works):
            begun = process_time()
            work()
            least[index] = min(least[index], process_time() - begun)
    return least


def ranked(patterns: list[Pattern]) -> None:
    """Rank the patterns, twenty of them."""
    ranking = Ranking(20, 9)
    for pattern in patterns:
        ranking.add(pattern)


def repeated(work: Callable[[], object]) -> Callable[[], object]:
    """Return the work, done many times."""
    return lambda: [work() for _ in range(TIMES)]


def main() -> None:
    """Print the ratios."""
    for text in PATTERNS:
        known = read(text)
        found, reading = seconds(
            repeated(lambda known=known: difficulty(known).number),
            repeated(lambda text=text: read(text)),
        )
        sys.stdout.write(
            f"{text}: {found / TIMES * 1e6:.0f} microseconds, {found / reading:.1f} times "
            "reading it\n"
        )
    patterns = list(find(PatternQuery(5, HandLimits(highest=9), (3, 4, 5, 6, 7))))
    texts = [pattern.text for pattern in patterns]
    ranking, reading = seconds(lambda: ranked(patterns), lambda: [read(text) for text in texts])
    sys.stdout.write(
        f"ranking {len(patterns):,} patterns: {ranking / len(patterns) * 1e6:.0f} microseconds "
        f"each, {ranking / reading:.1f} times reading them\n"
    )
    # Patterns whose true period is as long as they are, so that nothing is left out.
    short, long = read(LONG + "744"), read(LONG * 10 + "744")
    once, ten = seconds(lambda: difficulty(short).number, lambda: difficulty(long).number)
    sys.stdout.write(f"ten times the beats: {ten / once:.1f} times the time\n")


if __name__ == "__main__":
    main()
