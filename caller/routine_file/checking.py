"""A document read from a routine file: what it holds, or everything that is wrong with it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from caller.routine_file.faults import (
    MUSIC_TABLE,
    PHRASES,
    WORDS,
    FileFault,
    checked,
    phrase_faults,
    word_faults,
)
from caller.routine_file.model import PARTS, TOP, RoutineTable
from caller.routine_file.music_rules import WrittenMusic, ratio_faults, read_music
from caller.routine_file.order_rules import order_rules
from caller.routine_file.part_rules import part_rules
from caller.routine_file.parts import (
    WrittenPart,
    every_part,
    too_many,
    written_out,
    written_parts,
)
from engine.patterns.flight import HANDS_HEIGHT

MUSIC_KEY: Final = "music"


@dataclass(frozen=True, slots=True)
class Document:
    """What a routine file holds."""

    top: RoutineTable
    """What holds for the whole act."""
    music: WrittenMusic | None
    """The music; None without any."""
    order: tuple[WrittenPart, ...]
    """Patterns and rests as they come, repeats written out."""


def check_document(given: Mapping[str, Any], folder: Path) -> tuple[Document, list[FileFault]]:
    """Return a document as far as it is right, and everything that is wrong with it.

    Parameters
    ----------
    given
        What was read from TOML.
    folder
        From which other files are seen.
    """
    own = {key: value for key, value in given.items() if key not in {PARTS, MUSIC_KEY}}
    top, faults = checked(RoutineTable, own, TOP, "")
    faults += word_faults(given.get(WORDS))
    faults += phrase_faults(given.get(PHRASES))
    faults += _top_rules(top, given)
    music: WrittenMusic | None = None
    if MUSIC_KEY in given:
        music, of_music = read_music(given[MUSIC_KEY], folder)
        faults += of_music
    parts, of_parts = written_parts(given.get(PARTS, []))
    faults += of_parts
    if music is not None:
        faults += ratio_faults(music, every_part(parts))
    with_music = MUSIC_KEY in given
    for part in every_part(parts):
        faults += part_rules(part, with_music=with_music)
    order = written_out(parts)
    if order is None:
        faults.append(too_many())
    elif not any(fault.key == PARTS for fault in faults):
        faults += order_rules(order, with_music=with_music)
    return Document(top, music, tuple(order or ())), _in_order(faults, parts)


def _top_rules(top: RoutineTable, given: Mapping[str, Any]) -> Iterator[FileFault]:
    hands = HANDS_HEIGHT if top.hands is None else top.hands
    if top.ceiling is not None and top.ceiling <= hands:
        yield FileFault(
            "",
            "ceiling",
            f"ceiling {top.ceiling:g} leaves no room above the hands at {hands:g} m; both are "
            "heights above the floor.",
        )
    if MUSIC_KEY in given and "tempo" in given:
        yield FileFault(
            "", "tempo", "tempo at the top has no place with music, which gives the tempo."
        )


def _in_order(faults: Sequence[FileFault], parts: Sequence[WrittenPart]) -> list[FileFault]:
    """Return the faults in the order of the file, each once."""
    places = ["", MUSIC_TABLE, *(part.place for part in every_part(parts))]
    ranks = {place: rank for rank, place in enumerate(places)}
    once = dict.fromkeys(faults)
    return sorted(once, key=lambda fault: ranks.get(fault.place, len(ranks)))
