"""A deck plays scheduled runs on a clock of its own, and takes commands while it plays.

Its clock is the frames it has handed out, silence included, and never stops. A run that is
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
from sounds.playing.lane import MixLayer
from sounds.playing.passage import (
    Command,
    Continue,
    End,
    Learn,
    Play,
    Say,
    ScheduledRun,
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
    """Plays scheduled runs; a source of samples that never ends.

    `bank` is who speaks; its rate is the deck's. `last_silence` is the silence after the end before
    all is over, in seconds, for a device to play what it holds.
    """

    def __init__(self, bank: ClipBank, last_silence: float = 0.0) -> None:
        self.position = 0
        self._bank = bank
        self._layers: list[MixLayer] = []
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
            case Play(scheduled):
                self._due.append(partial(self._add, self._layer(scheduled, None)))
            case Continue(scheduled, pivot):
                self._due.append(self._change_to(scheduled, pivot))
            case Say(text, start):
                row = score(_spoken(text), self._bank, self._bank.rate, command.balance)
                self._due.append(partial(self._add, MixLayer(row, self._frame(start))))
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

        The result is float32, shape (`count`, 2).
        """
        while self._due:
            self._due.popleft()()
        block = np.zeros((count, CHANNELS), dtype=np.float32)
        for layer in self._layers:
            layer.add_to(block, self.position, speaking=self._speaking)
        self.position += count
        if self._layers:
            self._layers = [layer for layer in self._layers if not layer.over(self.position)]
        return block

    def look_ahead(self, seconds: float) -> None:
        """Work out what is played in the next seconds; may be called from another thread."""
        for layer in tuple(self._layers):
            layer.look_ahead(self.position + self._frame(seconds))

    def _frame(self, seconds: float) -> int:
        return frame_at(seconds, self._bank.rate)

    def _layer(self, scheduled: ScheduledRun, pivot: int | None) -> MixLayer:
        timeline = scheduled.in_context(self._bank, pivot)
        begins = scheduled.start if pivot is None else scheduled.time_at(pivot)
        seam = None if pivot is None else begins - scheduled.start - SAME_MOMENT
        track = scheduled.track
        if track is not None and seam is not None:
            track = replace(track, since=seam)
        row = score(timeline, self._bank, self._bank.rate, scheduled.balance, track)
        frames = None if timeline.seconds is None else self._frame(timeline.seconds)
        since = None if seam is None else self._frame(seam)
        layer = MixLayer(row, self._frame(scheduled.start), frames, since)
        layer.look_ahead(self._frame(begins + SEAM))
        return layer

    def _change_to(self, scheduled: ScheduledRun, pivot: int) -> Callable[[], None]:
        layer = self._layer(scheduled, pivot)
        moment = scheduled.time_at(pivot)
        return partial(self._change, layer, self._frame(moment - SAME_MOMENT), layer.first_word())

    def _change(self, layer: MixLayer, moment: int, word: int | None) -> None:
        for other in self._layers:
            other.give_way(moment, word, self.position, self._frame(FADE))
        self._add(layer)

    def _add(self, layer: MixLayer) -> None:
        self._layers = [*self._layers, layer]

    def _fall_silent(self) -> None:
        for layer in self._layers:
            layer.fade_out(self.position, self._frame(FADE))

    def _speak(self, on: bool) -> None:
        self._speaking = on
        if not on:
            for layer in self._layers:
                layer.hush(self.position, self._frame(FADE))

    def _end(self) -> None:
        self._fall_silent()
        if self._last_frame is None:
            self._last_frame = self.position + self._frame(FADE + self._last_silence)


def _spoken(text: str) -> Timeline:
    return Timeline(beats=lambda: iter(()), cues=(Cue(0.0, text),))
