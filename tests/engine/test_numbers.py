"""Numbers in words, and back."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from throwcount.engine.numbers import counted, read_number, spoken


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (0, "zero"),
        (10, "ten"),
        (17, "seventeen"),
        (20, "twenty"),
        (21, "twenty one"),
        (100, "one hundred"),
        (150, "one hundred fifty"),
        (999, "nine hundred ninety nine"),
        (1000, "one thousand"),
        (12_345, "twelve thousand three hundred forty five"),
        (100_007, "one hundred thousand seven"),
    ],
)
def test_numbers_in_words(number: int, words: str) -> None:
    assert spoken(number) == words
    assert read_number(words.split()) == (number, len(words.split()))


@pytest.mark.parametrize(
    ("words", "number", "used"),
    [
        ("", 0, 0),
        ("hold", 0, 0),
        ("hundred", 0, 0),
        ("hold five", 0, 0),
        ("five", 5, 1),
        ("five hold", 5, 1),
        ("five three one", 5, 1),
        ("zero zero", 0, 1),
        ("twenty zero", 20, 1),
        ("twenty ten", 20, 1),
        ("thirty five one", 35, 2),
        ("one hundred zero", 100, 2),
        ("one hundred hold", 100, 2),
        ("five one hundred", 5, 1),
        ("5", 0, 0),
    ],
)
def test_the_number_that_words_open_with(words: str, number: int, used: int) -> None:
    assert read_number(words.split()) == (number, used)


@given(st.integers(0, 999_999), st.sampled_from(["", "zero", "hold", "seconds", "hundred-fold"]))
def test_every_number_is_read_back(number: int, after: str) -> None:
    words = spoken(number).split()
    assert read_number([*words, *after.split()]) == (number, len(words))


@pytest.mark.parametrize("number", [-1, 1_000_000])
def test_other_numbers_have_no_words(number: int) -> None:
    with pytest.raises(ValueError, match="not a number from 0 to 999,999"):
        spoken(number)


@pytest.mark.parametrize(
    ("number", "told"), [(0, "0 beats"), (1, "1 beat"), (2, "2 beats"), (10_000, "10,000 beats")]
)
def test_counted(number: int, told: str) -> None:
    assert counted(number, "beat") == told
