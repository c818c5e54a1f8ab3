"""A voice of the system, with an engine that fails in every way it can."""

from pathlib import Path

import numpy as np
import pytest
from fake_engine import (
    RATE,
    TIME_OUT,
    FakeEngine,
    Making,
    cut,
    empty,
    good,
    in_aiff,
    no_bytes,
    no_sound,
    none,
    silent,
)

from throwcount.sounds.errors import SoundError, UnknownWordError, VoiceError
from throwcount.sounds.measures import word_loudness
from throwcount.sounds.voices.speech_child import Answer, SpeechRequest, Utterance
from throwcount.sounds.voices.speech_clips import ClipCache
from throwcount.sounds.voices.system_voice import (
    OTHER_PACES,
    PACES,
    SENTENCE_PACE,
    SystemVoice,
)

WORD_LEVEL = -15.0
"""LKFS: so loud that words are plain, with room for clicks under the ceiling."""

LONGEST_TEXT = 900
"""Characters: espeak-ng can crash on 1000."""

START_SECONDS = 15.0
"""Seconds that an engine may take to start."""

WORD_SECONDS = 0.25
"""Seconds: some ten times what a text takes."""


@pytest.mark.parametrize("making", [good, in_aiff])
@pytest.mark.parametrize("rate", [22050, 44100, 48000])
def test_words_are_trimmed_levelled_centred_and_at_the_rate_asked_for(
    making: Making, rate: int
) -> None:
    voice = SystemVoice(rate, speak=FakeEngine([making]))
    clips = voice.clips("five")
    # A buzz as long as a beat at each pace, under a Hann window: above -40 dB for 94 % of it.
    assert [clip.seconds for clip in clips] == pytest.approx(
        [0.94 * 60 / pace for pace in PACES["espeak"]], rel=0.05
    )
    for clip in clips:
        assert clip.rate == rate
        assert clip.samples.shape == (clip.frames, 1)
        assert word_loudness(clip.samples, rate) == pytest.approx(WORD_LEVEL, abs=0.2)
        # It rises for half its length, so its centre lies before the middle.
        assert 0.15 < clip.centre / clip.frames < 0.5


@pytest.mark.parametrize(
    ("first", "calls"),
    [
        (good, 1),
        *((making, 2) for making in (TIME_OUT, none, silent, empty, no_bytes, no_sound)),
        (cut(good), 2),
        (cut(in_aiff), 2),
    ],
)
def test_what_failed_is_tried_once_more(first: Making | VoiceError, calls: int) -> None:
    engine = FakeEngine([first, good])
    clips = SystemVoice(RATE, speak=engine).clips("five")
    assert len(clips) == len(PACES["espeak"])
    assert len(engine.requests) == calls


@pytest.mark.parametrize(
    ("making", "kind", "told"),
    [
        (TIME_OUT, VoiceError, "could not say 'five'. The speech engine did not finish."),
        (none, VoiceError, "left no file"),
        (empty, VoiceError, "left a broken file"),
        (no_bytes, VoiceError, "left a broken file"),
        (no_sound, VoiceError, "left a broken file"),
        (cut(good), VoiceError, "left a broken file"),
        (cut(in_aiff), VoiceError, "left a broken file"),
        (silent, UnknownWordError, "makes no sound of 'five'"),
    ],
)
def test_what_fails_twice_is_told_and_not_tried_again(
    making: Making | VoiceError, kind: type[SoundError], told: str
) -> None:
    engine = FakeEngine([making, making])
    voice = SystemVoice(RATE, speak=engine)
    voice.prepare(["five"])
    for _ in range(3):
        with pytest.raises(kind, match=told):
            voice.clips("five")
    assert len(engine.requests) == 2
    assert engine.listings == 1


def test_the_engines_own_complaint_is_told() -> None:
    engine = FakeEngine([none, none], problems=["No room on the disk."])
    with pytest.raises(VoiceError, match="No room on the disk"):
        SystemVoice(RATE, speak=engine).clips("five")


def test_only_what_failed_is_tried_again() -> None:
    def some(utterance: Utterance) -> None:
        if utterance["text"] != "three" or utterance["rate"] == 200:
            good(utterance)

    engine = FakeEngine([some, none])
    voice = SystemVoice(RATE, speak=engine)
    voice.prepare(["five", "three"])
    assert engine.asked()[1] == [("three", 260), ("three", 300), ("three", 450)]
    assert len(voice.clips("five")) == 4
    assert len(voice.clips("three")) == 1
    assert len(engine.requests) == 2


def test_a_file_that_was_whole_before_a_time_out_counts() -> None:
    engine = FakeEngine([good, good])

    def runs_out(request: SpeechRequest, seconds: float) -> Answer:
        answer = engine(request, seconds)
        if request["utterances"]:
            raise TIME_OUT
        return answer

    assert len(SystemVoice(RATE, speak=runs_out).clips("five")) == 4
    assert len(engine.requests) == 1


