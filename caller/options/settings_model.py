"""What the settings file may hold: personal defaults for options, own words, and own keys.

Each field has the name of its option, with dashes between words. The ranges are the options'.

Everything that is wrong with a settings file, in plain sentences.

What tables of a TOML file have in common: strict models, and what is told of their keys.
"""

import json
from collections.abc import Iterator, Mapping
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
    SPEAKER_DELAYS,
    ClickChoice,
    own_word,
    phrase_fault,
)
from throwcount.caller.terminal.controls import KeysError, key_map
from throwcount.caller.terminal.text import near
from throwcount.engine.patterns.pattern import Hand
from throwcount.engine.practice.tempo_rules import MARKS, Mark
from throwcount.engine.timing.run import SAY_MODES, SayMode

LONGEST_SHOWN: Final = 60
"""Characters of a value that are shown, at most."""

LARGEST_SHOWN: Final = 10**LONGEST_SHOWN

STRICT: Final = ConfigDict(
    extra="forbid",
    frozen=True,
    strict=True,
    allow_inf_nan=False,
    alias_generator=lambda name: name.replace("_", "-"),
)
"""Keys have dashes between words, and nothing is taken for what it is not."""


def described(told: str, allowed: str | tuple[str, ...], example: object, usual: str = "") -> Any:  # noqa: ANN401 - pydantic reads it as a field, mypy as a default of any kind
    """Return a field that may be left out.

    Parameters
    ----------
    told
        What it is.
    allowed
        What it may be: its choices, or in words.
    example
        For a new file.
    usual
        What holds without it.
    """
    choices = allowed if isinstance(allowed, tuple) else ()
    extra: dict[str, Any] = {
        "allowed": f"{', '.join(choices[:-1])} or {choices[-1]}" if choices else allowed,
        "choices": choices,
        "usual": usual,
        "example": example,
    }
    return Field(None, description=told, json_schema_extra=extra)


def facts(field: FieldInfo) -> dict[str, Any]:
    """Return what is known of a field: allowed, choices, usual, example."""
    return field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}


def within(limits: tuple[float, float], kind: str = "a number") -> str:
    """Return in words what lies from one limit to the other."""
    lowest, highest = (f"{end:,}" if isinstance(end, int) else f"{end:g}" for end in limits)
    return f"{kind} from {lowest} to {highest}"


def as_written(given: object) -> str | None:
    """Return a value as TOML has it; None where it is too large to be shown, or of many parts."""
    if isinstance(given, bool | str):
        written = printed(json.dumps(given, ensure_ascii=False))
    elif isinstance(given, int) and abs(given) >= LARGEST_SHOWN:
        return None
    elif isinstance(given, int | float):
        written = str(given)
    else:
        return None
    return written if len(written) <= LONGEST_SHOWN else f"{written[:LONGEST_SHOWN]} ..."


def printed(text: str) -> str:
    """Return `text` with an escape for each character that a terminal might act on."""
    return "".join(char if char.isprintable() else f"\\u{ord(char):04x}" for char in text)


PRACTISING: Final = frozenset({"play", "listen --live"})
"""The commands that practise."""

LIVE_ONLY: Final[Mapping[str, frozenset[str]]] = {
    "ready": PRACTISING,
    "output": PRACTISING | {"plan"},  # which plays music, to be tapped along
}
"""What a person wants where sound is played, and not in a file: the commands for which it is."""

NAMES: Final = r"^\s*[^,\s][^,]*(,\s*[^,\s][^,]*)*$"
"""Texts with commas between them, none of them empty."""

YES_OR_NO: Final = ("true", "false")


def as_list(given: object) -> object:
    """Return what is given, and a text as a list of itself."""
    return [given] if isinstance(given, str) else given


Level: TypeAlias = Annotated[float, Field(ge=LEVELS[0], le=LEVELS[1])]
KeyList: TypeAlias = Annotated[list[str], BeforeValidator(as_list)]


