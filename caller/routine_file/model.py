"""What the tables of a routine file may hold, key by key, and what is wrong with the values.

The ranges are those of the options of the same name. What keys require of one another is checked
by `throwcount.caller.routine_file.parts.part_rules`, and by `read_music`, `ratio_faults` and
`order_rules` in `throwcount.caller.routine_file.rules`.
"""

import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Annotated, Any, ClassVar, Final, Literal, TypeAlias, TypeGuard, TypeVar, get_args

from pydantic import AfterValidator, BaseModel, Field, ValidationError
from pydantic.fields import FieldInfo

from throwcount.caller.options.arguments import (
    COUNT_INS,
    LANGUAGE,
    LEVELS,
    READY_SECONDS,
    ROOM_HEIGHTS,
    ClickChoice,
    own_word,
    phrase_fault,
)
from throwcount.caller.options.settings_model import (
    LONGEST_SHOWN,
    NAMES,
    STRICT,
    YES_OR_NO,
    Level,
    as_written,
    described,
    facts,
    printed,
    within,
    word_fault_text,
)
from throwcount.caller.options.toml_file import KeyPath, TextPosition, TomlFile, located
from throwcount.caller.terminal.text import WrongInputError, near
from throwcount.engine.patterns.flight import HANDS_HEIGHT
from throwcount.engine.patterns.pattern import HIGHEST_VALUE, Hand
from throwcount.engine.routines.routine import CUE_PLACES, CuePlace
from throwcount.engine.timing.run import SAY_MODES, SayMode
from throwcount.engine.timing.tempo import EXPONENTS, FASTEST_TEMPO, SLOWEST_TEMPO, Curve

TEMPOS: Final = (SLOWEST_TEMPO, FASTEST_TEMPO)
MOST_PARTS: Final = 10_000
"""The most parts of a routine with its repeats written out."""

REPEATS: Final = (1, MOST_PARTS)
COUNTS: Final = (1, 1_000_000)
"""Cycles or beats of a part."""

LONGEST_SECONDS: Final = 86_400.0
CUES_AHEAD: Final = (1, 64)
CHANGES: Final = (1, HIGHEST_VALUE)
BARS: Final = (1, 100_000)
BAR_BEATS: Final = (1, 32)
DUCKS: Final = (0.0, 60.0)
FIRST_BEATS: Final = (0.0, LONGEST_SECONDS)
LARGEST_RATIO: Final = 16

LONGEST_LINE: Final = 200
UNPRINTED: Final = frozenset({"Cc", "Cs", "Zl", "Zp"})
"""Unicode categories of characters that a line of text cannot hold."""

A_LINE: Final = f"a text in quotes, on one line, of up to {LONGEST_LINE} characters"
A_NAME: Final = f"a text in quotes, on one line, of 1 to {LONGEST_LINE} characters"
A_RATIO: Final = (
    f'two whole numbers from 1 to {LARGEST_RATIO} in quotes, as in "2:1" for two throws a beat of '
    "the music"
)
WHOLE: Final = "a whole number"
RATIO: Final = r"^\s*([1-9]|1[0-6])\s*:\s*([1-9]|1[0-6])\s*$"


def is_line(given: object) -> TypeGuard[str]:
    """Return whether `given` is a short text on one line, without control characters."""
    return (
        isinstance(given, str)
        and len(given) <= LONGEST_LINE
        and not any(unicodedata.category(char) in UNPRINTED for char in given)
    )


def _one_line(text: str) -> str:
    if not is_line(text):
        raise ValueError
    return text


Tempo: TypeAlias = Annotated[float, Field(ge=SLOWEST_TEMPO, le=FASTEST_TEMPO)]
Count: TypeAlias = Annotated[int, Field(ge=COUNTS[0], le=COUNTS[1])]
CountIn: TypeAlias = Annotated[int, Field(ge=COUNT_INS[0], le=COUNT_INS[1])]
Ahead: TypeAlias = Annotated[int, Field(ge=CUES_AHEAD[0], le=CUES_AHEAD[1])]
Change: TypeAlias = Annotated[int, Field(ge=CHANGES[0], le=CHANGES[1])]
Line: TypeAlias = Annotated[str, AfterValidator(_one_line)]
FullLine: TypeAlias = Annotated[Line, Field(min_length=1)]
RatioText: TypeAlias = Annotated[str, Field(pattern=RATIO)]
Seconds: TypeAlias = Annotated[float, Field(gt=0, le=LONGEST_SECONDS)]
Height: TypeAlias = Annotated[float, Field(ge=ROOM_HEIGHTS[0], le=ROOM_HEIGHTS[1])]


