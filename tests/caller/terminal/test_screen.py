"""The screen, on terminals of any size."""

from dataclasses import replace
from functools import cache
from itertools import product

import pytest

from throwcount.caller.practice.loop import Follower
from throwcount.caller.terminal.controls import key_map, legend
from throwcount.caller.terminal.glance import TURN, Glance, drawn, heights
from throwcount.caller.terminal.screen import page
from throwcount.engine.patterns.flight import height
from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.engine.timing.timeline import ByHand

RATE = 1000
PATTERNS = ("531", "(4,2x)*", "[54]24", "(2,[22])", "3", "b97531", "0", "(2x,2x)")
SIZES = tuple(product((1, 8, 20, 40, 79, 119, 200), (1, 2, 3, 5, 8, 10, 12, 24, 40, 60)))
FULL = Glance(
    place="set 2 of 5",
    cycles=12,
    seconds_left=155,
    clean=4,
    drops=1,
    notice="paused",
    legend=legend(key_map()),
)


@cache
def glances(text: str) -> tuple[Glance, ...]:
    """Return what is seen through a run of a pattern, beat by beat, from before the first."""
    timeline = schedule(Run((Part(read(text), 12),), steady(200)))
    follower = Follower(timeline, RATE)
    seen = [follower.glance(0)]
    for beat in timeline:
        follower.advance(round(beat.time * RATE) + 1)
        seen.append(follower.glance(round(beat.time * RATE) + 1))
    return tuple(seen)


def shown(glance: Glance, columns: int = 79, rows: int = 24, *, plain: bool = False) -> list[str]:
    return [line.plain.rstrip() for line in page(glance, columns, rows, plain=plain)]


@pytest.mark.parametrize("plain", [False, True])
@pytest.mark.parametrize("text", PATTERNS)
def test_a_page_fills_its_terminal_and_no_more(text: str, plain: bool) -> None:
    for glance in (*glances(text), *(framed(seen) for seen in glances(text)[::5])):
        for columns, rows in SIZES:
            lines = page(glance, columns, rows, plain=plain)
            assert len(lines) == rows
            assert all(len(line) <= columns for line in lines)
            assert not plain or all(line.plain.isascii() for line in lines)
            assert any(line.plain.strip() for line in lines)


def framed(glance: Glance) -> Glance:
    return replace(FULL, beat=glance.beat, coming=glance.coming)


def stands_in(lines: list[str], picture: list[str]) -> int | None:
    """Return the column in which a picture stands on the screen; None where it does not."""
    wanted = [row.rstrip() for row in picture]
    width = max(map(len, wanted))
    for top in range(len(lines) - len(wanted) + 1):
        for left in range(len(max(lines, key=len)) - width + 1):
            found = [line[left : left + width].rstrip() for line in lines[top : top + len(wanted)]]
            if found == wanted:
                return left
    return None


