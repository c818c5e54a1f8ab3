"""The graph of states: states and the throws between them, prime cycles, and open throws.

In alternating patterns without multiplex a state is an integer used as a bit set: bit k is set if
an object is due k beats ahead, bit 0 on this beat. With b objects and highest throw h there are
C(h, b) states, and C(h - 1, b - 1)(h - b + 1) + C(h - 1, b) throws between them. Patterns are the
closed walks of this graph, prime patterns its cycles (Chung & Graham, Primitive juggling
sequences, Amer. Math. Monthly 115 (2008) 185-194).

Where the hands throw together, or several objects at once, a state is a `State`, and turns take
the place of throws (Butler & Graham, Enumerating (multiplex) juggling sequences, Ann. Comb. 13
(2010) 413-424).

Prime cycles are found in graphs that fit in memory. The states are put in order, those nearest to
the ground state first, and each cycle is found from its first state, the *root*: paths from the
root through later states only, the *heads*, are walked forwards, and each is completed by those of
the stored short paths back to the root, the *tails*, that share no state with it. The states of a
path are the bits of one integer and its throws are bytes, so that comparing and joining paths each
take one operation.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations, combinations_with_replacement, product
from typing import Final, Literal, NamedTuple, TypeAlias

from throwcount.engine.patterns.pattern import Hand, Throw, Turn, written_turn
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.states import (
    State,
    after,
    due_at,
    ground_states,
    trimmed,
    turns_from_ground,
)
from throwcount.engine.search.walks import Watch, part, unwatched


def all_states(objects: int, highest: int) -> list[int]:
    """Return all states of `objects` objects that throws up to `highest` lead to, in order."""
    chosen = combinations(range(highest), objects)
    return sorted(sum(1 << ahead for ahead in due) for due in chosen)


def transitions(state: int, highest: int) -> list[tuple[int, int]]:
    """Return each throw value that is possible in `state`, with the state it leads to."""
    waiting = state >> 1
    if not state & 1:
        return [(0, waiting)]
    return [
        (value, waiting | 1 << (value - 1))
        for value in range(1, highest + 1)
        if not waiting >> (value - 1) & 1
    ]


def number_of_states(hands: HandLimits, objects: int) -> int:
    """Return how many states `states_of` yields."""
    ways = [1] + [0] * objects
    for _ in range(hands.farthest * hands.places):
        ways = [sum(ways[max(due - hands.capacity, 0) : due + 1]) for due in range(objects + 1)]
    return ways[objects]


def states_of(hands: HandLimits, objects: int) -> Iterator[State]:
    """Yield all states of `objects` objects, at least 1, that the throws of such hands lead to.

    They come in the order of `all_states`. The `without` of `hands` is ignored.
    """
    for counts in _shared_out(objects, hands.farthest * hands.places, hands.capacity):
        yield tuple(trimmed(counts[place :: hands.places]) for place in range(hands.places))


def turns_from(hands: HandLimits, state: State) -> Iterator[tuple[Turn, State]]:
    """Yield each turn that can be thrown in a state, the lowest first, with the next state."""
    free = [
        [throw for throw in throws_of(hands) if has_room(hands, state, place, throw)]
        for place in range(hands.places)
    ]
    choices = [
        [thrown[::-1] for thrown in combinations_with_replacement(throws, due_at(due))]
        for throws, due in zip(free, state, strict=True)
    ]
    for turn in product(*choices):
        following = after(state, turn)
        if all(count <= hands.capacity for due in following for count in due):
            yield turn, following


def throws_of(hands: HandLimits) -> list[Throw]:
    """Return every throw of one object that a hand may make, the lowest first."""
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


def turns_to(hands: HandLimits, state: State, objects: int) -> int | None:
    """Return the fewest turns from the ground state; None if such hands cannot reach that."""
    ground = ground_states(hands.kind, objects)[0]
    if max(map(len, ground)) > hands.farthest:
        return None
    return turns_from_ground(state, objects)


def _shared_out(objects: int, sites: int, most: int) -> Iterator[tuple[int, ...]]:
    """Yield all ways to share objects out among sites, `most` at each, the last empty first."""
    if not sites:
        yield ()
        return
    for count in range(max(objects - most * (sites - 1), 0), min(most, objects) + 1):
        for others in _shared_out(objects - count, sites - 1, most):
            yield (*others, count)


LONGEST_TAIL: Final = 6
"""Throws in a tail, at most; longer ones would take memory and save little."""


@dataclass(frozen=True, slots=True)
class StateGraph:
    """The states in order, nearest to the ground state first, and the throws between them."""

    states: tuple[int, ...]
    """The states, as bit sets."""
    throws: tuple[tuple[tuple[int, int], ...], ...]
    """For each state, by its index: each throw's value with the index of the state it leads to."""


