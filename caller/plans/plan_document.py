"""What `plan` says of a routine, as plain data for JSON."""

from collections.abc import Sequence
from typing import Any, Final

from caller.patterns.pattern_document import Document
from caller.routine_file.reading import RoutineFile
from engine.calling.cue_calls import CueCall
from engine.patterns.flight import height
from engine.patterns.pattern import Throw
from engine.routines.running_order import Entry, Room, RunningOrder, throw_height

DIGITS: Final = 6
"""Decimals of a time or a height: micrometres and microseconds."""


def highest(entry: Entry, room: Room) -> tuple[Throw, float] | None:
    """Return the throw of a row that rises highest, and how high above the floor, at its slowest.

    None where nothing leaves the hands.
    """
    slowest = min(entry.tempo, entry.to)
    flying = [
        throw
        for throw in entry.throws
        if height(throw.value, slowest, room.dwell, crossed=throw.crossed) is not None
    ]
    if not flying:
        return None
    throw = max(flying, key=lambda throw: throw_height(throw, slowest, room))
    return throw, throw_height(throw, slowest, room)


def plan_document(
    file: RoutineFile, order: RunningOrder, room: Room, notes: Sequence[str] = ()
) -> Document:
    """Return the running order of a routine as JSON has it.

    `notes` are what else is to be known, in sentences.
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
        "entries": [_entry(entry, file, room) for entry in order.entries],
        "concerns": [
            {
                "number": concern.number,
                "place": file.places[concern.number - 1],
                "kind": concern.kind,
                "message": concern.sentence,
            }
            for concern in order.concerns
        ],
        "chapters": [
            {
                "start": chapter.start,
                "end": chapter.end,
                "title": chapter.title,
                "kind": chapter.kind,
            }
            for chapter in order.chapters
        ],
        "notes": list(notes),
    }


def _entry(entry: Entry, file: RoutineFile, room: Room) -> dict[str, Any]:
    rising = highest(entry, room)
    return {
        "kind": entry.kind,
        "number": entry.number,
        "place": file.places[entry.number - 1],
        "title": entry.title,
        "throws": entry.text,
        "how": entry.how,
        "beat": entry.beat,
        "beats": entry.beats,
        "time": entry.time,
        "seconds": entry.seconds,
        "tempo": entry.tempo,
        "to": entry.to,
        "objects": entry.objects,
        "change": entry.change,
        "highest": None if rising is None else _rising(*rising, room),
        "bar": None if entry.bar is None else round(entry.bar, DIGITS),
        "cue": None if entry.cue is None else _cue_json(entry.cue),
    }


def _rising(throw: Throw, floor: float, room: Room) -> dict[str, Any]:
    return {
        "throw": str(throw),
        "floor_m": round(floor, DIGITS),
        "fits": None if room.ceiling is None else floor <= room.ceiling,
    }


def _cue_json(cue: CueCall) -> dict[str, Any]:
    return {
        "text": cue.text,
        "beat": cue.beat,
        "time": cue.time,
        "seconds": cue.seconds,
        "change": cue.change,
        "said": cue.said,
        "reason": cue.reason,
    }