def test_all_texts_and_paces_are_one_request_pace_by_pace() -> None:
    engine = FakeEngine()
    voice = SystemVoice(RATE, speak=engine)
    voice.prepare(iter(["five", "three", "five"]))
    voice.prepare(["three"])
    voice.clips("five")
    request, seconds = engine.requests[0]
    assert engine.asked() == [
        [(text, pace) for pace in PACES["espeak"] for text in ("five", "three")]
    ]
    assert request["voice"] == "gmw/en-us"
    assert seconds == START_SECONDS + 8 * WORD_SECONDS


def test_sentences_are_said_at_one_slower_pace_too() -> None:
    engine = FakeEngine()
    SystemVoice(RATE, speak=engine).prepare(["over the bridge", "the bridge"])
    (asked,) = engine.asked()
    assert asked[0] == ("over the bridge", SENTENCE_PACE)
    assert [text for text, pace in asked if pace == SENTENCE_PACE] == ["over the bridge"]
    assert {pace for text, pace in asked if text == "the bridge"} == set(PACES["espeak"])


def test_clips_are_the_same_objects_each_time() -> None:
    voice = SystemVoice(RATE, speak=FakeEngine())
    assert voice.clips("five") is voice.clips("five")


@pytest.mark.parametrize("name", ["sapi5", "nsss"])
def test_other_engines_have_paces_of_their_own(name: str) -> None:
    engine = FakeEngine(name=name)
    assert len(SystemVoice(RATE, speak=engine).clips("five")) == len(OTHER_PACES)
    assert {pace for _, pace in engine.asked()[0]} == set(OTHER_PACES)


def test_espeak_never_speaks_at_rates_that_are_hard_to_understand() -> None:
    assert not [pace for pace in PACES["espeak"] if 340 <= pace < 450]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "cannot be said"),
        ("  ", "cannot be said"),
        ("?!", "cannot be said"),
        ("five\x00", "cannot be said"),
        ("five\udcff", "cannot be said"),
        ("x" * (LONGEST_TEXT + 1), f"{LONGEST_TEXT + 1} characters"),
    ],
)
def test_what_cannot_be_said_is_never_asked_for(text: str, told: str) -> None:
    engine = FakeEngine()
    voice = SystemVoice(RATE, speak=engine)
    voice.prepare([text, "five"])
    with pytest.raises(UnknownWordError, match=told):
        voice.clips(text)
    assert {said for said, _ in engine.asked()[0]} == {"five"}


def test_without_an_engine_every_word_says_so_and_it_is_looked_for_once() -> None:
    asked = []

    def no_engine(request: SpeechRequest, _seconds: float) -> Answer:
        asked.append(request)
        return Answer(engine=None, default=None, voices=[], problems=["no library"])

    voice = SystemVoice(RATE, speak=no_engine)
    voice.prepare(["five", "three"])
    for text in ("five", "three"):
        with pytest.raises(VoiceError):
            voice.clips(text)
    assert len(asked) == 1


@pytest.mark.parametrize(
    ("voice_id", "name"),
    [(None, "English (America)"), ("gmw/de", "German"), ("gone", "gone")],
)
def test_a_voice_has_the_name_that_the_engine_gives_it(voice_id: str | None, name: str) -> None:
    voice = SystemVoice(RATE, voice_id, speak=FakeEngine())
    assert voice.name == (voice_id or "system")
    voice.clips("five")
    assert voice.name == name


def test_what_is_cached_is_not_spoken_again(tmp_path: Path) -> None:
    before = SystemVoice(48000, cache=ClipCache(tmp_path), speak=FakeEngine())
    before.clips("five")
    engine = FakeEngine()
    after = SystemVoice(48000, cache=ClipCache(tmp_path), speak=engine)
    after.prepare(["five", "three"])
    assert {text for text, _ in engine.asked()[0]} == {"three"}
    for old, new in zip(before.clips("five"), after.clips("five"), strict=True):
        assert np.array_equal(old.samples, new.samples)
        assert old.centre == new.centre


def test_another_voice_has_other_clips(tmp_path: Path) -> None:
    SystemVoice(RATE, "gmw/de", cache=ClipCache(tmp_path), speak=FakeEngine()).clips("five")
    engine = FakeEngine()
    SystemVoice(RATE, cache=ClipCache(tmp_path), speak=engine).clips("five")
    assert len(engine.asked()[0]) == 4


def test_without_room_for_temporary_files_the_sentence_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def no_room(**_options: object) -> None:
        raise FileNotFoundError(2, "No usable temporary directory found")

    monkeypatch.setattr("throwcount.sounds.voices.speech_clips.temporary_folder", no_room)
    with pytest.raises(VoiceError, match="no place for temporary files"):
        SystemVoice(RATE, speak=FakeEngine()).clips("five")
