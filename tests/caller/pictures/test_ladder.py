"""The picture shows every throw in its place, and every object's way from throw to throw."""

from itertools import pairwise

import pytest

from throwcount.caller.pictures.ladder import (
    HANDS,
    LABEL_WIDTH,
    LINES,
    PLAIN_LINES,
    Frame,
    cell_width,
    frame,
    paths,
    picture,
    written,
)
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.patterns.rules import read

MOST_OBJECTS = 8
"""Objects that have signs and rows of their own on 80 columns."""


PATTERNS = ["531", "3", "51", "744", "40", "(4,2x)*", "[33]33", "([44x],2)*", "b97531", "(4x,2x)"]


def drawn(text: str, layout: Frame) -> list[str]:
    pattern = read(text)
    return [line.plain for line in picture(pattern, paths(pattern, layout.beats), layout)]


def test_a_picture_in_full() -> None:
    pattern = read("51")
    layout = Frame(beats=6, cell=3, window=6)
    lines = picture(pattern, paths(pattern, 6), layout, PLAIN_LINES)
    assert [line.plain for line in lines] == [
        "beat   |0  1 |2  3 |4  5",
        "right   5     5     5",
        "left       1     1     1",
        "A right 5-------------+  +",
        "  left                +1-+",
        "B right      +5===========",
        "  left  .  1=+",
        "C right            +5~~~~~",
        "  left  .  .  .  1~+",
    ]


def test_windows_follow_each_other_without_a_break() -> None:
    whole = drawn("531", Frame(beats=12, cell=3, window=12))
    halves = drawn("531", Frame(beats=12, cell=3, window=6))
    first, second = halves[: len(whole)], halves[len(whole) + 1 :]
    assert halves[len(whole)] == ""
    for left, right, row in zip(first[1:], second[1:], whole[1:], strict=True):
        assert left.ljust(LABEL_WIDTH + 18) + right[LABEL_WIDTH:] == row


@pytest.mark.parametrize("text", PATTERNS)
def test_every_throw_stands_in_the_row_of_its_hand_and_of_its_object(text: str) -> None:
    pattern = read(text)
    cell = cell_width(pattern.turns)
    lines = drawn(text, Frame(beats=12, cell=cell, window=12))
    names = sum(line.startswith("beat") for line in lines)
    hand_rows, object_rows = lines[names : names + 2], lines[names + 2 :]
    for beat in range(12):
        column = LABEL_WIDTH + beat * cell
        for index, hand in enumerate(HANDS):
            throws = throws_of(pattern, beat, hand)
            shown = hand_rows[index][column:].split(" ")[0]
            assert shown == ("" if throws is None else written_all(throws))
            in_paths = [row[column] for row in object_rows[index::2] if row[column:].strip()]
            digits = sorted(sign for sign in in_paths if sign.isalnum())
            assert digits == sorted(throw[0] for throw in throws or [])


def throws_of(pattern: Pattern, beat: int, hand: str) -> list[str] | None:
    """Return the throws of a hand on a beat by the rules of notation; None if not its turn."""
    turn, between = divmod(beat, pattern.beats_per_turn)
    places = pattern.turns[turn % len(pattern.turns)]
    if pattern.kind == "sync":
        return None if between else [str(throw) for throw in places[hand == "right"]]
    mine = ("right", "left")[beat % 2] == hand
    return [str(throw) for throw in places[0]] if mine else None


def written_all(throws: list[str]) -> str:
    return "".join(throws) if len(throws) == 1 else f"[{''.join(throws)}]" if throws else "0"


@pytest.mark.parametrize("text", ["531", "744", "b97531", "[33]33"])
def test_a_path_changes_rows_where_the_value_is_odd(text: str) -> None:
    for stops in paths(read(text), 24).values():
        for here, there in pairwise(stops):
            value = int(here.throw, 36)
            assert there.beat - here.beat == value
            assert (there.hand != here.hand) == (value % 2 == 1)


@pytest.mark.parametrize("text", PATTERNS)
@pytest.mark.parametrize("width", [20, 40, 80, 200])
def test_a_picture_fits_its_terminal(text: str, width: int) -> None:
    layout = frame(read(text), 30, width)
    assert max(map(len, drawn(text, layout))) <= width


@pytest.mark.parametrize(
    ("longest", "width", "beats"),
    [
        (6, 80, 12),  # twice, side by side
        (15, 80, 15),  # twice would not fit
        (30, 80, 30),  # in two windows
        (10_000, 80, 24),  # only begun
        (0, 80, 6),  # a pattern without objects: its period, twice
    ],
)
def test_how_many_beats_are_drawn(longest: int, width: int, beats: int) -> None:
    assert frame(read("531"), longest, width).beats == beats


def test_only_the_first_of_many_objects_are_drawn() -> None:
    rows = drawn("c", Frame(beats=5, cell=3, window=5))
    assert len(rows) == 3 + 2 * MOST_OBJECTS


def test_a_long_multiplex_is_cut_and_touches_nothing() -> None:
    pattern = read("[555555555555]")
    assert written(pattern.turns[0][0]) == "[555555.."
    assert cell_width(pattern.turns) == 10


def test_neighbouring_objects_differ_without_colour() -> None:
    assert len({line.along for line in LINES}) == len(LINES)
    assert len({line.along for line in PLAIN_LINES}) == len(PLAIN_LINES)
    assert all(line.characters.isascii() for line in PLAIN_LINES)
