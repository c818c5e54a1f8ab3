"""Time compression: shorter, at the same pitch, with nothing added."""

import numpy as np
import numpy.typing as npt
import pytest

from throwcount.sounds.bank.shortening import shortened, shortened_where_steady, steadiness

RATE = 24_000
Signal = npt.NDArray[np.float32]


def tone(hertz: float, seconds: float = 1.0) -> Signal:
    moments = np.arange(round(seconds * RATE)) / RATE
    return (0.5 * np.sin(2 * np.pi * hertz * moments)).astype(np.float32)


def pitch(samples: Signal) -> float:
    """Return the strongest frequency, in Hz."""
    padded = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), 16 * RATE))
    return float(np.argmax(padded)) / 16


@pytest.mark.parametrize("factor", [1.0, 1.1, 1.5, 2.0, 2.5])
@pytest.mark.parametrize("hertz", [100, 440, 3000])
def test_it_is_shorter_and_neither_higher_nor_softer(hertz: float, factor: float) -> None:
    quick = shortened(tone(hertz), RATE, factor)
    assert len(quick) == round(RATE / factor)
    inner = quick[RATE // 50 : -RATE // 50]
    assert pitch(inner) == pytest.approx(hertz, abs=1.5)
    assert inner.std() == pytest.approx(tone(hertz).std(), rel=0.02)


def test_a_factor_of_one_changes_nothing() -> None:
    assert (shortened(tone(200), RATE, 1.0) == tone(200)).all()


@pytest.mark.parametrize("factor", [1.3, 2.0])
def test_moments_keep_their_order_and_place(factor: float) -> None:
    # Three bursts of different pitch stand where the shorter time puts them.
    silence = np.zeros(RATE // 5, dtype=np.float32)
    bursts = [tone(hertz, 0.2) for hertz in (300, 600, 1200)]
    speech = np.concatenate([part for burst in bursts for part in (silence, burst)])
    quick = shortened(speech, RATE, factor)
    for number, hertz in enumerate((300, 600, 1200)):
        middle = round((0.3 + 0.4 * number) * RATE / factor)
        assert pitch(quick[middle - RATE // 50 : middle + RATE // 50]) == pytest.approx(
            hertz, abs=8
        )


@pytest.mark.parametrize("frames", [0, 1, 100, 1000])
def test_very_short_sounds_are_no_trouble(frames: int) -> None:
    assert len(shortened(np.ones(frames, dtype=np.float32), RATE, 2.0)) == round(frames / 2)


def test_steady_sound_gives_way_before_changes() -> None:
    # A word-like sound: a hiss, a long vowel, a hiss.
    noise = np.random.default_rng(0).normal(0, 0.1, RATE // 10).astype(np.float32)
    word = np.concatenate((noise, tone(300, 0.4), noise))
    steady = steadiness(word, RATE)
    assert steady[40:80].mean() > 2 * steady[18:22].mean()
    quick = shortened_where_steady(word, RATE, 1.5)
    assert len(quick) == round(len(word) / 1.5)
    begins = np.flatnonzero(np.abs(quick) > 0.45)[0] / RATE
    assert begins > 1.03 * 0.1 / 1.5


@pytest.mark.parametrize("factor", [1.2, 1.6, 2.0, 3.0])
def test_uneven_shortening_keeps_the_pitch(factor: float) -> None:
    quick = shortened_where_steady(tone(440), RATE, factor)
    assert len(quick) == round(RATE / factor)
    assert pitch(quick[RATE // 50 : -RATE // 50]) == pytest.approx(440, abs=1.5)
