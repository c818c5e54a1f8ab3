"""How fast patterns are found: against networkx, against an import, and as their number grows.

Run it with ``python tests/benchmarks/bench_search.py``. It prints ratios of processor time, the
least of some runs taken in turns so that a busy machine weighs on all alike:

- every prime pattern of 4 objects, highest throw 8, against the cycles of the same graph that
  ``networkx.simple_cycles`` lists with the same bound to their length: the search alone up to
  period 13, and the whole command up to period 16;
- the first result of whole commands against ``import click``;
- N and ten times N patterns from one search, for several kinds of search, and the memory taken.
"""

import os
import subprocess
import sys
import sysconfig
import tracemalloc
from collections.abc import Callable
from itertools import islice
from pathlib import Path
from time import process_time

import networkx as nx

from throwcount.engine.patterns.rows import HandLimits, RowQuery
from throwcount.engine.search.closed_walks import closed_walks
from throwcount.engine.search.find import PatternQuery, find_texts
from throwcount.engine.search.state_graph import all_states, transitions

OBJECTS, HIGHEST = 4, 8
SEARCHED, LISTED = 13, 16
"""The longest periods of the search alone and of the whole command."""

ROUNDS = 5
FEW = 20_000
COMMAND = Path(sysconfig.get_path("scripts")) / "throwcount"
PRIME = f"find {OBJECTS} --highest {HIGHEST} --beats 1-{LISTED} --only prime --show all"
FIRST = [
    "find 4",
    "find 5 --highest 9 --beats 14 --having 9 --show all",
    "find 7 --highest 15 --beats 16 --only prime --show all",
    "find 17 --highest 35 --beats 60 --only prime,ground --show all",
    "find 6 --highest 8 --beats 20 --together --only symmetric --lacking 0 --show all",
    "find 8 --highest 9 --beats 12 --from-one-hand 4 --having 9 --having 0 --show all",
]
SEARCHES = {
    "plain, 4 objects, height 9, period 12": PatternQuery(4, HandLimits(highest=9), (12,)),
    "plain, 5 objects, height 35, period 10": PatternQuery(5, HandLimits(highest=35), (10,)),
    "prime, 4 objects, height 8, period 16": PatternQuery(
        4, HandLimits(highest=8), (16,), only=frozenset({"prime"})
    ),
    "from ground, 4 objects, height 8, period 12": PatternQuery(
        4, HandLimits(highest=8), (12,), only=frozenset({"ground"})
    ),
    "with a 9, 5 objects, height 9, period 14": PatternQuery(
        5, HandLimits(highest=9), (14,), containing=frozenset({9})
    ),
    "pairs, 4 objects, height 8, period 12": PatternQuery(4, HandLimits("sync", 8), (12,)),
    "multiplex, 4 objects, height 6, period 7": PatternQuery(
        4, HandLimits(highest=6, capacity=2), (7,)
    ),
}


def prime_by_walks() -> int:
    """Return the number of prime patterns, as rows of throw values."""
    hands = HandLimits(highest=HIGHEST)
    queries = [RowQuery(hands, OBJECTS, period) for period in range(1, SEARCHED + 1)]
    return sum(
        len(rows) // query.turns for query in queries for rows in closed_walks(query, prime=True)
    )


def prime_by_networkx(longest: int) -> int:
    """Return the number of cycles, as rows of states."""
    graph = nx.DiGraph()
    for before in all_states(OBJECTS, HIGHEST):
        graph.add_edges_from((before, after) for _, after in transitions(before, HIGHEST))
    return sum(1 for _ in nx.simple_cycles(graph, length_bound=longest))


def timed(task: Callable[[], int]) -> tuple[float, int]:
    """Return the processor time that a task takes in this process, and what it returns."""
    start = process_time()
    result = task()
    return process_time() - start, result


def whole(command: list[str], lines: int | None = None) -> tuple[float, int]:
    """Return the processor time of a command up to some line, or its end, and its lines."""
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    assert process.stdout is not None
    read = sum(1 for _ in islice(process.stdout, lines))
    if lines is not None:
        process.kill()
    process.stdout.close()
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    return used.ru_utime + used.ru_stime, read


def least(
    tasks: dict[str, Callable[[], tuple[float, int]]], rounds: int = ROUNDS
) -> dict[str, tuple[float, int]]:
    """Return of each task the least time, and what it returned."""
    best: dict[str, tuple[float, int]] = {}
    for _ in range(rounds):
        for name, task in tasks.items():
            best[name] = min(best.get(name, (float("inf"), 0)), task())
    return best


def told(text: str) -> None:
    """Print a line at once."""
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def against_networkx() -> None:
    """Compare prime patterns with the cycles of networkx."""
    command = [str(COMMAND), *PRIME.split()]
    pairs = {
        f"search to period {SEARCHED}": (SEARCHED, ROUNDS, lambda: timed(prime_by_walks)),
        f"command to period {LISTED}": (LISTED, 2, lambda: whole(command)),
    }
    for name, (longest, rounds, task) in pairs.items():
        cycles = lambda bound=longest: timed(lambda: prime_by_networkx(bound))  # noqa: E731
        best = least({"ours": task, "networkx": cycles}, rounds)
        (ours, found), (theirs, expected) = best["ours"], best["networkx"]
        assert found == expected
        told(f"{name:22} {found:9,} patterns {ours:6.3f} s   {theirs / ours:5.1f} x networkx")


def first_results() -> None:
    """Compare the first result of whole commands with an import."""
    commands = {text: [str(COMMAND), *text.split()] for text in FIRST}
    tasks = {text: lambda command=one: whole(command, 1) for text, one in commands.items()}
    bare = [sys.executable, "-c", "import click"]
    best = least({"import click": lambda: whole(bare)} | tasks)
    for text in FIRST:
        told(f"{text:82} {best[text][0] / best['import click'][0]:4.1f} x import click")


def peak(task: Callable[[], int]) -> int:
    """Return the most bytes that a task holds at once."""
    tracemalloc.start()
    task()
    held = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return held


def listing(asked: PatternQuery, number: int) -> Callable[[], int]:
    """Return a task that lists the first `number` patterns."""
    return lambda: sum(1 for _ in islice(find_texts(asked), number))


def growth() -> None:
    """Compare N patterns with ten times as many."""
    for name, asked in SEARCHES.items():
        few, many = listing(asked, FEW), listing(asked, 10 * FEW)
        best = least({"few": lambda task=few: timed(task), "many": lambda task=many: timed(task)})
        assert (best["few"][1], best["many"][1]) == (FEW, 10 * FEW)
        longer = best["many"][0] / best["few"][0]
        each = best["many"][0] / (10 * FEW) * 1e6
        told(
            f"{name:46} {each:5.1f} us each   ten times as many: {longer:4.1f} x the time, "
            f"{peak(many) / peak(few):4.2f} x the memory ({peak(many) / 2**20:.0f} MB)"
        )


if __name__ == "__main__":
    against_networkx()
    first_results()
    growth()
