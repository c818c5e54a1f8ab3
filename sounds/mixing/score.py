"""A timeline becomes placed sounds: every click and every word on its frame, with its gain."""

import heapq
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

from throwcount.engine.timing.timeline import Click, Timeline
from throwcount.sounds.measures import WORD_PEAK
from throwcount.sounds.mixing.clicks import CLICK_PEAK, FAR_SIDE, NEAR_SIDE, click_clip
from throwcount.sounds.mixing.mixer import (
    NO_MUSIC,
    Gains,
    Mixer,
    MusicLevel,
    Placement,
    lay_out_gains,
)
from throwcount.sounds.mixing.music_bed import Music, Track, with_music
from throwcount.sounds.mixing.words import (
    ScoreEvent,
    clip_heights,
    delivered,
    score_events,
    with_next,
)
from throwcount.sounds.samples import CHANNELS, Mono, frame_at
from throwcount.sounds.voices.voice import Voice, is_cue_line, said_at

if TYPE_CHECKING:
    from throwcount.engine.routines.routine import CuePlace

ClickChoice: TypeAlias = Literal["both", "right", "left", "cycle", "none"]

CLICK_FADE_SECONDS = 0.002
"""How long a click takes to fade if the next one starts before it has rung out."""

SIDES: "Mapping[CuePlace, tuple[float, float]]" = {
    "centre": (1.0, 1.0),
    "left": (NEAR_SIDE, FAR_SIDE),
    "right": (FAR_SIDE, NEAR_SIDE),
}
"""Factors of the left and the right channel; a side is where the clicks of that hand are."""

SILENCE = np.zeros((0, CHANNELS), dtype=np.float32)


@dataclass(frozen=True, slots=True)
class Balance:
    """What is heard, and how loud."""

    voice_level: float = 0.0
    """Level of the words, in dB against the usual."""
    click_level: float = 0.0
    """Level of the clicks, in dB against the usual."""
    clicks: ClickChoice = "both"
    """Which throws click: those of both hands or of one, only those that open a cycle, or none. The
    same goes for the run-out; the count-in is heard unless the choice is none."""
    tune: bool = True
    """Whether a click's pitch follows the throw's value."""
    cue_place: "CuePlace" = "centre"
    """Where cue calls stand. At a side they are some 3 dB softer, as the other side gets less and
    no side is ever louder than in the centre."""
    loud_room: bool = False
    """Whether clicks keep out of the band by which words are told apart in noise."""

    def gains(self, music: MusicLevel = NO_MUSIC, *, spoken: bool = True) -> Gains:
        """Return the factors of what is heard, with or without words."""
        return lay_out_gains(
            WORD_PEAK if spoken else 0.0,
            0.0 if self.clicks == "none" else CLICK_PEAK,
            self.voice_level,
            self.click_level,
            music,
        )


def mix(
    timeline: Timeline,
    voice: Voice | None,
    rate: int,
    balance: Balance | None = None,
    track: Track | None = None,
) -> Mixer:
    """Return the sound of a timeline, of the same length; parameters are those of `score`."""
    frames = None if timeline.seconds is None else frame_at(timeline.seconds, rate)
    return Mixer(score(timeline, voice, rate, balance, track), frames)


def score(
    timeline: Timeline,
    voice: Voice | None,
    rate: int,
    balance: Balance | None = None,
    track: Track | None = None,
) -> Iterator[Placement]:
    """Yield every sound of a timeline in order of start, made when it is asked for.

    At most one word and one click sound at a time, besides the music.

    Parameters
    ----------
    voice
        Who speaks; None to say nothing.
    rate
        Sample rate, in Hz.
    balance
        What is heard, and how loud; the usual if None.
    track
        The music under it; None without music.

    Raises
    ------
    ValueError
        If the voice or the music is at another rate.
    UnknownWordError
        If the voice cannot say something: at once for `timeline.words` and the cues, or else when
        its turn comes.
    """
    if voice is not None and voice.rate != rate:
        raise ValueError(
            f"The voice is at {voice.rate} Hz and the output at {rate} Hz; a voice is made for "
            "one rate."
        )
    if track is not None and track.music.rate != rate:
        raise ValueError(
            f"The music is at {track.music.rate} Hz and the output at {rate} Hz; music is decoded "
            "for one rate."
        )
    balance = balance or Balance()
    said = sorted(timeline.words.union(map(said_at, timeline.cues)))
    music = NO_MUSIC if track is None else track.wanted
    gains = balance.gains(music, spoken=voice is not None and bool(said))
    row = score_events(timeline)
    if voice is not None:
        voice.prepare(said)
        row = delivered(row, voice, gains.word)
    if balance.clicks != "both":
        row = _with_chosen_clicks(row, balance.clicks)
    if balance.cue_place != "centre":
        row = _with_cues_at_side(row, balance.cue_place)
    placements = _placed(row, gains, rate, balance)
    if track is None:
        return placements
    frames = None if timeline.seconds is None else frame_at(timeline.seconds, rate)
    return with_music(placements, track, gains, frames)


