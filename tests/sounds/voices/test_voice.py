"""Cue calls in a voice of their own, at a place of their own, heard to their end."""

import pickle
from itertools import pairwise

import numpy as np
import pytest
from handmade import RATE, ClipVoice, ToneVoice, beats, timeline, tone
from hypothesis import given, settings
from hypothesis import strategies as st

from throwcount.engine.patterns.rules import read
from throwcount.engine.routines.routine import CUE_PLACES, CuePlace
from throwcount.engine.timing.run import CueText, Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.engine.timing.timeline import Beat, Cue, Timeline
from throwcount.sounds.errors import UnknownWordError
from throwcount.sounds.mixing.mixer import Placement
from throwcount.sounds.mixing.score import Balance, mix
from throwcount.sounds.mixing.words import ScoreEvent, delivered, score_events, stereo
from throwcount.sounds.output.commands import Learn, Play, ScheduledRun
from throwcount.sounds.output.deck import Deck
from throwcount.sounds.samples import Clip, Samples, frame_at
from throwcount.sounds.voices.stand_ins import ClipBank, FallbackVoice
from throwcount.sounds.voices.stand_ins import ToneVoice as LastResort
from throwcount.sounds.voices.voice import (
    CueVoice,
    Voice,
    cue_line,
    cue_paces,
    is_cue_line,
    said_at,
)

FAR_SIDE = 0.3
"""Of the near side: a hand's side is plain, and one earphone still has every click."""


LOW, HIGH = [tone(9_000)], [tone(12_000), tone(7_000)]


class OnlyThese(ClipVoice):
    """Says the texts it is given and no others, and keeps account of what it was asked."""

    def __init__(self, name: str, clips: dict[str, list], rate: int = RATE) -> None:
        super().__init__(clips, rate)
        self.name = name
        self.asked: list[str] = []

    def prepare(self, texts: list[str]) -> None:
        self.asked += texts

    def clips(self, text: str) -> list:
        try:
            return super().clips(text)
        except KeyError:
            raise UnknownWordError(f"{self.name} does not know {text!r}.") from None


def calling(name: str, clips: dict[str, list], *, remarks: tuple[str, ...] = ()) -> FallbackVoice:
    stand_in = OnlyThese("stand-in", {"borrowed": LOW})
    return FallbackVoice([OnlyThese(name, clips), stand_in], LastResort(RATE), remarks)


def test_the_same_words_come_from_two_voices() -> None:
    voice = CueVoice(calling("count", {"five": LOW}), calling("cues", {"five": HIGH}))
    assert voice.clips("five") == LOW
    assert voice.clips(cue_line("five")) == HIGH
    assert (voice.name, voice.rate) == ("count", RATE)


def test_each_voice_gets_ready_for_its_own_texts_without_a_mark() -> None:
    count, cues = OnlyThese("count", {"five": LOW}), OnlyThese("cues", {"next, 51": HIGH})
    resort = LastResort(RATE)
    voice = CueVoice(FallbackVoice([count], resort), FallbackVoice([cues], resort))
    voice.prepare(["five", cue_line("next, 51"), "five"])
    assert (count.asked, cues.asked) == (["five"], ["next, 51"])


def test_nobody_is_told_of_the_mark() -> None:
    voice = CueVoice(
        calling("count", {}, remarks=("A sentence.", "One more.")),
        calling("cues", {}, remarks=("A sentence.", "Another.")),
    )
    voice.prepare([cue_line("borrowed"), cue_line("xyzzy"), "plugh"])
    told = [*voice.missing.items(), *voice.borrowed.items()]
    assert sorted(voice.missing) == ["plugh", "xyzzy"]
    assert voice.borrowed == {"borrowed": "cues does not know 'borrowed'."}
    tone = LastResort(RATE).name
    assert voice.speakers == {
        cue_line("borrowed"): "stand-in",
        cue_line("xyzzy"): tone,
        "plugh": tone,
    }
    assert not any(is_cue_line(text) or cue_line("") in reason for text, reason in told)
    assert voice.remarks == ("A sentence.", "One more.", "Another.")


def test_voices_at_different_rates_are_refused() -> None:
    other = FallbackVoice([], LastResort(44_100))
    with pytest.raises(ValueError, match="at 48000 Hz and the cue calls at 44100"):
        CueVoice(calling("count", {}), other)


