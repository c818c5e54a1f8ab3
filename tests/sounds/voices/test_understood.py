"""Called digits are understood through the clicks, one on every beat, however quick."""

from collections import Counter

import pytest
from called_digits import DIGITS, called, digits_on_beats, mixed, shuffled_digits
from listener import Listener

from throwcount.engine.scheduling.thinning import thin
from throwcount.sounds.voices.recorded import RecordedVoice, built_in
from throwcount.sounds.voices.voice import quickest_seconds

RATE = 48_000
EACH = 30
LEAST_SHARE_OF_A_DIGIT = 0.85


@pytest.fixture(scope="module")
def voice() -> RecordedVoice:
    return built_in(RATE)


@pytest.mark.parametrize("tempo", [120, 150, 200, 260])
def test_no_call_is_left_out(voice: RecordedVoice, tempo: float) -> None:
    calls = shuffled_digits(EACH, seed=0)
    timeline = digits_on_beats(tempo, calls)
    assert [beat.call for beat in thin(timeline, quickest_seconds(voice))] == calls


@pytest.mark.parametrize(("tempo", "share"), [(120, 0.98), (150, 0.98), (200, 0.95), (260, 0.90)])
def test_digits_are_understood_on_every_beat(
    voice: RecordedVoice, tempo: float, share: float
) -> None:
    # An independent recogniser, held to the ten digits, is handed one word at a time, cut from
    # the final mix.
    listener = Listener(DIGITS)
    timeline = digits_on_beats(tempo, shuffled_digits(EACH, seed=round(tempo)))
    heard = mixed(timeline, voice)
    mistaken: Counter[tuple[str, str | None]] = Counter()
    for call in called(timeline, voice):
        understood = listener.understood(call.cut_for_listener(heard, RATE), RATE)
        if understood != call.digit:
            mistaken[call.digit, understood] += 1
    assert mistaken.total() <= (1 - share) * EACH * len(DIGITS), mistaken
    of_a_digit = Counter(digit for digit, _ in mistaken.elements())
    assert max(of_a_digit.values(), default=0) <= (1 - LEAST_SHARE_OF_A_DIGIT) * EACH, mistaken
