"""A deck plays scheduled runs on a clock of its own, and obeys commands while it plays.

Its clock is the frames it has handed out, silence included, and never stops. A run that is left
alone is, sample for sample, what is written to a file: it comes from the same score, and its
sounds are added in the same order.

Each run on its way through a deck is a mix layer: what sounds of it, and what is still to come.

A replay plays once more what a deck has played, for those who have to know what was heard. It
obeys each command on the frame on which it was sent, which is where the other deck obeyed it to
within a few hundredths of a second; what begins, goes on or is said at a moment of its own falls
on the very frame.
"""

import math
import threading
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from typing import Final, NamedTuple

import numpy as np

from throwcount.engine.timing.timeline import Cue, Timeline
from throwcount.sounds.mixing.mixer import Placement, Sounding, linear
from throwcount.sounds.mixing.replies import reply_clip
from throwcount.sounds.mixing.score import score
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
from throwcount.sounds.samples import CHANNELS, Samples, frame_at
from throwcount.sounds.voices.stand_ins import ClipBank


class MixLayer:
    """The sounds of a run at their frames on a deck's clock.

    Parameters
    ----------
    placements
        The sounds in order of start, in frames from the beginning of the run. They are taken as
        they are needed, or somewhat ahead, see `look_ahead`.
    offset
        The frame of the deck's clock on which the run begins.
    frames
        Length of the run; None to end with its last sound.
    since
        The frame of the run before whose moments nothing is heard; None to hear all.
    """

    def __init__(
        self,
        placements: Iterator[Placement],
        offset: int,
        frames: int | None = None,
        since: int | None = None,
    ) -> None:
        self._placements = placements
        self._offset = offset
        self._frames = frames
        self._since = since
        self._coming: deque[Placement] = deque()
        self._known = -math.inf
        self._lock = threading.Lock()
        self._dropped = False
        self._until: float = math.inf
        self._words_stop: float = math.inf
        self._sounding: list[Sounding] = []

    def begin_at(self, frame: int) -> None:
        """Let the run begin on a frame of the deck's clock; only before any of it is heard."""
        self._offset = frame

    def look_ahead(self, frame: int) -> None:
        """Work out everything that starts before a frame of the deck's clock.

        A long pattern takes a while to work out; a thread of its own does it in good time.
        """
        while self._known < frame - self._offset and not self._dropped:
            with self._lock:
                self._know_one_more()

    def first_word(self) -> int | None:
        """Return where the first word of those worked out starts, on the deck's clock."""
        starts = (each.start + self._offset for each in self._coming if each.spoken)
        return next(starts, None)

    def over(self, position: int) -> bool:
        """Tell whether nothing of the layer is left from a frame of the deck's clock on."""
        if self._frames is not None and position - self._offset >= self._frames:
            return True
        nothing_comes = self._known == math.inf and not self._coming
        return not self._sounding and (self._dropped or nothing_comes)

    def add_to(self, block: Samples, position: int, *, speaking: bool) -> None:
        """Add what sounds in `block`, which begins at `position` of the deck's clock.

        A sound that should have started before `position` and has not is left out: sounds are
        heard from their start or not at all.
        """
        position -= self._offset
        if self._frames is not None:
            block = block[: max(self._frames - position, 0)]
        self._start_sounds(position, position + len(block), speaking=speaking)
        for sounding in self._sounding:
            sounding.add_to(block, position)
        self._sounding = [each for each in self._sounding if each.end > position + len(block)]

    def fade_out(self, position: int, frames: int) -> None:
        """Fade over `frames` frames from `position` on, and drop what is coming."""
        for sounding in self._sounding:
            sounding.cut(position - self._offset, frames)
        self._dropped = True

    def hush(self, position: int, frames: int) -> None:
        """Fade the words that sound, over `frames` frames from `position` on."""
        for sounding in self._sounding:
            if sounding.placement.spoken:
                sounding.cut(position - self._offset, frames)

    def give_way(self, moment: int, word: int | None, position: int, fade: int) -> None:
        """Leave what belongs to `moment` or later to another layer, from `position` on.

        `moment` and `position` are frames of the deck's clock. `word` is the frame on which the
        first word of the other layer starts; the words of this one have faded by then. `fade` is
        the length of any other fade, in frames.
        """
        self._until = min(self._until, moment - self._offset)
        if word is not None:
            self._words_stop = min(self._words_stop, word - self._offset)
        for sounding in self._sounding:
            if sounding.placement.belongs >= self._until:
                sounding.cut(position - self._offset, fade)
            else:
                self._make_room(sounding, position - self._offset)

    def _make_room(self, sounding: Sounding, position: int) -> None:
        """Let a word fade before the first word of the layer that takes over."""
        stop, placement = self._words_stop, sounding.placement
        if placement.spoken and sounding.end > stop:
            sounding.cut(max(int(stop) - placement.fade, position), placement.fade)

    def _start_sounds(self, position: int, before: int, *, speaking: bool) -> None:
        while not self._dropped:
            if self._coming and self._coming[0].start < before:
                placement = self._coming.popleft()
                if placement.start >= position and self._is_heard(placement, speaking=speaking):
                    sounding = Sounding(placement if speaking else placement.by_itself())
                    self._make_room(sounding, position)
                    self._sounding.append(sounding)
            elif self._known < before:
                with self._lock:
                    self._know_one_more()
            else:
                return

    def _know_one_more(self) -> None:
        following = next(self._placements, None)
        if following is not None and (self._since is None or following.belongs >= self._since):
            self._coming.append(following)
        # This comes last, as another thread takes all that is known to be there.
        self._known = math.inf if following is None else following.start

    def _is_heard(self, placement: Placement, *, speaking: bool) -> bool:
        if placement.spoken and not (speaking and placement.start < self._words_stop):
            return False
        return placement.belongs < self._until


