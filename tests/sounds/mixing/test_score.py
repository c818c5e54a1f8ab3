import tracemalloc
from collections.abc import Iterator
from itertools import islice, pairwise
from pathlib import Path

import numpy as np
import pytest
from handmade import RATE, ClipVoice, ToneVoice, beats, timeline
from music_files import decoded, hum
from scipy.signal import resample_poly

from throwcount.engine.timing.timeline import Beat, Click, Cue, Timeline
from throwcount.sounds.mixing.clicks import click_clip
from throwcount.sounds.mixing.mixer import Placement, linear
from throwcount.sounds.mixing.score import Balance, ClickChoice, auditioned, mix, score
from throwcount.sounds.samples import Clip, frame_at

DUCKING = -6.0
"""dB: half the amplitude."""

TRUE_PEAK_CEILING = -1.0
"""dBTP (EBU R 128)."""


def clicked(*clicks: Click | None, every: float = 0.5) -> list[Beat]:
    return [
        Beat(beat, 0.5 + beat * every, 60 / every, "part", click=click)
        for beat, click in enumerate(clicks)
    ]


def places(
    row: list[Beat], choice: ClickChoice = "both", voice: ToneVoice | None = None
) -> list[Placement]:
    found = score(timeline(lambda: iter(row)), voice, RATE, Balance(clicks=choice))
    return [placement for placement in found if len(placement.samples)]


CLICK_FRAMES = 2_160
RIGHT, LEFT, BOTH = (Click("throw", hands, value=3) for hands in ("right", "left", "both"))
OPENS = Click("throw", "right", accent=True, value=3)
COUNT_IN, RUN_OUT = Click("count-in", "left"), Click("run-out", "left")


@pytest.mark.parametrize(
    ("choice", "heard"),
    [
        ("both", [COUNT_IN, OPENS, LEFT, RIGHT, BOTH, RUN_OUT]),
        ("right", [COUNT_IN, OPENS, RIGHT, RIGHT]),
        ("left", [COUNT_IN, LEFT, LEFT, RUN_OUT]),
        ("cycle", [COUNT_IN, OPENS]),
        ("none", []),
    ],
)
def test_the_chosen_clicks_are_heard(choice: ClickChoice, heard: list[Click]) -> None:
    found = places(clicked(COUNT_IN, OPENS, LEFT, None, RIGHT, BOTH, RUN_OUT), choice)
    assert len(found) == len(heard)
    for placement, click in zip(found, heard, strict=True):
        assert placement.samples is click_clip(click, RATE, tune=True, loud_room=False).samples


@pytest.mark.parametrize("rate", [44_100, 48_000])
@pytest.mark.parametrize("bpm", [93.7, 120.0, 261.3, 1999.0])
def test_a_click_starts_on_its_frame_and_with_its_first_sample(bpm: float, rate: int) -> None:
    balance = Balance(click_level=-3.0)
    row = list(beats(bpm, 50))
    mixed = mix(timeline(lambda: iter(row), 3.0), None, rate, balance).read(3 * rate)
    for beat in row:
        if beat.time >= 3.0:
            break
        assert beat.click is not None
        frame = round(beat.time * rate)
        first = click_clip(beat.click, rate).samples[0] * np.float32(linear(-3.0))
        assert np.array_equal(mixed[frame], first)
        if beat.beat == 0:
            assert not mixed[:frame].any()


def test_a_click_that_rings_into_the_next_is_cut() -> None:
    first, second = places(clicked(RIGHT, LEFT, every=0.02))
    assert first.stop == second.start == frame_at(0.52, RATE)


def test_every_sound_comes_in_order_of_start() -> None:
    cues = (Cue(0.1, "0"), Cue(2.2, "1"))
    for centre in (0.1, 0.9):
        line = timeline(lambda: beats(190, 60), cues=cues)
        found = list(score(line, ToneVoice(centre=centre), RATE))
        assert all(one.start <= other.start for one, other in pairwise(found))
        assert sum(placement.stop is not None for placement in found) > 0
        assert len([1 for one in found if len(one.samples) not in (0, CLICK_FRAMES)]) == 62


def test_a_click_under_a_word_is_ducked_and_one_alone_is_not() -> None:
    row = clicked(RIGHT, RIGHT, RIGHT)
    row[1] = Beat(1, 1.0, 120, "part", click=RIGHT, call="3", call_time=1.0)
    voice = ToneVoice(lengths=(4_000,), centre=0.5)
    alone, word, under, after = places(row, voice=voice)
    assert len(word.samples) == 4_000
    assert (alone.gain, word.gain, after.gain) == (1.0, 1.0, 1.0)
    assert under.gain == pytest.approx(linear(DUCKING))


