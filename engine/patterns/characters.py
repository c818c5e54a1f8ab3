"""What is wrong with a character that the notation does not have.

Any text may come in, so a character is shown only where it can be shown: control characters,
combining marks and the like are told by their code.
"""

import unicodedata
from typing import Final

NOTATION: Final = "0123456789abcdefghijklmnopqrstuvwxyz()[],* "
"""The characters of the notation, in lower case; a space stands for white space of any kind."""

DASHES: Final = "-\N{MINUS SIGN}\N{HYPHEN}\N{NON-BREAKING HYPHEN}\N{FIGURE DASH}\N{EN DASH}\
\N{EM DASH}\N{SMALL HYPHEN-MINUS}\N{FULLWIDTH HYPHEN-MINUS}"
FRACTION_MARKS: Final = "./\N{FRACTION SLASH}"

NEGATIVE: Final = (
    "A throw value cannot be negative, as nothing is thrown into the past, and a dash does not "
    "separate throws; an empty hand is written 0."
)
FRACTION: Final = (
    "A throw value is a whole number of beats from 0 to 35, so it has no fraction and no decimal "
    "point."
)


def is_space(char: str) -> bool:
    """Return whether `char` is white space that may stand in a pattern."""
    return char in " \t\r\n" or unicodedata.category(char) == "Zs"


def shown(char: str) -> str:
    """Return `char` as one character that any terminal shows in a place of its own."""
    if is_space(char):
        return " "
    return char if _stands_alone(char) else "\N{REPLACEMENT CHARACTER}"


def columns(char: str) -> int:
    """Return how many columns of a terminal `char` takes: 1, or 2 for a wide one."""
    return 2 if unicodedata.east_asian_width(char) in "WF" else 1


def objection(char: str) -> str:
    """Return the sentence for a character that the notation does not have."""
    if char in DASHES:
        return NEGATIVE
    if char in FRACTION_MARKS or _is_fraction(char):
        return FRACTION
    plain = _plain_form(char)
    if plain is not None:
        return f"Write {_named(char)} as the plain {plain}."
    return (
        f"{_named(char)} means nothing in a pattern: throw values are 0 to 9, and a to z for 10 "
        "to 35."
    )


def _stands_alone(char: str) -> bool:
    return char.isprintable() and not unicodedata.category(char).startswith("M")


def _is_fraction(char: str) -> bool:
    return unicodedata.numeric(char, 0.0) % 1 != 0


def _plain_form(char: str) -> str | None:
    """Return what `char` is a variant of, such as the digit 3 in another script."""
    digit = unicodedata.digit(char, None)
    if digit is not None:
        return str(digit)
    plain = unicodedata.normalize("NFKC", char).lower()
    return plain if len(plain) == 1 and plain in NOTATION else None


def _named(char: str) -> str:
    code = f"U+{ord(char):04X}"
    return f'"{char}" ({code})' if _stands_alone(char) else f"The character {code}"
