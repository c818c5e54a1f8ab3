"""A deck plays passages on a clock of its own, and takes commands while it plays.

Its clock is the frames it has handed out, silence included, and never stops. A passage that is
left alone is, sample for sample, what is written to a file: it comes from the same score, and its
sounds are added in the same order.
"""

from collections import deque
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Final

import numpy as np

from engine.timing.timeline import Cue, Timeline
from sounds.placing.mixer import CHANNELS
from sounds.placing.moments import frame_at
from sounds.placing.score import score
from sounds.playing.lane import Lane
from sounds.playing.passage import (
    Command,
    Continue,
    End,
    Learn,
    Passage,
    Play,
    Say,
    Silence,
    SpeakUp,
)
from sounds.voices.clip import Samples
from sounds.voices.clip_bank import ClipBank

FADE: Final = 0.005
"""Seconds of fading where something is silenced."""

SAME_MOMENT: Final = 0.005
"""Seconds within which two moments are one: no beats are so close."""

SEAM: Final = 5.0
"""Seconds from the beginning that are worked out at once. In them the first word after a seam is
looked for, too: words are not longer."""


class Deck:
    """Plays passages; a source of samples that never ends.

    Parameters
    ----------
    bank
        Who speaks; its rate is the deck's.
    last_silence
        Seconds of silence after the end before all is over, for a device to play what it holds.
    """

    def __init__(self, bank: ClipBank, last_silence: float = 0.0) -> None:
        self.position = 0
        self._bank = bank
        self._lanes: list[Lane] = []
        self._due: deque[Callable[[], None]] = deque()
        self._speaking = True
        self._last_silence = last_silence
        self._last_frame: int | None = None

    @property
    def over(self) -> bool:
        """Whether it has ended, its last silence included."""
        return self._last_frame is not None and self.position >= self._last_frame

    def obey(self, command: Command) -> None:
        """Prepare a command, here and now; it takes effect with the next frames that are read.

        May be called from another thread than `read`, so that reading is not kept waiting.

        Raises
        ------
        EngineError
            If a run cannot be scheduled.
        """
        match command:
            case Play(passage):
                self._due.append(partial(self._add, self._lane(passage, None)))
            case Continue(passage, pivot):
                self._due.append(self._change_to(passage, pivot))
            case Say(text, start):
                row = score(_spoken(text), self._bank, self._bank.rate, command.balance)
                self._due.append(partial(self._add, Lane(row, self._frame(start))))
            case Silence():
                self._due.append(self._fall_silent)
            case SpeakUp(on):
                self._due.append(partial(self._speak, on))
            case Learn(clips):
                self._bank.learn(clips)
            case End():
                self._due.append(self._end)

    def read(self, count: int) -> Samples:
        """Return the next `count` frames: silence where nothing is played.

        Returns
        -------
        Samples
            Float32, shape (`count`, 2).
        """
        while self._due:
            self._due.popleft()()
        block = np.zeros((count, CHANNELS), dtype=np.float32)
        for lane in self._lanes:
            lane.add_to(block, self.position, speaking=self._speaking)
        self.position += count
        if self._lanes:
            self._lanes = [lane for lane in self._lanes if not lane.over(self.position)]
        return block

    def look_ahead(self, seconds: float) -> None:
        """Work out what is played in the next seconds; may be called from another thread."""
        for lane in tuple(self._lanes):
            lane.look_ahead(self.position + self._frame(seconds))

    def _frame(self, seconds: float) -> int:
        return frame_at(seconds, self._bank.rate)

    def _lane(self, passage: Passage, pivot: int | None) -> Lane:
        timeline = passage.in_context(self._bank, pivot)
        begins = passage.start if pivot is None else passage.time_at(pivot)
        seam = None if pivot is None else begins - passage.start - SAME_MOMENT
        track = passage.track
        if track is not None and seam is not None:
            track = replace(track, since=seam)
        row = score(timeline, self._bank, self._bank.rate, passage.balance, track)
        frames = None if timeline.seconds is None else self._frame(timeline.seconds)
        since = None if seam is None else self._frame(seam)
        lane = Lane(row, self._frame(passage.start), frames, since)
        lane.look_ahead(self._frame(begins + SEAM))
        return lane

    def _change_to(self, passage: Passage, pivot: int) -> Callable[[], None]:
        lane = self._lane(passage, pivot)
        moment = passage.time_at(pivot)
        return partial(self._change, lane, self._frame(moment - SAME_MOMENT), lane.first_word())

    def _change(self, lane: Lane, moment: int, word: int | None) -> None:
        for other in self._lanes:
            other.give_way(moment, word, self.position, self._frame(FADE))
        self._add(lane)

    def _add(self, lane: Lane) -> None:
        self._lanes = [*self._lanes, lane]

    def _fall_silent(self) -> None:
        for lane in self._lanes:
            lane.fade_out(self.position, self._frame(FADE))

    def _speak(self, on: bool) -> None:
        self._speaking = on
        if not on:
            for lane in self._lanes:
                lane.hush(self.position, self._frame(FADE))

    def _end(self) -> None:
        self._fall_silent()
        if self._last_frame is None:
            self._last_frame = self.position + self._frame(FADE + self._last_silence)


def _spoken(text: str) -> Timeline:
    return Timeline(beats=lambda: iter(()), cues=(Cue(0.0, text),))
