"""A voice for loud rooms: what it does to words, measured by other means than its own."""

from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
import soundfile
from called_digits import DIGITS
from scipy.signal import butter, hilbert, sosfiltfilt

from throwcount.sounds.measures import WORD_LEVEL, perceptual_centre, true_peak, word_loudness
from throwcount.sounds.samples import Clip
from throwcount.sounds.voices.loud_room import compressed, for_loud_room, with_presence
from throwcount.sounds.voices.open_voice import open_voice
from throwcount.sounds.voices.recorded import BUILT_IN_VOICES, built_in
from throwcount.sounds.voices.stand_ins import ToneVoice
from throwcount.sounds.voices.voice import unchanged

RATE = 48_000
ONE_MILLISECOND = 0.001
WORD_PEAK = 10 ** (-1.0 / 20)


Pairs = list[tuple[Clip, Clip]]


@pytest.fixture(scope="module", params=BUILT_IN_VOICES)
def pairs(request: pytest.FixtureRequest) -> Pairs:
    """Every digit at every pace, as it is and for a loud room."""
    voice = built_in(RATE, request.param)
    return [(clip, for_loud_room(clip)) for digit in DIGITS for clip in voice.clips(digit)]


def share(samples: npt.NDArray[np.float32], low: float, high: float) -> float:
    """Return the share of the energy between two frequencies, in dB."""
    power = np.abs(np.fft.rfft(samples[:, 0].astype(float))) ** 2
    hertz = np.fft.rfftfreq(len(samples), 1 / RATE)
    return float(10 * np.log10(power[(hertz >= low) & (hertz < high)].sum() / power.sum()))