HOW_TEXTS: Final = (
    "a text in quotes, or a table of texts by throw, named as in 5, second 5, last 5, right 5, "
    "every third 5, 4x, [54] or, for the others, all"
)


class RoutineTable(BaseModel):
    """The top of the file: what holds for the whole act."""

    model_config = STRICT

    title: Line | None = described("What the routine is called", A_LINE, "The lantern walk")
    props: Line | None = described("What is juggled", A_LINE, "beanbags")
    tempo: Tempo | None = described(
        "Beats a minute at the first throw; one that suits the highest throw if left out",
        within(TEMPOS),
        180,
    )
    ceiling: Height | None = described("Height of the room, in metres", within(ROOM_HEIGHTS), 2.8)
    hands: Height | None = described(
        "Height of the hands above the floor, in metres", within(ROOM_HEIGHTS), 1.1
    )
    dwell: Annotated[float, Field(gt=0, lt=1)] | None = described(
        "The share of the time that a hand holds an object",
        "a number more than 0 and less than 1",
        0.7,
    )
    first: Hand | None = described("The hand that begins", get_args(Hand), "left")
    count_in: CountIn | None = described(
        "Beats counted before the first throw, and after a rest", within(COUNT_INS, WHOLE), 8
    )
    ready: Annotated[float, Field(ge=READY_SECONDS[0], le=READY_SECONDS[1])] | None = described(
        "Seconds to fill the hands before the first throw", within(READY_SECONDS), 10
    )
    say: SayMode | None = described("What is called on the beats", SAY_MODES, "values")
    announce: bool | None = described(
        "Say the first pattern and its tempo beforehand", YES_OR_NO, False
    )
    speak_rests: bool | None = described(
        "Say the rests between two times through", YES_OR_NO, False
    )
    milestones: bool | None = described('Call "flash" and "qualified"', YES_OR_NO, True)
    stop_word: bool | None = described('Call "stop" on the last throw', YES_OR_NO, False)
    voice: FullLine | None = described(
        "Whose voice: see `throwcount voices`, or a folder of recorded words", A_NAME, "recordings"
    )
    language: Annotated[str, Field(pattern=f"^{LANGUAGE}$")] | None = described(
        "The language of the calls", 'its letters in quotes, as in "en" or "de"', "en"
    )
    cue_voice: FullLine | None = described("Another voice for cues", A_NAME, "recordings")
    cue_place: CuePlace | None = described("Where cues are heard", CUE_PLACES, "centre")
    cue_ahead: Ahead | None = described(
        "Beats before a change by which its cue begins; as late as it fits if left out",
        within(CUES_AHEAD, WHOLE),
        8,
    )
    names: Annotated[Line, Field(pattern=NAMES)] | None = described(
        'Your own names for objects A, B, C ..., called with say = "objects"',
        "a text in quotes, the names with commas between",
        "corn,plum,slate",
    )
    clicks: ClickChoice | None = described("Which throws click", get_args(ClickChoice), "both")
    hall: bool | None = described("Make voice and clicks ready for a loud room", YES_OR_NO, True)
    voice_level: Level | None = described("Louder or softer voice, in dB", within(LEVELS), 3)
    click_level: Level | None = described("Louder or softer clicks, in dB", within(LEVELS), -6)
    words: dict[str, Line] | None = described(
        "Your own words for throws, each by its digit or letter, with an x if it crosses",
        "a table of texts",
        {"2": "hold"},
    )
    phrases: dict[str, Line] | None = described(
        "Your own words for what else is said, such as last-one, next, stop or rest",
        "a table of texts",
        {"last-one": "once more"},
    )


