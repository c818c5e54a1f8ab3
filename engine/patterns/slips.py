"""Slips of the pen: what a text that cannot be thrown may have been meant to be.

A text is mended in all the ways that slips are usual, and a mended text is asked about only if it
can be thrown, or can be with a star after it. Nothing is guessed silently.
"""

import re
from collections.abc import Callable, Iterator
from typing import Final

from throwcount.engine.errors import PatternError
from throwcount.engine.patterns.notation import DASHES, parse
from throwcount.engine.patterns.rules import check

LONGEST_MENDED: Final = 60
"""Characters of a text that is mended, at most."""

MOST_ASKED: Final = 2
"""Mended texts that a question names, at most; where more would do, none is named."""

QUOTES: Final = "\"'`\N{LEFT DOUBLE QUOTATION MARK}\N{RIGHT DOUBLE QUOTATION MARK}\
\N{DOUBLE LOW-9 QUOTATION MARK}\N{LEFT SINGLE QUOTATION MARK}\N{RIGHT SINGLE QUOTATION MARK}"
TIMES: Final = "\N{MULTIPLICATION SIGN}\N{GREEK SMALL LETTER CHI}\N{CYRILLIC SMALL LETTER HA}"
"""Signs taken for an x."""

CHARACTERS: Final = str.maketrans(dict.fromkeys(QUOTES, "") | dict.fromkeys(TIMES, "x"))
LOOKALIKES: Final = str.maketrans({"o": "0", "l": "1", "i": "1"})
SEPARATOR: Final = re.compile(rf"\s*[;:|/.+{re.escape(DASHES)}]\s*")
HAND: Final = re.compile(r"\[(?:[0-9a-z]x?)+\]|[0-9a-wyz]x?")
"""What one hand throws in a pair."""

ALONE: Final = re.compile(r"\[.x?\]")
"""A multiplex of one object, which nobody writes."""

RETYPED: Final = (("{}", "[]"), ("{}", "()"), ("[]", "()"), ("()", "[]"))
"""Brackets, and those that they are taken for."""


def suggestion(text: str) -> str:
    """Return a question on what `text` may mean, beginning with a space; empty if nothing fits."""
    if len(text) > LONGEST_MENDED:
        return ""
    written = " ".join(text.split()).lower().translate(CHARACTERS)
    for mend in MENDS:
        found = [each for each in dict.fromkeys(mend(written)) if _is_likely(each, written)]
        if 0 < len(found) <= MOST_ASKED:
            return _question(found)
    return ""


def _question(found: list[str]) -> str:
    question = f" Did you mean {' or '.join(found)}?"
    if len(found) == 1 and not _can_be_thrown(found[0]):
        return f"{question} To be thrown it takes a star too: {found[0]}*."
    return question


def _is_likely(mended: str, written: str) -> bool:
    """Return whether a mended text can be thrown, with a star if need be, and was not written so.

    An x is taken for a mark of crossing and never for a throw of 33.
    """
    if "x" in mended and "(" not in mended:
        return False
    return _can_be_thrown(mended) or (mended != written and _can_be_thrown(mended + "*"))


def _can_be_thrown(text: str) -> bool:
    try:
        check(parse(text))
    except PatternError:
        return False
    return True


def _as_it_is(text: str) -> Iterator[str]:
    """Yield the text, of which unusual characters are mended."""
    yield text


def _starred(text: str) -> Iterator[str]:
    """Yield pairs with a star, and other throws without."""
    yield f"{text}*" if "(" in text else text.replace("*", "")


def _retyped(text: str) -> Iterator[str]:
    """Yield the text with other brackets."""
    for brackets, others in RETYPED:
        if brackets[0] in text and not (others == "[]" and "," in text):
            yield text.translate(str.maketrans(brackets, others))


def _joined(text: str) -> Iterator[str]:
    """Yield the text without what stands between throws, and without commas at its ends."""
    if len(SEPARATOR.findall(text)) > 1:
        yield SEPARATOR.sub("", text)
    yield re.sub(r"(,\s*)+", ",", text).strip(", ")


def _paired(text: str) -> Iterator[str]:
    """Yield the throws of the text, two and two in brackets."""
    hands = HAND.findall(text)
    pairs = [f"({','.join(hands[at : at + 2])})" for at in range(0, len(hands), 2)]
    if re.search(r"[(),x*]", text) and len(hands) % 2 == 0:
        yield "".join(pairs) + "*" * text.endswith("*")


def _closed(text: str) -> Iterator[str]:
    """Yield the text with a square bracket more, where one has no other."""
    missing = text.count("[") - text.count("]")
    if abs(missing) == 1:
        bracket = "]" if missing > 0 else "["
        mended = (text[:at] + bracket + text[at:] for at in range(len(text) + 1))
        yield from (each for each in mended if not ALONE.search(each))


def _opened(text: str) -> Iterator[str]:
    """Yield the text with a square bracket less."""
    yield from (text[:at] + text[at + 1 :] for at, char in enumerate(text) if char in "[]")


def _with_digits(text: str) -> Iterator[str]:
    """Yield the text with digits for the letters that look like them."""
    yield text.translate(LOOKALIKES)


MENDS: Final[tuple[Callable[[str], Iterator[str]], ...]] = (
    _as_it_is,
    _starred,
    _retyped,
    _joined,
    _paired,
    _closed,
    _opened,
    _with_digits,
)
"""The ways to mend a text, the likeliest first."""
