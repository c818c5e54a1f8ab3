"""A row of voices, and what each is asked."""

from collections.abc import Iterable, Sequence

import numpy as np
import pytest

from sounds.errors import SoundError, UnknownWordError, VoiceError
from sounds.voices.clip import Clip
from sounds.voices.fallback_voice import FallbackVoice
from sounds.voices.tone_voice import ToneVoice

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
