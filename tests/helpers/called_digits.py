"""Digits called on every beat, as the program mixes them, and where each word of the mix lies."""

import random
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from listener import MARGIN_SECONDS

from throwcount.engine.numbers import SMALL
from throwcount.engine.timing.timeline import Beat, Click, Timeline
from throwcount.sounds.mixing.score import Balance, mix
from throwcount.sounds.mixing.words import delivered, score_events
from throwcount.sounds.voices.voice import Voice

DIGITS = SMALL[:10]
LEAD_IN = 0.5
RUN_OUT = 1.0
CYCLE = 5

Signal = npt.NDArray[np.float32]


@dataclass(frozen=True)
class Called:
    """One call in a mix.

    Parameters
    ----------
    digit
        What was called.
    beat
        The frame of its beat, not rounded.
    start, end
        The frames between which its word sounds.
    """

    digit: str
    beat: float
    start: int
    end: int

    def cut(self, mixed: Signal, margin: int = 0) -> Signal:
        """Return this call's part of the mix, `margin` frames wider on either side."""
        return mixed[self.start - margin : self.end + margin]

    def cut_for_listener(self, mixed: Signal, rate: int) -> Signal:
        """Return what a listener is handed: the word, the clicks in it, a little before and after.

        The little is small enough to leave the words before and after out, even where they follow
        each other closely.
        """
        return self.cut(mixed, round(MARGIN_SECONDS * rate))


def shuffled_digits(each: int, seed: int) -> list[str]:
    """Return every digit `each` times, in a random order."""
    calls = [*DIGITS] * each
    random.Random(seed).shuffle(calls)
    return calls


def digits_on_beats(tempo: float, calls: list[str]) -> Timeline:
    """Return a timeline that calls a digit on every beat, and clicks as for that throw."""
    beats = [
        Beat(
            beat=number,
            time=LEAD_IN + number * 60 / tempo,
            tempo=tempo,
            part="digits",
            cycle=number // CYCLE,
            cycle_beat=number % CYCLE,
            click=Click(
                "throw",
                "left" if number % 2 else "right",
                accent=number % CYCLE == 0,
                value=DIGITS.index(digit),
            ),
            call=digit,
            call_time=LEAD_IN + number * 60 / tempo,
        )
        for number, digit in enumerate(calls)
    ]
    return Timeline(lambda: iter(beats), seconds=beats[-1].time + RUN_OUT, words=frozenset(DIGITS))


def mixed(timeline: Timeline, voice: Voice, balance: Balance | None = None) -> Signal:
    """Return a whole timeline as sound."""
    assert timeline.seconds is not None
    return mix(timeline, voice, voice.rate, balance).read(round(timeline.seconds * voice.rate))


def called(timeline: Timeline, voice: Voice) -> Iterator[Called]:
    """Yield every call of a timeline with its place in the mix."""
    for moment in delivered(score_events(timeline), voice):
        assert moment.text is not None
        assert moment.word is not None
        word = moment.word
        yield Called(moment.text, moment.time * voice.rate, word.start, word.end)
