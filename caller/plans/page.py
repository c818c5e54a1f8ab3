"""What `plan` says of a routine: the running order as a page or JSON, and what may go wrong."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from operator import itemgetter
from typing import TYPE_CHECKING, Any, Final

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from throwcount.caller.pieces.piece import held_text
from throwcount.caller.routine_file.reading import RoutineFile
from throwcount.caller.terminal.printing import (
    LONGEST_LIST,
    ROOM_CAUTION,
    Document,
    in_words,
    length_text,
    shortened,
    table,
)
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.flight import Room, cautioned_once
from throwcount.engine.patterns.notation import parse
from throwcount.engine.patterns.pattern import Throw
from throwcount.engine.routines.routine_run import music_begins
from throwcount.engine.routines.running_order import Entry, RunningOrder, throw_height
from throwcount.engine.scheduling.cues import CueCall
from throwcount.engine.timing.run import Run
from throwcount.sounds.errors import MusicError
from throwcount.sounds.music.decoding import frames_of
from throwcount.sounds.voices.voice import cue_line

if TYPE_CHECKING:
    from throwcount.caller.pieces.routine import RoutineSource

CUE_KEYS: Final = ("text", "instead_of", "beat", "time", "seconds", "change", "said", "reason")
DIGITS: Final = 6
"""Decimals of a height or a bar in JSON: micrometres."""


def highest(entry: Entry, room: Room) -> tuple[Throw, float] | None:
    """Return the highest throw of a row and its metres above the floor at the row's slowest tempo.

    None if nothing leaves the hands.
    """
    flying = [
        (throw_height(throw, entry.slowest, room), throw)
        for throw in entry.throws
        if room.height(throw, entry.slowest) is not None
    ]
    if not flying:
        return None
    metres, throw = max(flying, key=itemgetter(0))
    return throw, metres


def highest_m(order: RunningOrder, room: Room) -> float | None:
    """Return how high the highest throw rises above the hands, in metres; None if none flies."""
    rising = (highest(entry, room) for entry in order.entries)
    metres = max((each[1] - room.hands for each in rising if each is not None), default=None)
    return None if metres is None else round(metres, DIGITS)


def plan_document(
    file: RoutineFile,
    order: RunningOrder,
    room: Room,
    notes: Sequence[str] = (),
    speakers: Mapping[str, str] | None = None,
) -> Document:
    """Return the running order of a routine as JSON has it.

    `notes` are sentences to add, and `speakers` tells the voice that says each text.
    """
    return {
        "file": str(file.path),
        "valid": True,
        "title": order.title,
        "props": file.props,
        "seconds": order.seconds,
        "beats": order.beats,
        "ceiling": room.ceiling,
        "hands": room.hands,
        "dwell": room.dwell,
        "music": None if file.music is None else str(file.music.path),
        "entries": [_entry(entry, file, room, speakers or {}) for entry in order.entries],
        "concerns": [
            {
                "number": concern.number,
                "place": file.places[concern.number - 1],
                "kind": concern.kind,
                "message": concern.sentence,
            }
            for concern in order.concerns
        ],
        "highest_m": highest_m(order, room),
        "warnings": list(concern_sentences(order)),
        "chapters": [asdict(chapter) for chapter in order.chapters],
        "notes": list(notes),
    }


def _entry(
    entry: Entry, file: RoutineFile, room: Room, speakers: Mapping[str, str]
) -> dict[str, Any]:
    rising = highest(entry, room)
    return {
        "kind": entry.kind,
        "number": entry.number,
        "place": file.places[entry.number - 1],
        "title": entry.title,
        "throws": entry.text,
        "how": entry.how,
        "manners": [{"throw": each.throw.text, "how": each.how} for each in entry.manners],
        "beat": entry.beat,
        "beats": entry.beats,
        "time": entry.time,
        "seconds": entry.seconds,
        "tempo": entry.tempo,
        "to": entry.to,
        "objects": entry.objects,
        "change": entry.change,
        "start": None if entry.held is None else dict(entry.held),
        "highest": None if rising is None else _rising(*rising, room),
        "highest_m": None if rising is None else round(rising[1] - room.hands, DIGITS),
        "bar": None if entry.bar is None else round(entry.bar, DIGITS),
        "cue": None if entry.cue is None else _cue(entry.cue, speakers),
    }


def _cue(cue: CueCall, speakers: Mapping[str, str]) -> dict[str, Any]:
    voice = speakers.get(cue_line(cue.text)) if cue.said else None
    return {key: getattr(cue, key) for key in CUE_KEYS} | {"voice": voice}


def _rising(throw: Throw, metres: float, room: Room) -> dict[str, Any]:
    return {
        "throw": str(throw),
        "floor_m": round(metres, DIGITS),
        "fits": None if room.ceiling is None else metres <= room.ceiling,
    }


HEIGHT: Final = "height (m)"
MORE: Final = " + "
MORE_TOLD: Final = "Beats after a + come after the last whole cycle."
NUMBERS: Final = ("part", "at", "bar", "cycles", "beats", "objects", HEIGHT)
GAP: Final = 2
"""Blanks between two columns: few, as there are many columns."""

TOO_HIGH: Final = "!"
"""Stands beside a throw that hits the ceiling, which a sentence under the table tells too."""

SAME_TEMPO: Final = 0.05
"""Tempos that differ by fewer beats a minute are shown as one."""


def plan_page(
    file: RoutineFile, order: RunningOrder, room: Room, notes: Sequence[str] = ()
) -> Iterator[RenderableType]:
    """Yield the parts of the page, from top to bottom; `notes` are sentences to add."""
    patterns = sum(entry.kind == "part" for entry in order.entries)
    rests = sum(entry.kind == "rest" for entry in order.entries)
    resting = f" and {counted(rests, 'rest')}" if rests else ""
    props = f", {file.props}" if file.props else ""
    headline = (
        f"{order.title}: {counted(patterns, 'pattern')}{resting}, "
        f"{length_text(order.seconds)} long{props}."
    )
    yield Text(headline, "bold")
    yield Text()
    yield _table(file, order, room)
    for text in [*concern_sentences(order), *notes]:
        yield Text()
        yield Text(text)
    yield Text()
    if any(MORE in _cycles(entry) for entry in order.entries):
        yield Text(MORE_TOLD, "dim")
    yield Text(heights_text(room), "dim")


def heights_text(room: Room) -> str:
    """Return what the heights are, and how high the room is if that is known."""
    text = "Heights are those of the highest throw above the floor, at the slowest tempo of its row"
    if room.ceiling is None:
        return f"{text}."
    return f"{text}; the ceiling is at {room.ceiling:g} m. {ROOM_CAUTION}"


def _table(file: RoutineFile, order: RunningOrder, room: Room) -> Table:
    """Return the rows in order of time, with the cue calls and the hands' loads among them."""
    bars = ["bar"] if any(entry.bar is not None for entry in order.entries) else []
    after = ("what", "cycles", "beats", "tempo", "objects", HEIGHT)
    shown = table("part", "at", *bars, *after, numbers=NUMBERS)
    shown.padding = (0, GAP, 0, 0)
    for entry in order.entries:
        if entry.cue is not None:
            begins = length_text(entry.cue.time) if entry.cue.said else ""
            text = f"{'cue' if entry.cue.said else 'cue, not said'}: {entry.cue.text}"
            shown.add_row("", begins, *("" for _ in bars), text, style="dim")
        if entry.held is not None:
            text = f"hold {held_text(entry.held)}"
            shown.add_row("", "", *("" for _ in bars), text, style="dim")
        shown.add_row(
            _number(file, entry),
            length_text(entry.time),
            *("" if entry.bar is None else f"{round(entry.bar, 1):g}" for _ in bars),
            _what(entry),
            _cycles(entry),
            str(entry.beats),
            tempo_text(entry),
            objects_text(entry),
            _height(entry, room),
        )
    return shown


