"""What the settings file may hold: personal defaults for options, own words, and own keys.

Each field has the name of its option, with dashes between words. The ranges are the options'.
"""

from collections.abc import Mapping
from typing import Annotated, Any, Final, Literal, TypeAlias, get_args

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field
from pydantic.fields import FieldInfo

from caller.live_options import LATENCIES, SPEAKER_DELAYS
from caller.options import (
    COUNT_INS,
    FADES,
    LEADS,
    LEVELS,
    RATES,
    READY_SECONDS,
    ClickChoice,
)
from caller.practice.options import CLEAN_IN_A_ROW, LONGEST_REST, NOT_COUNTED
from engine.marks import MARKS, Mark
from engine.pattern import Hand
from engine.run import SAY_MODES, SayMode

LIVE_ONLY: Final = frozenset({"ready", "output"})
"""What a person wants for a practice, and not in a file."""

NAMES: Final = r"^\s*[^,\s][^,]*(,\s*[^,\s][^,]*)*$"
"""Texts with commas between them, none of them empty."""

YES_OR_NO: Final = ("true", "false")


def as_list(given: object) -> object:
    """Return what is given, and a text as a list of itself."""
    return [given] if isinstance(given, str) else given


Level: TypeAlias = Annotated[float, Field(ge=LEVELS[0], le=LEVELS[1])]
KeyList: TypeAlias = Annotated[list[str], BeforeValidator(as_list)]


def _setting(told: str, allowed: str | tuple[str, ...], usual: str, example: object) -> Any:  # noqa: ANN401 - pydantic reads it as a field, mypy as a default of any kind
    """Return a setting: what it is, may be, is without the file, and an example for a new file."""
    choices = allowed if isinstance(allowed, tuple) else ()
    extra: dict[str, Any] = {
        "allowed": f"{', '.join(choices[:-1])} or {choices[-1]}" if choices else allowed,
        "choices": choices,
        "usual": usual,
        "example": example,
    }
    return Field(None, description=told, json_schema_extra=extra)


def _number(limits: tuple[float, float], kind: str = "a number") -> str:
    return f"{kind} from {limits[0]:g} to {limits[1]:g}"


