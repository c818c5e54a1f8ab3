"""How fast patterns are found, against networkx, and whether the time follows their number.

Run it with ``python tests/benchmarks/bench_search.py``. It prints ratios of the fastest of some
runs, taken in turns so that a busy machine weighs on all alike:

- every prime pattern of 4 objects, highest throw 8, up to period 13, against the cycles of the
  same graph that ``networkx.simple_cycles`` lists with the same bound to their length;
- N and ten times N patterns from one search, for several kinds of search;
- the memory that a search takes for N and for ten times N patterns.
"""

import sys
import tracemalloc
from collections.abc import Callable
from itertools import islice
from time import perf_counter

import networkx as nx

from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.search.find import PatternQuery, find_texts
from throwcount.engine.search.state_graph import all_states, prime_cycles, state_graph, transitions

OBJECTS, HIGHEST, LONGEST = 4, 8, 13
ROUNDS = 5
FEW = 4_000
SEARCHES = {
    "plain, 4 objects, height 9, period 12": PatternQuery(4, HandLimits(highest=9), (12,)),
    "plain, 5 objects, height 35, period 10": PatternQuery(5, HandLimits(highest=35), (10,)),
    "prime, 4 objects, height 8, period 14": PatternQuery(
        4, HandLimits(highest=8), (14,), only=frozenset({"prime"})
    ),
    "from ground, 4 objects, height 8, period 12": PatternQuery(
        4, HandLimits(highest=8), (12,), only=frozenset({"ground"})
    ),
    "pairs, 4 objects, height 8, period 12": PatternQuery(4, HandLimits("sync", 8), (12,)),
    "multiplex, 4 objects, height 6, period 7": PatternQuery(
        4, HandLimits(highest=6, capacity=2), (7,)
    ),
}


def prime_by_search() -> int:
    """Return the number of prime patterns, as texts in their chosen rotation."""
    periods = tuple(range(1, LONGEST + 1))
    asked = PatternQuery(OBJECTS, HandLimits(highest=HIGHEST), periods, only=frozenset({"prime"}))
    return sum(1 for _ in find_texts(asked))


def prime_by_cycles() -> int:
    """Return the number of prime patterns, as rows of throw values."""
    graph = state_graph(OBJECTS, HIGHEST)
    return sum(1 for period in range(1, LONGEST + 1) for _ in prime_cycles(graph, period))


def prime_by_networkx() -> int:
    """Return the number of cycles, as rows of states."""
    graph = nx.DiGraph()
    for before in all_states(OBJECTS, HIGHEST):
        graph.add_edges_from((before, after) for _, after in transitions(before, HIGHEST))
    return sum(1 for _ in nx.simple_cycles(graph, length_bound=LONGEST))


def fastest(tasks: dict[str, Callable[[], int]]) -> dict[str, tuple[float, int]]:
    """Return the shortest time of each task and what it returned."""
    best: dict[str, tuple[float, int]] = {}
    for _ in range(ROUNDS):
        for name, task in tasks.items():
            start = perf_counter()
            result = task()
            taken = perf_counter() - start
            best[name] = min(best.get(name, (taken, result)), (taken, result))
    return best


def listing(asked: PatternQuery, number: int) -> Callable[[], int]:
    """Return a task that lists the first `number` patterns."""
    return lambda: sum(1 for _ in islice(find_texts(asked), number))


def peak(task: Callable[[], int]) -> int:
    """Return the most bytes that a task holds at once."""
    tracemalloc.start()
    task()
    held = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return held


def main() -> None:
    """Measure and print."""
    tasks = {
        "networkx.simple_cycles": prime_by_networkx,
        "prime_cycles": prime_by_cycles,
        "find_texts, prime": prime_by_search,
    }
    best = fastest(tasks)
    bare = best["networkx.simple_cycles"][0]
    for name, (taken, number) in best.items():
        told = f"{name:24} {number:9,} patterns {taken:7.3f} s   {bare / taken:5.1f} x as fast"
        sys.stdout.write(f"{told}\n")
    for name, asked in SEARCHES.items():
        few, many = listing(asked, FEW), listing(asked, 10 * FEW)
        best = fastest({"few": few, "many": many})
        assert (best["few"][1], best["many"][1]) == (FEW, 10 * FEW)
        longer = best["many"][0] / best["few"][0]
        larger = peak(many) / peak(few)
        each = best["many"][0] / (10 * FEW) * 1e6
        sys.stdout.write(
            f"{name:46} {each:5.1f} us each   ten times as many: {longer:4.1f} x the time, "
            f"{larger:4.2f} x the memory\n"
        )


if __name__ == "__main__":
    main()
