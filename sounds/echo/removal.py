"""The call taken out of a take, from a file or live, block by block.

An adaptive filter (`canceller`) learns what speakers, room and microphone make of the call, and its
output is subtracted: acoustic echo cancellation. For a file it learns first from half a minute of
the call. Live, it learns from what is heard before the first throw, the announcement and the
count-in, and keeps learning; where the call falls is known but for the delay of the devices, which
the filter learns as well.
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
"""Blocks from the beginning of the call that are learnt from before any is yielded."""


BATCH: Final = 8
"""Blocks after which the filters are improved. In 3 s little changes, and a step costs as much as
several blocks do otherwise."""


def without_call(blocks: Iterable[Mono], call: PlayedCall, clocks: Clocks) -> Iterator[Mono]:
    """Yield a take without the call, in blocks of `BLOCK` frames; the last may be shorter.

    `blocks` are the take from its beginning at `RATE`, of any length. `clocks` say where the call
    is on the take. What comes before the call is yielded at once. The first half a minute of the
    call is read before any of it is yielded, later blocks within a second.
    """
    known: CallFilter | None = None
    first: list[FilterBlock] = []
    frames = 0
    for block, length in _cut(blocks, call, clocks):
        frames += length
        if known is not None:
            yield (block.heard - known.learn(block))[:length]
        elif not first and not block.played.any():
            yield block.heard[:length]
        else:
            first.append(block)
            if len(first) == FIRST_BLOCKS:
                known = CallFilter(first, batch=BATCH)
                yield from _without(first, known, frames)
    if known is None and first:
        yield from _without(first, CallFilter(first), frames)


def _without(cut: list[FilterBlock], known: CallFilter, frames: int) -> Iterator[Mono]:
    """Yield blocks without the call; the take has `frames` frames up to their end."""
    for block in cut:
        length = frames - block.index * BLOCK
        yield (block.heard - known.expected(block))[:length]


def _cut(
    blocks: Iterable[Mono], call: PlayedCall, clocks: Clocks
) -> Iterator[tuple[FilterBlock, int]]:
    """Yield the blocks of a take, the last filled up with silence, and their lengths in frames."""
    playback = Playback(call, clocks.delay - LEAD / RATE, clocks.drift)
    before = np.zeros((BLOCK, CHANNELS), dtype=np.float32)
    for index, block in enumerate(regrouped(blocks, BLOCK)):
        played = playback.read(BLOCK)
        heard = np.pad(block, (0, BLOCK - len(block)))
        yield FilterBlock.cut(index, heard, np.concatenate((before, played))), len(block)
        before = played


KEPT: Final = 30 * RATE
"""Frames of the call that are kept for `DeckCall.read`."""


class DeckCall:
    """The call as a deck plays it, at `RATE`, followed by its commands and by what is heard of it.

    `rate` is the deck's sample rate in Hz.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._replay = Replay(rate)
        self._resampler = soxr.ResampleStream(rate, RATE, CHANNELS, dtype="float32")
        self._clock = TakeClock(rate)
        self.is_placed = False
        """Whether it is known when it is heard."""
        self._first = 0
        self._samples = np.zeros((0, CHANNELS), dtype=np.float32)

    def note(self, sent: Sent) -> None:
        """Note a command to the deck."""
        self._replay.note(sent)

    def hear(self, seconds: float, moment: float) -> None:
        """Note that a time of the deck's clock is heard at a moment of the computer's."""
        self._clock.note(round(seconds * self._rate), moment)
        self.is_placed = True

    def frame_at(self, moment: float) -> int:
        """Return the frame, at `RATE` on the deck's clock, that is heard at a moment."""
        return round((moment - self._clock.moment(0.0)) * RATE)

    def read(self, start: int, count: int) -> Samples:
        """Return frames of the call, shape (`count`, 2); silence before it and if forgotten."""
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
"""Frames by which the call is given to the filter early, since devices report their delays only
roughly. The rest of a filter's third of a second is for delays that are not reported and
for the room."""

