"""Prime patterns as the cycles of the graph of states, for graphs that fit in memory.

A pattern is prime when no state comes twice in it: it is a cycle of the graph of states (Chung &
Graham, Primitive juggling sequences, Amer. Math. Monthly 115 (2008) 185-194). The states are put
in order, those nearest to the ground state first, and each cycle is found from its first state:
a path that stays behind that state is walked forwards, and at every end of it the ready list of
short *tails* that lead back is looked up, less those that meet the path. States are bits of one
whole number, so that to meet is one operation.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final, TypeAlias

from engine.state_graph import all_states, transitions
from engine.watch import Watch, unwatched

Values: TypeAlias = tuple[int, ...]

Paths: TypeAlias = list[tuple[int, Values]]
"""The states that each path meets, as bits, and its throws."""

LONGEST_TAIL: Final = 6
"""Throws in a tail, at most: longer ones would take memory and save little."""


@dataclass(frozen=True, slots=True)
class StateGraph:
    """The states in order, nearest to the ground state first, and the throws between them.

    Parameters
    ----------
    states
        As `engine.state_graph` has them.
    throws
        From each state, by its index: each throw's value with the index of the state it leads to.
    """

    states: tuple[int, ...]
    throws: tuple[tuple[tuple[int, int], ...], ...]


def throws_from_ground(state: int, objects: int) -> int:
    """Return the fewest throws that lead from the ground state to `state`.

    They are as many as the objects that are not due on the next beats without a gap: the others
    have only come nearer, and each of these has to be thrown.
    """
    gapless = (~state & state + 1).bit_length() - 1
    return objects - gapless


def state_graph(objects: int, highest: int, without: Iterable[int] = ()) -> StateGraph:
    """Return the graph of states, less the throw values in `without`."""
    left_out = set(without)
    states = sorted(
        all_states(objects, highest), key=lambda state: (throws_from_ground(state, objects), state)
    )
    index = {state: place for place, state in enumerate(states)}
    throws = (
        tuple(
            (value, index[following])
            for value, following in transitions(state, highest)
            if value not in left_out
        )
        for state in states
    )
    return StateGraph(tuple(states), tuple(throws))


def prime_cycles(
    graph: StateGraph, period: int, roots: Iterable[int] | None = None, watch: Watch = unwatched
) -> Iterator[Values]:
    """Yield every cycle of `period` throws, once, from its first state in the order of the graph.

    Parameters
    ----------
    graph
        From `state_graph`.
    period
        Throws in a cycle, at least 1.
    roots
        The indices of the first states to begin at; all by default.
    watch
        Called every few thousand steps with the share of the search that is done.

    Yields
    ------
    tuple of int
        The throw values.
    """
    if period > len(graph.states):
        return
    chosen = list(range(len(graph.states)) if roots is None else roots)
    for done, root in enumerate(chosen):
        watch(done / len(chosen))
        yield from _cycles_from(graph, root, period)


def _cycles_from(graph: StateGraph, root: int, period: int) -> Iterator[Values]:
    """Yield the cycles that begin at `root` and else stay behind it."""
    onward = [[(value, to) for value, to in throws if to >= root] for throws in graph.throws]
    if period == 1:
        yield from [(value,) for value, to in onward[root] if to == root]
        return
    length = min(period // 2, LONGEST_TAIL)
    tails = _tails(onward, root, length)
    ready = _can_end(onward, root, sum(1 << state for state in tails), period - length)
    if not ready[-1] >> root & 1:
        return
    # Each path waits with its last state, the states it met, the throws left, and its throws.
    paths: list[tuple[int, int, int, Values]] = [(root, 1 << root, period - length, ())]
    while paths:
        state, met, left, values = paths.pop()
        free = ready[left - 1] & ~met
        for value, to in onward[state]:
            if not free >> to & 1:
                continue
            if left > 1:
                paths.append((to, met | 1 << to, left - 1, (*values, value)))
                continue
            head = (*values, value)
            yield from [head + tail for others, tail in tails[to] if not others & met]


def _tails(onward: list[list[tuple[int, int]]], root: int, length: int) -> dict[int, Paths]:
    """Return for each state the paths of `length` throws that lead from it to `root`."""
    before: dict[int, list[tuple[int, int]]] = {}
    for state in range(root, len(onward)):
        for value, to in onward[state]:
            before.setdefault(to, []).append((value, state))
    tails: dict[int, Paths] = {root: [(0, ())]}
    for _ in range(length):
        longer: dict[int, Paths] = {}
        for to, paths in tails.items():
            for value, state in before.get(to, []):
                bit = 1 << state
                fresh = [(met | bit, (value, *tail)) for met, tail in paths if not met & bit]
                if fresh and state != root:
                    longer.setdefault(state, []).extend(fresh)
        tails = longer
    return tails


def _can_end(onward: list[list[tuple[int, int]]], root: int, ends: int, longest: int) -> list[int]:
    """Return from which states just k throws can lead into `ends`, as bits, for k up to `longest`.

    States are not remembered on such a way, so that it may not be a path.
    """
    ready = [ends]
    for _ in range(longest):
        last = ready[-1]
        ready.append(
            sum(
                1 << state
                for state in range(root, len(onward))
                if any(last >> to & 1 for _, to in onward[state])
            )
        )
    return ready
