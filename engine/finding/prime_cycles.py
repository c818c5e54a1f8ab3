"""Prime patterns as the cycles of the graph of states, for graphs that fit in memory.

A pattern is prime when no state comes twice in it: it is a cycle of the graph of states (Chung &
Graham, Primitive juggling sequences, Amer. Math. Monthly 115 (2008) 185-194). The states are put
in order, those nearest to the ground state first, and each cycle is found from its first state:
a path that stays behind that state, the *head*, is walked forwards, and at its end the ready list
of short *tails* that lead back is looked up, less those that meet the head. States are bits of
one whole number and throws are bytes, so that to meet, and to put together, is one operation.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

from engine.finding.state_graph import all_states, transitions
from engine.finding.watch import Watch, part, unwatched

LONGEST_TAIL: Final = 6
"""Throws in a tail, at most: longer ones would take memory and save little."""


@dataclass(frozen=True, slots=True)
class StateGraph:
    """The states in order, nearest to the ground state first, and the throws between them."""

    states: tuple[int, ...]
    """As `engine.finding.state_graph` has them."""
    throws: tuple[tuple[tuple[int, int], ...], ...]
    """From each state, by its index: each throw's value with the index of the state it leads to."""


class _Head(NamedTuple):
    """A path from the root."""

    state: int
    """Its last state."""
    met: int
    """All its states, as bits."""
    throws: bytes
    """The throws it is made of."""
    starts: tuple[int, ...]
    """Before which throws it is in a state as near to the ground state as the root."""
    share: float
    """Its share of the search from this root."""


class _Tail(NamedTuple):
    """A path back to the root: as a head, with its starts counted back from its end."""

    met: int
    throws: bytes
    starts: tuple[int, ...]


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
) -> Iterator[bytes]:
    """Yield every cycle of `period` throws, once, in the rotation that `rotation` chooses.

    Parameters
    ----------
    graph
        From `state_graph`.
    period
        Throws in a cycle, at least 1.
    roots
        The indices of states: only cycles whose first state in the order of the graph is one of
        these; all by default.
    watch
        Called now and then with the share of the search that is done.

    Yields
    ------
    bytes
        The throw values.
    """
    if period > len(graph.states):
        return
    left = 1.0
    for root in range(len(graph.states)) if roots is None else roots:
        # The first states have by far the most cycles: each is taken for half of what is left.
        yield from _cycles_from(graph, root, period, part(watch, 1 - left, left / 2))
        left /= 2


def _cycles_from(graph: StateGraph, root: int, period: int, watch: Watch) -> Iterator[bytes]:
    """Yield the cycles through `root` that else stay behind it."""
    paths = _Paths(graph, root)
    if period == 1:
        yield from [value for value, to in paths.onward[root] if to == root]
        return
    length = min(period // 2, LONGEST_TAIL)
    tails = paths.tails(length)
    # Another rotation can only be chosen where a cycle meets a state as near to the ground state.
    alone = {
        state: [(tail.met, tail.throws) for tail in some if not tail.starts]
        for state, some in tails.items()
    }
    beside = {state: [tail for tail in some if tail.starts] for state, some in tails.items()}
    for state, met, head, starts, _ in paths.heads(period - length, set(tails), watch):
        if not starts:
            yield from [head + tail for others, tail in alone[state] if not others & met]
        for others, tail, ends in tails[state] if starts else beside[state]:
            if not others & met:
                yield _largest(head + tail, starts + ends)


def _largest(row: bytes, starts: tuple[int, ...]) -> bytes:
    """Return the largest of a row and its rotations from `starts`."""
    largest = row
    for start in starts:
        if row[start] >= largest[0]:
            largest = max(largest, row[start:] + row[:start])
    return largest


class _Paths:
    """The paths from a root and back to it that else stay behind it."""

    def __init__(self, graph: StateGraph, root: int) -> None:
        self.root = root
        self.states = range(root, len(graph.states))
        self.onward: list[list[tuple[bytes, int]]] = [
            [(bytes((value,)), to) for value, to in throws if to >= root] for throws in graph.throws
        ]
        objects = graph.states[root].bit_count()
        ways = [throws_from_ground(state, objects) for state in graph.states]
        self.peers = sum(
            1 << state for state in self.states if state > root and ways[state] == ways[root]
        )

    def tails(self, length: int) -> dict[int, list[_Tail]]:
        """Return for each state the paths of `length` throws that lead from it to the root."""
        before: dict[int, list[tuple[bytes, int]]] = {}
        for state in self.states:
            for value, to in self.onward[state]:
                before.setdefault(to, []).append((value, state))
        tails = {self.root: [_Tail(0, b"", ())]}
        for size in range(1, length + 1):
            longer: dict[int, list[_Tail]] = {}
            for to, some in tails.items():
                for value, state in before.get(to, []):
                    bit = 1 << state
                    start = (-size,) if self.peers & bit else ()
                    fresh = [
                        _Tail(met | bit, value + throws, starts + start)
                        for met, throws, starts in some
                        if not met & bit
                    ]
                    if fresh and state != self.root:
                        longer.setdefault(state, []).extend(fresh)
            tails = longer
        return tails

    def heads(self, length: int, ends: set[int], watch: Watch) -> Iterator[_Head]:
        """Yield every path of `length` throws from the root into one of `ends`.

        What it has met is told without its last state, as the tails there have met it too.
        """
        ready = self._can_end(ends, length - 1)
        waiting = [_Head(self.root, 1 << self.root, b"", (), 1.0)]
        done = 0.0
        while waiting:
            state, met, throws, starts, share = waiting.pop()
            left = length - len(throws)
            free = ready[left - 1] & ~met
            steps = [(value, to) for value, to in self.onward[state] if free >> to & 1]
            if left == 1 or not steps:
                yield from [_Head(to, met, throws + value, starts, 0) for value, to in steps]
                done += share
                watch(done)
                continue
            for value, to in reversed(steps):
                start = (len(throws) + 1,) if self.peers >> to & 1 else ()
                waiting.append(
                    _Head(to, met | 1 << to, throws + value, starts + start, share / len(steps))
                )

    def _can_end(self, ends: set[int], longest: int) -> list[int]:
        """Return from which states just k throws lead into `ends`, as bits, k up to `longest`.

        States are not remembered on such a way, so that it may not be a path.
        """
        ready = [sum(1 << state for state in ends)]
        for _ in range(longest):
            last = ready[-1]
            ready.append(
                sum(
                    1 << state
                    for state in self.states
                    if any(last >> to & 1 for _, to in self.onward[state])
                )
            )
        return ready
