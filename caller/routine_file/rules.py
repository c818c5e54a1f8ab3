"""The music of a routine file with its beats, and what parts in order require of one another."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

from throwcount.caller.options.settings_model import as_written, within
from throwcount.caller.routine_file.model import (
    LENGTHS,
    MUSIC,
    MUSIC_TABLE,
    TEMPOS,
    FileFault,
    MusicTable,
    checked,
)
from throwcount.caller.routine_file.parts import CHANGE_KEYS, WrittenPart
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.pattern import HANDS
from throwcount.engine.routines.joining import Join, JoiningError, check_join
from throwcount.engine.routines.ways import joined_by
from throwcount.sounds.errors import InputError
from throwcount.sounds.files.whole_files import read_input

MOST_BEATS: Final = 200_000
FEWEST_BEATS: Final = 2
LARGEST_LIST: Final = 4 * 1024 * 1024
"""The most bytes of a file with a list of beats."""

NUMBER: Final = re.compile(r"\d{1,9}(\.\d*)?|\.\d+", re.ASCII)
COMMENT: Final = "#"
NAMED_LINES: Final = 5
"""How many wrong lines are named."""

STEADY: Final = ("tempo", "first-beat")


@dataclass(frozen=True, slots=True)
class WrittenMusic:
    """The music, as far as it is right."""

    table: MusicTable
    times: tuple[float, ...] = ()
    """Its beats in seconds, two or more; empty if they are wrong."""

    @property
    def slowest(self) -> float:
        """Its slowest tempo, in beats a minute."""
        return 60 / max(after - before for before, after in pairwise(self.times))

    @property
    def fastest(self) -> float:
        """Its fastest tempo, in beats a minute."""
        return 60 / min(after - before for before, after in pairwise(self.times))


class _BeatsError(ValueError):
    """A list of beats is wrong; the text says why."""


def ratio(text: str) -> Fraction:
    """Return the throws for each beat of the music, from a text such as ``3:2``."""
    throws, beats = (int(number) for number in text.split(":"))
    return Fraction(throws, beats)


def read_music(given: object, folder: Path) -> tuple[WrittenMusic | None, list[FileFault]]:
    """Return the music of a document, and what is wrong with it.

    `given` is the document's ``music``. `folder` is that of the routine file, to which other files
    are relative.
    """
    if not isinstance(given, dict):
        return None, [FileFault("", "music", "music is a table, written under [music].")]
    table, faults = checked(MusicTable, given, MUSIC, MUSIC_TABLE)
    faults += _missing(given)
    try:
        times = _times(table, given, folder)
    except _BeatsError as error:
        return WrittenMusic(table), [*faults, FileFault(MUSIC_TABLE, "beats", f"beats {error}")]
    return WrittenMusic(table, times), faults


def ratio_faults(music: WrittenMusic, parts: Iterator[WrittenPart]) -> Iterator[FileFault]:
    """Yield a fault where the throws for each beat make a tempo that cannot be kept."""
    if not music.times:
        return
    asked = [(MUSIC_TABLE, music.table.throws or "1:1")]
    asked += [(part.place, part.table.throws) for part in parts if part.table.throws]
    for where, text in asked:
        tempos = music.slowest * ratio(text), music.fastest * ratio(text)
        # The difference of two times is not exact in its last digits.
        if not (TEMPOS[0] * (1 - 1e-9) <= tempos[0] and tempos[1] <= TEMPOS[1] * (1 + 1e-9)):
            wrong = tempos[1] if tempos[1] > TEMPOS[1] else tempos[0]
            yield FileFault(
                where,
                "throws",
                f"throws {as_written(text)} makes {wrong:,.1f} throws a minute with this music; it "
                f"is {within(TEMPOS)} that can be kept.",
            )


def _missing(given: dict[str, Any]) -> Iterator[FileFault]:
    if "file" not in given:
        yield FileFault(MUSIC_TABLE, "file", 'it lacks its file, as in file = "walk.ogg".')
    steady = [key for key in STEADY if key in given]
    if "beats" in given and steady:
        text = f"{' and '.join(steady)} and beats both say where its beats are; keep one of them."
        yield FileFault(MUSIC_TABLE, "beats", text)
    elif "beats" not in given and len(steady) < len(STEADY):
        yield FileFault(
            MUSIC_TABLE,
            "beats",
            "where are its beats? Give its tempo and its first-beat, the second on which bar 1 "
            "begins, or all beats one by one with beats.",
        )


def _times(table: MusicTable, given: dict[str, Any], folder: Path) -> tuple[float, ...]:
    """Return the beats of the music; none if keys for them are missing or wrong.

    Raises
    ------
    _BeatsError
        If a list of beats is wrong.
    """
    if "beats" in given:
        beats = table.beats
        if beats is None:
            return ()
        return _in_order(_listed_in(folder / beats, beats) if isinstance(beats, str) else beats)
    if table.tempo is None or table.first_beat is None:
        return ()
    return table.first_beat, table.first_beat + 60 / table.tempo


def _in_order(times: Sequence[float]) -> tuple[float, ...]:
    if not FEWEST_BEATS <= len(times) <= MOST_BEATS:
        raise _BeatsError(f"lists {len(times):,}: {FEWEST_BEATS} to {MOST_BEATS:,} are needed.")
    if times[0] < 0:
        raise _BeatsError(f"begins at {times[0]:g} s, before the music does.")
    for before, after in pairwise(times):
        if not before < after:
            raise _BeatsError(f"is out of order: after {before:g} s comes {after:g} s.")
    return tuple(times)


def _listed_in(path: Path, named: str) -> list[float]:
    """Return the numbers in a text file with one a line."""
    try:
        lines = read_input(path, LARGEST_LIST).decode("utf-8-sig").splitlines()
    except InputError as error:
        raise _BeatsError(f"{as_written(named)} cannot be read: it is {error.kind}.") from error
    except FileNotFoundError:
        raise _BeatsError(f"{as_written(named)} is no file beside the routine file.") from None
    except OSError as error:
        sentence = f"{as_written(named)} cannot be read: {error.strerror or error}."
        raise _BeatsError(sentence) from error
    except UnicodeDecodeError as error:
        raise _BeatsError(f"{as_written(named)} is not text in UTF-8.") from error
    texts = {number: line.split(COMMENT)[0].strip() for number, line in enumerate(lines, 1)}
    wrong = [number for number, text in texts.items() if text and not NUMBER.fullmatch(text)]
    if wrong:
        numbers = ", ".join(map(str, wrong[:NAMED_LINES]))
        more = " ..." if len(wrong) > NAMED_LINES else ""
        raise _BeatsError(
            f"{as_written(named)} has to have one number of seconds a line, and has not on "
            f"{'lines' if len(wrong) > 1 else 'line'} {numbers}{more}."
        )
    return [float(text) for text in texts.values() if text]


@dataclass(frozen=True, slots=True)
class PartContext:
    """A part and its neighbours."""

    part: WrittenPart
    before: WrittenPart | None
    after: WrittenPart | None
    pattern_before: WrittenPart | None
    """The last pattern before the part, even across a rest."""

    @property
    def goes_on(self) -> bool:
        """Whether the throws go on from the part before, as far as is known."""
        return self.before is not None and self.before.kind == "pattern"


def order_rules(order: Sequence[WrittenPart], *, with_music: bool) -> Iterator[FileFault]:
    """Yield what is wrong with the order, where repetitions may repeat a fault.

    `order` are the patterns and rests in order, with repeats written out.
    """
    if not any(part.kind != "rest" for part in order):
        yield FileFault(
            "",
            "part",
            'There is nothing to throw: write a [[part]] with pattern = "3". A '
            "session file has a [[block]] instead.",
        )
        return
    places = list(_places(order))
    misled: set[int] = set()
    for here in places:
        yield from _rest(here)
        yield from _length(here, with_music=with_music)
        yield from _first(here)
        yield from _objects(here)
        if id(here.part) not in misled:  # one fault of a bridge is enough where a part is repeated
            for fault in _joining(here):
                misled.add(id(here.part))
                yield fault
    yield from _bridges(places)
    if with_music:
        yield from _bars(order)


def _places(order: Sequence[WrittenPart]) -> Iterator[PartContext]:
    pattern_before: WrittenPart | None = None
    for before, part, after in zip((None, *order), order, (*order[1:], None), strict=False):
        yield PartContext(part, before, after, pattern_before)
        if part.kind != "rest":
            pattern_before = part


def _rest(here: PartContext) -> Iterator[FileFault]:
    if here.part.kind != "rest":
        return
    if here.before is None or here.after is None:
        which = "opens" if here.before is None else "closes"
        hint = " In a repeat the rest may come first." if "." in here.part.number else ""
        yield here.part.fault(
            "rest", f"a rest stands between two patterns, and this one {which} the routine.{hint}"
        )
    elif here.before.kind == "rest":
        yield here.part.fault("rest", "a rest follows another: make one of the two.")


def _length(here: PartContext, *, with_music: bool) -> Iterator[FileFault]:
    if here.part.kind is None or not here.part.given.isdisjoint(LENGTHS):
        return
    if here.after is not None and "bar" in here.after.given:
        return
    keys = "beats or seconds" if here.part.kind == "rest" else "cycles, beats or seconds"
    until = ", or a bar on which the part after it begins" if with_music else ""
    yield here.part.fault("", f"it needs a length: {keys}{until}.")


def _first(here: PartContext) -> Iterator[FileFault]:
    if "first" in here.part.given and here.goes_on:
        yield here.part.fault(
            "first",
            "first chooses the hand at the opening or after a rest; here the throws go on from "
            "the part before.",
        )


def _objects(here: PartContext) -> Iterator[FileFault]:
    keys = [key for key in CHANGE_KEYS if key in here.part.given]
    if len(keys) > 1 or here.part.kind != "pattern":
        return
    if keys and here.pattern_before is None:
        text = f"{keys[0]} has no place in the opening part: the hands are filled before it."
        yield here.part.fault(keys[0], text)
    now = here.part.thrown
    before = here.pattern_before.thrown if here.pattern_before is not None else None
    if now is not None and before is not None and (keys or here.goes_on):
        yield from _change(here.part, keys, before.objects, now.objects)


def _change(part: WrittenPart, keys: Sequence[str], before: int, now: int) -> Iterator[FileFault]:
    """Yield what is wrong with a change from `before` objects to `now`."""
    change = part.table.pick_up or -(part.table.put_down or 0)
    if change == now - before or (keys and not change):
        return
    objects = f"the pattern before has {counted(before, 'object')} and this one {now}"
    if keys:
        yield part.fault(keys[0], f"{keys[0]} = {abs(change)}, but {objects}.")
    else:
        needed = "pick-up" if now > before else "put-down"
        text = f"{objects}: write {needed} = {abs(now - before)}, or put a rest between them."
        yield part.fault("", text)


def _joining(here: PartContext) -> Iterator[FileFault]:
    """Yield a fault if no throws can lead into a part as its keys require, as far as is known."""
    now, before, bridge = here.part.thrown, here.before, here.part.bridge
    left = before.thrown if before is not None else None
    if now is None or before is None or left is None:
        return
    if before.given.isdisjoint(LENGTHS):  # so that it lasts up to a bar, and may be left anywhere
        return
    passed = -(-(before.table.beats or 0) // left.beats_per_turn)
    errors: set[str] = set()
    # Where the timing changes it matters which hand comes next, and only the layout knows that.
    for hand in HANDS if left.kind != now.kind else HANDS[:1]:
        join = Join(left, passed, now, hand, shifted=here.part.table.shifted)
        try:
            check_join(join)
            if bridge is not None:
                joined_by(join, bridge)
        except JoiningError as error:
            errors.add(str(error))
        else:
            return
    if len(errors) == 1:  # of either hand
        yield here.part.fault("" if bridge is None else "bridge", errors.pop())


def _bridges(places: Sequence[PartContext]) -> Iterator[FileFault]:
    """Yield a fault for each bridge that no throws lead to, in any repetition."""
    used = {id(here.part) for here in places if here.before and here.before.kind != "rest"}
    for here in places:
        if "bridge" in here.part.given and id(here.part) not in used:
            yield here.part.fault(
                "bridge",
                "bridge leads in from throws before it, and here there are none: the part "
                f"{'opens the routine' if here.before is None else 'follows a rest'}.",
            )


def _bars(order: Sequence[WrittenPart]) -> Iterator[FileFault]:
    """Yield a fault for each part that begins on a bar that has gone by."""
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
