"""A timeline becomes placed sounds: every click and every word at its frame, with its gain."""

import heapq
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import count
from typing import TYPE_CHECKING, Literal, TypeAlias

import numpy as np

from throwcount.engine.timing.timeline import Click, Timeline
from throwcount.sounds.mixing.clicks import CLICK_PEAK, FAR_SIDE, NEAR_SIDE, click_clip
from throwcount.sounds.mixing.mixer import (
    FADE_SECONDS,
    NO_MUSIC,
    Gains,
    Mixer,
    Placement,
    lay_out_gains,
)
from throwcount.sounds.mixing.music_bed import Track, with_music
from throwcount.sounds.mixing.words import (
    PlacedWord,
    ScoreEvent,
    clip_peak,
    delivered,
    score_events,
    with_next,
)
from throwcount.sounds.samples import CHANNELS, frame_at
from throwcount.sounds.voices.voice import Voice, is_cue_line, said_at

if TYPE_CHECKING:
    from throwcount.engine.routines.routine import CuePlace

ClickChoice: TypeAlias = Literal["both", "right", "left", "cycle", "none"]

CLICK_FADE_SECONDS = 0.002
"""How long a click takes to fade where the next one starts before it has rung out."""

SIDES: "Mapping[CuePlace, tuple[float, float]]" = {
    "centre": (1.0, 1.0),
    "left": (NEAR_SIDE, FAR_SIDE),
    "right": (FAR_SIDE, NEAR_SIDE),
}
"""Factors of the two channels; a side is where the clicks of that hand are."""

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
    run-out keeps to the same choice; the count-in is heard unless the choice is none."""
    tune: bool = True
    """Whether a click's pitch follows the throw's value."""
    cue_place: "CuePlace" = "centre"
    """Where cue calls stand. At a side they lose what the other side gets less of, and are some 3
    dB softer: no side is ever louder than in the centre."""


def mix(
    timeline: Timeline,
    voice: Voice | None,
    rate: int,
    balance: Balance | None = None,
    track: Track | None = None,
) -> Mixer:
    """Return a timeline as sound, as long as the timeline; parameters as those of `score`."""
    frames = None if timeline.seconds is None else frame_at(timeline.seconds, rate)
    return Mixer(score(timeline, voice, rate, balance, track), frames)


def score(
    timeline: Timeline,
    voice: Voice | None,
    rate: int,
    balance: Balance | None = None,
    track: Track | None = None,
) -> Iterator[Placement]:
    """Place every sound of a timeline.

    They come in order of start, made as they are asked for. Never more than one word and one click
    sound at a time, and the music.

    Parameters
    ----------
    voice
        Who speaks, at the same `rate`; None to say nothing.
    rate
        Sample rate, in Hz.
    balance
        What is heard, and how loud; as usual if not given.
    track
        The music under it, decoded to the same `rate`; None for none.

    Raises
    ------
    ValueError
        If the voice or the music is at another rate.
    UnknownWordError
        If the voice has no way to say something: at once for what `timeline.words` and the cues
        hold, else when its turn comes.
    """
    balance = balance or Balance()
    row = score_events(timeline)
    word_peak = 0.0
    if voice is not None:
        _check_rate(voice, rate)
        word_peak = _loudest_word(timeline, voice)
        row = delivered(row, voice)
    if balance.clicks != "both":
        row = _with_chosen_clicks(row, balance.clicks)
    click_peak = 0.0 if balance.clicks == "none" else CLICK_PEAK
    wanted = NO_MUSIC if track is None else track.wanted
    gains = lay_out_gains(word_peak, click_peak, balance.voice_level, balance.click_level, wanted)
    if balance.cue_place != "centre":
        row = _with_cues_at_side(row, balance.cue_place)
    placements = _placed(row, gains, rate, tune=balance.tune)
    if track is None:
        return placements
    _check_music(track, rate)
    frames = None if timeline.seconds is None else frame_at(timeline.seconds, rate)
    return with_music(placements, track, gains, frames)


def _check_rate(voice: Voice, rate: int) -> None:
    if voice.rate != rate:
        raise ValueError(
            f"The voice is at {voice.rate} Hz and the output at {rate} Hz; a voice is "
            f"made for one rate."
        )


def _check_music(track: Track, rate: int) -> None:
    if track.music.rate != rate:
        raise ValueError(
            f"The music is at {track.music.rate} Hz and the output at {rate} Hz; music "
            f"is decoded for one rate."
        )


def _loudest_word(timeline: Timeline, voice: Voice) -> float:
    """Return the highest true peak of all that may be said, at any pace."""
    texts = sorted(timeline.words.union(map(said_at, timeline.cues)))
    voice.prepare(texts)
    return max((clip_peak(clip) for text in texts for clip in voice.clips(text)), default=0.0)


def _with_chosen_clicks(row: Iterable[ScoreEvent], choice: ClickChoice) -> Iterator[ScoreEvent]:
    """Leave the clicks that are heard under a choice."""
    for event in row:
        event.click = _chosen(event.click, choice)
        yield event


def _chosen(click: Click | None, choice: ClickChoice) -> Click | None:
    """Return the click as it is heard under a choice of some, None if it is not."""
    if click is None or choice == "none":
        return None
    if choice == "both" or click.kind == "count-in":
        return click
    if choice == "cycle":
        return click if click.accent else None
    return replace(click, hands=choice) if click.hands in (choice, "both") else None


def _with_cues_at_side(row: Iterable[ScoreEvent], place: "CuePlace") -> Iterator[ScoreEvent]:
    """Put the words of cue calls at their place."""
    for event in row:
        if event.word is not None and event.text is not None and is_cue_line(event.text):
            event.word.samples = event.word.samples * np.array(SIDES[place], dtype=np.float32)
        yield event


def _placed(
    row: Iterable[ScoreEvent], gains: Gains, rate: int, *, tune: bool
) -> Iterator[Placement]:
    """Yield the sounds of each moment in order of start; a word starts before its click.

    A moment without any sound yields silence, so that whoever asks for the next sound of an
    endless timeline is never kept waiting.
    """
    fade = frame_at(CLICK_FADE_SECONDS, rate)
    waiting: list[tuple[int, int, Placement]] = []
    number = count()
    spoken_until = 0
    for event, following in with_next(row, lambda later: later.click is not None):
        on = frame_at(event.time, rate)
        if event.click is not None:
            samples = click_clip(event.click, rate, tune=tune).samples
            spoken = _spoken_during(on, on + len(samples), event, spoken_until)
            gain = gains.ducked_click if spoken else gains.click
            stop = None if following is None else frame_at(following.time, rate)
            click = Placement(on, samples, gain, stop, fade, alone=gains.click, again=True)
            heapq.heappush(waiting, (on, next(number), click))
        if event.word is not None:
            spoken_until = max(spoken_until, event.word.end)
            word = _word_placement(event.word, on, gains, rate)
            heapq.heappush(waiting, (word.start, next(number), word))
        settled = on if event.coming is None else min(on, event.coming)
        if not waiting:
            yield Placement(settled, SILENCE)
        while waiting and waiting[0][0] <= settled:
            yield heapq.heappop(waiting)[-1]
    while waiting:
        yield heapq.heappop(waiting)[-1]


def _spoken_during(start: int, end: int, event: ScoreEvent, spoken_until: int) -> bool:
    """Tell whether a word sounds in a stretch of frames that belongs to `event`."""
    word = event.word
    own = word is not None and word.start < end and word.end > start
    later = event.coming is not None and event.coming < end
    return own or later or spoken_until > start


def _word_placement(word: PlacedWord, event: int, gains: Gains, rate: int) -> Placement:
    return Placement(
        word.start,
        word.samples,
        gains.for_word(word.peak),
        word.stop,
        fade=frame_at(FADE_SECONDS, rate),
        moment=event,
        spoken=True,
        again=True,
    )