class MusicTable(BaseModel):
    """The table [music]: the file, and where its beats are."""

    model_config = STRICT

    file: FullLine | None = described("The music, seen from this file", A_NAME, "walk.ogg")
    tempo: Tempo | None = described(
        "Its beats a minute, where they stay the same", within(TEMPOS), 100
    )
    first_beat: Annotated[float, Field(ge=FIRST_BEATS[0], le=FIRST_BEATS[1])] | None = described(
        "Seconds from the start of the file to the first beat of bar 1", within(FIRST_BEATS), 0.5
    )
    beats: list[float] | FullLine | None = described(
        "Or each of its beats, in seconds, where they do not",
        "a list of seconds, or the path of a text file with one number a line",
        "walk-beats.txt",
    )
    bar: Annotated[int, Field(ge=BAR_BEATS[0], le=BAR_BEATS[1])] | None = described(
        "Beats in a bar", within(BAR_BEATS, WHOLE), 4
    )
    throws: RatioText | None = described("Throws to beats of the music", A_RATIO, "2:1")
    level: Level | None = described("Louder or softer music, in dB", within(LEVELS), -3)
    duck: Annotated[float, Field(ge=DUCKS[0], le=DUCKS[1])] | None = described(
        "By how much it gives way to calls, in dB", within(DUCKS), 9
    )


class PartTable(BaseModel):
    """A table [[part]]: a pattern, a rest, or a repeat; its own parts are not among its keys."""

    model_config = STRICT

    pattern: str | None = described("What is thrown", "a pattern in quotes", "531")
    rest: Literal[True] | None = described("A stop", "true", True)
    repeat: Annotated[int, Field(ge=REPEATS[0], le=REPEATS[1])] | None = described(
        "How often the parts within it are repeated", within(REPEATS, WHOLE), 3
    )
    cycles: Count | None = described("How often the pattern is thrown", within(COUNTS, WHOLE), 12)
    beats: Count | None = described("How long, in beats", within(COUNTS, WHOLE), 36)
    seconds: Seconds | None = described(
        "How long, in seconds", f"a number more than 0, up to {LONGEST_SECONDS:g}", 20
    )
    name: Line | None = described("What the part is called", A_LINE, "the well")
    tempo: Tempo | None = described(
        "Beats a minute at its first throw, where they change", within(TEMPOS), 180
    )
    to: Tempo | None = described("Beats a minute reached at its end", within(TEMPOS), 210)
    curve: Curve | None = described("How the tempo gets there", tuple(EXPONENTS), "linear-beats")
    throws: RatioText | None = described("Throws to beats of the music, here", A_RATIO, "2:1")
    cue: Line | None = described(
        'What is said before it comes, made from its name if left out; "" for nothing',
        A_LINE,
        "now the well",
    )
    cue_ahead: Ahead | None = described(
        "Beats before it by which the cue begins", within(CUES_AHEAD, WHOLE), 8
    )
    how: Line | dict[str, FullLine] | None = described(
        "How it is thrown: all of it, or single throws of its cycle",
        HOW_TEXTS,
        {"right 5": "under the leg", "1": "low"},
    )
    bridge: FullLine | None = described(
        "The throws that lead into it, worked out if left out",
        'throws in quotes, as in "4 2" or "(4,2x)", or "3 4 3 (4,4)" where the timing changes',
        "4 2",
    )
    shifted: Hand | None = described(
        "The hand that waits or hurries a beat on the way into it, if hands in turn and hands "
        "together follow each other; either if left out",
        get_args(Hand),
        "left",
    )
    pick_up: Change | None = described(
        "Objects taken up on the way into it", within(CHANGES, WHOLE), 1
    )
    put_down: Change | None = described(
        "Objects put down on the way into it", within(CHANGES, WHOLE), 1
    )
    bar: Annotated[int, Field(ge=BARS[0], le=BARS[1])] | None = described(
        "The bar of the music on which it begins", within(BARS, WHOLE), 17
    )
    last_one: bool | None = described("Call its last cycle", YES_OR_NO, True)
    first: Hand | None = described(
        "The hand that begins, after a rest or at the opening", get_args(Hand), "left"
    )
    count_in: CountIn | None = described(
        "Beats counted at the end of a rest", within(COUNT_INS, WHOLE), 6
    )


