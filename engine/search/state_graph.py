"""The states of patterns, and the throws between them.

In simple alternating patterns a state is a whole number used as a row of bits: bit k is set if an
object is due k beats ahead, bit 0 on this beat. With b objects and highest throw h there are
C(h, b) states, and C(h - 1, b - 1)(h - b + 1) + C(h - 1, b) throws between them. The patterns
without multiplex are the closed walks of this graph, the prime ones its cycles (Chung & Graham,
Primitive juggling sequences, Amer. Math. Monthly 115 (2008) 185-194).

Where the hands throw together, or several objects at once, a state is a `State`, and the turns
from one state to another take the place of the throws (Butler & Graham, Enumerating (multiplex)
juggling sequences, Ann. Comb. 13 (2010) 413-424).

Prime patterns as the cycles of the graph of states, for graphs that fit in memory.

A pattern is prime when no state comes twice in it: it is a cycle of the graph of states (Chung &
Graham, Primitive juggling sequences, Amer. Math. Monthly 115 (2008) 185-194). The states are put
in order, those nearest to the ground state first, and each cycle is found from its first state:
a path that stays behind that state, the *head*, is walked forwards, and at its end the ready list
of short *tails* that lead back is looked up, less those that meet the head. States are bits of
one whole number and throws are bytes, so that to meet, and to put together, is one operation.

Which throws are open from a state, and why others are not.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations, combinations_with_replacement, product
from typing import Final, Literal, NamedTuple, TypeAlias

from throwcount.engine.patterns.pattern import Hand, Throw, Throws, Turn
from throwcount.engine.patterns.rows import HandLimits, written_turn
from throwcount.engine.patterns.states import (
    State,
    after,
    ground_states,
    trimmed,
    turns_from_ground,
)
from throwcount.engine.search.walks import Watch, part, unwatched


def ground_state(objects: int) -> int:
    """Return the state with an object due on each of the next `objects` beats."""
    return (1 << objects) - 1


def all_states(objects: int, highest: int) -> list[int]:
    """Return all states of `objects` objects that throws up to `highest` lead to, in order."""
    chosen = combinations(range(highest), objects)
    return sorted(sum(1 << ahead for ahead in due) for due in chosen)


def transitions(state: int, highest: int) -> list[tuple[int, int]]:
    """Return each throw value possible in `state`, 0 to `highest`, with the state it leads to."""
    waiting = state >> 1
    if not state & 1:
        return [(0, waiting)]
    return [
        (value, waiting | 1 << (value - 1))
        for value in range(1, highest + 1)
        if not waiting >> (value - 1) & 1
    ]


def number_of_states(hands: HandLimits, objects: int) -> int:
    """Return in how many ways `objects` objects can be due where such hands have thrown them."""
    ways = [1] + [0] * objects
    for _ in range(hands.farthest * hands.places):
        ways = [sum(ways[max(due - hands.capacity, 0) : due + 1]) for due in range(objects + 1)]
    return ways[objects]


def states_of(hands: HandLimits, objects: int) -> Iterator[State]:
    """Yield all states of `objects` objects that such hands lead to, in the order of `all_states`.

    `hands` tells what may be thrown; `without` is not looked at. `objects` is how many there are,
    at least 1.
    """
    for counts in _shared_out(objects, hands.farthest * hands.places, hands.capacity):
        yield tuple(trimmed(counts[place :: hands.places]) for place in range(hands.places))


def turns_from(hands: HandLimits, state: State) -> Iterator[tuple[Turn, State]]:
    """Yield each turn that can be thrown in a state, the lowest first, with where it leads to."""
    free = [
        [throw for throw in throws_of(hands) if has_room(hands, state, place, throw)]
        for place in range(hands.places)
    ]
    choices = [
        list(map(_from_the_highest, combinations_with_replacement(throws, due_now(due))))
        for throws, due in zip(free, state, strict=True)
    ]
    for turn in product(*choices):
        following = after(state, turn)
        if all(count <= hands.capacity for due in following for count in due):
            yield turn, following


def throws_of(hands: HandLimits) -> list[Throw]:
    """Return every throw that a hand may make of one object, the lowest first."""
    crossings = (False, True) if hands.kind == "sync" else (False,)
    return [
        Throw(ahead * hands.places, crossed)
        for ahead in range(1, hands.farthest + 1)
        for crossed in crossings
    ]


def has_room(hands: HandLimits, state: State, place: int, throw: Throw) -> bool:
    """Return whether fewer objects than a hand throws at once are due where a throw lands."""
    due = state[place ^ throw.crossed]
    ahead = throw.value // hands.places
    return ahead >= len(due) or due[ahead] < hands.capacity


def due_now(due: tuple[int, ...]) -> int:
    """Return how many objects a hand has to throw in the next turn."""
    return due[0] if due else 0


def turns_to(hands: HandLimits, state: State, objects: int) -> int | None:
    """Return the fewest turns from the ground state; None where that takes higher throws."""
    ground = ground_states(hands.kind, objects)[0]
    if max(map(len, ground)) > hands.farthest:
        return None
    return turns_from_ground(state, objects)


def _shared_out(objects: int, sites: int, most: int) -> Iterator[tuple[int, ...]]:
    """Yield all ways to share objects out among sites, those with the last sites empty first."""
    if not sites:
        yield ()
        return
    for count in range(max(objects - most * (sites - 1), 0), min(most, objects) + 1):
        for others in _shared_out(objects - count, sites - 1, most):
            yield (*others, count)


def _from_the_highest(throws: Throws) -> Throws:
    return throws[::-1]


LONGEST_TAIL: Final = 6
"""Throws in a tail, at most: longer ones would take memory and save little."""


@dataclass(frozen=True, slots=True)
class StateGraph:
    """The states in order, nearest to the ground state first, and the throws between them."""

    states: tuple[int, ...]
    """As `throwcount.engine.search.state_graph` has them."""
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


Obstacle: TypeAlias = Literal["object due", "nothing due", "beat taken"]
"""Why a throw is not open: an object has to be thrown, there is none, or too many would meet."""


@dataclass(frozen=True, slots=True)
class OpenThrow:
    """What can, or cannot, be thrown from some state."""

    written: str
    """In notation: what both hands throw if it is open, else one throw of one hand."""

    value: int
    """The highest throw value in it."""

    leads_to: State | None = None
    """The state after it; None where it is not open."""

    obstacle: Obstacle | None = None
    """Why it is not open, or None."""

    hand: Hand | None = None
    """Whose throw is not open, where the hands throw together."""


def open_throws(hands: HandLimits, state: State) -> list[OpenThrow]:
    """Return every throw up to the highest, open or not.

    Where a hand throws one object at a time and the hands alternate, they come in order of value.
    Else the turns that are open come first, and then each throw that no turn can hold.

    `state` is as in `throwcount.engine.search.state_graph.states_of`.
    """
    is_open = [
        OpenThrow(written_turn(hands.kind, turn), _highest(turn), following)
        for turn, following in turns_from(hands, state)
    ]
    throws = [*is_open, *_closed(hands, state)]
    return sorted(throws, key=lambda throw: throw.value) if hands.plain else throws


def _closed(hands: HandLimits, state: State) -> Iterator[OpenThrow]:
    names: tuple[Hand | None, ...] = ("left", "right") if hands.kind == "sync" else (None,)
    for place, (hand, due) in enumerate(zip(names, state, strict=True)):
        if due_now(due):
            yield OpenThrow("0", 0, obstacle="object due", hand=hand)
        for throw in throws_of(hands):
            written, value = str(throw), throw.value
            if not due_now(due):
                yield OpenThrow(written, value, obstacle="nothing due", hand=hand)
            elif not has_room(hands, state, place, throw):
                yield OpenThrow(written, value, obstacle="beat taken", hand=hand)


def _highest(turn: Turn) -> int:
    return max((throw.value for throws in turn for throw in throws), default=0)
