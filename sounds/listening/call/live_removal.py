"""The call taken out of what a microphone hears while it is played.

As `removal` does with a whole take, a filter learns what speakers, room and microphone make of the
call. Here it learns from what is heard before the first throw, the announcement and the count-in,
and goes on learning. Where the call falls is known but for the delay of the devices, which is part
of what the filter learns.
"""

from collections import deque
from collections.abc import Callable, Sequence
from typing import Final

import numpy as np

from sounds.listening.call.call_filter import BLOCK, CallFilter, FilterBlock
from sounds.listening.call.clocks import Clocks
from sounds.listening.call.deck_call import DeckCall
from sounds.listening.rate import RATE, Mono

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
