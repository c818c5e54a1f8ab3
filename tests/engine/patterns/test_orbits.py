"""Orbits, worked out by hand."""

import pytest

from engine.patterns.jugglable import read
from engine.patterns.orbits import Orbit, orbits, start, swaps_hands, true_period
from engine.patterns.pattern import Hand


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("0", ()),
        ("3", (Orbit(3, (0,), ("3",), ("right",)),)),
        (
            "531",
            (
                Orbit(2, (0, 2), ("5", "1"), ("right", "right")),
                Orbit(1, (1,), ("3",), ("left",)),
            ),
        ),
        ("51", (Orbit(3, (0, 1), ("5", "1"), ("right", "left")),)),
        ("330", (Orbit(1, (0,), ("3",), ("right",)), Orbit(1, (1,), ("3",), ("left",)))),
        (
            "(4,2x)*",
            (
                Orbit(1, (0,), ("4",), ("left",)),
                Orbit(1, (0, 2), ("2x", "2x"), ("right", "left")),
                Orbit(1, (2,), ("4",), ("right",)),
            ),
        ),
        ("[33]", (Orbit(3, (0,), ("3",), ("right",)), Orbit(3, (0,), ("3",), ("right",)))),
        # Back on beat 0 come a 4 and a 1; the 4 was thrown earlier and takes the first throw.
        (
            "[43]1",
            (
                Orbit(2, (0,), ("4",), ("right",)),
                Orbit(2, (0, 1), ("3", "1"), ("right", "left")),
            ),
        ),
        ("[34]1", (Orbit(4, (0, 0, 1), ("3", "4", "1"), ("right", "right", "left")),)),
    ],
)
def test_orbits(text: str, expected: tuple[Orbit, ...]) -> None:
    assert orbits(read(text)) == expected


def test_first_hand() -> None:
    (orbit,) = orbits(read("51"), first="left")
    assert orbit.hands == ("left", "right")


@pytest.mark.parametrize(
    ("text", "first", "held"),
    [
        ("0", "right", {"right": 0, "left": 0}),
        ("3", "right", {"right": 2, "left": 1}),
        ("3", "left", {"right": 1, "left": 2}),
        ("4", "right", {"right": 2, "left": 2}),
        ("51", "right", {"right": 1, "left": 2}),
        ("15", "right", {"right": 3, "left": 0}),
        ("[33]", "right", {"right": 4, "left": 2}),
        ("(4x,2x)", "right", {"right": 2, "left": 1}),
        ("(4x,2x)", "left", {"right": 2, "left": 1}),
        ("(6x,4)*", "right", {"right": 2, "left": 3}),
    ],
)
def test_start(text: str, first: Hand, held: dict[Hand, int]) -> None:
    assert start(read(text), first) == held


@pytest.mark.parametrize(
    ("text", "swaps", "beats"),
    [
        ("3", True, 1),
        ("33", False, 1),
        ("333", True, 1),
        ("51", False, 2),
        ("5151", False, 2),
        ("441", True, 3),
        ("441441", False, 3),
        ("[33]", True, 1),
        ("(4,4)", False, 2),
        ("(4,4)*", False, 2),
        ("(4,2x)*", False, 4),
        ("(4,2x)(2x,4)(4,2x)(2x,4)", False, 4),
    ],
)
def test_what_repeats(text: str, swaps: bool, beats: int) -> None:
    pattern = read(text)
    assert (swaps_hands(pattern), true_period(pattern)) == (swaps, beats)
