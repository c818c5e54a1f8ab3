"""Joining: the throws from one part of a routine to the next without a stop.

In terms of states, an object that is taken up is one more that is due on a beat on which the hand
would be empty; the hand throws it there. One that is put down is no longer due. So the throws are
found as any bridge is, from a state changed in this way. Objects are put down one after another as
they come, and nothing is thrown before that is done, so that nothing lands in a busy hand.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import combinations, islice, product
from typing import Final

from throwcount.engine.errors import EngineError
from throwcount.engine.patterns.pattern import (
    HIGHEST_VALUE,
    Kind,
    Pattern,
    Site,
    Turn,
    written_turn,
)
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.states import State, after, due_at, state, states, trimmed
from throwcount.engine.search.bridges import capacity
from throwcount.engine.search.walks import can_lead, gentlest, walks

MOST_CHANGED: Final = 4
"""Objects taken up or put down at once without a stop, at most: no more hands are free."""


class JoiningError(EngineError):
    """Two patterns cannot follow each other in this way."""


@dataclass(frozen=True, slots=True)
class Joining:
    """The throws between two patterns."""

    kind: Kind
    """The kind of both patterns."""
    turns: tuple[Turn, ...] = ()
    """The throws; none if the one pattern can follow the other directly."""
    taken_up: tuple[Site, ...] = ()
    """Turns and places at which an object is taken up."""
    put_down: tuple[Site, ...] = ()
    """Turns and places at which an object is put down."""

    @property
    def beats(self) -> int:
        """Its length in beats."""
        return len(self.turns) * (1 if self.kind == "async" else 2)

    @property
    def text(self) -> str:
        """The throws in notation, with spaces between the turns."""
        return " ".join(written_turn(self.kind, turn) for turn in self.turns)


@dataclass(frozen=True, slots=True)
class _Start:
    """A state to begin the throws in, and what has been done to it."""

    state: State
    taken_up: tuple[Site, ...] = ()
    put_down: tuple[Site, ...] = ()


def joined(leaving: Pattern, left_after: int, entering: Pattern) -> Joining:
    """Return the shortest joining of two patterns that can be thrown; of several, the lowest.

    `left_after` is how many turns of `leaving` are thrown before it is left, 0 or more. `entering`
    is entered at its beginning.

    Raises
    ------
    JoiningError
        If the hands alternate in only one of them, or too many objects are to be taken up or put
        down at once.
    """
    start, end = _checked(leaving, left_after, entering)
    longest = max(len(due) for one in (start, end) for due in one)
    change = abs(entering.objects - leaving.objects)
    for turns in range(longest + 2 * change + 1):
        joining = _joined_in(leaving, start, entering, turns)
        if joining is not None:
            return joining
    raise JoiningError(
        f"No throws lead from {leaving.text} to {entering.text}: put a rest between."
    )


def joined_in(leaving: Pattern, left_after: int, entering: Pattern, turns: int) -> Joining | None:
    """Return the joining of exactly `turns` turns, or None; otherwise as `joined`."""
    start, _ = _checked(leaving, left_after, entering)
    return _joined_in(leaving, start, entering, turns)


def joined_by(
    leaving: Pattern, left_after: int, entering: Pattern, turns: tuple[Turn, ...]
) -> Joining:
    """Return the joining with throws that were written by hand.

    Raises
    ------
    JoiningError
        As `joined`, and if the hands hold another number of objects than is written, or the throws
        do not lead to `entering`.
    """
    start, end = _checked(leaving, left_after, entering)
    text = Joining(leaving.kind, turns).text
    wanted = entering.objects - leaving.objects
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
                due = len(throws) - surplus
                raise JoiningError(
                    f"Throw {index + 1} of the bridge “{text}” takes {len(throws)} from the hand, "
                    f"and {due} {'is' if due == 1 else 'are'} there."
                )
        start = after(start, turn)
    if start != end:
        shortest = joined(leaving, left_after, entering)
        raise JoiningError(
            f"The bridge “{text}” does not lead from {leaving.text} to {entering.text}; "
            + (f"“{shortest.text}” does." if shortest.turns else "none is needed.")
        )
    return Joining(leaving.kind, turns, tuple(taken_up), tuple(put_down))


def _joined_in(leaving: Pattern, start: State, entering: Pattern, turns: int) -> Joining | None:
    end = state(entering)
    hands = _hands(leaving, entering, (start, end))
    for begun in _starts(start, entering.objects - leaving.objects, turns):
        if can_lead(hands, begun.state, end, turns):
            gentle = gentlest(hands, begun.state, end, turns)
            row = next(walks(gentle, begun.state, end, turns))
            return Joining(leaving.kind, gentle.turns(row), begun.taken_up, begun.put_down)
    return None


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


def _checked(leaving: Pattern, left_after: int, entering: Pattern) -> tuple[State, State]:
    """Return the states at both ends; raise an error if no throws can lead between them."""
    if leaving.kind != entering.kind:
        raise JoiningError(
            f"The hands alternate in only one of {leaving.text} and {entering.text}, and no throws "
            "lead from one to the other: put a rest between."
        )
    change = abs(entering.objects - leaving.objects)
    if change > MOST_CHANGED:
        raise JoiningError(
            f"{change} objects cannot be taken up or put down without a stop, {MOST_CHANGED} at "
            "most: put a rest between."
        )
    passed = left_after % len(leaving.turns)
    return next(islice(states(leaving), passed, None)), state(entering)


def _hands(leaving: Pattern, entering: Pattern, ends: Iterable[State]) -> HandLimits:
    """Return the limits of the throws on the way: no higher and no more than in the patterns."""
    patterns = (leaving, entering)
    beats = leaving.beats_per_turn
    # High enough to throw every object equally high, so that there is always a way.
    plain = max(-(-pattern.objects // beats) * beats for pattern in patterns)
    highest = max(plain, *(pattern.highest for pattern in patterns))
    return HandLimits(leaving.kind, min(highest, HIGHEST_VALUE), capacity(patterns, ends))
