"""Pick-ups and put-downs: objects taken up and put down between two parts without a stop.

A hand takes an object up, or puts it down, when it has time for it (common practice). On its turn
the hand has nothing else to throw: it takes an object up and holds it until its next turn, which is
written as a 2, or it puts down the object that it has. This is done one object at a time, at least
about a second apart. In terms of states, an object that is taken up is one more that is due on the
hand's next turn, and one that is put down is no longer due.

Where no hand has that much time, objects are taken up on any beat on which a hand would be empty,
and put down as they come; the result says so (`Joining.rushed`).
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, islice, pairwise, product
from typing import Final

from throwcount.engine.hands.difficulty import difficulty_of_throws
from throwcount.engine.hands.work import hand_turns
from throwcount.engine.patterns.flight import default_tempo
from throwcount.engine.patterns.pattern import (
    HANDS,
    HIGHEST_VALUE,
    Pattern,
    Site,
    Throws,
    Turn,
)
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.states import State, due_at, state, trimmed
from throwcount.engine.routines.joining import Join, Joining
from throwcount.engine.search.timing_change import (
    Grid,
    HandBeat,
    as_turns,
    can_fill,
    due_in,
    filled,
    grids,
    left_to_land,
)
from throwcount.engine.search.walks import can_lead, gentlest, walks

LONGER: Final = 3
"""Beats by which a joining may be longer than the shortest, if its throws are lower."""

HIGHER: Final = 2
"""How much higher than in the patterns throws may be so that a hand has time."""

MOST_TRIED: Final = 10_000
"""Ways to choose the beats on which objects are taken up or put down, tried at most."""

MOST_COMPARED: Final = 40
"""Joinings of the same length of which the easiest is taken."""


def with_time(join: Join, beats: int | None = None) -> Joining | None:
    """Return a joining in which objects are taken up or put down by hands that have time for it.

    It has `beats` beats, if that is given. None if there is none.
    """
    start, end, limits = join.start, state(join.entering), join.hands
    due = due_in(start, 0, HANDS.index(join.first))
    longest = max(beat for beat, _ in [*due, (0, 0)]) + abs(join.change) * (join.spacing + 4) + 8
    highest = min(limits.highest + HIGHER, HIGHEST_VALUE)
    tried, shortest = 0, 0
    found: list[Joining] = []
    for length in range(longest) if beats is None else [beats]:
        if found and (length > shortest + LONGER or highest <= limits.highest):
            break
        ways = (
            _Busy(grid, due, end, sites, join.change > 0)
            for grid in grids(limits.kind, limits.kind, length, HANDS.index(join.first))
            for sites in _chosen(grid, due, join)
        )
        for busy in islice(ways, MOST_TRIED - tried):
            tried += 1
            # What is longer has to be lower.
            height = busy.height(limits, highest - (bool(found) and length > found[0].beats))
            if height is None:
                continue
            shortest = shortest if found else length
            if height < highest:
                found, highest = [], height
            found += islice(busy.joinings(limits, height), MOST_COMPARED)
    return min(found, key=lambda one: _points(join, one), default=None)


def _chosen(grid: Grid, due: Counter[HandBeat], join: Join) -> Iterator[tuple[HandBeat, ...]]:
    """Yield the turns of hands on which objects may be taken up or put down, far enough apart."""
    most = 0 if join.change > 0 else 1
    free = [site for site in grid.acting if due[site] <= most]
    return _spaced(free, abs(join.change), join.spacing)


def _spaced(free: Sequence[HandBeat], number: int, spacing: int) -> Iterator[tuple[HandBeat, ...]]:
    """Yield so many of some turns in order, each at least `spacing` beats after the one before."""
    if not number:
        yield ()
        return
    for index, (beat, hand) in enumerate(free):
        if free[-1][0] - beat < (number - 1) * spacing:
            return  # there is no room for the others
        later = [site for site in free[index + 1 :] if site[0] >= beat + spacing]
        for others in _spaced(later, number - 1, spacing):
            yield ((beat, hand), *others)


@dataclass(frozen=True, slots=True)
class _Busy:
    """Hands that throw nothing on some turns, as they take up or put down an object."""

    grid: Grid
    due: Counter[HandBeat]
    end: State
    sites: tuple[HandBeat, ...]
    up: bool

    @property
    def throwing(self) -> list[HandBeat]:
        """The turns on which hands throw."""
        return [site for site in self.grid.acting if site not in self.sites]

    def left(self, capacity: int) -> Counter[HandBeat] | None:
        """Return where what is thrown has to land; None if that is no way to the state at the end.

        `capacity` is how many objects a hand throws at once.
        """
        due = self.due.copy()
        for beat, hand in self.sites:
            if self.up:
                due[beat + 2, hand] += 1
            else:
                due[beat, hand] -= 1
        left = left_to_land(self.grid, +due, self.end, self.throwing, capacity)
        # What has yet to come down is put down then.
        return None if left is None else left + -due

    def height(self, limits: HandLimits, highest: int) -> int | None:
        """Return how high the highest throw has to be, which is no lower than `limits` allow.

        None if that is higher than `highest`. An object that is taken up is held as a 2.
        """
        left, throwing = self.left(limits.capacity), self.throwing
        if left is None or not can_fill(throwing, left, highest, limits.capacity):
            return None
        heights = range(max(limits.highest, 2 * self.up), highest + 1)
        fitting = (each for each in heights if can_fill(throwing, left, each, limits.capacity))
        return next(fitting, None)

    def joinings(self, limits: HandLimits, highest: int) -> Iterator[Joining]:
        """Yield the throws up to `highest` that lead to the state at the end."""
        left, throwing = self.left(limits.capacity), self.throwing
        for assigned in filled(throwing, left or Counter(), highest, limits.capacity):
            thrown = dict(zip(throwing, assigned, strict=True))
            if self.up:
                thrown |= {(beat, hand): ((beat + 2, hand),) for beat, hand in self.sites}
            yield self._joining(as_turns(self.grid, thrown)[0])

    def _joining(self, turns: tuple[Turn, ...]) -> Joining:
        kind = self.grid.leaving
        sites = tuple(
            (beat, 0) if kind == "async" else (beat // 2, hand) for beat, hand in self.sites
        )
        return Joining(kind, turns, sites if self.up else (), () if self.up else sites)


def _points(join: Join, one: Joining) -> float:
    """Return the points for how hard a joining is."""
    turns = hand_turns(one.kind, [join.left.turns[-1], *one.turns, join.entering.turns[0]])
    tempo = max(default_tempo(join.leaving), default_tempo(join.entering))
    return difficulty_of_throws(turns, join.entering.objects, tempo).points


def rushed(join: Join, beats: int | None = None) -> Joining | None:
    """Return a joining in which objects are taken up and put down as soon as can be.

    It has `beats` beats, if that is given. None if there is none.
    """
    start, end, hands = join.start, state(join.entering), join.hands
    step = join.leaving.beats_per_turn
    longest = max(len(due) for one in (start, end) for due in one) + 2 * abs(join.change)
    for turns in range(longest + 1) if beats is None else [] if beats % step else [beats // step]:
        for begun in _starts(start, join.change, turns):
            if can_lead(hands, begun.state, end, turns):
                gentle = gentlest(hands, begun.state, end, turns)
                row = next(walks(gentle, begun.state, end, turns))
                turns_made = gentle.turns(row)
                return Joining(hands.kind, turns_made, begun.taken_up, begun.put_down, rushed=True)
    return None


@dataclass(frozen=True, slots=True)
class _Start:
    """A state to begin the throws in, and what has been done to it."""

    state: State
    taken_up: tuple[Site, ...] = ()
    put_down: tuple[Site, ...] = ()


def _starts(start: State, change: int, turns: int) -> Iterator[_Start]:
    """Yield the states to begin in if `change` objects are taken up, or put down if negative."""
    sites = [*product(range(turns), range(len(start)))]
    if change >= 0:
        empty = [site for site in sites if not due_at(start[site[1]], site[0])]
        for taken_up in combinations(empty, change):
            yield _Start(_changed(start, taken_up, 1), taken_up=taken_up)
        return
    there = [site for site in sites for _ in range(due_at(start[site[1]], site[0]))]
    put_down = tuple(there[:-change])
    if len(put_down) == -change:
        yield _Start(_changed(start, put_down, -1), put_down=put_down)


def _changed(one: State, sites: Iterable[Site], by: int) -> State:
    """Return a state with the objects at each of some sites changed by `by`."""
    due = [list(place) for place in one]
    for turn, place in sites:
        due[place] += [0] * (turn + 1 - len(due[place]))
        due[place][turn] += by
    return tuple(map(trimmed, due))


def has_time(join: Join, one: Joining) -> bool:
    """Return whether every object is taken up and put down by a hand that has time for it.

    An object is taken up on a turn on which the hand only holds it, or has only held or thrown
    nothing on its turn before; one is put down on a turn on which the hand throws nothing else. And
    they are at least `join.spacing` beats apart (common practice).
    """
    step = join.leaving.beats_per_turn
    beats = sorted(turn * step for turn, _ in (*one.taken_up, *one.put_down))
    if any(later - beat < join.spacing for beat, later in pairwise(beats)):
        return False
    acts: dict[Site, Throws] = {}
    for turn, throws in enumerate([*join.left.turns[-2:], *one.turns], -len(join.left.turns[-2:])):
        acts |= {(turn, place): each for place, each in enumerate(throws)}
    back = 2 // step
    return all(
        _only_holds(acts[turn, place]) or _only_holds(acts.get((turn - back, place), ()))
        for turn, place in one.taken_up
    ) and all(_only_holds(acts[site]) for site in one.put_down)


def free_beats(pattern: Pattern) -> list[int]:
    """Return the beats of a cycle on which a hand whose turn it is only holds, or is empty."""
    return [
        turn * pattern.beats_per_turn
        for turn, throws in enumerate(pattern.turns)
        if any(map(_only_holds, throws))
    ]


def _only_holds(throws: Throws) -> bool:
    return all(throw.held for throw in throws)
