"""The model of the settings file, and sentences for all that is wrong with one.

The settings are defaults for options, a person's own words, and own keys. Each has the name and the
range of its option. The models of other TOML files are built from the same parts.
"""

import json
import textwrap
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Annotated, Any, Final, Literal, TypeAlias, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
from pydantic.fields import FieldInfo

from throwcount.caller.options.arguments import (
    CLEAN_IN_A_ROW,
    COUNT_INS,
    FADES,
    LANGUAGE,
    LATENCIES,
    LEADS,
    LEVELS,
    LONGEST_REST,
    NOT_COUNTED,
    RATES,
    READY_SECONDS,
    ROOM_HEIGHTS,
    SPEAKER_DELAYS,
    ClickChoice,
    own_word,
    phrase_fault,
)
from throwcount.caller.options.request import ON_DROPS, OnDrop
from throwcount.caller.options.toml_file import KeyPath, TextPosition, located
from throwcount.caller.terminal.controls import KeysError, key_map
from throwcount.caller.terminal.text import near
from throwcount.engine.patterns.pattern import Hand
from throwcount.engine.practice.tempo_rules import MARKS, Mark
from throwcount.engine.timing.run import LETTER_WORDS, SAY_MODES, LetterWords, SayMode

LONGEST_SHOWN: Final = 60
"""Characters of a value that are shown, at most."""

WIDTH: Final = 90
"""Columns of a file for a person to fill in."""

STRICT: Final = ConfigDict(
    extra="forbid",
    frozen=True,
    strict=True,
    allow_inf_nan=False,
    alias_generator=lambda name: name.replace("_", "-"),
)
"""Keys have dashes between words, and no value is converted from another type."""


def described(  # the result is a field to pydantic, and a default of any type to mypy
    description: str,
    allowed: str | tuple[str, ...] | tuple[float, float],
    example: object,
    usual: str = "",
) -> Any:  # noqa: ANN401
    """Return a field that may be left out.

    `description` says what it is. `allowed` says what it may be: its choices, its lowest and
    highest value, or any other condition in words. `example` is for a new file. `usual` holds
    without it.
    """
    choices: tuple[str, ...] = ()
    limits: dict[str, Any] = {}
    match allowed:
        case (int() | float() as lowest, int() | float() as highest):
            limits = {"ge": lowest, "le": highest}
            whole = isinstance(lowest, int) and isinstance(highest, int)
            allowed = within((lowest, highest), "a whole number" if whole else "a number")
        case (*names,):
            choices = tuple(map(str, names))
            allowed = f"{', '.join(choices[:-1])} or {choices[-1]}"
    extra: dict[str, Any] = {
        "allowed": allowed,
        "choices": choices,
        "usual": usual,
        "example": example,
    }
    return Field(None, description=description, json_schema_extra=extra, **limits)


def facts(field: FieldInfo) -> dict[str, Any]:
    """Return what `described` says of a field: allowed, choices, usual, example."""
    return field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}


def within(limits: tuple[float, float], kind: str = "a number") -> str:
    """Return the limits of a number in words."""
    lowest, highest = (f"{end:,}" if isinstance(end, int) else f"{end:g}" for end in limits)
    return f"{kind} from {lowest} to {highest}"


def as_written(given: object) -> str | None:
    """Return a value as TOML writes it; None if it is too large to be shown, or has many parts."""
    if isinstance(given, bool | str):
        written = printed(json.dumps(given, ensure_ascii=False))
    elif isinstance(given, int) and abs(given) >= 10**LONGEST_SHOWN:
        return None
    elif isinstance(given, int | float):
        written = str(given)
    else:
        return None
    return written if len(written) <= LONGEST_SHOWN else f"{written[:LONGEST_SHOWN]} ..."


def printed(text: str) -> str:
    """Return `text` with an escape for each character that a terminal might act on."""
    return "".join(char if char.isprintable() else f"\\u{ord(char):04x}" for char in text)


def comment(text: str) -> str:
    """Return `text` as lines of a comment in a TOML file."""
    return textwrap.fill(text, WIDTH, initial_indent="# ", subsequent_indent="# ") + "\n"


PRACTISING: Final = frozenset({"play", "listen --live"})
"""The commands that practise."""

LIVE_ONLY: Final[Mapping[str, frozenset[str]]] = {
    "ready": PRACTISING,
    "output": PRACTISING | {"plan"},  # it plays music to tap along with
}
"""Settings for live sound and not for files, with the commands that they are for."""

NAMES: Final = r"^\s*[^,\s][^,]*(,\s*[^,\s][^,]*)*$"
"""Names with commas between them, none of them empty."""

YES_OR_NO: Final = ("true", "false")


def as_list(given: object) -> object:
    """Return a text as a list of one, and anything else as it is."""
    return [given] if isinstance(given, str) else given


def plain_letters(given: object) -> object:
    """Return "plain" and None for true and false, and anything else as it is."""
    return "plain" if given is True else None if given is False else given