def fields_of(table: type[BaseModel]) -> Mapping[str, FieldInfo]:
    """Return the keys of a table, by the names that they have in the file."""
    return {field.alias or name: field for name, field in table.model_fields.items()}


TOP: Final = fields_of(RoutineTable)
MUSIC: Final = fields_of(MusicTable)
PART: Final = fields_of(PartTable)
"""Every key by the name it has in the file."""

PartKind: TypeAlias = Literal["pattern", "rest", "repeat"]
KINDS: Final[tuple[PartKind, ...]] = get_args(PartKind)
LENGTHS: Final = ("cycles", "beats", "seconds")
PARTS: Final = "part"
BLOCKS: Final = "block"
"""The tables of a session file."""

SHARED: Final = frozenset({"beats", "seconds", "name", "cue", "cue-ahead", "bar"})
"""The keys that patterns and rests share."""

KEYS_OF: Final[Mapping[PartKind, frozenset[str]]] = {
    "pattern": frozenset(PART) - {"rest", "repeat", "count-in"},
    "rest": SHARED | {"rest", "count-in"},
    "repeat": frozenset({"repeat", PARTS}),
}


Table = TypeVar("Table", bound=BaseModel)

MUSIC_TABLE: Final = "[music]"
WORDS: Final = "words"
PHRASES: Final = "phrases"
OWN_WORDS: Final = (WORDS, PHRASES)
HOW: Final = "how"
FREE_KEYS: Final = (*OWN_WORDS, HOW)
"""Tables whose keys are free."""

ALL_THROWS: Final = "all"
"""The key under `HOW` for all throws without one of their own."""


@dataclass(frozen=True, slots=True)
class FileFault:
    """Something that is wrong in a routine file."""

    place: str
    """Where: empty at the top, ``[music]``, or a part, such as "Part 3, “the well”"."""
    key: str
    """The key that it is about; empty if it is about none, or several."""
    sentence: str
    """What is wrong and what is allowed; it follows the place."""
    under: str = ""
    """What is shown below the sentence, on lines of its own."""
    entry: str = ""
    """The entry that it is about, where `key` is a table with free keys."""
    position: TextPosition | None = None
    """Where the key, or else the table around it, stands in the text; None if that is not known."""

    def __str__(self) -> str:
        text = f"{self.place}: {self.sentence}" if self.place else self.sentence
        text = located(self.position, text)
        return f"{text}\n{self.under}" if self.under else text


def checked(
    table: type[Table],
    given: Mapping[str, Any],
    known: Mapping[str, FieldInfo],
    place: str,
    unknown: Callable[[str], str] | None = None,
) -> tuple[Table, list[FileFault]]:
    """Return a table with those of the `given` values that are right, and a fault for each other.

    Every key of the model `table` may be left out. `known` are the model's keys. `place` is as in
    `FileFault`. `unknown` returns a sentence about another key; that of a routine file if None.
    """
    about_other = unknown or partial(_unknown, known=known, place=place)
    try:
        return table.model_validate(dict(given)), []
    except ValidationError as error:
        found = error.errors(include_url=False, include_context=False, include_input=False)
        wrong = dict.fromkeys(str(each["loc"][0]) for each in found)
    faults = [
        FileFault(place, key, _fault_text(key, given[key], known, about_other))
        for key in wrong
        if not (
            key in known and key in FREE_KEYS and isinstance(given[key], dict)
        )  # told word by word
    ]
    right = {key: value for key, value in given.items() if key not in wrong}
    return table.model_validate(right), faults


def word_faults(words: object) -> Iterator[FileFault]:
    """Yield a fault for each word that is no line of text, or whose key is no throw."""
    for value, word in words.items() if isinstance(words, dict) else ():
        shown = printed(value[:LONGEST_SHOWN])
        if not is_line(word):
            text = f"{shown} in [words] has to be {A_LINE}."
            yield FileFault("", WORDS, text, entry=value)
        elif own_word(f"{value}={word}") is None:
            yield FileFault("", WORDS, word_fault_text(shown, word), entry=value)