@pytest.mark.parametrize(
    ("cue", "said"),
    [
        (Cue(1.0, "get ready"), "get ready"),
        (Cue(1.0, "next, 51", change=0), cue_line("next, 51")),
        (Cue(1.0, "next, 51", change=12), cue_line("next, 51")),
    ],
)
def test_only_what_announces_a_change_is_a_cue_call(cue: Cue, said: str) -> None:
    assert said_at(cue) == said
    (moment,) = score_events(timeline(lambda: iter(()), cues=(cue,)))
    assert moment.text == said


def test_the_paces_of_a_cue_call_are_those_of_its_own_voice() -> None:
    voice = CueVoice(calling("count", {"five": LOW}), calling("cues", {"five": HIGH}))
    assert cue_paces(voice)("five") == (12_000 / RATE, 7_000 / RATE)


def test_clips_that_were_taught_to_another_process_are_told_apart_there() -> None:
    voice = CueVoice(calling("count", {"five": LOW}), calling("cues", {"five": HIGH}))
    texts = ("five", cue_line("five"))
    bank = ClipBank(RATE)
    bank.learn(pickle.loads(pickle.dumps({text: tuple(voice.clips(text)) for text in texts})))
    assert [clip.frames for clip in bank.clips("five")] == [9_000]
    assert [clip.frames for clip in bank.clips(cue_line("five"))] == [12_000, 7_000]


def words(line: Timeline, voice: Voice) -> list[tuple[ScoreEvent, Placement]]:
    return [
        (each, each.word) for each in delivered(score_events(line), voice) if each.word is not None
    ]


def call(time: float) -> Beat:
    return Beat(0, time, 60, "part", call="a", call_time=time)


