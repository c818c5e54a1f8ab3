"""The throws from one part of a routine to the next: worked out, or written by hand."""

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import chain
from typing import Final

from throwcount.engine.patterns.pattern import (
    HANDS,
    HIGHEST_VALUE,
    Pattern,
    Site,
    Throw,
    Throws,
    Turn,
    other_hand,
    written_turn,
)
from throwcount.engine.patterns.states import after, due_at, state
from throwcount.engine.routines.joining import Join, Joining, JoiningError, check_join
from throwcount.engine.routines.pick_ups import has_time, rushed, with_time
from throwcount.engine.search.bridges import BridgeError, bridges
from throwcount.engine.search.timing_change import (
    Grid,
    HandBeat,
    as_turns,
    due_in,
    read_turns,
)

LONGER: Final = 5
"""Beats by which a bridge is longer so that a certain hand waits or hurries, less than this."""


@lru_cache(maxsize=256)  # parts may be repeated
def joined(join: Join) -> Joining:
    """Return the easiest of the shortest joinings.

    If the number of objects and the timing change, it leads by way of the plain pattern that has
    the timing of the first pattern and the objects of the second.

    Raises
    ------
    JoiningError
        If there is none, or too many objects are to be taken up or put down.
    """
    check_join(join)
    if join.both:
        first, second = _two_steps(join)
        return _in_turn(first, joined(second))
    found = with_time(join) or rushed(join) if join.change else _bridged(join, join.hands.highest)
    if found is None and not join.change:
        either = replace(join, shifted=None)
        heights = range(join.hands.highest, HIGHEST_VALUE + 1)
        found = next(filter(None, (_bridged(either, highest) for highest in heights)), None)
        if found is not None and join.shifted is not None:
            raise JoiningError(
                f"From {join.leaving.text} to {join.entering.text} the {join.shifted} hand cannot "
                f"wait or hurry{f'; with “{found.text}” the other one does' if found.text else ''}."
            )
    if found is None:
        raise JoiningError(
            f"No throws lead from {join.leaving.text} to {join.entering.text}: put a rest between."
        )
    return found


def joined_in(join: Join, beats: int, *, in_haste: bool = False) -> Joining | None:
    """Return the easiest joining of a number of beats, or None; errors as of `joined`.

    `in_haste` says whether objects may be taken up or put down by hands that have no time for it.
    """
    check_join(join)
    if join.both:
        first, second = _two_steps(join)
        found = joined_in(second, beats - first.beats) if beats >= first.beats else None
        return None if found is None else _in_turn(first, found)
    if join.change:
        return with_time(join, beats) or (rushed(join, beats) if in_haste else None)
    return _bridged(join, max(join.hands.highest, joined(join).highest), beats)


def _two_steps(join: Join) -> tuple[Joining, Join]:
    """Return the throws that change the number of objects, and the join that is left."""
    number = join.entering.objects
    if join.leaving.kind == "async":
        plain = Pattern.of("async", ((_thrown(number),),))
    else:
        plain = Pattern.of("sync", ((_thrown(number + number % 2), _thrown(number - number % 2)),))
    first = joined(replace(join, entering=plain, shifted=None))
    hand = other_hand(join.first) if first.beats % 2 else join.first
    return first, replace(join, leaving=plain, left_after=0, first=hand)


def _thrown(value: int) -> Throws:
    return (Throw(value),) if value else ()


def _in_turn(first: Joining, second: Joining) -> Joining:
    """Return throws in one timing, and then those of a change of timing, as one joining."""
    change, turns = second.change, first.turns
    if change is not None:
        later = first.beats
        change = replace(change, beat=change.beat + later, start=change.start + later)
        if first.kind == "async":
            turns = tuple(
                (_marked(throws, change.start - beat),) for beat, (throws,) in enumerate(turns)
            )
    return replace(first, turns=turns + second.turns, change=change)


def _marked(throws: Throws, pairs: int) -> Throws:
    """Return throws of a single hand as they are written if pairs begin `pairs` beats later."""
    return tuple(Throw(each.value, each.value >= pairs and each.value % 2 == 1) for each in throws)


def _bridged(join: Join, highest: int, beats: int | None = None) -> Joining | None:
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
    if join.both:
        raise JoiningError(
            f"{join.entering.text} has {'more' if join.change > 0 else 'fewer'} objects than "
            f"{join.leaving.text}, and the hands alternate in only one of them: leave out the "
            "bridge, or change one of the two at a time, with a part between."
        )
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
    if has_time(join, found):
        return found
    calm = with_time(join)
    return replace(found, rushed=True, calmer="" if calm is None else calm.text)


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
