"""A row of voices, and what each is asked.

The voice without words.
"""

import subprocess
import sys
from collections.abc import Iterable, Sequence
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from throwcount.engine.numbers import spoken
from throwcount.sounds.errors import SoundError, UnknownWordError, VoiceError
from throwcount.sounds.measures import word_loudness
from throwcount.sounds.samples import Clip
from throwcount.sounds.voices.stand_ins import FallbackVoice, ToneVoice, notes_of

RATE = 48_000


class WordList:
    """Says the words of a list, and keeps account of what it is asked to prepare."""

    def __init__(self, *words: str, error: SoundError | None = None, rate: int = RATE) -> None:
        self.rate = rate
        self.name = f"voice of {len(words)} words"
        self.said = {word: (Clip(np.zeros((1, 1), np.float32), rate),) for word in words}
        self.error = error or UnknownWordError("It does not know the word.")
        self.prepared: list[list[str]] = []

    def prepare(self, texts: Iterable[str]) -> None:
        self.prepared.append(list(texts))

    def clips(self, text: str) -> Sequence[Clip]:
        if text not in self.said:
            raise self.error
        return self.said[text]


def test_each_text_is_said_by_the_first_voice_that_can() -> None:
    first, second, tone = WordList("one", "two"), WordList("two", "three"), ToneVoice(RATE)
    voice = FallbackVoice([first, second], tone)
    voice.prepare(["one", "two", "three", "four", "one"])
    assert voice.clips("one") is first.said["one"]
    assert voice.clips("two") is first.said["two"]
    assert voice.clips("three") is second.said["three"]
    assert voice.clips("four")[0] is tone.clips("four")[0]


def test_each_voice_is_asked_once_and_only_for_what_is_left() -> None:
    first, second = WordList("one"), WordList("two")
    voice = FallbackVoice([first, second], ToneVoice(RATE))
    for _ in range(2):
        voice.prepare(["one", "two", "three"])
        voice.clips("three")
    assert first.prepared == [["one", "two", "three"]]
    assert second.prepared == [["two", "three"]]


def test_where_nothing_is_left_the_next_voice_is_not_asked() -> None:
    second = WordList("one")
    FallbackVoice([WordList("one"), second], ToneVoice(RATE)).prepare(["one"])
    assert second.prepared == []


@pytest.mark.parametrize(
    "error",
    [
        UnknownWordError("No word for it."),
        VoiceError("No speech engine."),
        SoundError("Something failed."),
    ],
)
def test_what_nobody_can_say_is_kept_with_its_reason(error: SoundError) -> None:
    voice = FallbackVoice([WordList("one"), WordList(error=error)], ToneVoice(RATE))
    voice.prepare(["one"])
    assert dict(voice.missing) == {}
    assert voice.clips("xyzzy")[0].seconds <= 0.15
    assert dict(voice.missing) == {"xyzzy": str(error)}


def test_what_another_voice_says_is_kept_with_the_first_ones_reason() -> None:
    first = WordList("one", error=VoiceError("The recording is silent."))
    voice = FallbackVoice([first, WordList(), WordList("two")], ToneVoice(RATE))
    voice.prepare(["one", "two", "three"])
    assert dict(voice.borrowed) == {"two": "The recording is silent."}
    assert list(voice.missing) == ["three"]
    assert voice.speakers["three"] == ToneVoice(RATE).name


def test_a_voice_that_fails_to_get_ready_is_still_asked() -> None:
    class Broken(WordList):
        def prepare(self, texts: Iterable[str]) -> None:
            super().prepare(texts)
            raise VoiceError("A recording cannot be read.")

    voice = FallbackVoice([Broken("one"), WordList("two")], ToneVoice(RATE))
    voice.prepare(["two", "one"])
    assert list(voice.borrowed) == ["two"]
    assert dict(voice.missing) == {}


def test_it_goes_by_the_first_voice() -> None:
    voice = FallbackVoice([WordList("one", "two"), WordList()], ToneVoice(RATE))
    assert (voice.name, voice.rate) == ("voice of 2 words", RATE)


def test_voices_at_different_rates_are_refused() -> None:
    with pytest.raises(ValueError, match="one rate"):
        FallbackVoice([WordList(rate=RATE), WordList(rate=44_100)], ToneVoice(RATE))


WORD_LEVEL = -15.0
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
    code = "from throwcount.sounds.voices.stand_ins import notes_of; print(*notes_of('stop'))"
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