class Settings(BaseModel):
    """Personal defaults; None where the file has none."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        alias_generator=lambda name: name.replace("_", "-"),
    )

    say: SayMode | None = _setting("What is called on the beats", SAY_MODES, "values", "values")
    letters: bool | None = _setting(
        "Call values from 10 up by their letter", YES_OR_NO, "false", True
    )
    names: Annotated[str, Field(pattern=NAMES)] | None = _setting(
        "Your own names for objects A, B, C ..., to be called",
        "a text in quotes, the names with commas between",
        "A,B,C ...",
        "ruby,jade,amber",
    )
    lead: Annotated[int, Field(ge=LEADS[0], le=LEADS[1])] | None = _setting(
        "Beats by which each throw is called before it", _number(LEADS, "a whole number"), "0", 1
    )
    fade: Annotated[int, Field(ge=FADES[0], le=FADES[1])] | None = _setting(
        "Cycles for which the count drops out, at most", _number(FADES, "a whole number"), "0", 4
    )
    fade_clicks: Annotated[int, Field(ge=FADES[0], le=FADES[1])] | None = _setting(
        "Cycles for which the clicks drop out, at most", _number(FADES, "a whole number"), "0", 2
    )
    first: Hand | None = _setting(
        "The hand that begins, where the hands alternate", get_args(Hand), "right", "left"
    )
    ready: Annotated[float, Field(ge=READY_SECONDS[0], le=READY_SECONDS[1])] | None = _setting(
        "Seconds to fill the hands before a practice", _number(READY_SECONDS), "8", 12
    )
    count_in: Annotated[int, Field(ge=COUNT_INS[0], le=COUNT_INS[1])] | None = _setting(
        "Beats counted before the first throw", _number(COUNT_INS, "a whole number"), "4", 4
    )
    announce: bool | None = _setting(
        "Say the pattern, the tempo and the first hand beforehand", YES_OR_NO, "true", True
    )
    clicks: ClickChoice | None = _setting(
        "Which throws click", get_args(ClickChoice), "both", "cycle"
    )
    tune: bool | None = _setting(
        "Let the pitch of the click follow the throw's value", YES_OR_NO, "true", False
    )
    voice_level: Level | None = _setting("Louder or softer voice, in dB", _number(LEVELS), "0", 3)
    click_level: Level | None = _setting("Louder or softer clicks, in dB", _number(LEVELS), "0", -6)
    voice: str | None = _setting(
        "Whose voice: see `throwcount voices`, or a folder of recorded words",
        "a text in quotes",
        "the built-in one",
        "my-recordings",
    )
    output: str | None = _setting(
        "Where to play: see `throwcount outputs`",
        "a text in quotes",
        "the system's default",
        "Headphones",
    )
    rate: Annotated[int, Field(ge=RATES[0], le=RATES[1])] | None = _setting(
        "Frames a second",
        _number(RATES, "a whole number"),
        "48000, or the device's own when live",
        44100,
    )
    latency: Annotated[float, Field(ge=LATENCIES[0], le=LATENCIES[1])] | None = _setting(
        "Seconds of sound kept ready: more is safer on a busy computer",
        _number(LATENCIES),
        "0.05",
        0.1,
    )
    speaker_delay: Annotated[float, Field(ge=SPEAKER_DELAYS[0], le=SPEAKER_DELAYS[1])] | None = (
        _setting(
            "Milliseconds that wireless headphones add, so that the screen waits for them",
            _number(SPEAKER_DELAYS),
            "0",
            150,
        )
    )
    rest: Annotated[float, Field(ge=0, le=LONGEST_REST)] | None = _setting(
        "Seconds of rest between two sets", _number((0, LONGEST_REST)), "20", 30
    )
    round_rest: Annotated[float, Field(ge=0, le=LONGEST_REST)] | None = _setting(
        "Seconds of rest between two rounds", _number((0, LONGEST_REST)), "60", 120
    )
    clean_sets: Annotated[int, Field(ge=CLEAN_IN_A_ROW[0], le=CLEAN_IN_A_ROW[1])] | None = _setting(
        "Clean sets in a row that raise the staircase",
        _number(CLEAN_IN_A_ROW, "a whole number"),
        "3",
        2,
    )
    unmarked: Mark | Literal["nothing"] | None = _setting(
        "How a set counts that got no mark", (*MARKS, NOT_COUNTED), NOT_COUNTED, "clean"
    )
    keep: bool | None = _setting("Keep practices in the log", YES_OR_NO, "true", False)
    props: str | None = _setting(
        "What you juggle, for the log", "a text in quotes", "not told", "beanbags"
    )
    dwell: Annotated[float, Field(gt=0, lt=1)] | None = _setting(
        "The share of the time that a hand holds an object",
        "a number more than 0 and less than 1",
        "2/3",
        0.7,
    )
    ceiling: Annotated[float, Field(ge=0)] | None = _setting(
        "Height of the room, in metres", "a number, 0 or more", "none", 2.6
    )
    hands: Annotated[float, Field(ge=0)] | None = _setting(
        "Height of the hands above the floor, in metres", "a number, 0 or more", "1", 1.1
    )
    words: dict[str, str] | None = _setting(
        "Your own words for throw values", "a table of texts", "none", {"2": "hold"}
    )
    keys: dict[str, KeyList] | None = _setting(
        "The keys and pedals that ask for something while it plays", "a table of keys", "", {}
    )


FIELDS: Final[Mapping[str, FieldInfo]] = {
    field.alias or name: field for name, field in Settings.model_fields.items()
}
"""Every setting by the name it has in the file."""


def facts(field: FieldInfo) -> dict[str, Any]:
    """Return what is known of a setting: allowed, choices, usual, example."""
    return field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}


def option_defaults(settings: Settings, command: str) -> dict[str, Any]:
    """Return what the settings say, by the names of the options of a command, as it takes them."""
    found = settings.model_dump(exclude_none=True, exclude={"words", "keys"})
    if settings.words:
        found["word"] = [f"{value}={word}" for value, word in settings.words.items()]
    if settings.keys:
        found["key"] = [
            f"{name}={key}" for name, keys in settings.keys.items() for key in keys or [""]
        ]
    return {
        name: value for name, value in found.items() if command == "play" or name not in LIVE_ONLY
    }