class _Head(NamedTuple):
    """A path from the root through later states."""

    state: int
    """Its last state."""
    met: int
    """All its states, as bits."""
    throws: bytes
    """Its throws."""
    starts: tuple[int, ...]
    """The throws before which it is in a state as near to the ground state as the root."""
    share: float
    """Its share of the search from this root."""


class _Tail(NamedTuple):
    """A path back to the root; fields as in `_Head`, with starts counted back from its end."""

    met: int
    throws: bytes
    starts: tuple[int, ...]


def throws_from_ground(state: int, objects: int) -> int:
    """Return the fewest throws that lead from the ground state to `state`.

    The objects due on the next beats without a gap have only come nearer; each of the others has
    to be thrown.
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
    """Yield the throw values of every cycle of `period` throws, at least 1, once.

    Each cycle comes in the rotation that `rows.chosen_rotation` chooses. If `roots` are given,
    indices of states, only cycles whose first state in the order of the graph is one of them are
    yielded. `watch` is called now and then with the share of the search that is done.
    """
    if period > len(graph.states):
        return
    left = 1.0
    for root in range(len(graph.states)) if roots is None else roots:
        # The first states have by far the most cycles, so each counts as half of what is left.
        yield from _cycles_from(graph, root, period, part(watch, 1 - left, left / 2))
        left /= 2


def _cycles_from(graph: StateGraph, root: int, period: int, watch: Watch) -> Iterator[bytes]:
    """Yield the cycles through `root` whose other states are all later ones."""
    paths = _Paths(graph, root)
    if period == 1:
        yield from [value for value, to in paths.onward[root] if to == root]
        return
    length = min(period // 2, LONGEST_TAIL)
    tails = paths.tails(length)
    # Another rotation can be chosen only if a cycle meets a state as near to the ground state.
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
    """The paths from a root and back to it through later states only."""

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
        """Return for each state the paths of `length` throws from it to the root."""
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

        Its `met` leaves out its last state, which is in the `met` of the tails there.
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
        """Return for each k up to `longest` the states from which k throws lead into `ends`.

        They are the bits of an integer. Such throws may pass a state twice.
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
"""Why a throw is not open: an object has to be thrown, there is none, or too many would land."""


@dataclass(frozen=True, slots=True)
class OpenThrow:
    """A throw from some state, open or not."""

    written: str
    """In notation: what both hands throw if it is open, else one throw of one hand."""
    value: int
    """The highest throw value in it."""
    leads_to: State | None = None
    """The state after it; None if it is not open."""
    obstacle: Obstacle | None = None
    """Why it is not open; None if it is."""
    hand: Hand | None = None
    """Whose throw is not open, where the hands throw together."""


def open_throws(hands: HandLimits, state: State) -> list[OpenThrow]:
    """Return every throw up to the highest from a state of `states_of`, open or not.

    Where the hands alternate and throw one object at a time, they come in order of value. Else the
    turns that are open come first, and then each throw that no turn can hold.
    """
    is_open = [
        OpenThrow(
            written_turn(hands.kind, turn),
            max((throw.value for throws in turn for throw in throws), default=0),
            following,
        )
        for turn, following in turns_from(hands, state)
    ]
    throws = [*is_open, *_closed(hands, state)]
    return sorted(throws, key=lambda throw: throw.value) if hands.plain else throws


def _closed(hands: HandLimits, state: State) -> Iterator[OpenThrow]:
    names: tuple[Hand | None, ...] = ("left", "right") if hands.kind == "sync" else (None,)
    for place, (hand, due) in enumerate(zip(names, state, strict=True)):
        if due_at(due):
            yield OpenThrow("0", 0, obstacle="object due", hand=hand)
        for throw in throws_of(hands):
            written, value = str(throw), throw.value
            if not due_at(due):
                yield OpenThrow(written, value, obstacle="nothing due", hand=hand)
            elif not has_room(hands, state, place, throw):
                yield OpenThrow(written, value, obstacle="beat taken", hand=hand)