FIRST_SILENCE: Final = 0.1
"""Seconds of silence before the first run: sound servers may lose what a device begins with."""

FADE: Final = 0.005
"""Seconds of fading where something is silenced."""

SAME_MOMENT: Final = 0.005
"""Seconds within which two moments are the same: no two beats are so close."""

SEAM: Final = 5.0
"""Seconds from the beginning that are worked out at once. The first word after a change of run is
looked for in them: no word is longer."""


class Deck:
    """Plays scheduled runs; a source of samples that never ends.

    `bank` holds the words; its rate is the deck's. `last_silence` is how long the deck hands out
    silence after its end, in seconds, so that a device plays what it still holds.

    Attributes
    ----------
    position
        Frames handed out.
    begun
        The frame on which the last run began that was to begin as soon as it could; None if
        none was.
    """

    def __init__(self, bank: ClipBank, last_silence: float = 0.0) -> None:
        self.position = 0
        self.begun: int | None = None
        self._bank = bank
        self._layers: list[MixLayer] = []
        self._due: deque[Callable[[], None]] = deque()
        self._speaking = True
        self._last_silence = last_silence
        self._last_frame: int | None = None

    @property
    def over(self) -> bool:
        """Whether the deck has ended, its last silence included."""
        return self._last_frame is not None and self.position >= self._last_frame

    def obey(self, command: Command) -> None:
        """Prepare a command at once; it takes effect with the next frames that are read.

        This may be called from another thread than `read`, which is then not kept waiting.

        Raises
        ------
        EngineError
            If a run cannot be scheduled.
        """
        match command:
            case Play(scheduled):
                self._due.append(partial(self._add, self._layer(scheduled, None)))
            case Begin(scheduled):
                self._due.append(partial(self._begin, self._layer(scheduled, None)))
            case Continue(scheduled, pivot):
                self._due.append(self._change_to(scheduled, pivot))
            case Say(text, start):
                row = score(_spoken(text), self._bank, self._bank.rate, command.balance)
                self._due.append(partial(self._add, MixLayer(row, self._frame(start))))
            case Reply(kind, level):
                clip = reply_clip(kind, self._bank.rate)
                self._due.append(partial(self._reply, Placement(0, clip.samples, linear(level))))
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
        """Work out the next `seconds` of sound; this may be called from another thread."""
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

    def _begin(self, layer: MixLayer) -> None:
        self.begun = max(self.position, self._frame(FIRST_SILENCE))
        layer.begin_at(self.begun)
        self._add(layer)

    def _add(self, layer: MixLayer) -> None:
        self._layers = [*self._layers, layer]

    def _reply(self, tones: Placement) -> None:
        self._add(MixLayer(iter([tones]), self.position))

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


class Sent(NamedTuple):
    """A command that was sent to a deck."""

    seconds: float
    """When it was sent, on the deck's clock."""
    command: Command
    """What was sent."""


class Replay:
    """Obeys commands again, on a clock of its own; satisfies `throwcount.sounds.samples.Source`.

    `rate` is the deck's sample rate in Hz. The replay ends after `seconds`.
    """

    def __init__(self, rate: int, seconds: float = math.inf) -> None:
        self._deck = Deck(ClipBank(rate))
        self._rate = rate
        self._due: deque[Sent] = deque()
        self._end = math.inf if math.isinf(seconds) else frame_at(seconds, rate)

    def note(self, sent: Sent) -> None:
        """Take the next command; one that comes late is obeyed at once."""
        self._due.append(sent)

    def read(self, count: int) -> Samples:
        """Return the next `count` frames, or what is left: float32, shape (frames, 2)."""
        end = min(self._deck.position + count, self._end)
        parts = [np.zeros((0, CHANNELS), dtype=np.float32)]
        while self._deck.position < end:
            parts.append(self._deck.read(int(self._obey(end)) - self._deck.position))
        return np.concatenate(parts)

    def _obey(self, end: float) -> float:
        """Obey what is due, and return the frame of the next command, at most `end`."""
        while self._due:
            frame = frame_at(self._due[0].seconds, self._rate)
            if frame > self._deck.position:
                return min(frame, end)
            self._deck.obey(self._due.popleft().command)
        return end
