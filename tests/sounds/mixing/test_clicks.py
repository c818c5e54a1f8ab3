from itertools import combinations, product

import numpy as np
import pytest
from scipy.signal import resample_poly

from throwcount.engine.timing.timeline import Click, ClickKind
from throwcount.sounds.measures import word_loudness
from throwcount.sounds.mixing.clicks import click_clip, tone_of
from throwcount.sounds.mixing.mixer import linear
from throwcount.sounds.samples import Clip

ACCENT = 4.0
"""dB: an accent is heard at once, and is not another sound."""

CLICK_PEAK = 0.86
"""Linear: three decibels below full scale."""

HIGHEST_STEP = 12
"""Throw value: higher tones are hard to tell apart."""

LOWEST_TONE = 880.0
"""Hz: small loudspeakers give it in full."""

MARGIN = 0.2
"""dB: meters of true peak differ by about as much."""


RATES = (44_100, 48_000, 96_000)
THROWS = [
    Click("throw", hands, accent, value)
    for hands, accent, value in product(
        ("right", "left", "both"), (False, True), (None, 0, 1, 3, 5, 9, 12, 35)
    )
]
OTHERS = [
    Click(kind, hands)
    for kind, hands in product(("count-in", "run-out"), ("right", "left", "both"))
]

FIRST_FORMANT = 800.0
"""Hz, of the most open vowels; others lie lower (common knowledge of phonetics)."""


def energy(samples: np.ndarray) -> float:
    return float(np.sum(samples.astype(float) ** 2))


@pytest.mark.parametrize("loud_room", [False, True])
@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("click", [*THROWS, *OTHERS], ids=str)
def test_a_click_is_full_at_its_first_frame_and_short(
    click: Click, rate: int, *, loud_room: bool
) -> None:
    clip = click_clip(click, rate, loud_room=loud_room)
    heights = np.abs(clip.samples).max(axis=1)
    assert clip.samples.dtype == np.float32
    assert clip.samples.shape[1] == 2
    assert clip.centre == 0
    assert heights[0] == heights.max()
    assert clip.seconds <= 0.05
    assert heights[-1] < 1e-3 * heights[0]


@pytest.mark.parametrize("loud_room", [False, True])
@pytest.mark.parametrize("rate", [8_000, 44_100, 48_000])
@pytest.mark.parametrize("click", [*THROWS, *OTHERS], ids=str)
def test_no_click_exceeds_the_promised_true_peak(
    click: Click, rate: int, *, loud_room: bool
) -> None:
    silence = np.zeros((200, 2))
    samples = click_clip(click, rate, loud_room=loud_room).samples
    surrounded = np.concatenate((silence, samples, silence))
    measured = np.abs(resample_poly(surrounded, 16, 1, axis=0)).max()
    # BS.1770 measures between four samples for one, and this between sixteen.
    assert measured <= CLICK_PEAK * linear(MARGIN)


@pytest.mark.parametrize("click", THROWS, ids=str)
def test_clicks_leave_the_first_formant_to_the_voice(click: Click) -> None:
    samples = click_clip(click, 48_000).samples.astype(float)
    power = (np.abs(np.fft.rfft(samples, 48_000, axis=0)) ** 2).sum(axis=1)
    below = power[: int(FIRST_FORMANT)].sum() / power.sum()
    assert below < (0.5 if (click.value or 0) == 0 else 0.25)


def test_the_hands_differ_in_place() -> None:
    for value in (None, 3, 9):
        right = click_clip(Click("throw", "right", value=value), 48_000).samples
        left = click_clip(Click("throw", "left", value=value), 48_000).samples
        assert 8 < 10 * np.log10(energy(right[:, 1]) / energy(right[:, 0])) < 14
        assert 8 < 10 * np.log10(energy(left[:, 0]) / energy(left[:, 1])) < 14


@pytest.mark.parametrize("loud_room", [False, True])
@pytest.mark.parametrize("accent", [False, True])
@pytest.mark.parametrize("value", [0, 3, 5, 9])
def test_the_hands_differ_in_timbre_also_on_one_loudspeaker(
    value: int, *, accent: bool, loud_room: bool
) -> None:
    """The right hand is brighter: its spectrum has its centre half as high again, or more."""
    right, left = (
        spectral_centre(
            click_clip(Click("throw", hand, accent, value), 48_000, loud_room=loud_room)
        )
        for hand in ("right", "left")
    )
    assert right > 1.5 * left