def strength(samples: npt.NDArray[np.floating[Any]]) -> npt.NDArray[np.float64]:
    """Return the Hilbert envelope in steps of 10 ms, in dB against its highest."""
    heights = np.abs(hilbert(samples[:, 0].astype(float)))
    steps = heights[: len(heights) // 480 * 480].reshape(-1, 480)
    levels = 10 * np.log10((steps**2).mean(axis=1) + 1e-12)
    return np.asarray(levels - levels.max())


@pytest.mark.parametrize("rate", [16_000, 44_100, 48_000])
@pytest.mark.parametrize(
    ("hertz", "decibels"), [(100, -3), (1000, 0), (2500, 6), (3200, 6), (4000, 6), (7900, 0)]
)
def test_presence_is_raised_and_bass_lowered(rate: int, hertz: float, decibels: float) -> None:
    """A slowly swelling tone comes out that much louder, and no later."""
    moments = np.arange(rate) / rate
    samples = (np.hanning(rate) * np.sin(2 * np.pi * hertz * moments)).astype(np.float32)
    changed = with_presence(samples[:, np.newaxis], rate)[:, 0]
    assert 20 * np.log10(changed.std() / samples.std()) == pytest.approx(decibels, abs=1.0)
    assert np.abs(np.corrcoef(changed, samples)[0, 1] - 1) < 1e-4


def test_soft_sounds_are_brought_up_by_two_thirds_of_their_distance() -> None:
    """A hiss 21 dB below another comes to 7 dB below it; a noise at -70 dB stays where it was."""
    noise = np.random.default_rng(1).normal(0, 1, RATE)
    levels = np.repeat([-21, 0, -70], [RATE // 4, RATE // 4, RATE // 2])
    samples = (0.1 * noise * 10 ** (levels / 20)).astype(np.float32)[:, np.newaxis]
    changed = compressed(samples, RATE)
    parts = [part[RATE // 20 : -RATE // 20] for part in np.split(np.arange(RATE), 4)]
    raised = 20 * np.log10([changed[part].std() / samples[part].std() for part in parts])
    assert raised - raised[1] == pytest.approx([14, 0, 0, 0], abs=1.5)


def test_digits_are_brighter(pairs: Pairs) -> None:
    """By 5 dB or more, as a share of their energy from 2 to 5 kHz."""
    for plain, loud in pairs:
        assert share(loud.samples, 2000, 5000) > share(plain.samples, 2000, 5000) + 5


def test_the_consonants_of_a_digit_are_more_even(pairs: Pairs) -> None:
    """Above 2 kHz, what is 10 to 30 dB below the loudest 10 ms comes nearer, by 8 dB on average."""
    high = butter(6, 2200, "high", fs=RATE, output="sos")
    nearer = []
    for plain, loud in pairs:
        before, after = (
            strength(sosfiltfilt(high, clip.samples, axis=0)) for clip in (plain, loud)
        )
        soft = (before < -10) & (before > -30)
        nearer.append(np.mean(after[soft] - before[soft]))
    assert min(nearer) > 4
    assert np.mean(nearer) > 8


@pytest.mark.parametrize("digit", ["three", "four", "five", "six", "seven"])
def test_the_fricative_that_opens_a_digit_comes_nearer_to_its_vowel(digit: str) -> None:
    """By 4 dB or more: the loudest 10 ms of the first half of what precedes the centre."""
    plain = built_in(RATE).clips(digit)[0]
    opening = slice(plain.centre // 2 // 480)
    hiss = [strength(clip.samples)[opening].max() for clip in (plain, for_loud_room(plain))]
    assert hiss[1] - hiss[0] > 4


def test_a_digit_keeps_its_length_its_loudness_and_its_peak(pairs: Pairs) -> None:
    for plain, changed in pairs:
        assert changed.samples.shape == plain.samples.shape
        assert changed.samples.dtype == np.float32
        assert word_loudness(changed.samples, RATE) == pytest.approx(WORD_LEVEL, abs=0.5)
        assert true_peak(changed.samples, RATE) <= WORD_PEAK * 1.001


def test_the_centre_of_a_digit_stays_on_the_beat(pairs: Pairs) -> None:
    for _, changed in pairs:
        miss = changed.centre - perceptual_centre(changed.samples, RATE)
        assert abs(miss) <= ONE_MILLISECOND * RATE


def test_a_phrase_keeps_the_centre_of_its_first_word() -> None:
    for plain in built_in(RATE).clips("stop, three"):
        assert abs(for_loud_room(plain).centre - plain.centre) < 0.06 * RATE


def test_a_tone_keeps_its_onset_on_the_beat() -> None:
    (plain,) = ToneVoice(RATE).clips("five")
    assert abs(for_loud_room(plain).centre - plain.centre) <= 0.005 * RATE


@pytest.mark.parametrize("frames", [0, 1, 2, 500])
@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("rate", [8_000, 48_000, 192_000])
def test_odd_clips_are_left_whole(frames: int, channels: int, rate: int) -> None:
    silence = Clip(np.zeros((frames, channels), dtype=np.float32), rate)
    assert for_loud_room(silence) is silence
    if frames:
        noise = np.random.default_rng(2).normal(0, 0.1, (frames, channels)).astype(np.float32)
        changed = for_loud_room(Clip(noise, rate, frames // 2))
        assert changed.samples.shape == noise.shape
        assert np.isfinite(changed.samples).all()
        assert 0 <= changed.centre < frames


@pytest.mark.parametrize("text", ["five", "one hundred five", "tempo two, stop"])
def test_a_voice_says_all_of_its_recordings_so(text: str) -> None:
    usual = open_voice(None, RATE, None).clips(text)
    loud = open_voice(None, RATE, None, finish=for_loud_room).clips(text)
    assert [clip.frames for clip in loud] == [clip.frames for clip in usual]
    for plain, clip in zip(usual, loud, strict=True):
        assert share(clip.samples, 2000, 5000) > share(plain.samples, 2000, 5000) + 4
        assert abs(clip.centre - plain.centre) < 0.02 * RATE


def test_a_folder_of_recordings_says_its_words_so(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "five.wav", built_in(RATE).clips("five")[0].samples, RATE)
    (usual,), (loud,) = (
        open_voice(str(tmp_path), RATE, None, finish=finish).clips("five")
        for finish in (unchanged, for_loud_room)
    )
    assert share(loud.samples, 2000, 5000) > share(usual.samples, 2000, 5000) + 5
