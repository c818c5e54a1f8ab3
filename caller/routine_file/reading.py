"""Reading a routine file: its faults, or the engine's routine and what else its author asks for.

The file is read as a TOML document, the document is checked as a whole, and only one without faults
becomes a routine.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any, Final

from throwcount.caller.options.arguments import ClickChoice, own_word
from throwcount.caller.options.settings import given_in_settings
from throwcount.caller.options.toml_file import KeyPath, TomlFile, TomlFileError, read_toml
from throwcount.caller.routine_file.model import (
    ALL_THROWS,
    MUSIC_TABLE,
    PARTS,
    PHRASES,
    TOP,
    WORDS,
    FaultyFileError,
    FileFault,
    RoutineTable,
    checked,
    phrase_faults,
    room_faults,
    with_positions,
    word_faults,
)
from throwcount.caller.routine_file.parts import (
    WrittenPart,
    every_part,
    part_path,
    part_place,
    part_rules,
    too_many,
    written_out,
    written_parts,
)
from throwcount.caller.routine_file.rules import (
    WrittenMusic,
    order_rules,
    ratio,
    ratio_faults,
    read_music,
)
from throwcount.engine.errors import FlightError, RoutineError
from throwcount.engine.patterns.names import name_in
from throwcount.engine.patterns.pattern import Hand
from throwcount.engine.routines.routine import (
    CuePlace,
    Length,
    MusicBeats,
    PatternPart,
    RestPart,
    Routine,
    RoutinePart,
)
from throwcount.engine.timing.run import SayMode

MUSIC_KEY: Final = "music"


@dataclass(frozen=True, slots=True)
class CheckedDocument:
    """What a routine file holds, as far as it is right."""

    top: RoutineTable
    """What holds for the whole act."""
    music: WrittenMusic | None
    order: tuple[WrittenPart, ...]
    """Patterns and rests in order, with repeats written out."""


def check_document(file: TomlFile, folder: Path) -> tuple[CheckedDocument, list[FileFault]]:
    """Return a TOML document as far as it is right, and everything that is wrong with it.

    Other files are relative to `folder`.
    """
    given = file.values
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
    tables: dict[str, KeyPath] = {"": (), MUSIC_TABLE: (MUSIC_KEY,)}
    tables |= {part.place: part_path(part.number) for part in every_part(parts)}
    checked_document = CheckedDocument(top, music, tuple(order or ()))
    return checked_document, with_positions(faults, file, tables)


def _top_rules(top: RoutineTable, given: Mapping[str, Any]) -> Iterator[FileFault]:
    yield from room_faults(top.ceiling, top.hands)
    if MUSIC_KEY in given and "tempo" in given:
        yield FileFault(
            "", "tempo", "tempo at the top has no place with music, which gives the tempo."
        )


REST: Final = "rest"
COUNT_IN: Final = 4
BAR: Final = 4
"""The defaults: the name of a rest, the beats of a count-in, and those of a bar."""


def _routine(document: CheckedDocument, title: str) -> Routine:
    """Return the routine in a document without faults; `title` serves if it has none of its own."""
    top = document.top
    return Routine(
        title=top.title or title,
        parts=tuple(_part(part, top.cue_ahead) for part in document.order),
        tempo=top.tempo,
        first=top.first or "right",
        count_in=COUNT_IN if top.count_in is None else top.count_in,
        ready=top.ready,
        music=None if document.music is None else _beats(document.music),
    )


def _part(part: WrittenPart, usual_ahead: int | None) -> RoutinePart:
    table = part.table
    ahead = None if table.cue == "" else table.cue_ahead or usual_ahead
    length = Length(table.cycles, table.beats, table.seconds)
    if part.pattern is None:
        return RestPart(
            length=length,
            name=table.name or REST,
            cue=table.cue,
            cue_ahead=ahead,
            count_in=table.count_in,
            bar=table.bar,
        )
    return PatternPart(
        pattern=part.pattern,
        length=length,
        name=table.name or name_in(table.pattern or ""),
        tempo=table.tempo,
        to=table.to,
        curve=table.curve or "linear-beats",
        throws=None if table.throws is None else ratio(table.throws),
        cue=table.cue,
        cue_ahead=ahead,
        how=(table.how.get(ALL_THROWS) if isinstance(table.how, dict) else table.how) or "",
        manners=part.manners,
        bridge=part.bridge,
        shifted=table.shifted,
        change=table.pick_up or (None if table.put_down is None else -table.put_down),
        bar=table.bar,
        last_one=bool(table.last_one),
        first=table.first,
    )


def _beats(music: WrittenMusic) -> MusicBeats:
    throws = music.table.throws
    return MusicBeats(
        music.times,
        BAR if music.table.bar is None else music.table.bar,
        Fraction(1) if throws is None else ratio(throws),
    )


NO_SUCH_FILE: Final = (
    "There is no such file; `throwcount plan --new FILE` writes a routine to begin with, and "
    "`throwcount plan --new-session FILE` a session."
)


class RoutineFileError(FaultyFileError):
    """A routine file cannot be used."""

    kind = "routine"


@dataclass(frozen=True, slots=True)
class MusicFile:
    """The file of the music, and how loud it is."""

    path: Path
    """As seen from the current folder."""
    level: float = 0.0
    """Its level relative to the usual, in dB."""
    duck: float | None = None
    """How far it is lowered under calls, in dB; None if the file does not say."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoutineFile:
    """What a routine file holds; None where it does not say."""

    path: Path
    """The file that was read."""
    routine: Routine
    """The routine, which has at least one pattern."""
    places: tuple[str, ...]
    """The place of each of its parts in the file, such as "3", or "3.2" within a repeat."""
    props: str | None = None
    """What is juggled."""
    ceiling: float | None = None
    """Height of the room above the floor, in metres."""
    hands: float | None = None
    """Height of the hands above the floor, in metres."""
    dwell: float | None = None
    """The share of the time that a hand holds an object."""
    first: Hand | None = None
    """The hand that begins."""
    count_in: int | None = None
    """Beats counted before the first throw."""
    say: SayMode | None = None
    """What is called."""
    announce: bool | None = None
    """Whether the first pattern and its tempo are said beforehand."""
    speak_rests: bool | None = None
    """Whether the rests between two times through are said."""
    milestones: bool | None = None
    """Whether "flash" and "qualified" are called."""
    stop_word: bool | None = None
    """Whether "stop" is called on the last throw."""
    words: Mapping[str, str] = field(default_factory=dict)
    """The author's own words for throws, by how they are written."""
    phrases: Mapping[str, str] = field(default_factory=dict)
    """The author's own words for stock phrases, by the phrase's name."""
    names: tuple[str, ...] = ()
    """The author's own names for the objects, in order."""
    language: str | None = None
    """The language that is spoken."""
    voice: str | None = None
    """The name of a voice, or its folder as seen from the current one."""
    cue_voice: str | None = None
    """The voice of the cues; as for `voice`."""
    cue_place: CuePlace | None = None
    """Where the cues are heard."""
    clicks: ClickChoice | None = None
    """Which throws click."""
    hall: bool | None = None
    """Whether voice and clicks are made ready for a loud room."""
    voice_level: float | None = None
    """Level of the words, in dB."""
    click_level: float | None = None
    """Level of the clicks, in dB."""
    music: MusicFile | None = None
    source: TomlFile = field(default=TomlFile({}, ""), repr=False, compare=False)
    """What was read, for the positions of faults."""

    @property
    def title(self) -> str:
        """What the routine is called."""
        return self.routine.title


