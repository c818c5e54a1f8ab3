"""What the settings file may hold: personal defaults for options, own words, and own keys.

Each field has the name of its option, with dashes between words. The ranges are the options'.
"""

from collections.abc import Mapping
from typing import Annotated, Any, Final, Literal, TypeAlias, get_args

from pydantic import BaseModel, BeforeValidator, Field
from pydantic.fields import FieldInfo

from caller.options.live_options import LATENCIES, SPEAKER_DELAYS
from caller.options.shared_options import (
    COUNT_INS,
    FADES,
    LANGUAGE,
    LEADS,
    LEVELS,
    RATES,
    READY_SECONDS,
    ClickChoice,
)
from caller.practice.options import CLEAN_IN_A_ROW, LONGEST_REST, NOT_COUNTED
from caller.toml_fields import STRICT, described, within
from engine.patterns.pattern import Hand
from engine.practising.marks import MARKS, Mark
from engine.timing.run import SAY_MODES, SayMode

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
        "Frames a second",
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
