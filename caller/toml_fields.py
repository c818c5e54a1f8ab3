"""What tables of a TOML file have in common: strict models, and what is told of their keys."""

import json
from typing import Any, Final

from pydantic import ConfigDict, Field
from pydantic.fields import FieldInfo

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
