from itertools import count, islice

import pytest
from handmade import beats, timeline

from engine.timing.timeline import Cue
from sounds.placing.moments import ScoreEvent, frame_at, score_events, with_next

REACH = 30.0
"""Seconds: far more than the longest word, and little to hold."""


@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_a_beat_that_falls_on_a_frame_gets_that_frame(rate: int) -> None:
    early = 0
    for tempo in range(40, 241):
        for beat in range(400):
            frame, rest = divmod(beat * 60 * rate, tempo)
            if rest == 0:
                seconds = beat * 60 / tempo
                assert frame_at(seconds, rate) == frame
                early += int(seconds * rate) < frame
    # Cutting off instead of rounding puts many of these beats a frame early.
    assert early > 100


@pytest.mark.parametrize(
    ("seconds", "frame"), [(0.0, 0), (0.4 / 48_000, 0), (0.6 / 48_000, 1), (3600.0, 172_800_000)]
)
def test_a_moment_gets_the_nearest_frame(seconds: float, frame: int) -> None:
    assert frame_at(seconds, 48_000) == frame


def test_beats_and_cues_come_in_order_of_time() -> None:
    row = list(
        score_events(timeline(lambda: beats(60, 3), cues=(Cue(0.1, "ready"), Cue(1.7, "change"))))
    )
    assert [moment.time for moment in row] == [0.1, 0.5, 1.5, 1.7, 2.5]
    assert [moment.text for moment in row] == ["ready", "5", "3", "change", "1"]
    assert [moment.heard for moment in row] == [None, 0.5, 1.5, None, 2.5]


def wanted(moment: ScoreEvent) -> bool:
    return moment.text is not None


def test_each_moment_knows_the_next_wanted_one() -> None:
    row = [
        ScoreEvent(0.0),
        ScoreEvent(1.0, text="a"),
        ScoreEvent(2.0),
        ScoreEvent(3.0, text="b"),
        ScoreEvent(4.0),
    ]
    following = [later and later.text for _, later in with_next(row, wanted)]
    assert following == ["a", "b", "b", None, None]
    assert [moment for moment, _ in with_next(row, wanted)] == row


def test_nothing_is_sought_beyond_reach() -> None:
    silent = (ScoreEvent(float(second)) for second in count())
    found = list(islice(with_next(silent, wanted), 3))
    assert [(moment.time, later) for moment, later in found] == [(0, None), (1, None), (2, None)]
    assert next(silent).time <= REACH + 5
