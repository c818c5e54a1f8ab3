"""What is seen, in lines."""

from dataclasses import replace

import pytest

from throwcount.caller.practice.loop import Follower
from throwcount.caller.terminal.glance import Glance
from throwcount.caller.terminal.screen import LineWriter
from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady

RATE = 1000


def lines(text: str, beats: int, tempo: float, cycles: int | None = None) -> list[str]:
    timeline = schedule(Run((Part(read(text), beats),), steady(tempo)))
    follower, writer = Follower(timeline, RATE), LineWriter()
    told = []
    for frame in range(0, round((timeline.seconds or 0) * RATE), 10):
        follower.advance(frame)
        line = writer.line(replace(follower.glance(frame), cycles=cycles))
        if line is not None:
            told.append(line)
    return told


def test_a_line_a_cycle() -> None:
    assert lines("531", 9, 120, 3) == [
        "531: first throw in 0:03",
        "count-in, 120 a minute",
        "531: cycle 1 of 3, 120 a minute: right 5, left 3, right 1",
        "531: cycle 2 of 3, 120 a minute: left 5, right 3, left 1",
        "531: cycle 3 of 3, 120 a minute: right 5, left 3, right 1",
        "run-out, 120 a minute",
    ]


def test_short_cycles_are_not_all_told() -> None:
    told = lines("3", 60, 240)
    assert told[2] == "3: cycle 1, 240 a minute: right 3"
    assert told[3] == "3: cycle 5, 240 a minute: right 3"
    assert len(told) == 2 + 60 / 4 + 1


@pytest.mark.parametrize(
    ("text", "fragment"),
    [
        ("(4,2x)*", "left 4 and right 2x, left 2x and right 4"),
        ("[54]24", "right [54], left 2, right 4"),
        ("40", "right 4, left 0"),
    ],
)
def test_pairs_and_several_objects(text: str, fragment: str) -> None:
    assert fragment in lines(text, 12, 120)[2]


@pytest.mark.parametrize(
    ("change", "line"),
    [
        ({"notice": "paused"}, "set 1 of 2; paused"),
        ({"notice": "Wait.", "large": "0:25"}, "set 1 of 2; Wait. 0:25"),
        (
            {"notice": "Drop kept for set 1 of 2.", "drops": 1},
            "Drop kept for set 1 of 2. clean 0, drops 1",
        ),
        ({"large": "0:25"}, "set 1 of 2; 0:25"),
        ({"following": "duo no.", "drops": 1}, "set 1 of 2; next: duo no.; clean 0, drops 1"),
        ({"drops": 1}, "set 1 of 2; clean 0, drops 1"),
        ({"place": "set 2 of 2"}, "set 2 of 2"),
    ],
)
def test_news_are_told_at_once_and_once(change: dict[str, object], line: str) -> None:
    before = Glance(place="set 1 of 2", clean=0, drops=0)
    writer = LineWriter()
    assert writer.line(before) == "set 1 of 2"
    assert writer.line(before) is None
    assert writer.line(replace(before, **change)) == line  # type: ignore[arg-type] # any field
    assert writer.line(replace(before, **change)) is None  # type: ignore[arg-type] # any field


def test_a_notice_is_told_once_though_other_things_go_on() -> None:
    writer, first = LineWriter(), Glance(place="set 1 of 2", notice="Another voice says “well”.")
    told = [writer.line(replace(first, drops=drops)) for drops in (0, 1, 2)]
    assert [line is not None and "Another voice" in line for line in told] == [True, False, False]
    assert writer.line(replace(first, notice="paused")) == "set 1 of 2; paused"
    assert writer.line(first) == "set 1 of 2; Another voice says “well”."
