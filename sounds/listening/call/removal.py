"""A take without the call, block by block."""

from collections.abc import Iterable, Iterator
from typing import Final

import numpy as np

from sounds.listening.call.call_filter import BLOCK, LEAD, CallFilter, FilterBlock
from sounds.listening.call.clocks import Clocks
from sounds.listening.call.played_call import Playback, PlayedCall
from sounds.listening.rate import RATE, Mono
from sounds.listening.recordings.take import regrouped
from sounds.placing.mixer import CHANNELS

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
