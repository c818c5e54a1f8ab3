"""The deck, command by command and frame by frame, without any device."""

import pickle
import threading

import numpy as np
import numpy.typing as npt
import pytest
from handmade import tone

from throwcount.engine.patterns.rules import read
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import ramp, steady
from throwcount.engine.timing.timeline import Click, Cue
from throwcount.sounds.measures import WORD_PEAK
from throwcount.sounds.mixing.clicks import CLICK_PEAK, CLICK_SECONDS, click_clip
from throwcount.sounds.mixing.mixer import FADE_SECONDS, lay_out_gains
from throwcount.sounds.mixing.replies import reply_clip
from throwcount.sounds.mixing.score import Balance, mix
from throwcount.sounds.output.commands import (
    Begin,
    Command,
    Continue,
    End,
    Learn,
    Play,
    Reply,
    Say,
    ScheduledRun,
    Silence,
    SpeakUp,
)
from throwcount.sounds.output.deck import Deck
from throwcount.sounds.samples import Clip, Samples, frame_at
from throwcount.sounds.voices.stand_ins import ClipBank

FADE = 0.005
"""Seconds: as short as a fade can be that does not click."""

AHEAD = 0.3
"""Seconds: a change has to be made before the words it concerns begin."""


RATE = 48_000
BLOCK = 256
FADE_FRAMES = round(FADE * RATE)
SAYS = ("one", "three", "five", "seven", "nine", "stop", "get ready", "ten")


