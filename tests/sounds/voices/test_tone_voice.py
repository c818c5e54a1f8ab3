"""The voice without words."""

import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from engine.calling.numbers import spoken
from sounds.voices.loudness import word_loudness
from sounds.voices.tone_voice import ToneVoice, notes_of

WORD_LEVEL = -18.0
"""LKFS: so loud that words are plain, with room for clicks under the ceiling."""


WORDS = ("stop", "left", "right", "both", "double three", "flash", "qualified", "A", "B", "hold")


def loudest_hertz(samples: np.ndarray, rate: int) -> float:
    length = 8 * rate  # an eighth of a Hz
    return float(np.argmax(np.abs(np.fft.rfft(samples, length))) * rate / length)


@pytest.mark.parametrize("rate", [44100, 48000])
@pytest.mark.parametrize(
    "text", ["zero", "five", "thirty five", "stop", "ten eleven", "", "é\udcff"]
)
def test_every_text_has_one_short_tone_at_the_level_of_words(text: str, rate: int) -> None:
    (clip,) = ToneVoice(rate).clips(text)
    assert clip.rate == rate
    assert clip.samples.shape == (clip.frames, 1)
    assert clip.samples.dtype == np.float32
    assert 0.1 < clip.seconds <= 0.15
    assert clip.centre / rate < 0.005
    assert word_loudness(clip.samples, rate) == pytest.approx(WORD_LEVEL, abs=0.1)


@pytest.mark.parametrize("value", [0, 3, 5, 9, 14, 35])
def test_the_pitch_is_a_semitone_a_step_from_middle_c(value: int) -> None:
    # Equal temperament with A = 440 Hz (ISO 16): middle C is nine semitones below.
    (clip,) = ToneVoice(48000).clips(spoken(value))
    expected = 440.0 * 2 ** ((value - 9) / 12)
    assert loudest_hertz(clip.samples[:, 0], 48000) == pytest.approx(expected, rel=0.02)


def test_pitch_rises_with_the_value_however_it_is_written() -> None:
    pitches = [notes_of(spoken(value)) for value in range(36)]
    assert all(low < high for low, high in pairwise(pitches))
    assert [notes_of(str(value)) for value in range(36)] == pitches


def test_other_texts_have_two_notes_of_their_own() -> None:
    notes = [notes_of(word) for word in WORDS]
    assert len(set(notes)) == len(WORDS)
    for first, second in notes:
        assert 392.0 <= first <= 784.0
        assert 3.0 <= abs(12 * np.log2(second / first)) <= 12.0


@pytest.mark.parametrize("seed", ["1", "2"])
def test_a_text_has_the_same_notes_in_every_process(seed: str) -> None:
    code = "from sounds.voices.tone_voice import notes_of; print(*notes_of('stop'))"
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=Path(__file__).parents[3],
        env={"PYTHONHASHSEED": seed},
        capture_output=True,
        check=True,
        text=True,
    )
    assert tuple(map(float, done.stdout.split())) == notes_of("stop")


def test_a_clip_is_made_once() -> None:
    voice = ToneVoice(48000)
    voice.prepare(["five"])
    assert voice.clips("five")[0] is voice.clips("five")[0]
