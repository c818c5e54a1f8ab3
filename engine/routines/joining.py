"""Joining: the throws from one part of a routine to the next without a stop.

With the same objects they are a bridge. Otherwise objects are taken up or put down on the way by a
hand that has time for it (common practice). On its turn the hand has nothing else to throw: it
takes an object up and holds it until its next turn, which is written as a 2, or it puts down the
object that it has. Objects are taken up and put down one at a time, at least about a second apart.
In terms of states, an object that is taken up is one more that is due on the hand's next turn, and
one that is put down is no longer due.

Where no hand has that much time, objects are taken up on any beat on which a hand would be empty,
and put down as they come; the result says so (`Joining.rushed`).
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import chain, combinations, islice, pairwise, product
from typing import Final

from throwcount.engine.errors import EngineError
from throwcount.engine.hands.difficulty import difficulty_of_throws
from throwcount.engine.hands.work import hand_turns
from throwcount.engine.patterns.pattern import (
    HIGHEST_VALUE,
    Hand,
    Kind,
    Pattern,
    Site,
    Throws,
    Turn,
    other_kind,
    written_turn,
)
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.states import State, after, due_at, state, states, trimmed
from throwcount.engine.search.bridges import BridgeError, bridges, capacity
from throwcount.engine.search.timing_change import (
    HANDS,
    Grid,
    HandBeat,
    TimingChange,
    as_turns,
    can_fill,
    due_in,
    filled,
    grids,
    left_to_land,
    read_turns,
)
from throwcount.engine.search.walks import can_lead, gentlest, walks

MOST_CHANGED: Final = 4
"""Objects taken up or put down without a stop, at most."""

USUAL_SPACING: Final = 4
"""Beats between two of them, where the tempo is not known."""

HIGHER: Final = 2
"""How much higher than in the patterns throws may be so that a hand has time."""

LONGER: Final = 5
"""Beats by which a bridge is longer so that a certain hand waits or hurries, less than this."""

MOST_TRIED: Final = 5_000
"""Ways to choose the beats on which objects are taken up or put down, tried at most."""

MOST_COMPARED: Final = 40
"""Joinings of the same length of which the easiest is taken."""


class JoiningError(EngineError):
    """Two patterns cannot follow each other in this way."""


@dataclass(frozen=True, slots=True)
class Joining:
    """The throws between two patterns."""

    kind: Kind
    """The kind of the first pattern."""
    turns: tuple[Turn, ...] = ()
    """The throws, up to the change of timing if there is one; none if they are not needed."""
    taken_up: tuple[Site, ...] = ()
    """Turns and places at which an object is taken up."""
    put_down: tuple[Site, ...] = ()
    """Turns and places at which an object is put down."""
    change: TimingChange | None = None
    """How the hands go over to the timing of the second pattern; None if it is the same."""
    rushed: bool = False
    """Whether an object is taken up or put down where its hand has no time for it."""

    @property
    def beats(self) -> int:
        """Its length in beats."""
        if self.change is not None:
            return self.change.beats
        return len(self.turns) * (1 if self.kind == "async" else 2)

    @property
    def halves(self) -> tuple[Pattern, ...]:
        """The throws of each timing, as far as there are any."""
        rows = [(self.kind, self.turns)]
        if self.change is not None:
            rows.append((other_kind(self.kind), self.change.turns))
        return tuple(
            Pattern(" ".join(written_turn(kind, turn) for turn in turns), kind, turns)
            for kind, turns in rows
            if turns
        )

    @property
    def text(self) -> str:
        """The throws in notation, with spaces between the turns."""
        return " ".join(half.text for half in self.halves)

    @property
    def kept(self) -> HandBeat | None:
        """The hand that waits, and the beat on which it keeps what it has, if in these throws."""
        change = self.change
        if change is None or change.how == "hurry" or not self.turns:
            return None
        return change.beat - 1, HANDS.index(change.hand)


@dataclass(frozen=True, slots=True)
class Join:
    """What is to be joined."""

    leaving: Pattern
    """The first pattern."""
    left_after: int
    """How many of its turns are thrown before it is left, 0 or more."""
    entering: Pattern
    """The second pattern, which is entered at its beginning."""
    first: Hand = "right"
    """The hand of the next beat, if the hands alternate in the first pattern."""
    spacing: int = USUAL_SPACING
    """Beats between two objects that are taken up or put down, at least: about a second."""
    shifted: Hand | None = None
    """The hand that is to wait or hurry if the timing changes; either if None."""

    @property
    def start(self) -> State:
        """The state in which the first pattern is left."""
        return next(islice(states(self.leaving), self._turn, None))

    @property
    def left(self) -> Pattern:
        """The first pattern, begun where it is left."""
        turns = self.leaving.turns[self._turn :] + self.leaving.turns[: self._turn]
        return replace(self.leaving, turns=turns)

    @property
    def _turn(self) -> int:
        return self.left_after % len(self.leaving.turns)

    @property
    def change(self) -> int:
        """Objects to be taken up (more than 0) or put down (less than 0)."""
        return self.entering.objects - self.leaving.objects

    @property
    def hands(self) -> HandLimits:
        """The limits of the throws: no higher and no more at once than in the patterns."""
        patterns = (self.leaving, self.entering)
        # High enough to throw every object equally high.
        plain = max(
            -(-each.objects // each.beats_per_turn) * each.beats_per_turn for each in patterns
        )
        highest = max(plain, *(pattern.highest for pattern in patterns))
        ends = (self.start, state(self.entering))
        return HandLimits(self.leaving.kind, min(highest, HIGHEST_VALUE), capacity(patterns, ends))


@lru_cache(maxsize=256)  # parts may be repeated
def joined(join: Join) -> Joining:
    """Return the easiest of the shortest joinings.

    Raises
    ------
    JoiningError
        If there is none, the timing and the number of objects change at once, or too many objects
        are to be taken up or put down.
    """
    check_join(join)
    found = _moved(join, None) if join.change else _bridged(join, join.hands.highest, None)
    higher = range(join.hands.highest + 1, HIGHEST_VALUE + 1)
    if found is None and not join.change:
        found = next(filter(None, (_bridged(join, highest, None) for highest in higher)), None)
    if found is None:
        raise JoiningError(
            f"No throws lead from {join.leaving.text} to {join.entering.text}: put a rest between."
        )
    return found


def joined_in(join: Join, beats: int) -> Joining | None:
    """Return the easiest joining of a number of beats, or None; errors as of `joined`."""
    check_join(join)
    if join.change:
        return _moved(join, beats)
    shortest = joined(join)
    values = [throw.value for half in shortest.halves for _, throw in half.throws()]
    return _bridged(join, max([join.hands.highest, *values]), beats)


def check_join(join: Join) -> None:
    """Raise `JoiningError` if no throws can lead from one part to the next."""
    change = abs(join.change)
    if change and join.leaving.kind != join.entering.kind:
        raise JoiningError(
            f"{join.entering.text} has {'more' if join.change > 0 else 'fewer'} objects than "
            f"{join.leaving.text}, and the hands alternate in only one of them: change one of the "
            "two at a time, with a part between, or put a rest between."
        )
    if change > MOST_CHANGED:
        raise JoiningError(
            f"{change} objects cannot be taken up or put down without a stop, {MOST_CHANGED} at "
            "most: put a rest between."
        )


def _bridged(join: Join, highest: int, beats: int | None) -> Joining | None:
    """Return the easiest bridge with throws up to `highest`, and of a length if that is given.

    It is a few beats longer than the shortest if that lets `join.shifted` wait or hurry.
    """
    try:
        every = bridges(join.left, join.entering, highest, first=join.first, beats=beats)
        found = next(every)
        wanted = {None, join.shifted or (found.change and found.change.hand)}
        for one in chain([found], every):
            if (one.change and one.change.hand) in wanted:
                return Joining(join.leaving.kind, one.turns, change=one.change)
    except BridgeError:
        return None
    if beats is None:
        longer = range(found.beats + 1, found.beats + LONGER)
        return next(filter(None, (_bridged(join, highest, each) for each in longer)), None)
    return None


def _moved(join: Join, beats: int | None) -> Joining | None:
    return _with_time(join, beats) or _rushed(join, beats)


def _with_time(join: Join, beats: int | None) -> Joining | None:
    """Return a joining in which objects are taken up or put down by hands that have time for it."""
    start, end, limits = join.start, state(join.entering), join.hands
    due = due_in(start, 0, HANDS.index(join.first))
    longest = max(beat for beat, _ in [*due, (0, 0)]) + abs(join.change) * (join.spacing + 4) + 8
    tried = 0
    for highest in range(limits.highest, min(limits.highest + HIGHER, HIGHEST_VALUE) + 1):
        for length in range(longest) if beats is None else [beats]:
            found: list[Joining] = []
            for grid in grids(limits.kind, limits.kind, length, HANDS.index(join.first)):
                for sites in _chosen(grid, due, join):
                    tried += 1
                    if tried > MOST_TRIED:
                        return None
                    busy = _Busy(grid, due, end, sites, join.change > 0)
                    found.extend(islice(busy.joinings(highest, limits.capacity), MOST_COMPARED))
            if found:
                return min(found, key=lambda one: _effort(join, one))
    return None


def _chosen(grid: Grid, due: Counter[HandBeat], join: Join) -> Iterator[tuple[HandBeat, ...]]:
    """Yield the turns of hands on which objects may be taken up or put down, far enough apart."""
    more = join.change > 0
    free = [site for site in grid.acting if due[site] <= (0 if more else 1)]
    for sites in combinations(free, abs(join.change)):
        beats = [beat for beat, _ in sites]
        if all(later - beat >= join.spacing for beat, later in pairwise(beats)):
            yield sites


@dataclass(frozen=True, slots=True)
class _Busy:
    """Hands that throw nothing on some turns, as they take up or put down an object."""

    grid: Grid
    due: Counter[HandBeat]
    end: State
    sites: tuple[HandBeat, ...]
    up: bool

    def joinings(self, highest: int, capacity: int) -> Iterator[Joining]:
        """Yield the throws that lead to the state at the end."""
        acting = [site for site in self.grid.acting if site not in self.sites]
        due = self.due.copy()
        for beat, hand in self.sites:
            if self.up:
                due[beat + 2, hand] += 1
            else:
                due[beat, hand] -= 1
        left = left_to_land(self.grid, +due, self.end, acting, capacity)
        if left is None:
            return
        left += -due  # what has yet to come down so that it can be put down
        if not can_fill(acting, left, highest, capacity):
            return
        for assigned in filled(acting, left, highest, capacity):
            thrown = dict(zip(acting, assigned, strict=True))
            if self.up:
                thrown |= {(beat, hand): ((beat + 2, hand),) for beat, hand in self.sites}
            yield self._joining(as_turns(self.grid, thrown)[0])

    def _joining(self, turns: tuple[Turn, ...]) -> Joining:
        kind = self.grid.leaving
        sites = tuple(
            (beat, 0) if kind == "async" else (beat // 2, hand) for beat, hand in self.sites
        )
        return Joining(kind, turns, sites if self.up else (), () if self.up else sites)


def _effort(join: Join, one: Joining) -> float:
    turns = hand_turns(one.kind, [join.left.turns[-1], *one.turns, join.entering.turns[0]])
    return difficulty_of_throws(turns, join.entering.objects).points


def _rushed(join: Join, beats: int | None) -> Joining | None:
    """Return a joining in which objects are taken up and put down as soon as can be."""
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


# ---- Written by hand


def written_beats(join: Join, halves: Sequence[Pattern]) -> int:
    """Return how many beats throws take that were written by hand."""
    return _written_grid(join, halves, 0).beats


def _written_grid(join: Join, halves: Sequence[Pattern], first: int) -> Grid:
    turns = {half.kind: len(half.turns) for half in halves}
    kinds = join.leaving.kind, join.entering.kind
    after_change = turns.get(kinds[1], 0) if kinds[0] != kinds[1] else 0
    return Grid(*kinds, turns.get(kinds[0], 0), after_change, first)


def joined_by(join: Join, halves: Sequence[Pattern]) -> Joining:
    """Return the joining with throws that were written by hand.

    `halves` are the throws of each timing: two patterns if the timing changes between them, else
    one.

    Raises
    ------
    JoiningError
        As `joined`, and if the hands hold another number of objects than is written, the throws do
        not lead to the second pattern, or another hand than `join.shifted` waits or hurries.
    """
    check_join(join)
    text = " ".join(written_turn(half.kind, turn) for half in halves for turn in half.turns)
    if join.leaving.kind != join.entering.kind:
        return _changed_by(join, halves, text)
    if any(half.kind != join.leaving.kind for half in halves):
        raise JoiningError(
            f"The bridge “{text}” changes the timing, and {join.leaving.text} and "
            f"{join.entering.text} have the same one."
        )
    return _in_one_timing(join, halves[0].turns, text)


def _in_one_timing(join: Join, turns: tuple[Turn, ...], text: str) -> Joining:
    start, wanted = join.start, join.change
    taken_up: list[Site] = []
    put_down: list[Site] = []
    for index, turn in enumerate(turns):
        for place, throws in enumerate(turn):
            surplus = len(throws) - due_at(start[place])
            if surplus > 0 and len(taken_up) + surplus <= wanted:
                taken_up += [(index, place)] * surplus
            elif surplus < 0 and len(put_down) - surplus <= -wanted:
                put_down += [(index, place)] * -surplus
            elif surplus:
                raise JoiningError(_not_there(text, index, len(throws), len(throws) - surplus))
        start = after(start, turn)
    if start != state(join.entering):
        raise JoiningError(_leads_elsewhere(join, text))
    found = Joining(join.leaving.kind, turns, tuple(taken_up), tuple(put_down))
    return replace(found, rushed=not has_time(join, found))


def _not_there(text: str, index: int, taken: int, due: int) -> str:
    return (
        f"Throw {index + 1} of the bridge “{text}” takes {taken} from the hand, and {due} "
        f"{'is' if due == 1 else 'are'} there."
    )


def _leads_elsewhere(join: Join, text: str) -> str:
    shortest = joined(join)
    return (
        f"The bridge “{text}” does not lead from {join.leaving.text} to {join.entering.text}; "
        + (f"“{shortest.text}” does." if shortest.turns or shortest.beats else "none is needed.")
    )


def _changed_by(join: Join, halves: Sequence[Pattern], text: str) -> Joining:
    kinds = [half.kind for half in halves]
    if kinds not in ([join.leaving.kind, join.entering.kind], [kinds[0]]):
        raise JoiningError(
            f"The bridge “{text}” begins with the timing of {join.entering.text}, and that of "
            f"{join.leaving.text} comes first."
        )
    rows = {half.kind: half.turns for half in halves}
    before, after_change = rows.get(join.leaving.kind, ()), rows.get(join.entering.kind, ())
    begins = [HANDS.index(join.first)] if join.leaving.kind == "async" else [0, 1]
    wrong: list[str] = []
    for hand in begins:
        grid = _written_grid(join, halves, hand)
        thrown = read_turns(grid, [*before, *after_change])
        sentence = _wrong_landing(join, grid, thrown, text)
        _, change = as_turns(grid, thrown)
        if sentence is None and change is not None:
            if join.shifted in {None, change.hand}:
                return Joining(join.leaving.kind, before, change=change)
            sentence = f"In the bridge “{text}” it is the {change.hand} hand that waits or hurries."
            wrong.insert(0, sentence)
        wrong.append(sentence or "")
    raise JoiningError(wrong[0])


def _wrong_landing(
    join: Join,
    grid: Grid,
    thrown: dict[HandBeat, tuple[HandBeat, ...]],
    text: str,
) -> str | None:
    """Return a sentence on where a bridge goes wrong; None if it leads where it is to lead."""
    due = due_in(join.start, 0, grid.first)
    for index, (site, ends) in enumerate(thrown.items()):
        if due[site] != len(ends):
            return _not_there(text, index, len(ends), due[site])
        del due[site]
        due.update(ends)
    if +due != due_in(state(join.entering), grid.beats, grid.alone(grid.beats)):
        return _leads_elsewhere(join, text)
    return None


# ---- Time to take up and put down


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