def _number(file: RoutineFile, entry: Entry) -> str:
    """Return the number of a part, and its place in the file if that differs."""
    if entry.kind == "bridge":
        return ""
    place = file.places[entry.number - 1]
    return str(entry.number) if place == str(entry.number) else f"{entry.number} ({place})"


def _what(entry: Entry) -> str:
    if entry.kind == "rest":
        return f"{entry.title} (rest)" if entry.title != "rest" else "rest"
    if entry.kind == "bridge":
        return f"bridge {shortened(entry.text)}" + (f", {entry.how}" if entry.how else "")
    pattern = shortened(entry.text)
    text = pattern if entry.title == entry.text else f"{entry.title}: {pattern}"
    return f"{text}, {entry.how}" if entry.how else text


def _cycles(entry: Entry) -> str:
    """Return how many whole cycles are thrown, and the beats beyond them."""
    if entry.kind != "part":
        return ""
    cycles, rest = divmod(entry.beats, parse(entry.text).period)
    return f"{cycles}{MORE}{rest}" if rest else str(cycles)


def tempo_text(entry: Entry) -> str:
    """Return the tempo at the start, and that at the end if it differs."""
    if abs(entry.tempo - entry.to) < SAME_TEMPO:
        return f"{entry.tempo:.0f}"
    return f"{entry.tempo:.0f}-{entry.to:.0f}"


def objects_text(entry: Entry) -> str:
    """Return the objects in play, and how many more or fewer they are than before."""
    return f"{entry.objects} ({entry.change:+d})" if entry.change else str(entry.objects)


def _height(entry: Entry, room: Room) -> str:
    rising = highest(entry, room)
    if rising is None:
        return "-" if entry.kind != "rest" else ""
    return height_text(*rising, room)


def height_text(throw: Throw, metres: float, room: Room) -> str:
    """Return a throw and its metres above the floor, with a mark if it is too high."""
    mark = f" {TOO_HIGH}" if room.ceiling is not None and metres > room.ceiling else ""
    return f"{throw}: {metres:.2f}{mark}"


def concern_sentences(order: RunningOrder) -> Iterator[str]:
    """Yield what may go wrong; what is the same in several parts is said once."""
    parts: dict[str, dict[int, None]] = defaultdict(dict)
    for concern in order.concerns:
        parts[concern.sentence][concern.number] = None
    for sentence, numbers in zip(cautioned_once(parts), parts.values(), strict=True):
        first = [str(number) for number in [*numbers][:LONGEST_LIST]]
        named = in_words(first)
        if len(numbers) > LONGEST_LIST:
            named = f"{', '.join(first)} ... ({len(numbers):,})"
        yield f"{'Parts' if len(first) > 1 else 'Part'} {named}: {sentence}"


MEASURING_RATE: Final = 1_000
"""Sample rate in Hz at which the music is measured: milliseconds are fine enough."""


def music_notes(source: "RoutineSource", run: Run, order: RunningOrder) -> Iterator[str]:
    """Yield a sentence if the music cannot be read, or ends before the throws do."""
    music, begins = source.file.music, music_begins(source.left(), run)
    if music is None or begins is None:
        return
    try:
        seconds = frames_of(music.path, MEASURING_RATE) / MEASURING_RATE
    except MusicError as error:
        yield str(error)
        return
    over = begins + seconds / source.share
    last = order.entries[-1]
    thrown = last.time + last.seconds
    if over < thrown:
        yield (
            f"The music is over at {length_text(over)}, and the throws end at "
            f"{length_text(thrown)}."
        )