def bank(rate: int = RATE) -> ClipBank:
    """Words of several paces and lengths, each with a centre of its own."""
    clips = {}
    for number, text in enumerate(SAYS):
        lengths = [round(rate * (0.45 - 0.02 * number) * pace) for pace in (1.0, 0.7, 0.5, 0.4)]
        clips[text] = [tone(frames, 0.5, rate, frames // 4 + number) for frames in lengths]
    return ClipBank(rate, clips)


LONGEST_LEAD = max(clip.centre for text in SAYS for clip in bank().clips(text))


def run_of(text: str = "531", beats: int | None = 60, tempo: float = 200, **more: object) -> Run:
    return Run((Part(read(text), beats),), steady(tempo), ready=0.2, **more)


def rendered(scheduled: ScheduledRun, rate: int = RATE) -> Samples:
    """Return the passage as `render` writes it."""
    voice = bank(rate)
    timeline = scheduled.timeline(voice)
    assert timeline.seconds is not None
    return mix(timeline, voice, rate, scheduled.balance).read(frame_at(timeline.seconds, rate))


class Listener:
    """Reads a deck, and remembers what was heard."""

    def __init__(self, deck: Deck | None = None, count: int = BLOCK) -> None:
        self.deck = deck or Deck(bank())
        self._count = count
        self._blocks: list[Samples] = []

    @property
    def now(self) -> float:
        return self.deck.position / RATE

    @property
    def heard(self) -> Samples:
        return np.concatenate(self._blocks)

    def until(self, seconds: float) -> "Listener":
        while self.now < seconds:
            self._blocks.append(self.deck.read(self._count))
        return self

    def tell(self, *commands: Command) -> None:
        for command in commands:
            # As on their way to another process.
            self.deck.obey(pickle.loads(pickle.dumps(command)))


@pytest.mark.parametrize("count", [64, 256, 1_000])
@pytest.mark.parametrize(
    "scheduled",
    [
        ScheduledRun(run_of(), 0.0),
        ScheduledRun(
            run_of("97531", 40, 330, announcement="get ready", announcement_seconds=0.4), 0.7
        ),
        ScheduledRun(
            run_of("(6x,4)*", 32, 150, lead=2), 1.5, Balance(-3.0, 2.0, "right", tune=False)
        ),
        ScheduledRun(run_of("441", 30), 0.4, Balance(loud_room=True)),
        ScheduledRun(
            Run((Part(read("3"), 60),), ramp(100, 300, 60, "linear-beats"), say="tally"), 0.1
        ),
        ScheduledRun(run_of(say="nothing", prelude=(Cue(0.0, "ten"),)), 2.0),
    ],
    ids=["plain", "thinned", "pairs", "loud room", "ramp", "no calls"],
)
def test_a_passage_left_alone_is_what_is_rendered(scheduled: ScheduledRun, count: int) -> None:
    whole = rendered(scheduled)
    listener = Listener(count=count)
    listener.tell(Play(scheduled))
    heard = listener.until(scheduled.start + len(whole) / RATE + 1.0).heard
    start = frame_at(scheduled.start, RATE)
    assert np.array_equal(heard[start : start + len(whole)], whole)
    assert not heard[:start].any()
    assert not heard[start + len(whole) :].any()


@pytest.mark.parametrize(("asked", "begun"), [(0.0, 0.1), (0.7, 0.7)])
def test_a_run_begins_as_soon_as_it_can(asked: float, begun: float) -> None:
    """On the next frame, but not before a device has played a tenth of a second of silence."""
    scheduled = ScheduledRun(run_of(), 5.0)
    listener = Listener(count=100).until(asked)
    listener.tell(Begin(scheduled))
    whole = rendered(scheduled)
    heard = listener.until(begun + len(whole) / RATE).heard
    start = listener.deck.begun
    assert start == frame_at(begun, RATE)
    assert np.array_equal(heard[start : start + len(whole)], whole)


def test_its_clock_never_stops() -> None:
    listener = Listener(count=100)
    assert not listener.until(1.0).heard.any()
    assert listener.deck.position == RATE
    assert len(listener.heard) == RATE


def test_passages_follow_one_another() -> None:
    first = ScheduledRun(run_of(beats=9), 0.25)
    second = ScheduledRun(run_of("3", 6), first.end or 0.0)
    listener = Listener()
    listener.tell(Play(first), Play(second))
    heard = listener.until(12.0).heard
    assert second.end is not None
    assert second.end < 12.0
    for scheduled in (first, second):
        start, whole = frame_at(scheduled.start, RATE), rendered(scheduled)
        assert np.array_equal(heard[start : start + len(whole)], whole)


@pytest.mark.parametrize("tempo", [120, 200, 300])
def test_going_on_at_the_same_tempo_changes_nothing(tempo: float) -> None:
    scheduled = ScheduledRun(run_of("97531", tempo=tempo), 0.1)
    alone, listener = Listener(), Listener()
    for each in (alone, listener):
        each.tell(Play(scheduled))
    while (going_on := scheduled.at_tempo(tempo, listener.now)) is not None:
        listener.tell(going_on)
        scheduled = going_on.scheduled
        listener.until(listener.now + 0.77)
    assert listener.until(36.0).heard.any()
    assert np.array_equal(listener.heard, alone.until(36.0).heard[: len(listener.heard)])


@pytest.mark.parametrize("tempo", [95, 180, 205, 320])
@pytest.mark.parametrize("now", [0.4, 1.31, 3.33, 6.0])
def test_a_nudge_falls_on_a_beat(tempo: float, now: float) -> None:
    """Before it all is as it was, from it on as if the tempo had always been the new one."""
    before = ScheduledRun(run_of(), 0.2)
    listener = Listener()
    listener.tell(Play(before))
    listener.until(now)
    nudge = before.at_tempo(tempo, listener.now)
    assert nudge is not None
    assert before.time_at(nudge.pivot) >= listener.now + AHEAD
    listener.tell(nudge)
    heard = listener.until(30.0).heard
    pivot = before.time_at(nudge.pivot)
    # The first sound of the pivot is its word, which begins before it.
    seam = frame_at(pivot - FADE_SECONDS, RATE) - LONGEST_LEAD
    alone = Listener()
    alone.tell(Play(before))
    assert np.array_equal(heard[:seam], alone.until(now + 1.0).heard[:seam])
    assert nudge.scheduled.time_at(nudge.pivot) == pytest.approx(pivot, abs=1e-9)
    # Two beats later there is nothing left of the seam.
    later = frame_at(nudge.scheduled.time_at(nudge.pivot + 2), RATE)
    fresh = Listener()
    fresh.tell(Play(nudge.scheduled))
    assert np.array_equal(heard[later:], fresh.until(30.0).heard[later:])


CLICKS_ALONE = Balance(tune=False)


def clicks_of(heard: Samples) -> npt.NDArray[np.int64]:
    """Return the frames where clicks start: clicks, and silence of a millisecond before them."""
    sounding = np.flatnonzero(heard.any(axis=1))
    return sounding[np.diff(sounding, prepend=-RATE) > RATE // 1000]


def test_nudges_pauses_and_skips_keep_every_click_on_its_frame() -> None:
    scheduled = ScheduledRun(run_of(beats=None, say="nothing", count_in=0), 0.0, CLICKS_ALONE)
    listener = Listener()
    listener.tell(Play(scheduled))
    expected: list[int] = []
    beat = 0

    def heard_until(moment: float) -> None:
        nonlocal beat
        while scheduled.time_at(beat) < moment:
            expected.append(frame_at(scheduled.time_at(beat), RATE))
            beat += 1

    for now, tempo in ((2.0, 210), (4.0, 180), (4.1, 260), (6.5, 120)):
        listener.until(now)
        nudge = scheduled.at_tempo(tempo, listener.now)
        assert nudge is not None
        heard_until(scheduled.time_at(nudge.pivot) - 0.001)
        listener.tell(nudge)
        scheduled = nudge.scheduled
    for now, pause in ((9.03, 1.5), (13.0, 0.4)):
        listener.until(now)
        heard_until(listener.now)
        listener.tell(Silence())
        listener.until(now + pause)
        resumed = scheduled.resumed(beat, listener.now + 0.1)
        listener.tell(resumed)
        scheduled = resumed.scheduled
    listener.until(16.0)
    heard_until(listener.now)
    listener.tell(Silence())
    scheduled = ScheduledRun(run_of("3", 20, 173, say="nothing", count_in=0), 16.5, CLICKS_ALONE)
    beat = 0
    listener.tell(Play(scheduled))
    listener.until(20.0)
    heard_until(20.0 - CLICK_SECONDS)
    found = clicks_of(listener.heard)
    assert len(found) >= len(expected) > 40
    assert np.abs(found[: len(expected)] - expected).max() <= 1


def test_nothing_of_a_word_is_heard_twice_over_a_nudge() -> None:
    """Slower, so that the pivot's word is said slower, and starts before the one before is over."""
    scheduled = ScheduledRun(run_of("97531", tempo=300), 0.0)
    listener = Listener()
    listener.tell(Play(scheduled))
    listener.until(4.0)
    nudge = scheduled.at_tempo(90, listener.now)
    assert nudge is not None
    listener.tell(nudge)
    listener.until(12.0)
    # No two words and clicks together are louder than the gains are laid out for.
    assert np.abs(listener.heard).max() < 10 ** (-1.0 / 20)
    assert np.abs(np.diff(listener.heard[:, 0])).max() < 0.5  # no jump as of a sound cut off


@pytest.mark.parametrize("now", [1.0, 2.03, 3.3])
def test_silence_fades_all_and_drops_what_is_coming(now: float) -> None:
    scheduled = ScheduledRun(run_of(), 0.0)
    alone, listener = Listener(), Listener()
    for each in (alone, listener):
        each.tell(Play(scheduled))
        each.until(now)
    listener.tell(Silence())
    start = listener.deck.position
    rest, faded = alone.until(8.0).heard[start:], listener.until(8.0).heard[start:]
    assert not faded[FADE_FRAMES:].any()
    loud = np.abs(rest[:FADE_FRAMES]) > 1e-3
    share = faded[:FADE_FRAMES][loud] / rest[:FADE_FRAMES][loud]
    assert np.all((share > 0) & (share < 1))
    assert np.all(np.diff(share[::2]) <= 1e-3)


def test_a_silent_voice_leaves_the_clicks_as_loud_as_alone() -> None:
    scheduled = ScheduledRun(run_of(), 0.0)
    listener = Listener()
    listener.tell(Play(scheduled), SpeakUp(on=False))
    heard = listener.until(10.0).heard
    found = clicks_of(heard)
    assert len(found) > 25
    # All that open a cycle with the right hand: under a word they would be softer by half.
    opening = [heard[at : at + 500] for at in found[4:40:6]]
    click = click_clip(Click("throw", "right", accent=True, value=5), RATE).samples
    gains = lay_out_gains(WORD_PEAK, CLICK_PEAK)
    for each in opening:
        assert np.allclose(each, click[:500] * gains.click, atol=1e-6)


def test_the_voice_comes_back_with_the_next_word() -> None:
    scheduled = ScheduledRun(run_of(), 0.0)
    alone, listener = Listener(), Listener()
    for each in (alone, listener):
        each.tell(Play(scheduled))
        each.until(3.1)
    listener.tell(SpeakUp(on=False))
    listener.until(5.0)
    off = listener.heard[frame_at(3.1 + FADE, RATE) + BLOCK : frame_at(5.0, RATE)]
    assert len(clicks_of(off)) >= 6
    listener.tell(SpeakUp(on=True))
    later = frame_at(6.0, RATE)
    assert np.array_equal(listener.until(9.0).heard[later:], alone.until(9.0).heard[later:])


def test_something_said_in_between() -> None:
    listener = Listener()
    listener.tell(Say("ten", 0.5))
    heard = listener.until(2.0).heard
    clip = bank().clips("ten")[0]
    start = frame_at(0.5, RATE)
    assert np.allclose(heard[start : start + clip.frames], clip.samples)
    assert not heard[:start].any()
    assert not heard[start + clip.frames :].any()


def test_words_can_be_learnt_and_others_get_a_tone() -> None:
    click = Clip(np.full((100, 1), 0.25, np.float32), RATE)
    listener = Listener()
    listener.tell(Say("hold", 0.1))
    assert listener.until(0.5).heard.any()
    listener.tell(Learn({"hold": (click,)}), Say("hold", 0.6))
    start = frame_at(0.6, RATE)
    assert np.all(listener.until(1.0).heard[start : start + 100] == 0.25)


def test_the_end_comes_after_the_last_silence() -> None:
    listener = Listener(Deck(bank(), last_silence=0.15))
    listener.tell(Play(ScheduledRun(run_of(beats=None), 0.0)))
    listener.until(2.0)
    listener.tell(End())
    start = listener.deck.position
    while not listener.deck.over:
        listener.until(listener.now + 0.001)
        assert listener.now < 3.0
    last = listener.heard[start:]
    assert 0 <= len(last) - (FADE + 0.15) * RATE < BLOCK
    assert not last[FADE_FRAMES:].any()


def test_a_passage_that_comes_late_leaves_out_what_has_begun() -> None:
    listener = Listener()
    listener.until(5.0)
    scheduled = ScheduledRun(run_of(), 2.0)
    listener.tell(Play(scheduled))
    heard = listener.until(10.0).heard
    late = listener.deck.position
    whole = rendered(scheduled)
    assert not heard[: frame_at(5.0, RATE)].any()
    later = frame_at(6.0, RATE)
    assert np.array_equal(heard[later:late], whole[later - 2 * RATE : late - 2 * RATE])


def test_a_day_into_a_run_a_nudge_is_there_at_once() -> None:
    day = 24 * 3600.0
    scheduled = ScheduledRun(run_of(beats=None), -day)
    pivot = scheduled.beat_from(0.5)
    assert pivot is not None
    listener = Listener()
    listener.tell(SpeakUp(on=False), Continue(scheduled, pivot))
    found = clicks_of(listener.until(2.0).heard)
    assert found[0] == frame_at(scheduled.time_at(pivot), RATE)
    assert len(found) == 5


def test_looking_ahead_from_another_thread_changes_nothing() -> None:
    scheduled = ScheduledRun(run_of("97531", 80, 300), 0.1)
    listener = Listener()
    over = threading.Event()

    def look() -> None:
        while not over.is_set():
            listener.deck.look_ahead(0.5)

    looking = threading.Thread(target=look)
    looking.start()
    try:
        listener.tell(Play(scheduled))
        heard = listener.until(scheduled.end or 0.0).heard
    finally:
        over.set()
        looking.join()
    whole = rendered(scheduled)
    start = frame_at(scheduled.start, RATE)
    assert np.array_equal(heard[start : start + len(whole)], whole[: len(heard) - start])


@pytest.mark.parametrize(("level", "factor"), [(0.0, 1.0), (-20.0, 0.1)])
def test_a_press_is_answered_at_once_and_heard_whole_after_a_silence(
    level: float, factor: float
) -> None:
    listener = Listener()
    listener.tell(Play(ScheduledRun(run_of(), 0.0)))
    listener.until(2.0)
    pressed = listener.deck.position
    listener.tell(Silence(), Reply("drop", level))
    listener.until(3.0)
    expected = np.float32(factor) * reply_clip("drop", RATE).samples
    heard = listener.heard[pressed:]
    assert np.array_equal(heard[FADE_FRAMES : len(expected)], expected[FADE_FRAMES:])
    assert not heard[len(expected) :].any()
