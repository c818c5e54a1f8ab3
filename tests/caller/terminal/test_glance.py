"""Large signs are legible, told apart, and as large as they say."""

import unicodedata
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from throwcount.caller.terminal.glance import (
    BLOCKS,
    ROWS,
    SHAPES,
    TURN,
    can_draw,
    drawn,
    largest_scale,
    size,
)
from throwcount.engine.patterns.pattern import VALUE_DIGITS

FEWEST_DIFFERENT = 3
"""Squares by which two values differ at least, of 35."""

TEXTS = st.text(st.sampled_from(sorted(SHAPES)), min_size=1, max_size=6)


@pytest.mark.parametrize("sign", SHAPES)
def test_shapes_are_whole(sign: str) -> None:
    rows = SHAPES[sign].split(" ")
    assert len(rows) == ROWS
    assert len({len(row) for row in rows}) == 1
    assert set("".join(rows)) <= {"#", "."}
    assert sign == " " or "#" in SHAPES[sign]


def test_every_value_and_every_sign_of_the_notation_has_a_shape() -> None:
    for text in (VALUE_DIGITS, "(4x,2x)", "[33]", "1:05:09", "ready catch rest", TURN):
        assert can_draw(text)
    assert not can_draw("")
    assert not can_draw("5!")


def test_values_are_told_apart() -> None:
    different = {
        one + other: sum(a != b for a, b in zip(SHAPES[one], SHAPES[other], strict=True))
        for one, other in combinations(VALUE_DIGITS, 2)
    }
    assert min(different.values()) >= FEWEST_DIFFERENT, min(different, key=different.__getitem__)


def test_the_signs_are_the_blocks_of_unicode() -> None:
    """Unicode's names for them, from the data base that comes with Python."""
    names = [unicodedata.name(sign) for sign in BLOCKS]
    assert names == ["SPACE", "UPPER HALF BLOCK", "LOWER HALF BLOCK", "FULL BLOCK"]


def test_drawn_small_and_large() -> None:
    assert drawn("1", 1, plain=False) == [" ▄█  ", "  █  ", "  █  ", " ▀▀▀ "]
    bar_and_dots = ["##    ", "##  ##", "##  ##", "##    ", "##  ##", "##  ##", "##    "]
    assert drawn("|:", 2, plain=True) == bar_and_dots


@given(TEXTS, st.integers(1, 6), st.booleans())
def test_sizes_are_as_told(text: str, scale: int, plain: bool) -> None:
    scale = scale * 2 if plain else scale
    rows = drawn(text, scale, plain=plain)
    columns, height = size(text, scale)
    assert len(rows) == height
    assert {len(row) for row in rows} == {columns}
    assert set("".join(rows)) <= ({" ", "#"} if plain else set(BLOCKS))


@given(
    st.lists(TEXTS, min_size=1, max_size=4), st.integers(0, 120), st.integers(0, 40), st.booleans()
)
def test_the_largest_scale_fits_and_the_next_does_not(
    texts: list[str], columns: int, rows: int, plain: bool
) -> None:
    scale = largest_scale(texts, columns, rows, plain=plain)
    step = 2 if plain else 1

    def fits(scale: int) -> bool:
        sizes = [size(text, scale) for text in texts]
        return all(width <= columns and height <= rows for width, height in sizes)

    assert scale % step == 0
    assert scale == 0 or fits(scale)
    assert not fits(scale + step)