@pytest.mark.parametrize(
    ("start", "gain"),
    [
        # The click at 24,000 lasts 2,160 frames and the word 1,000.
        (22_999, 1.0),
        (23_000, 1.0),
        (23_001, linear(DUCKING)),
        (26_159, linear(DUCKING)),
        (26_160, 1.0),
    ],
)
def test_ducking_begins_and_ends_with_the_word(start: int, gain: float) -> None:
    cue = Cue(start / RATE, "0")
    line = timeline(lambda: iter(clicked(RIGHT)), cues=(cue,))
    found = list(score(line, ToneVoice(lengths=(1_000,)), RATE))
    assert next(place for place in found if place.start == 24_000).gain == pytest.approx(gain)


def in_phase(click: Click, peak: float) -> Clip:
    """Return a word that swings with a click, at its loudest where the click is."""
    samples = click_clip(click, RATE).samples
    return Clip(samples * np.float32(peak / np.abs(samples).max()), RATE)


@pytest.mark.parametrize(("voice_level", "click_level"), [(0, 0), (18, 18), (18, -18), (-18, 18)])
@pytest.mark.parametrize("hands", ["right", "left", "both"])
def test_the_worst_sum_of_all_stays_under_the_ceiling(
    hands: str, voice_level: float, click_level: float
) -> None:
    clicks = [Click("throw", hands, accent=True, value=value) for value in (1, 5, 9)]
    words = {str(click.value): [in_phase(click, 0.7)] for click in clicks}
    times = 0.1 + 0.05 * np.arange(15)
    spoken = [
        Beat(0, time, 1200, "part", click=click, call=str(click.value), call_time=time)
        for time, click in zip(times[:12], clicks * 4, strict=True)
    ]
    alone = [
        Beat(0, time, 1200, "part", click=click)
        for time, click in zip(times[12:], clicks, strict=True)
    ]
    line = Timeline(lambda: iter(spoken + alone), (), 1.0, frozenset(words))
    mixed = mix(line, ClipVoice(words), RATE, Balance(voice_level, click_level)).read(RATE)
    true_peak = 20 * np.log10(np.abs(resample_poly(mixed.astype(float), 16, 1, axis=0)).max())
    assert true_peak <= TRUE_PEAK_CEILING
    # Nor is it lowered for nothing; not all clicks reach the peak that is promised for all.
    assert true_peak >= TRUE_PEAK_CEILING - 2.5


def test_gains_do_not_depend_on_the_length() -> None:
    def gains(count: int | None) -> list[float]:
        line = timeline(lambda: beats(150, count))
        placements = score(line, ToneVoice(peak=0.9), RATE)
        return [placement.gain for placement in islice(placements, 20)]

    assert gains(None) == gains(100)
    assert gains(100)[5:15] == gains(30)[5:15]


def test_an_endless_timeline_starts_at_once_and_needs_no_more_memory() -> None:
    def silent_after_the_first() -> Iterator[Beat]:
        for beat in beats(200, None):
            yield beat if beat.beat == 0 else Beat(beat.beat, beat.time, 200, "part")

    for make in (lambda: beats(200, None), silent_after_the_first):
        mixer = mix(timeline(make), ToneVoice(), RATE)
        assert mixer.read(RATE).any()
        tracemalloc.start()
        for _ in range(100):
            mixer.read(RATE)
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert peak < 4_000_000


def test_a_mix_is_as_long_as_its_timeline() -> None:
    mixer = mix(timeline(lambda: beats(120, 4), 3.3), ToneVoice(), RATE)
    assert len(mixer.read(10 * RATE)) == round(3.3 * RATE)
    assert len(mixer.read(10)) == 0


def test_the_voice_is_told_beforehand_what_will_be_said() -> None:
    voice = ToneVoice()
    score(timeline(lambda: beats(120, 4), cues=(Cue(0.0, "get ready"),)), voice, RATE)
    assert voice.prepared == {*"0123456789", "get ready"}


def test_a_voice_at_another_rate_is_refused() -> None:
    with pytest.raises(ValueError, match="at 44100 Hz and the output at 48000"):
        score(timeline(lambda: beats(120, 4)), ToneVoice(rate=44_100), 48_000)


def test_an_audition_clicks_on_each_beat_over_the_music(tmp_path: Path) -> None:
    music = decoded(tmp_path / "music", hum(2.0, RATE), rate=RATE)
    beats = (0.25, 0.7501, 1.25)
    mixed = auditioned(music, beats).read(3 * RATE)
    assert len(mixed) == music.frames
    without = auditioned(music, ()).read(3 * RATE)
    clip = click_clip(Click("throw", "both"), RATE, tune=False).samples
    added = mixed - without
    gain = np.abs(added).max() / np.abs(clip).max()
    for beat in beats:
        first = round(beat * RATE)
        assert added[first : first + len(clip)] == pytest.approx(gain * clip, abs=1e-5)
