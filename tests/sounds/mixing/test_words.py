from itertools import count, islice, pairwise

import numpy as np
import pytest
from handmade import RATE, ClipVoice, ToneVoice, beats, timeline, tone

from throwcount.engine.timing.timeline import Beat, Cue
from throwcount.sounds.mixing.mixer import FADE_SECONDS, Placement
from throwcount.sounds.mixing.words import (
    ScoreEvent,
    delivered,
    score_events,
    stereo,
    with_next,
)
from throwcount.sounds.samples import frame_at
from throwcount.sounds.voices.voice import Voice

OVERLAP = 0.025
"""Seconds: the end of a word that is not missed."""


def words(row: list[ScoreEvent]) -> list[Placement]:
    return [moment.word for moment in row if moment.word is not None]


def said(voice: Voice, *times: float, cues: tuple[Cue, ...] = ()) -> list[ScoreEvent]:
    """Return the moments of calls of "a", "b" ... whose centres fall on `times`."""
    calls = [
        Beat(number, time, 60, "part", call="abcdef"[number], call_time=time)
        for number, time in enumerate(times)
    ]
    return list(delivered(score_events(timeline(lambda: iter(calls), cues=cues)), voice))


@pytest.mark.parametrize("bpm", [60, 90, 141, 220, 260, 400])
def test_centres_fall_on_the_beats(bpm: float) -> None:
    lengths = (20_000, 15_000, 10_000, 8_000)
    centres = {length: round(0.2 * length) for length in lengths}
    row = list(delivered(score_events(timeline(lambda: beats(bpm, 12))), ToneVoice(lengths)))
    for moment in row:
        assert moment.word is not None
        centre = centres[len(moment.word.samples)]
        assert moment.word.start + centre == frame_at(moment.time, RATE)


@pytest.mark.parametrize(
    ("gap", "length"),
    [
        # Of 20,000 frames 16,000 come after the centre, and the next word starts 4,000, 3,000,
        # 2,000 or 1,600 before its own; 1,200 may be lost.
        (100_000, 20_000),
        (20_000, 20_000),
        (17_800, 20_000),
        (17_700, 15_000),
        (13_800, 15_000),
        (12_700, 10_000),
        (8_300, 8_000),
        (5_000, 8_000),
    ],
)
def test_the_slowest_pace_that_fits_is_taken(gap: int, length: int) -> None:
    first, *_ = words(said(ToneVoice(), 1.0, 1.0 + gap / RATE, 1.0 + 2 * gap / RATE))
    assert len(first.samples) == length


@pytest.mark.parametrize("bpm", [100, 150, 180, 220, 250])
def test_no_more_of_a_word_is_lost_than_is_allowed(bpm: float) -> None:
    row = delivered(score_events(timeline(lambda: beats(bpm, 40))), ToneVoice())
    lost = [word.start + len(word.samples) - word.end for word in words(list(row))]
    assert max(lost) <= OVERLAP * RATE


def test_a_call_with_none_after_it_takes_its_time() -> None:
    (word,) = words(said(ToneVoice(), 1.0))
    assert (len(word.samples), word.stop) == (20_000, None)


def test_a_long_lead_in_takes_a_quicker_pace_rather_than_the_word_before() -> None:
    late = [tone(12_000, centre=9_000), tone(8_000, centre=4_000)]
    voice = ClipVoice({"a": [tone(12_000, centre=2_000)], "b": late})
    apart = 15_000 / RATE
    first, second = words(said(voice, 1.0, 1.0 + apart))
    assert (len(first.samples), first.stop) == (12_000, None)
    assert len(second.samples) == 8_000


def test_what_runs_into_the_next_word_is_cut_where_that_starts() -> None:
    voice = ClipVoice({"a": [tone(12_000, centre=2_000)], "b": [tone(12_000, centre=6_000)]})
    row = said(voice, 1.0, 1.0 + 12_000 / RATE)
    first, second = words(row)
    assert second.start == 48_000 + 12_000 - 6_000
    assert (first.stop, first.end) == (second.start, second.start)
    assert row[0].coming is second
    assert row[1].coming is None


@pytest.mark.parametrize("centre", [0.1, 0.5, 0.9])
@pytest.mark.parametrize("bpm", [60, 200, 320, 1000])
def test_no_two_words_overlap(bpm: float, centre: float) -> None:
    cues = (Cue(0.0, "0"), Cue(1.01, "1"), Cue(1.5, "2"))
    row = delivered(
        score_events(timeline(lambda: beats(bpm, 40), cues=cues)), ToneVoice(centre=centre)
    )
    for word, following in pairwise(words(list(row))):
        assert word.end <= following.start
        assert word.start <= following.start


def test_a_cue_starts_at_its_time_at_its_natural_pace() -> None:
    first, second = words(said(ToneVoice(), 1.3, cues=(Cue(1.0, "ready"),)))
    assert (first.start, len(first.samples)) == (48_000, 20_000)
    assert first.stop == second.start


def test_a_voice_starts_no_earlier_than_the_first_frame() -> None:
    clip = tone(20_000, centre=6_000)
    (word,) = words(said(ClipVoice({"a": [clip]}), 2_000 / RATE))
    assert word.start == 0
    # What is left stands where it would have stood, and swells in.
    fade = frame_at(FADE_SECONDS, RATE)
    assert np.array_equal(word.samples[fade:], stereo(clip)[4_000 + fade :])
    assert np.all(np.abs(word.samples[:fade]) <= np.abs(stereo(clip)[4_000 : 4_000 + fade]))
    assert abs(word.samples[0, 0]) < 0.01 * abs(clip.samples[4_000, 0])


def test_a_clip_is_the_same_on_both_sides() -> None:
    clip = tone(1000)
    assert np.array_equal(stereo(clip)[:, 0], clip.samples[:, 0])
    assert np.array_equal(stereo(clip)[:, 1], clip.samples[:, 0])


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