def auditioned(music: Music, beats: Iterable[float]) -> Mixer:
    """Return music with a click on each beat, of its length; `beats` are in seconds, in order."""
    track, rate = Track(music), music.rate
    gains = Balance().gains(track.wanted, spoken=False)
    clip = click_clip(Click("throw", "both"), rate, tune=False)
    clicks = (Placement(frame_at(beat, rate), clip.samples, gains.click) for beat in beats)
    return Mixer(with_music(clicks, track, gains, music.frames), music.frames)


def _with_chosen_clicks(row: Iterable[ScoreEvent], choice: ClickChoice) -> Iterator[ScoreEvent]:
    """Leave only the clicks that are heard under a choice."""
    for event in row:
        event.click = _chosen(event.click, choice)
        yield event


def _chosen(click: Click | None, choice: ClickChoice) -> Click | None:
    """Return the click as it is heard under a choice; None if it is not heard."""
    if click is None or choice == "none":
        return None
    if choice == "both" or click.kind == "count-in":
        return click
    if choice == "cycle":
        return click if click.accent else None
    return click._replace(hands=choice) if click.hands in (choice, "both") else None


def _with_cues_at_side(row: Iterable[ScoreEvent], place: "CuePlace") -> Iterator[ScoreEvent]:
    """Put the words of cue calls at a side."""
    for event in row:
        if event.word is not None and event.text is not None and is_cue_line(event.text):
            event.word.samples = event.word.samples * np.array(SIDES[place], dtype=np.float32)
        yield event


def _placed(
    row: Iterable[ScoreEvent], gains: Gains, rate: int, balance: Balance
) -> Iterator[Placement]:
    """Yield the sounds of each event in order of start; a word starts before its click.

    Without any sound at all, an event yields silence, so that asking for the next sound of an
    endless timeline never takes for ever.
    """
    fade = frame_at(CLICK_FADE_SECONDS, rate)
    waiting: list[tuple[int, int, Placement]] = []
    number = count()
    said: Placement | None = None
    for event, following in with_next(row, lambda later: later.click is not None):
        on = frame_at(event.time, rate)
        if event.click is not None:
            clip = click_clip(event.click, rate, tune=balance.tune, loud_room=balance.loud_room)
            words = _heights_during(on, clip.frames, (said, event.word, event.coming))
            gain = gains.click if words is None else gains.click_beside(words, clip_heights(clip))
            stop = None if following is None else frame_at(following.time, rate)
            click = Placement(on, clip.samples, gain, stop, fade, alone=gains.click, again=True)
            heapq.heappush(waiting, (on, next(number), click))
        if event.word is not None:
            said = event.word
            heapq.heappush(waiting, (event.word.start, next(number), event.word))
        settled = on if event.coming is None else min(on, event.coming.start)
        if not waiting:
            yield Placement(settled, SILENCE)
        while waiting and waiting[0][0] <= settled:
            yield heapq.heappop(waiting)[-1]
    while waiting:
        yield heapq.heappop(waiting)[-1]


def _heights_during(start: int, frames: int, words: Iterable[Placement | None]) -> Mono | None:
    """Return the magnitude of words in `frames` frames from `start` on; None if none sounds."""
    beside = [word for word in words if word and word.start < start + frames and word.end > start]
    if not beside:
        return None
    total = np.zeros(frames, dtype=np.float32)
    for word in beside:
        if word.heights is not None:
            first, last = max(word.start, start), min(word.end, start + frames)
            heard = word.heights[first - word.start : last - word.start]
            total[first - start : last - start] += np.float32(word.gain) * heard
    return total
