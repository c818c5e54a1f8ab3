"""Numbers in English words, as they are spoken."""

from typing import Final

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