Level: TypeAlias = Annotated[float, Field(ge=LEVELS[0], le=LEVELS[1])]
KeyList: TypeAlias = Annotated[list[str], BeforeValidator(as_list)]


class Settings(BaseModel):
    """Personal defaults; None where the file has none."""

    model_config = STRICT

    say: SayMode | None = described("What is called on the beats", SAY_MODES, "values", "values")
    letters: Annotated[LetterWords | None, BeforeValidator(plain_letters)] = described(
        "Call values from 10 up by their letter", LETTER_WORDS, "spelled", "their number"
    )
    names: Annotated[str, Field(pattern=NAMES)] | None = described(
        "Your own names for objects A, B, C ..., to be called",
        "a text in quotes, the names with commas between",
        "corn,plum,slate",
        "A,B,C ...",
    )
    lead: int | None = described("Beats by which each throw is called before it", LEADS, 1, "0")
    fade: int | None = described("Cycles for which the count drops out, at most", FADES, 4, "0")
    fade_clicks: int | None = described(
        "Cycles for which the clicks drop out, at most", FADES, 2, "0"
    )
    first: Hand | None = described(
        "The hand that begins, where the hands alternate", get_args(Hand), "left", "right"
    )
    ready: float | None = described(
        "Seconds to fill the hands before a practice", READY_SECONDS, 12, "8"
    )
    count_in: int | None = described("Beats counted before the first throw", COUNT_INS, 4, "4")
    announce: bool | None = described(
        "Say the pattern, the tempo and the first hand beforehand", YES_OR_NO, True, "true"
    )
    milestones: bool | None = described(
        'Call "flash" and "qualified"', YES_OR_NO, True, "with a tally"
    )
    stop_word: bool | None = described(
        'Call "stop" on the last throw, and "last one" before it in sets', YES_OR_NO, False, "true"
    )
    clicks: ClickChoice | None = described(
        "Which throws click", get_args(ClickChoice), "cycle", "both"
    )
    tune: bool | None = described(
        "Let the pitch of the click follow the throw's value", YES_OR_NO, False, "true"
    )
    voice_level: float | None = described("Louder or softer voice, in dB", LEVELS, 3, "0")
    click_level: float | None = described("Louder or softer clicks, in dB", LEVELS, -6, "0")
    voice: str | None = described(
        "Whose voice: see `throwcount voices`, or a folder of recorded words",
        "a text in quotes",
        "my-recordings",
        "the built-in one",
    )
    hall: bool | None = described(
        "Make voice and clicks ready for a loud room", YES_OR_NO, True, "false"
    )
    language: Annotated[str, Field(pattern=f"^{LANGUAGE}$")] | None = described(
        "The language of the calls, spoken by a system voice",
        'a language code in quotes, as in "de" or "pt-br"',
        "de",
        "en",
    )
    output: str | None = described(
        "Where to play: see `throwcount outputs`",
        "a text in quotes",
        "Headphones",
        "the system's default",
    )
    rate: int | None = described(
        "Sample rate", RATES, 44100, "48000, or the device's own when live"
    )
    latency: float | None = described(
        "Seconds of sound kept ready: more is safer on a busy computer", LATENCIES, 0.1, "0.05"
    )
    speaker_delay: float | None = described(
        "Milliseconds that wireless headphones add, so that the screen waits for them",
        SPEAKER_DELAYS,
        150,
        "0",
    )
    rest: float | None = described(
        "Seconds of rest between two sets", (0, LONGEST_REST), 30, "20, or 8 between attempts"
    )
    round_rest: float | None = described(
        "Seconds of rest between two rounds", (0, LONGEST_REST), 120, "60"
    )
    speak_rests: bool | None = described(
        "Say the rests, the time left of them, the catches of a run, and what was reached",
        YES_OR_NO,
        False,
        "true",
    )
    one_pedal: bool | None = described(
        "Let either of the pedals' keys be the only pedal", YES_OR_NO, True, "false"
    )
    wait: bool | None = described(
        "Begin, and go on after every rest, at a press", YES_OR_NO, True, "false"
    )
    on_drop: OnDrop | None = described(
        "Whether a drop ends the set", ON_DROPS, "go-on", "stop, go-on in a routine"
    )
    clean_sets: int | None = described(
        "Clean sets in a row that raise the staircase", CLEAN_IN_A_ROW, 2, "3"
    )
    unmarked: Mark | Literal["nothing"] | None = described(
        "How a set without a mark counts", (*MARKS, NOT_COUNTED), "clean", NOT_COUNTED
    )
    keep: bool | None = described("Keep practices in the log", YES_OR_NO, False, "true")
    props: str | None = described(
        "What you juggle, for the log", "a text in quotes", "beanbags", "not told"
    )
    dwell: Annotated[float, Field(gt=0, lt=1)] | None = described(
        "The share of the time that a hand holds an object",
        "a number more than 0 and less than 1",
        0.7,
        "2/3",
    )
    ceiling: float | None = described("Height of the room, in metres", ROOM_HEIGHTS, 2.6, "none")
    hands: float | None = described(
        "Height of the hands above the floor, in metres", ROOM_HEIGHTS, 1.1, "1"
    )
    session: Annotated[str, Field(pattern=r"\.[Tt][Oo][Mm][Ll]$")] | None = described(
        "Your usual session, which `throwcount play` alone begins",
        "the name of a session file, seen from this file, that ends in .toml",
        "tuesday.toml",
        "none",
    )
    words: dict[str, str] | None = described(
        "Your own words for throws", "a table of texts", {"2": "hold"}, "none"
    )
    phrases: dict[str, str] | None = described(
        "Your own words for what else is said",
        "a table of texts",
        {"last-one": "once more"},
        "none",
    )
    keys: dict[str, KeyList] | None = described(
        "The keys and pedals that ask for something while it plays", "a table of keys", {}, ""
    )