AWAY: Final = round(0.008 * RATE)
"""Frames by which the clocks may drift apart before the call is placed again; a filter follows up
to 10 ms."""

FIRST_LIVE_BLOCKS: Final = 10
"""Blocks, of 0.34 s each, with the call on them that the first filter is made from."""

DRIFTS: Final = (0.0, 60.0, -60.0, 120.0, -120.0, 180.0, -180.0)
"""Drifts that are tried, in parts in a million by which the microphone's clock runs faster; a
filter finds the exact one nearby. A single device for both has none."""

CLEARLY: Final = 0.9
"""Another drift is better if it leaves less than this share of the power."""

MORE: Final = 1.5
ENOUGH: Final = 64
"""The filter is made again each time there are `MORE` times as many blocks, up to `ENOUGH`; from
then on it only adapts."""


class LiveRemoval:
    """Takes the call out of blocks as they are heard.

    `call` is what is played, as far as it is known. `moment` returns the moment, on the computer's
    clock, of a time of the take in seconds.
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
        """Return what was heard without the call, as far as blocks are complete."""
        self._waiting = np.concatenate((self._waiting, samples))
        done = [np.zeros(0, dtype=np.float32)]
        while len(self._waiting) >= BLOCK:
            done.append(self._without(self._waiting[:BLOCK]))
            self._waiting = self._waiting[BLOCK:]
        return np.concatenate(done)

    def finish(self) -> Mono:
        """Return the rest without the call."""
        rest = len(self._waiting)
        return self.push(np.zeros(-rest % BLOCK, dtype=np.float32))[:rest]

    def _without(self, heard: Mono) -> Mono:
        block = self._block(heard)
        self._index += 1
        if block is None or not block.played.any():
            return heard
        return heard - self._learn(block)

    def follow(self, call: DeckCall) -> None:
        """Switch to another deck, of which nothing is known yet."""
        self._call, self._start = call, None
        self._learnt.clear()
        self._filter, self._made_of = None, 0

    def _block(self, heard: Mono) -> FilterBlock | None:
        """Return a block with what was played during it; None while that is unknown."""
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
        return FilterBlock.cut(index, heard, played)

    def _move(self, start: int) -> None:
        """Place the call again, and learn again from the blocks that are kept."""
        self._start = start
        kept = [self._cut(block.index, block.heard, start) for block in self._learnt]
        self._learnt = deque(kept, ENOUGH)
        if self._filter is not None:
            self._filter = _made(kept, self._filter.clocks.drift)

    def _learn(self, block: FilterBlock) -> Mono:
        """Return the call in a block, as far as it is known by now, and learn from it."""
        known = len(self._learnt)
        self._learnt.append(block)
        if known < ENOUGH and known + 1 >= max(FIRST_LIVE_BLOCKS, MORE * self._made_of):
            self._filter, self._made_of = self._remade(), known + 1
        elif self._filter is not None:
            self._filter.learn(block)
        return np.zeros_like(block.heard) if self._filter is None else self._filter.expected(block)

    def _remade(self) -> CallFilter:
        """Return a filter made from all kept blocks, at first for the drift that leaves least."""
        learnt = list(self._learnt)
        if self._filter is not None:
            return _made(learnt, self._filter.clocks.drift)
        first, *others = DRIFTS
        best = _made(learnt, first)
        least = _residual_power(learnt, best)
        for drift in others:
            made = _made(learnt, drift)
            left = _residual_power(learnt, made)
            if left < CLEARLY * least:
                best, least = made, left
        return best


def _residual_power(blocks: Sequence[FilterBlock], made: CallFilter) -> float:
    """Return the power that a filter leaves of blocks."""
    return sum(float(np.sum((each.heard - made.expected(each)) ** 2)) for each in blocks)


def _made(blocks: Sequence[FilterBlock], drift: float) -> CallFilter:
    """Return a filter that starts from a drift, with no delay at the last block."""
    return CallFilter(blocks, Clocks(-drift * 1e-6 * blocks[-1].time, drift))