def room_faults(ceiling: float | None, hands: float | None) -> Iterator[FileFault]:
    """Yield a fault where a ceiling is not above the hands; None for what the file does not say."""
    above = HANDS_HEIGHT if hands is None else hands
    if ceiling is not None and ceiling <= above:
        yield FileFault(
            "",
            "ceiling",
            f"ceiling {ceiling:g} leaves no room above the hands at {above:g} m; both are "
            "heights above the floor.",
        )


def phrase_faults(phrases: object) -> Iterator[FileFault]:
    """Yield a fault for each phrase that is no line of text, or replaces nothing that is said."""
    for name, phrase in phrases.items() if isinstance(phrases, dict) else ():
        if not is_line(phrase):
            shown = printed(name[:LONGEST_SHOWN])
            text = f"{shown} in [phrases] has to be {A_LINE}."
            yield FileFault("", PHRASES, text, entry=name)
            continue
        fault = phrase_fault(name, phrase.strip())
        if fault:
            yield FileFault("", PHRASES, f"In [phrases]: {printed(fault)}", entry=name)


class FaultyFileError(WrongInputError):
    """A file cannot be used; `faults` holds everything that is wrong with it."""

    kind: ClassVar[str]
    """What the file should hold, such as "routine"."""

    def __init__(self, path: Path, faults: Sequence[FileFault]) -> None:
        lines = [f"The {self.kind} in {path} cannot be used.", *map(str, faults)]
        super().__init__("\n".join(lines))
        self.path = path
        self.faults = tuple(faults)

    @property
    def document(self) -> Mapping[str, Any]:
        """What is wrong with the file, fault by fault."""
        faults = [_fault_document(fault) for fault in self.faults]
        return {"file": str(self.path), "valid": False, "faults": faults, "message": self.message}


def _fault_document(fault: FileFault) -> dict[str, Any]:
    line, column = fault.position or (None, None)
    return {
        "place": fault.place,
        "key": fault.key,
        "line": line,
        "column": column,
        "message": fault.sentence,
    }


def with_positions(
    faults: Iterable[FileFault], file: TomlFile, tables: Mapping[str, KeyPath]
) -> list[FileFault]:
    """Return the faults in the order of the file, each once and with its position.

    `tables` tells, in order, which table of the file each place is.
    """
    ranks = {place: rank for rank, place in enumerate(tables)}
    found = [
        replace(fault, position=file.position(_path(fault, tables)))
        for fault in dict.fromkeys(faults)
    ]
    return sorted(
        found, key=lambda fault: (ranks.get(fault.place, len(ranks)), fault.position or (0, 0))
    )


def _path(fault: FileFault, tables: Mapping[str, KeyPath]) -> KeyPath:
    names = [name for name in (fault.key, fault.entry) if name]
    return (*tables.get(fault.place, ()), *names)


def _fault_text(
    key: str, given: object, known: Mapping[str, FieldInfo], unknown: Callable[[str], str]
) -> str:
    field = known.get(key)
    if field is None:
        return unknown(key)
    about = facts(field)
    written = as_written(given)
    text = "cannot be that" if written is None else f"cannot be {written}"
    guess = near(given, about["choices"]) if isinstance(given, str) else ""
    return f"{key} {text}: it is {about['allowed']}.{guess}"


def _unknown(key: str, known: Mapping[str, FieldInfo], place: str) -> str:
    shown = as_written(key)
    if place and key in TOP:
        return (
            f"{shown} belongs at the top of the file, before the first [[part]] and before [music]."
        )
    if known is not PART and key in PART:
        return f"{shown} belongs in a [[part]]."
    if known is not MUSIC and key in MUSIC:
        return f"{shown} belongs in [music]."
    owner = {"": "a routine file", MUSIC_TABLE: MUSIC_TABLE}.get(place, "a part")
    if known is TOP and key == BLOCKS:
        return (
            f"{shown} belongs in a session file. A file has [[part]]s, which follow each other "
            "without a stop, or [[block]]s, which are practised; keep one of them."
        )
    others = ["music", PARTS, BLOCKS] if known is TOP else [PARTS] if known is PART else []
    return f"{shown} is no key of {owner}.{near(key, [*known, *others])}"