class Settings(BaseModel):
    """Personal defaults; None where the file has none."""

    model_config = STRICT

    say: SayMode | None = described("What is called on the beats", SAY_MODES, "values", "values")
    letters: bool | None = described(
        "Call values from 10 up by their letter", YES_OR_NO, True, "false"
    )
    names: Annotated[str, Field(pattern=NAMES)] | None = described(
        "Your own names for objects A, B, C ..., to be called",
        "a text in quotes, the names with commas between",
        "corn,plum,slate",
        "A,B,C ...",
    )
    lead: Annotated[int, Field(ge=LEADS[0], le=LEADS[1])] | None = described(
        "Beats by which each throw is called before it", within(LEADS, "a whole number"), 1, "0"
    )
    fade: Annotated[int, Field(ge=FADES[0], le=FADES[1])] | None = described(
        "Cycles for which the count drops out, at most", within(FADES, "a whole number"), 4, "0"
    )
    fade_clicks: Annotated[int, Field(ge=FADES[0], le=FADES[1])] | None = described(
        "Cycles for which the clicks drop out, at most", within(FADES, "a whole number"), 2, "0"
    )
    first: Hand | None = described(
        "The hand that begins, where the hands alternate", get_args(Hand), "left", "right"
    )
    ready: Annotated[float, Field(ge=READY_SECONDS[0], le=READY_SECONDS[1])] | None = described(
        "Seconds to fill the hands before a practice", within(READY_SECONDS), 12, "8"
    )
    count_in: Annotated[int, Field(ge=COUNT_INS[0], le=COUNT_INS[1])] | None = described(
        "Beats counted before the first throw", within(COUNT_INS, "a whole number"), 4, "4"
    )
    announce: bool | None = described(
        "Say the pattern, the tempo and the first hand beforehand", YES_OR_NO, True, "true"
    )
    clicks: ClickChoice | None = described(
        "Which throws click", get_args(ClickChoice), "cycle", "both"
    )
    tune: bool | None = described(
        "Let the pitch of the click follow the throw's value", YES_OR_NO, False, "true"
    )
    voice_level: Level | None = described("Louder or softer voice, in dB", within(LEVELS), 3, "0")
    click_level: Level | None = described("Louder or softer clicks, in dB", within(LEVELS), -6, "0")
    voice: str | None = described(
        "Whose voice: see `throwcount voices`, or a folder of recorded words",
        "a text in quotes",
        "my-recordings",
        "the built-in one",
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
    rate: Annotated[int, Field(ge=RATES[0], le=RATES[1])] | None = described(
        "Sample rate",
        within(RATES, "a whole number"),
        44100,
        "48000, or the device's own when live",
    )
    latency: Annotated[float, Field(ge=LATENCIES[0], le=LATENCIES[1])] | None = described(
        "Seconds of sound kept ready: more is safer on a busy computer",
        within(LATENCIES),
        0.1,
        "0.05",
    )
    speaker_delay: Annotated[float, Field(ge=SPEAKER_DELAYS[0], le=SPEAKER_DELAYS[1])] | None = (
        described(
            "Milliseconds that wireless headphones add, so that the screen waits for them",
            within(SPEAKER_DELAYS),
            150,
            "0",
        )
    )
    rest: Annotated[float, Field(ge=0, le=LONGEST_REST)] | None = described(
        "Seconds of rest between two sets", within((0, LONGEST_REST)), 30, "20"
    )
    round_rest: Annotated[float, Field(ge=0, le=LONGEST_REST)] | None = described(
        "Seconds of rest between two rounds", within((0, LONGEST_REST)), 120, "60"
    )
    clean_sets: Annotated[int, Field(ge=CLEAN_IN_A_ROW[0], le=CLEAN_IN_A_ROW[1])] | None = (
        described(
            "Clean sets in a row that raise the staircase",
            within(CLEAN_IN_A_ROW, "a whole number"),
            2,
            "3",
        )
    )
    unmarked: Mark | Literal["nothing"] | None = described(
        "How a set counts that got no mark", (*MARKS, NOT_COUNTED), "clean", NOT_COUNTED
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
    ceiling: Annotated[float, Field(ge=0)] | None = described(
        "Height of the room, in metres", "a number, 0 or more", 2.6, "none"
    )
    hands: Annotated[float, Field(ge=0)] | None = described(
        "Height of the hands above the floor, in metres", "a number, 0 or more", 1.1, "1"
    )
    words: dict[str, str] | None = described(
        "Your own words for throw values", "a table of texts", {"2": "hold"}, "none"
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
"""Every setting by the name it has in the file."""


def option_defaults(settings: Settings, command: str) -> dict[str, Any]:
    """Return what the settings say, by the names of the options of a command, as it takes them."""
    found = settings.model_dump(exclude_none=True, exclude={"words", "phrases", "keys"})
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


def checked(document: Mapping[str, Any]) -> tuple[Settings | None, list[str]]:
    """Return the settings in a document read from TOML, or None and a sentence for each fault."""
    settings, faults = None, []
    try:
        settings = Settings.model_validate(document)
    except ValidationError as error:
        faults = list(dict.fromkeys(_told(error, document)))
    faults += _of_words(document.get("words"))
    faults += _of_phrases(document.get("phrases"))
    faults += _of_keys(document.get("keys"))
    return (None if faults else settings), faults


def _told(error: ValidationError, document: Mapping[str, Any]) -> Iterator[str]:
    for fault in error.errors():
        name, *within = map(str, fault["loc"])
        field = FIELDS.get(name)
        given = document[name]
        if field is None:
            yield f"{name!r} is no setting.{near(name, FIELDS)}"
        elif within and isinstance(given, dict):
            what = "a key in quotes, or a list of them" if name == "keys" else "a text in quotes"
            yield f"{within[0]} in [{name}] has to be {what}."
        else:
            known = facts(field)
            written = as_written(given)
            told = " cannot be that" if written is None else f" cannot be {written}"
            guess = near(given, known["choices"]) if isinstance(given, str) else ""
            yield f"{name}{told}: it is {known['allowed']}.{guess}"


def _of_words(words: object) -> list[str]:
    if not isinstance(words, dict):
        return []
    return [
        f"{value} = {as_written(word)} in [words] gives no throw value a word: the value is one "
        "digit or letter, and the word is not empty."
        for value, word in words.items()
        if isinstance(word, str) and own_word(f"{value}={word}") is None
    ]


def _of_phrases(phrases: object) -> list[str]:
    if not isinstance(phrases, dict):
        return []
    faults = (
        phrase_fault(name, phrase.strip())
        for name, phrase in phrases.items()
        if isinstance(phrase, str)
    )
    return [f"In [phrases]: {fault}" for fault in faults if fault]


def _of_keys(keys: object) -> list[str]:
    if not isinstance(keys, dict):
        return []
    listed = {name: as_list(given) for name, given in keys.items()}
    texts = {
        name: [key for key in given if isinstance(key, str)]
        for name, given in listed.items()
        if isinstance(given, list)
    }
    try:
        key_map(texts)
    except KeysError as error:
        return [f"In [keys]: {fault}" for fault in error.faults]
    return []
