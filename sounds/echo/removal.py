"""A take without the call, block by block.

The call taken out of what a microphone hears while it is played.

As `removal` does with a whole take, a filter learns what speakers, room and microphone make of the
call. Here it learns from what is heard before the first throw, the announcement and the count-in,
and goes on learning. Where the call falls is known but for the delay of the devices, which is part
of what the filter learns.

The call as a deck plays it, at the rate at which takes are listened to.
"""

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Final

import numpy as np
import soxr

from throwcount.sounds.echo.canceller import BLOCK, LEAD, CallFilter, FilterBlock
from throwcount.sounds.echo.clocks import Clocks, TakeClock
from throwcount.sounds.echo.played_call import Playback, PlayedCall
from throwcount.sounds.files.decoders import regrouped
from throwcount.sounds.output.deck import Replay, Sent
from throwcount.sounds.samples import CHANNELS, RATE, Mono, Samples

FIRST_BLOCKS: Final = round(30 * RATE / BLOCK)
"""Blocks of the call's beginning from which is learnt before any of them is handed out."""


def removed(blocks: Iterable[Mono], call: PlayedCall, clocks: Clocks) -> Iterator[Mono]:
    """Yield a take without the call, in blocks of `BLOCK` frames; the last may be shorter.

    `blocks` are the take from its beginning, in blocks of any length. `clocks` say where the call
    is on the take.
    """
    known: CallFilter | None = None
    first: list[FilterBlock] = []
    frames = 0
    for block, length in _cut(blocks, call, clocks):
        frames += length
        if known is not None:
            known.learn(block)
            yield (block.heard - known.expected(block))[:length]
        elif not first and not block.played.any():
            yield block.heard[:length]
        else:
            first.append(block)
            if len(first) == FIRST_BLOCKS:
                known = CallFilter(first)
                yield from _without(first, known, frames)
    if known is None and first:
        yield from _without(first, CallFilter(first), frames)


def _without(cut: list[FilterBlock], known: CallFilter, frames: int) -> Iterator[Mono]:
    """Yield blocks without the call, of a take that has so many frames up to there."""
    for block in cut:
        length = frames - block.index * BLOCK
        yield (block.heard - known.expected(block))[:length]


def _cut(
    blocks: Iterable[Mono], call: PlayedCall, clocks: Clocks
) -> Iterator[tuple[FilterBlock, int]]:
    """Yield the blocks of a take, the last filled up with silence, and their frames."""
    playback = Playback(call, clocks.delay - LEAD / RATE, clocks.drift)
    before = np.zeros((BLOCK, CHANNELS), dtype=np.float32)
    for index, block in enumerate(regrouped(blocks, BLOCK)):
        played = playback.read(BLOCK)
        heard = np.pad(block, (0, BLOCK - len(block)))
        yield FilterBlock(index, heard, np.concatenate((before, played))), len(block)
        before = played


KEPT: Final = 30 * RATE
"""Frames of the call that can still be asked for."""


