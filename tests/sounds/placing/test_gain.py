import pytest

from sounds.placing.gain import lay_out_gains, linear

DUCKING = -6.0
"""dB: half the amplitude."""

TRUE_PEAK_CEILING = -1.0
"""dBTP (EBU R 128)."""


@pytest.mark.parametrize(("decibels", "factor"), [(0, 1.0), (-20, 0.1), (20, 10.0), (-6.0206, 0.5)])
def test_levels_become_factors(decibels: float, factor: float) -> None:
    assert linear(decibels) == pytest.approx(factor, rel=1e-5)


def test_what_stays_under_the_ceiling_is_left_as_it_is() -> None:
    gains = lay_out_gains(0.5, 0.4)
    assert (gains.word, gains.click) == (1.0, 1.0)
    assert gains.ducked_click == pytest.approx(linear(DUCKING))


@pytest.mark.parametrize("word_peak", [0.0, 0.3, 0.9, 1.5])
@pytest.mark.parametrize("click_peak", [0.0, 0.2, 0.7])
@pytest.mark.parametrize(("voice_level", "click_level"), [(0, 0), (20, -20), (-20, 20), (12, 12)])
def test_no_sum_exceeds_the_ceiling(
    word_peak: float, click_peak: float, voice_level: float, click_level: float
) -> None:
    gains = lay_out_gains(word_peak, click_peak, voice_level, click_level)
    ceiling = linear(TRUE_PEAK_CEILING)
    assert word_peak * gains.for_word(word_peak) + click_peak * gains.ducked_click <= ceiling
    assert click_peak * gains.click <= ceiling


def test_levels_keep_their_distance_when_all_is_lowered() -> None:
    gains = lay_out_gains(0.9, 0.7, 6.0, 12.0)
    assert gains.word < 1.0
    assert gains.click / gains.word == pytest.approx(linear(12.0 - 6.0))
    assert gains.ducked_click / gains.click == pytest.approx(linear(DUCKING))


def test_a_word_louder_than_expected_is_brought_to_what_was_expected() -> None:
    gains = lay_out_gains(0.5, 0.4)
    assert gains.for_word(0.25) == gains.for_word(0.5) == gains.word
    assert gains.for_word(0.8) * 0.8 == pytest.approx(gains.word * 0.5)