@pytest.mark.parametrize("loud_room", [False, True])
@pytest.mark.parametrize("kind", ["count-in", "run-out"])
def test_the_hands_differ_in_timbre_before_and_after_the_throws(
    kind: ClickKind, *, loud_room: bool
) -> None:
    right, left = (
        spectral_centre(click_clip(Click(kind, hand), 48_000, loud_room=loud_room))
        for hand in ("right", "left")
    )
    assert right > 1.5 * left


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("click", [*THROWS, *OTHERS], ids=str)
def test_in_a_loud_room_clicks_leave_the_consonants_to_the_voice(click: Click, rate: int) -> None:
    """At most a sixth of the energy lies from 2 to 5 kHz, and of the usual clicks two fifths."""
    samples = click_clip(click, rate, loud_room=True).samples.astype(float)
    power = (np.abs(np.fft.rfft(samples, rate, axis=0)) ** 2).sum(axis=1)
    assert power[2000:5000].sum() / power.sum() < 1 / 6


@pytest.mark.parametrize("click", [*THROWS, *OTHERS], ids=str)
def test_in_a_loud_room_clicks_are_as_loud_as_elsewhere(click: Click) -> None:
    usual, loud = (
        word_loudness(click_clip(click, 48_000, loud_room=loud_room).samples, 48_000)
        for loud_room in (False, True)
    )
    assert loud == pytest.approx(usual, abs=1.0)


def test_in_a_loud_room_the_pitch_still_follows_the_throw() -> None:
    heard = [
        loudest_tone(click_clip(Click("throw", "left", value=value), 48_000, loud_room=True))
        for value in range(13)
    ]
    expected = [tone_of(min(value, 10)) * 494 / 880 for value in range(13)]
    assert heard == pytest.approx(expected, rel=0.03)


def spectral_centre(clip: Clip) -> float:
    power = np.abs(np.fft.rfft(clip.samples.sum(axis=1), clip.rate)) ** 2
    return float(np.average(np.arange(len(power)), weights=power))


def loudest_tone(clip: Clip) -> float:
    spectrum = np.abs(np.fft.rfft(clip.samples.sum(axis=1), clip.rate))
    return float(spectrum.argmax())


@pytest.mark.parametrize("hands", ["right", "left", "both"])
def test_the_pitch_follows_the_throw(hands: str) -> None:
    heard = [
        loudest_tone(click_clip(Click("throw", hands, value=value), 48_000)) for value in range(13)
    ]
    expected = [tone_of(value) for value in range(13)]
    assert heard == pytest.approx(expected, rel=0.03)


def test_the_tones_are_a_pentatonic_scale() -> None:
    tones = [tone_of(value) for value in range(HIGHEST_STEP + 1)]
    assert tones[0] == tone_of(None) == LOWEST_TONE
    assert tones[5] == 2 * tones[0]
    assert tone_of(35) == tones[-1]
    for low, high in combinations(tones, 2):
        semitones = 12 * np.log2(high / low)
        assert semitones == pytest.approx(round(semitones))
        # Neither the semitone nor the tritone, the harsh intervals, nor their octaves.
        assert round(semitones) % 12 not in {1, 6, 11}


def test_without_a_tune_all_throws_have_one_pitch() -> None:
    clips = [
        click_clip(Click("throw", "right", value=value), 48_000, tune=False) for value in (1, 5)
    ]
    assert np.array_equal(clips[0].samples, clips[1].samples)


@pytest.mark.parametrize("hands", ["right", "left", "both"])
def test_a_cycle_opens_louder(hands: str) -> None:
    plain = click_clip(Click("throw", hands, value=5), 48_000)
    accented = click_clip(Click("throw", hands, accent=True, value=5), 48_000)
    louder = 10 * np.log10(energy(accented.samples) / energy(plain.samples))
    assert louder == pytest.approx(ACCENT, abs=1.0)


@pytest.mark.parametrize(("loud_room", "lowest"), [(False, LOWEST_TONE), (True, 494)])
@pytest.mark.parametrize("hands", ["right", "left", "both"])
def test_the_count_in_is_lower_than_every_throw(
    hands: str, lowest: float, *, loud_room: bool
) -> None:
    clip = click_clip(Click("count-in", hands), 48_000, loud_room=loud_room)
    assert loudest_tone(clip) < 0.8 * lowest


def test_the_run_out_is_drier_than_every_throw() -> None:
    def ringing(click: Click) -> float:
        samples = click_clip(click, 48_000).samples
        return energy(samples[48 * 6 :]) / energy(samples)

    run_out = max(ringing(click) for click in OTHERS if click.kind == "run-out")
    assert run_out < 0.1 * min(map(ringing, THROWS))


def test_a_click_is_made_once() -> None:
    click = Click("throw", "right", value=5)
    assert click_clip(click, 48_000) is click_clip(Click("throw", "right", value=5), 48_000)