FIELDS: Final[Mapping[str, FieldInfo]] = {
    field.alias or name: field for name, field in Settings.model_fields.items()
}
"""The settings by their names in the file."""


def option_defaults(settings: Settings, command: str, folder: Path = Path()) -> dict[str, Any]:
    """Return the settings for a command, by parameter and in the form that its options take.

    `folder` is that of the settings file.
    """
    found = settings.model_dump(exclude_none=True, exclude={"session", "words", "phrases", "keys"})
    if settings.session and command == "play":
        found["subject"] = str(folder / settings.session)
    if settings.words:
        found["word"] = [f"{value}={word}" for value, word in settings.words.items()]
    if settings.phrases:
        found["phrase"] = [f"{name}={phrase}" for name, phrase in settings.phrases.items()]
    if settings.keys:
        found["key"] = [
            f"{name}={key}" for name, keys in settings.keys.items() for key in keys or [""]
        ]
    return {
        name: value
        for name, value in found.items()
        if name not in LIVE_ONLY or command in LIVE_ONLY[name]
    }


def checked(
    document: Mapping[str, Any],
    position: Callable[[KeyPath], TextPosition | None] = lambda _path: None,
) -> tuple[Settings | None, list[str]]:
    """Return the settings in a document read from TOML, or None and a sentence for each fault.

    `position` returns where a key stands, which the sentence then begins with.
    """
    settings, faults = None, []
    try:
        settings = Settings.model_validate(document)
    except ValidationError as error:
        faults = list(dict.fromkeys(_faults(error, document)))
    for name, faults_of in (("words", _of_words), ("phrases", _of_phrases), ("keys", _of_keys)):
        if isinstance(table := document.get(name), dict):
            faults += faults_of(table)
    return (None if faults else settings), [
        located(position(path), fault) for path, fault in faults
    ]


Faults: TypeAlias = Iterator[tuple[KeyPath, str]]
"""Sentences, each with the keys that lead to what it is about."""


def _faults(error: ValidationError, document: Mapping[str, Any]) -> Faults:
    for fault in error.errors():
        name, *within = map(str, fault["loc"])
        field = FIELDS.get(name)
        given = document[name]
        if field is None:
            yield (name,), f"{name!r} is not a setting.{near(name, FIELDS)}"
        elif within and isinstance(given, dict):
            what = "a key in quotes, or a list of them" if name == "keys" else "a text in quotes"
            yield (name, within[0]), f"{within[0]} in [{name}] has to be {what}."
        else:
            known = facts(field)
            written = as_written(given)
            text = " cannot be that" if written is None else f" cannot be {written}"
            guess = near(given, known["choices"]) if isinstance(given, str) else ""
            yield (name,), f"{name}{text}: it is {known['allowed']}.{guess}"


def _of_words(words: Mapping[str, Any]) -> Faults:
    for value, word in words.items():
        if isinstance(word, str) and own_word(f"{value}={word}") is None:
            yield ("words", value), word_fault_text(value, word)


def word_fault_text(value: str, word: str) -> str:
    """Return the sentence on an entry of [words] that is not a throw with a word."""
    return (
        f"{value} = {as_written(word)} in [words] gives no throw a word: a throw is one "
        "digit or letter, and an x if it crosses; the word is not empty."
    )


def _of_phrases(phrases: Mapping[str, Any]) -> Faults:
    for name, phrase in phrases.items():
        if isinstance(phrase, str) and (fault := phrase_fault(name, phrase.strip())):
            yield ("phrases", name), f"In [phrases]: {fault}"


def _of_keys(keys: Mapping[str, Any]) -> Faults:
    listed = {name: as_list(given) for name, given in keys.items()}
    texts = {
        name: [key for key in given if isinstance(key, str)]
        for name, given in listed.items()
        if isinstance(given, list)
    }
    told: set[str] = set()
    for name, own in texts.items():
        faults = _key_faults({name: own})
        told.update(faults)
        yield from ((("keys", name), f"In [keys]: {fault}") for fault in faults)
    for fault in _key_faults(texts):
        if fault not in told:
            yield ("keys",), f"In [keys]: {fault}"


def _key_faults(texts: Mapping[str, list[str]]) -> tuple[str, ...]:
    try:
        key_map(texts)
    except KeysError as error:
        return error.faults
    return ()
