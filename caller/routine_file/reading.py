"""From a routine file to the routine and what its author wants besides."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from caller.errors import PlainError
from caller.options.shared_options import ClickChoice, own_word
from caller.routine_file.building import REST, routine_of
from caller.routine_file.checking import Document, check_document
from caller.routine_file.faults import FileFault
from caller.routine_file.music_rules import WrittenMusic
from caller.routine_file.parts import part_place
from caller.toml_file import TomlFileError, read_toml
from engine.errors import PatternError, RoutineError
from engine.patterns.jugglable import read
from engine.patterns.pattern import Hand
from engine.routines.routine import CuePlace, Routine
from engine.timing.run import SayMode

ENDING: Final = ".toml"
NO_SUCH_FILE: Final = (
    "There is no such file; `throwcount plan --new FILE` writes one to begin with."
)


class RoutineFileError(PlainError):
    """A routine file that cannot be used; `faults` holds everything that is wrong with it."""

    exit_code = 1

    def __init__(self, path: Path, faults: Sequence[FileFault]) -> None:
        lines = [f"The routine in {path} cannot be used.", *map(str, faults)]
        super().__init__("\n".join(lines))
        self.path = path
        self.faults = tuple(faults)


@dataclass(frozen=True, slots=True)
class MusicFile:
    """The file of the music, and how loud it is."""

    path: Path
    """As it is found from the current folder."""
    level: float = 0.0
    """Its level, in dB against the usual."""
    duck: float | None = None
    """By how much it gives way to calls, in dB; None where the file does not say."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoutineFile:
    """What a routine file holds; None where it does not say."""

    path: Path
    """The file that was read."""
    routine: Routine
    """The routine, which has at least one pattern."""
    places: tuple[str, ...]
    """Where each part of the routine stands in the file, such as "3", or "3.2" within a repeat."""
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
    words: Mapping[int, str] = field(default_factory=dict)
    """The author's own words for throw values."""
    phrases: Mapping[str, str] = field(default_factory=dict)
    """How the program's stock phrases are put."""
    names: tuple[str, ...] = ()
    """The author's own names for the objects, in order."""
    language: str | None = None
    """The language that is spoken."""
    voice: str | None = None
    """Whose voice: a name, or a folder as it is found from the current one."""
    cue_voice: str | None = None
    """Whose voice says the cues; as for `voice`."""
    cue_place: CuePlace | None = None
    """Where the cues are heard."""
    clicks: ClickChoice | None = None
    """Which throws click."""
    voice_level: float | None = None
    """Level of the words, in dB."""
    click_level: float | None = None
    """Level of the clicks, in dB."""
    music: MusicFile | None = None
    """The music; None without any."""

    @property
    def title(self) -> str:
        """What the routine is called."""
        return self.routine.title


def is_routine_file(subject: str) -> bool:
    """Return whether a subject on the command line is a routine file and no pattern.

    A name that ends as routine files do is one even where there is no such file, and so told to
    be missing. Another file is one unless its name can be thrown; a folder is none.
    """
    return subject.lower().endswith(ENDING) or (
        _is_there(Path(subject)) and not _is_pattern(subject)
    )


def read_routine(path: Path) -> RoutineFile:
    """Return the routine in a file.

    Raises
    ------
    RoutineFileError
        For everything that is wrong with it.
    """
    try:
        given = read_toml(path)
    except (FileNotFoundError, NotADirectoryError):
        raise RoutineFileError(path, [FileFault("", "", NO_SUCH_FILE)]) from None
    except TomlFileError as error:
        raise RoutineFileError(path, [FileFault("", "", str(error))]) from error
    document, faults = check_document(given, path.parent)
    if faults:
        raise RoutineFileError(path, faults)
    return _routine_file(document, path)


@contextmanager
def adding_up(file: RoutineFile) -> Iterator[None]:
    """Turn what does not add up in a routine into faults of its file.

    Raises
    ------
    RoutineFileError
        With every fault at its part.
    """
    try:
        yield
    except RoutineError as error:
        faults = [FileFault(_place(file, each.number), "", each.sentence) for each in error.faults]
        # A repeat has a fault each time it comes.
        raise RoutineFileError(file.path, list(dict.fromkeys(faults))) from error


def _place(file: RoutineFile, number: int | None) -> str:
    """Return where a part stands in its file, in the words of the faults that are found first."""
    if number is None:
        return ""
    name = file.routine.parts[number - 1].name
    return part_place(file.places[number - 1], "" if name == REST else name)


def _routine_file(document: Document, path: Path) -> RoutineFile:
    top = document.top
    return RoutineFile(
        path=path,
        routine=routine_of(document, path.stem),
        places=tuple(part.number for part in document.order),
        props=top.props,
        ceiling=top.ceiling,
        hands=top.hands,
        dwell=top.dwell,
        first=top.first,
        count_in=top.count_in,
        say=top.say,
        words=dict(_words(top.words or {})),
        phrases={name.lower(): words.strip() for name, words in (top.phrases or {}).items()},
        names=tuple(name.strip() for name in top.names.split(",")) if top.names else (),
        language=top.language,
        voice=_voice(top.voice, path.parent),
        cue_voice=_voice(top.cue_voice, path.parent),
        cue_place=top.cue_place,
        clicks=top.clicks,
        voice_level=top.voice_level,
        click_level=top.click_level,
        music=_music_file(document.music, path.parent),
    )


def _is_pattern(subject: str) -> bool:
    try:
        read(subject)
    except PatternError:
        return False
    return True


def _is_there(path: Path) -> bool:
    """Return whether there is something that can be read as a file."""
    try:
        return path.exists() and not path.is_dir()
    except (OSError, ValueError):  # A name that no file can have.
        return False


def _words(words: Mapping[str, str]) -> Iterator[tuple[int, str]]:
    for value, word in words.items():
        pair = own_word(f"{value}={word}")
        if pair is not None:
            yield pair


def _voice(named: str | None, folder: Path) -> str | None:
    """Return a voice as it was named, or the folder of that name beside the routine file."""
    if named is not None and (folder / named).is_dir():
        return str(folder / named)
    return named


def _music_file(music: WrittenMusic | None, folder: Path) -> MusicFile | None:
    if music is None or music.table.file is None:
        return None
    return MusicFile(folder / music.table.file, music.table.level or 0.0, music.table.duck)