def read_routine(path: Path) -> RoutineFile:
    """Return the routine in a file.

    Raises
    ------
    RoutineFileError
        If anything is wrong with it; the error has all of it.
    """
    try:
        file = read_toml(path)
    except (FileNotFoundError, NotADirectoryError):
        raise RoutineFileError(path, [FileFault("", "", NO_SUCH_FILE)]) from None
    except TomlFileError as error:
        raise RoutineFileError(path, [FileFault("", "", str(error))]) from error
    document, faults = check_document(file, path.parent)
    if faults:
        raise RoutineFileError(path, faults)
    return _routine_file(document, path, file)


@contextmanager
def adding_up(file: RoutineFile) -> Iterator[None]:
    """Turn a `RoutineError` into a `RoutineFileError` that has each fault at its part.

    A room that is too low, as the options and the file give it, becomes one too.
    """
    try:
        yield
    except FlightError as error:
        where = file.source.position(("ceiling",))
        own = {"ceiling": file.ceiling, "hands": file.hands}
        source = given_in_settings(*(name for name, height in own.items() if height is None))
        fault = FileFault("", "ceiling", f"{error}{source}", position=where)
        raise RoutineFileError(file.path, [fault]) from error
    except RoutineError as error:
        faults = (_fault_at(file, each.number, each.sentence) for each in error.faults)
        # A repeated part has its fault once for each repetition.
        raise RoutineFileError(file.path, list(dict.fromkeys(faults))) from error


def _fault_at(file: RoutineFile, number: int | None, sentence: str) -> FileFault:
    """Return a fault of a part, placed as those of `check_document` are."""
    if number is None:
        return FileFault("", "", sentence)
    name, place = file.routine.parts[number - 1].name, file.places[number - 1]
    where = file.source.position(part_path(place))
    return FileFault(part_place(place, "" if name == REST else name), "", sentence, position=where)


def _routine_file(document: CheckedDocument, path: Path, file: TomlFile) -> RoutineFile:
    top, folder = document.top, path.parent
    words = (own_word(f"{value}={word}") for value, word in (top.words or {}).items())
    return RoutineFile(
        path=path,
        routine=_routine(document, path.stem),
        places=tuple(part.number for part in document.order),
        props=top.props,
        ceiling=top.ceiling,
        hands=top.hands,
        dwell=top.dwell,
        first=top.first,
        count_in=top.count_in,
        say=top.say,
        announce=top.announce,
        speak_rests=top.speak_rests,
        milestones=top.milestones,
        stop_word=top.stop_word,
        words=dict(filter(None, words)),
        phrases={name.lower(): words.strip() for name, words in (top.phrases or {}).items()},
        names=tuple(name.strip() for name in top.names.split(",")) if top.names else (),
        language=top.language,
        voice=_voice(top.voice, folder),
        cue_voice=_voice(top.cue_voice, folder),
        cue_place=top.cue_place,
        clicks=top.clicks,
        hall=top.hall,
        voice_level=top.voice_level,
        click_level=top.click_level,
        music=_music_file(document.music, folder),
        source=file,
    )


def _voice(named: str | None, folder: Path) -> str | None:
    """Return a voice as it was named, or the folder of that name beside the file."""
    if named is not None and (folder / named).is_dir():
        return str(folder / named)
    return named


def _music_file(music: WrittenMusic | None, folder: Path) -> MusicFile | None:
    if music is None or music.table.file is None:
        return None
    return MusicFile(folder / music.table.file, music.table.level or 0.0, music.table.duck)