@pytest.mark.parametrize(
    ("columns", "rows", "scale", "plain"),
    [
        (79, 24, 4, False),
        (79, 24, 4, True),
        (119, 40, 9, False),
        (39, 12, 2, False),
        (30, 8, 1, False),
    ],
)
def test_the_current_throw_is_large_and_on_the_side_of_its_hand(
    columns: int, rows: int, scale: int, plain: bool
) -> None:
    for glance in glances("531"):
        if glance.beat is None or glance.beat.cycle is None:
            continue
        lines = shown(glance, columns, rows, plain=plain)
        throws = glance.beat.throws
        picture = drawn((throws.right or throws.left)[0], scale, plain=plain)
        column = stands_in(lines, picture)
        assert column is not None, "\n".join(lines)
        assert (column > columns // 2) == bool(throws.right)


def test_the_manner_of_a_throw_stands_by_its_hand_as_it_comes() -> None:
    seen = [each for each in glances("531") if each.beat and each.beat.cycle is not None]
    five = seen[3].beat._replace(manners=ByHand(left=("under the leg",)))
    coming = (five, *seen[2].coming[1:])
    for glance in (replace(seen[3], beat=five), replace(seen[2], coming=coming)):
        assert any(line.split() == "left: under the leg right".split() for line in shown(glance))
    assert not any("leg" in line for line in shown(replace(seen[2], coming=coming), 8, 4))


def test_both_hands_and_several_objects() -> None:
    pair = next(seen for seen in glances("(4,2x)*") if seen.beat and seen.beat.cycle is not None)
    lines = shown(pair)
    left, right = (stands_in(lines, drawn(signs, 3, plain=False)) for signs in ("4", "2x"))
    assert left is not None
    assert right is not None
    assert left < 40 <= right
    several = next(seen for seen in glances("[54]24") if seen.beat and seen.beat.cycle is not None)
    assert stands_in(shown(several), drawn("54", 3, plain=False)) is not None


def test_the_second_beat_of_a_pair_keeps_the_pair() -> None:
    seen = [
        glance for glance in glances("(4,2x)*") if glance.beat and glance.beat.cycle is not None
    ]
    assert [glance.beat for glance in seen[::2]] == [glance.beat for glance in seen[1::2]]


def test_a_count_in_shows_no_number_that_could_be_a_throw() -> None:
    counted = [seen for seen in glances("531") if seen.beat and seen.beat.part == "count-in"]
    for glance, left in zip(counted, (4, 3, 2, 1), strict=True):
        lines = shown(glance)
        assert stands_in(lines, drawn(TURN * left, 3, plain=False)) is not None
        assert any(f"{left} beat" in line and "to go" in line for line in lines)


@pytest.mark.parametrize(
    ("glance", "fragments"),
    [
        (glances("531")[0], ["531", "first throw in 0:03", "200 a minute", "left"]),
        (
            replace(glances("531")[0], hands="right 2, left 1"),
            ["first throw in 0:03   in hand: right 2, left 1", "200 a minute"],
        ),
        (glances("531")[7], ["cycle 1, beat 3", "5: 1.48 m", "3: 0.31 m"]),
        (framed(glances("531")[7]), ["531   set 2 of 5", "2:35 left", "cycle 1 of 12, beat 3"]),
        (framed(glances("531")[7]), ["paused", "clean 4   drops 1", "space pause", "q stop"]),
        (glances("531")[-1], ["the last throws come down"]),
        (Glance(large="rest", notice="again in a moment"), ["again in a moment"]),
    ],
)
def test_what_is_told(glance: Glance, fragments: list[str]) -> None:
    text = "\n".join(shown(glance))
    for fragment in fragments:
        assert fragment in text, text


def test_large_words() -> None:
    for glance, word in (
        (glances("531")[0], "ready"),
        (glances("531")[-1], "catch"),
        (Glance(large="0:25"), "0:25"),
    ):
        lines = shown(glance, 79, 24)
        assert any(stands_in(lines, drawn(word, scale, plain=False)) for scale in range(2, 5))


def test_the_next_throws_with_a_bar_before_each_cycle() -> None:
    glance = glances("531")[6]  # the second throw
    assert "next  1 | 5 3 1 | 5 3 1 | 5 3 1" in shown(glance, 39, 12)
    assert "next  1 | 5 3 1" in shown(glance, 16, 12)
    assert stands_in(shown(glance), drawn("1 | 5 3 1", 1, plain=False)) is not None
    assert "next  3 3 3 3 3" in shown(glances("3")[6], 16, 12)


def test_heights_are_those_of_the_throws_that_fly() -> None:
    seen = next(seen for seen in glances("(2x,2x)") if seen.beat and seen.beat.cycle is not None)
    assert list(heights(seen)) == [("2x", height(2, 200, crossed=True))]
    assert dict(heights(glances("531")[0])) == {"5": height(5, 200), "3": height(3, 200)}
    assert list(heights(Glance())) == []


def test_where_room_is_short_the_current_throw_and_the_part_stay() -> None:
    glance = framed(glances("531")[5])
    kept = {rows: "\n".join(shown(glance, 79, rows)) for rows in (3, 6, 12, 24)}
    assert [("531" in text) for text in kept.values()] == [True] * 4
    assert [("space pause" in text) for text in kept.values()] == [False, False, False, True]
    assert shown(replace(glance, notice=""), 30, 1) == [" " * 22 + "5"]


def test_colour_is_never_the_only_sign() -> None:
    """Whatever has a style beside bold and dim stands in a place of its own."""
    lines = page(glances("531")[5], 79, 24, plain=False)
    styles = {str(span.style) for line in lines for span in line.spans}
    assert any("cyan" in style for style in styles)
    assert ["left", "right"] in [line.plain.split() for line in lines]