CUE_FRAMES = (30_000, 20_000, 16_000)
SAYS = {
    "a": [tone(length, centre=length // 4) for length in (14_000, 9_000, 6_000)],
    cue_line("cue"): [tone(length) for length in CUE_FRAMES],
}


@pytest.mark.parametrize(
    ("seconds", "frames"),
    [
        (0.0, 30_000),
        (1.0, 30_000),
        (30_000 / RATE, 30_000),
        (29_999 / RATE, 20_000),
        (16_000 / RATE, 16_000),
    ],
)
def test_a_cue_call_is_said_at_the_pace_it_was_given_room_for(seconds: float, frames: int) -> None:
    line = timeline(lambda: iter(()), cues=(Cue(1.5, "cue", 4, seconds),))
    ((_, word),) = words(line, ClipVoice(SAYS))
    assert (word.start, len(word.samples), word.stop) == (round(1.5 * RATE), frames, None)


@pytest.mark.parametrize("pause", [0.0, 0.02, 0.05, 0.1, 0.2, 0.6])
def test_the_word_after_a_cue_call_begins_after_it(pause: float) -> None:
    end = 1.0 + CUE_FRAMES[0] / RATE
    line = timeline(lambda: iter([call(end + pause)]), cues=(Cue(1.0, "cue", 4),))
    (_, cue), (_, word) = words(line, ClipVoice(SAYS))
    assert (cue.stop, cue.end) == (None, frame_at(end, RATE))
    assert word.start >= cue.end
    if pause >= 0.05:  # There is room for one of its paces, with its centre on the beat.
        centre = len(word.samples) // 4
        assert word.start + centre == frame_at(end + pause, RATE)


def test_the_word_before_gives_way_to_a_cue_call() -> None:
    line = timeline(lambda: iter([call(0.9)]), cues=(Cue(1.0, "cue", 4),))
    (_, word), (_, cue) = words(line, ClipVoice(SAYS))
    assert cue.start == RATE
    assert word.end <= cue.start


@settings(max_examples=150)
@given(
    cues=st.lists(st.floats(0.0, 6.0), max_size=3),
    bpm=st.sampled_from([50, 130, 217, 400]),
    change=st.sampled_from([None, 8]),
)
def test_no_two_words_overlap_and_no_cue_call_is_cut(
    cues: list[float], bpm: float, change: int | None
) -> None:
    said = tuple(Cue(time, "cue", change) for time in sorted(cues))
    clips = {**dict.fromkeys("531", SAYS["a"]), "cue": SAYS[cue_line("cue")], **SAYS}
    found = words(timeline(lambda: beats(bpm, 30), cues=said), ClipVoice(clips))
    for (_, word), (_, following) in pairwise(found):
        assert word.end <= following.start
    for moment, word in found:
        if moment.text == cue_line("cue"):
            assert word.stop is None


def heard(place: CuePlace, change: int | None = 4, voice_level: float = 0.0) -> Samples:
    voice = ClipVoice({"cue": LOW, cue_line("cue"): LOW})
    line = Timeline(lambda: iter(()), (Cue(0.1, "cue", change),), 0.5)
    return mix(line, voice, RATE, Balance(voice_level, cue_place=place)).read(RATE)


@pytest.mark.parametrize(
    ("place", "left", "right"),
    [("centre", 1.0, 1.0), ("left", 1.0, FAR_SIDE), ("right", FAR_SIDE, 1.0)],
)
@pytest.mark.parametrize("voice_level", [0.0, -6.0, 12.0])
def test_a_cue_call_stands_at_its_place(
    place: CuePlace, left: float, right: float, voice_level: float
) -> None:
    centre = heard("centre", voice_level=voice_level)
    sided = heard(place, voice_level=voice_level)
    assert np.abs(centre).max() > 0.1
    assert np.allclose(sided, centre * np.array([left, right], dtype=np.float32), atol=1e-7)
    assert np.all(np.abs(sided) <= np.abs(centre))


@pytest.mark.parametrize("place", CUE_PLACES)
def test_what_is_no_cue_call_stays_in_the_centre(place: CuePlace) -> None:
    assert np.array_equal(heard(place, change=None), heard("centre", change=None))


def test_in_the_centre_and_in_the_same_voice_nothing_is_different() -> None:
    """Word for word, a cue call that there is time for sounds as anything else said besides."""
    assert np.array_equal(heard("centre"), heard("centre", change=None))
    start = frame_at(0.1, RATE)
    assert np.array_equal(heard("centre")[start : start + 9_000], stereo(LOW[0]))


def test_the_count_keeps_to_the_centre_beside_a_cue_call() -> None:
    voice = ToneVoice(lengths=(4_000,))
    line = timeline(lambda: beats(120, 6), 4.0, (Cue(3.2, "cue", 6),))
    sided = mix(line, voice, RATE, Balance(clicks="none", cue_place="left")).read(4 * RATE)
    cue = slice(frame_at(3.2, RATE), frame_at(3.2, RATE) + 4_000)
    assert np.allclose(sided[cue, 1], FAR_SIDE * sided[cue, 0], atol=1e-7)
    sided[cue] = 0.0
    assert sided.any()
    assert np.array_equal(sided[:, 0], sided[:, 1])


def lengths(*frames: int) -> list[Clip]:
    return [tone(length, centre=length // 5) for length in frames]


COUNTED = {text: lengths(11_000, 7_000) for text in ("one", "three", "five", "four", "stop")}
CHANGES = Run(
    (Part(read("531"), 24), Part(read("441"), 24)),
    steady(200),
    ready=0.3,
    cues=(CueText(24, "next four", paces=(31_000 / RATE, 20_000 / RATE), since=0, over=24),),
)


@pytest.mark.parametrize("place", CUE_PLACES)
def test_live_a_cue_call_is_what_is_rendered(place: CuePlace) -> None:
    voice = CueVoice(calling("count", COUNTED), calling("cues", {"next four": lengths(31_000)}))
    scheduled = ScheduledRun(CHANGES, 0.5, Balance(cue_place=place))
    timeline = scheduled.timeline(voice)
    assert [cue.text for cue in timeline.cues] == ["next four"]
    assert timeline.seconds is not None
    whole = mix(timeline, voice, RATE, scheduled.balance).read(frame_at(timeline.seconds, RATE))
    deck = Deck(ClipBank(RATE))
    deck.obey(Learn({text: tuple(voice.clips(text)) for text in scheduled.texts()}))
    deck.obey(Play(scheduled))
    heard = deck.read(len(whole) + RATE)[frame_at(0.5, RATE) :]
    assert np.array_equal(heard[: len(whole)], whole)
    (cue,) = timeline.cues
    loudness = np.abs(whole[frame_at(cue.time, RATE) :][:31_000]).sum(axis=0)
    louder = {"left": loudness[0] > 1.5 * loudness[1], "right": loudness[1] > 1.5 * loudness[0]}
    assert louder == {side: side == place for side in louder}