class DeckCall:
    """Follows a deck by what it is sent and by what it says is heard of it.

    `rate` is the deck's sample rate in Hz.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._replay = Replay(rate)
        self._resampler = soxr.ResampleStream(rate, RATE, CHANNELS, dtype="float32")
        self._clock = TakeClock(rate)
        self._known = False
        self._first = 0
        self._samples = np.zeros((0, CHANNELS), dtype=np.float32)

    @property
    def is_placed(self) -> bool:
        """Whether it is known when it is heard."""
        return self._known

    def note(self, sent: Sent) -> None:
        """Take note of a command to the deck."""
        self._replay.note(sent)

    def hear(self, seconds: float, moment: float) -> None:
        """Take note that so much of the deck's clock is heard at a moment of the computer's."""
        self._clock.note(round(seconds * self._rate), moment)
        self._known = True

    def frame_at(self, moment: float) -> int:
        """Return the frame, at `RATE` and on the deck's clock, that is heard at a moment."""
        return round((moment - self._clock.moment(0.0)) * RATE)

    def read(self, start: int, count: int) -> Samples:
        """Return frames of the call, silence where it had not begun or is no longer known.

        The result is float32, shape (`count`, 2).
        """
        self._play_until(start + count)
        skipped = min(max(self._first - start, 0), count)
        first = max(start - self._first, 0)
        silence = np.zeros((skipped, CHANNELS), dtype=np.float32)
        return np.concatenate((silence, self._samples[first : first + count - skipped]))

    def _play_until(self, frame: int) -> None:
        parts = [self._samples]
        end = self._first + len(self._samples)
        while end < frame:
            played = self._replay.read(self._rate // 10)
            parts.append(self._resampler.resample_chunk(played))
            end += len(parts[-1])
        samples = np.concatenate(parts)
        self._first += max(len(samples) - KEPT, 0)
        self._samples = samples[-KEPT:]


EARLY: Final = round(0.06 * RATE)
"""Frames by which the call is held to be early, since devices tell their delays only about. What
is left of a filter's third of a second is for delays that are not told, and for the room."""

AWAY: Final = round(0.008 * RATE)
"""Frames by which the clocks may have come apart before the call is placed anew: a filter follows
a slip of 10 ms."""

FIRST_LIVE_BLOCKS: Final = 10
"""Blocks, of 0.34 s, with the call on them from which a filter is made."""

DRIFTS: Final = (0.0, 60.0, -60.0, 120.0, -120.0, 180.0, -180.0)
"""Parts in a million by which the microphone's clock may run faster; so near to one of them that
a filter finds it. One device for both has none."""

CLEARLY: Final = 0.9
"""Drifts are told apart where so small a share of what is left otherwise is left."""

MORE: Final = 1.5
ENOUGH: Final = 64
"""It is made again from so many times as many, until there are enough; then it follows."""


class LiveRemoval:
    """Takes the call out of blocks as they come.

    `call` is what is played, as far as it is known by then. `moment` returns the moment, on the
    computer's clock, of a time of the take in seconds.
    """

    def __init__(self, call: DeckCall, moment: Callable[[float], float]) -> None:
        self._call = call
        self._moment = moment
        self._waiting = np.zeros(0, dtype=np.float32)
        self._index = 0
        self._start: int | None = None
        self._learnt: deque[FilterBlock] = deque(maxlen=ENOUGH)
        self._filter: CallFilter | None = None
        self._made_of = 0

    def push(self, samples: Mono) -> Mono:
        """Return what has been heard, the call taken out, as far as blocks are whole."""
        self._waiting = np.concatenate((self._waiting, samples))
        done = [np.zeros(0, dtype=np.float32)]
        while len(self._waiting) >= BLOCK:
            done.append(self._without(self._waiting[:BLOCK]))
            self._waiting = self._waiting[BLOCK:]
        return np.concatenate(done)

    def finish(self) -> Mono:
        """Return the rest."""
        rest = len(self._waiting)
        return self.push(np.zeros(-rest % BLOCK, dtype=np.float32))[:rest]

    def _without(self, heard: Mono) -> Mono:
        block = self._block(heard)
        self._index += 1
        if block is None or not block.played.any():
            return heard
        self._learn(block)
        return heard if self._filter is None else heard - self._filter.expected(block)

    def follow(self, call: DeckCall) -> None:
        """Go over to another deck, of which nothing is known yet."""
        self._call, self._start = call, None
        self._learnt.clear()
        self._filter, self._made_of = None, 0

    def _block(self, heard: Mono) -> FilterBlock | None:
        """Return a block with what was played at the time; None while that is not known."""
        if not self._call.is_placed:
            return None
        now = self._call.frame_at(self._moment(self._index * BLOCK / RATE)) + EARLY
        start = now - self._index * BLOCK
        if self._start is None:
            self._start = start
        elif abs(start - self._start) > AWAY:
            self._move(start)
        return self._cut(self._index, heard, self._start)

    def _cut(self, index: int, heard: Mono, start: int) -> FilterBlock:
        played = self._call.read(start + (index - 1) * BLOCK, 2 * BLOCK)
        return FilterBlock(index, heard, played)

    def _move(self, start: int) -> None:
        """Place the call anew, and learn anew from what is still known."""
        self._start = start
        kept = [self._cut(block.index, block.heard, start) for block in self._learnt]
        self._learnt = deque(kept, ENOUGH)
        if self._filter is not None:
            self._filter = _made(kept, self._filter.clocks.drift)

    def _learn(self, block: FilterBlock) -> None:
        known = len(self._learnt)
        self._learnt.append(block)
        if known < ENOUGH and known + 1 >= max(FIRST_LIVE_BLOCKS, MORE * self._made_of):
            self._filter, self._made_of = self._made_anew(), known + 1
        elif self._filter is not None:
            self._filter.learn(block)

    def _made_anew(self) -> CallFilter:
        """Make a filter of all that is known; at first, for the drift that leaves least."""
        learnt = list(self._learnt)
        if self._filter is not None:
            return _made(learnt, self._filter.clocks.drift)
        first, *others = DRIFTS
        best = _made(learnt, first)
        least = _left(learnt, best)
        for drift in others:
            made = _made(learnt, drift)
            left = _left(learnt, made)
            if left < CLEARLY * least:
                best, least = made, left
        return best


def _left(blocks: Sequence[FilterBlock], made: CallFilter) -> float:
    """Return the power that a filter leaves of blocks."""
    return sum(float(np.sum((each.heard - made.expected(each)) ** 2)) for each in blocks)


def _made(blocks: Sequence[FilterBlock], drift: float) -> CallFilter:
    """Return a filter that begins with a drift, so that the last block is where it is cut."""
    return CallFilter(blocks, Clocks(-drift * 1e-6 * blocks[-1].time, drift))
