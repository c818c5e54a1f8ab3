"""What the parts of a routine ask of one another, in the order in which they come."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from caller.console.terminal import counted, shortened
from caller.routine_file.faults import FileFault
from caller.routine_file.model import LENGTHS
from caller.routine_file.part_rules import CHANGE_KEYS, THROWING
from caller.routine_file.parts import WrittenPart
from engine.routines.joining import MOST_CHANGED, JoiningError, joined, joined_by


@dataclass(frozen=True, slots=True)
class Here:
    """A part where it comes."""

    part: WrittenPart
    """The part that is looked at."""
    before: WrittenPart | None
    """The part before it; None for the first."""
    after: WrittenPart | None
    """The part after it; None for the last."""
    pattern_before: WrittenPart | None
    """The last pattern before it, with a rest between or not."""

    @property
    def goes_on(self) -> bool:
        """Whether the throws go on from the part before, as far as that is known."""
        return self.before is not None and self.before.kind == "pattern"


def order_rules(order: Sequence[WrittenPart], *, with_music: bool) -> Iterator[FileFault]:
    """Yield what is wrong with the order; repetitions may be told several times.

    Parameters
    ----------
    order
        Patterns and rests as they come, repeats written out.
    """
    if not any(part.kind != "rest" for part in order):
        yield FileFault(
            "", "part", 'There is nothing to throw: write a [[part]] with pattern = "3".'
        )
        return
    places = list(_places(order))
    for here in places:
        yield from _rest(here)
        yield from _length(here, with_music=with_music)
        yield from _first(here)
        yield from _objects(here)
        yield from _throwing(here)
        yield from _joining(here)
    yield from _bridges(places)
    if with_music:
        yield from _bars(order)


def _places(order: Sequence[WrittenPart]) -> Iterator[Here]:
    pattern_before: WrittenPart | None = None
    for before, part, after in zip((None, *order), order, (*order[1:], None), strict=False):
        yield Here(part, before, after, pattern_before)
        if part.kind != "rest":
            pattern_before = part


def _rest(here: Here) -> Iterator[FileFault]:
    if here.part.kind != "rest":
        return
    if here.before is None or here.after is None:
        which = "opens" if here.before is None else "closes"
        hint = " In a repeat the rest may come first." if len(here.part.numbers) > 1 else ""
        yield here.part.fault(
            "rest", f"a rest stands between two patterns, and this one {which} the routine.{hint}"
        )
    elif here.before.kind == "rest":
        yield here.part.fault("rest", "a rest follows another: make one of the two.")


def _length(here: Here, *, with_music: bool) -> Iterator[FileFault]:
    if here.part.kind is None or not here.part.given.isdisjoint(LENGTHS):
        return
    if here.after is not None and "bar" in here.after.given:
        return
    keys = "beats or seconds" if here.part.kind == "rest" else "cycles, beats or seconds"
    until = ", or a bar on which the part after it begins" if with_music else ""
    yield here.part.fault("", f"it needs a length: {keys}{until}.")


def _first(here: Here) -> Iterator[FileFault]:
    if "first" in here.part.given and here.goes_on:
        yield here.part.fault(
            "first",
            "first chooses the hand at the opening or after a rest; here the throws go on from "
            "the part before.",
        )


def _objects(here: Here) -> Iterator[FileFault]:
    keys = [key for key in CHANGE_KEYS if key in here.part.given]
    if len(keys) > 1 or here.part.kind != "pattern":
        return
    if keys and here.pattern_before is None:
        told = f"{keys[0]} has no place in the opening part: the hands are filled before it."
        yield here.part.fault(keys[0], told)
    now = here.part.thrown
    before = here.pattern_before.thrown if here.pattern_before is not None else None
    if now is not None and before is not None and (keys or here.goes_on):
        yield from _change(here.part, keys, before.objects, now.objects)


def _change(part: WrittenPart, keys: Sequence[str], before: int, now: int) -> Iterator[FileFault]:
    """Yield what is wrong with a change from so many objects to so many."""
    change = part.table.pick_up or -(part.table.put_down or 0)
    if change == now - before or (keys and not change):
        return
    objects = f"the pattern before has {counted(before, 'object')} and this one {now}"
    if keys:
        yield part.fault(keys[0], f"{keys[0]} = {abs(change)}, but {objects}.")
    else:
        needed = "pick-up" if now > before else "put-down"
        told = f"{objects}: write {needed} = {abs(now - before)}, or put a rest between them."
        yield part.fault("", told)


def _throwing(here: Here) -> Iterator[FileFault]:
    now = here.part.thrown
    before = here.before.thrown if here.before is not None else None
    if now is not None and before is not None and now.kind != before.kind:
        yield here.part.fault(
            "pattern",
            f"in {shortened(before.text)} before it {THROWING[before.kind]}, and in "
            f"{shortened(now.text)} {THROWING[now.kind]}: no throws lead from the one to the "
            "other, so put a rest between them.",
        )


def _joining(here: Here) -> Iterator[FileFault]:
    """Yield that no throws can lead into a part as it asks for them, as far as that is known."""
    now, before, bridge = here.part.thrown, here.before, here.part.bridge
    left = before.thrown if before is not None else None
    if now is None or before is None or left is None or now.kind != left.kind:
        return
    if before.given.isdisjoint(LENGTHS):  # so that it lasts up to a bar, and may be left anywhere
        return
    passed = -(-(before.table.beats or 0) // left.beats_per_turn)
    try:
        if bridge is not None and bridge.kind == now.kind:
            joined_by(left, passed, now, bridge.turns)
        elif abs(now.objects - left.objects) > MOST_CHANGED:
            joined(left, passed, now)
    except JoiningError as error:
        yield here.part.fault("" if bridge is None else "bridge", str(error))


def _bridges(places: Sequence[Here]) -> Iterator[FileFault]:
    """Yield the bridges that no throws lead to, in any repetition."""
    used = {id(here.part) for here in places if here.before is not None and not _rested(here)}
    for here in places:
        if "bridge" in here.part.given and id(here.part) not in used:
            yield here.part.fault(
                "bridge",
                "bridge leads in from throws before it, and here there are none: the part "
                f"{'opens the routine' if here.before is None else 'follows a rest'}.",
            )


def _rested(here: Here) -> bool:
    return here.before is not None and here.before.kind == "rest"


def _bars(order: Sequence[WrittenPart]) -> Iterator[FileFault]:
    """Yield the parts that begin on a bar that has gone by."""
    latest: WrittenPart | None = None
    for part in order:
        bar = part.table.bar
        if bar is None:
            continue
        if latest is part:
            yield part.fault("bar", f"bar {bar} comes once, and this part is repeated.")
        elif latest is not None and bar <= (latest.table.bar or 0):
            yield part.fault(
                "bar", f"bar {bar} has gone by: part {latest.number} begins on {latest.table.bar}."
            )
        else:
            latest = part
