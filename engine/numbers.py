"""Whole numbers as English words, and words back to numbers."""

from collections.abc import Callable, Sequence
from functools import partial
from typing import Final, TypeAlias

NumberReader: TypeAlias = Callable[[Sequence[str]], tuple[int, int]]
"""Takes words; returns the number that they open with, and how many of them it takes up."""

SMALL: Final = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen "
    "fifteen sixteen seventeen eighteen nineteen twenty"
).split()
TENS: Final = "twenty thirty forty fifty sixty seventy eighty ninety".split()


def spoken(number: int) -> str:
    """Return a whole number from 0 to 999,999 in words, such as "one hundred fifty".

    Raises
    ------
    ValueError
        If the number is out of range.
    """
    if not 0 <= number < 1_000_000:  # noqa: PLR2004 - the range in the docstring
        raise ValueError(f"{number} is not a number from 0 to 999,999.")
    for size, name in ((1000, "thousand"), (100, "hundred")):
        if number >= size:
            high, low = divmod(number, size)
            return f"{spoken(high)} {name}" + (f" {spoken(low)}" if low else "")
    if number < len(SMALL):
        return SMALL[number]
    ten, one = divmod(number, 10)
    return TENS[ten - 2] + (f" {SMALL[one]}" if one else "")


def counted(number: int, thing: str) -> str:
    """Return a number with its noun, such as "1 object" or "3 objects"."""
    ending = "" if number == 1 else "es" if thing.endswith("ch") else "s"
    return f"{number:,} {thing}{ending}"


def read_number(words: Sequence[str]) -> tuple[int, int]:
    """Return the number that `words` open with, and how many of them it takes up.

    The longest number counts: "twenty one" is 21. If there is none, it takes up 0 words.
    """
    hundreds = partial(_with_scale, name="hundred", size=100, lower=_below_hundred)
    return _with_scale(words, "thousand", 1000, hundreds)


def _with_scale(words: Sequence[str], name: str, size: int, lower: NumberReader) -> tuple[int, int]:
    """Read a number with a scale word, such as "three hundred five" for a `size` of 100."""
    high, used = lower(words)
    if not used or tuple(words[used : used + 1]) != (name,):
        return high, used
    low, more = lower(words[used + 1 :])
    # "one hundred zero" is two numbers.
    return (high * size + low, used + 1 + more) if low else (high * size, used + 1)


def _below_hundred(words: Sequence[str]) -> tuple[int, int]:
    first, *others = [*words[:2], ""]
    if first in TENS:
        one = SMALL.index(others[0]) if others[0] in SMALL[1:10] else 0
        return 10 * (TENS.index(first) + 2) + one, 2 if one else 1
    return (SMALL.index(first), 1) if first in SMALL else (0, 0)
