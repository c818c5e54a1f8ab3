"""A take without the call, passage by passage."""

from collections.abc import Iterable, Iterator
from typing import Final

import numpy as np

from sounds.listening.call.call_filter import BLOCK, LEAD, CallFilter, Passage
from sounds.listening.call.clocks import Clocks
from sounds.listening.call.played_call import Playback, PlayedCall
from sounds.listening.rate import RATE, Mono
from sounds.listening.recordings.take import regrouped
from sounds.placing.mixer import CHANNELS

FIRST: Final = round(30 * RATE / BLOCK)
"""Passages of the call's beginning from which is learnt before any of them is handed out."""


def removed(blocks: Iterable[Mono], call: PlayedCall, clocks: Clocks) -> Iterator[Mono]:
    """Yield a take without the call, in blocks of `BLOCK` frames; the last may be shorter.

    Parameters
    ----------
    blocks
        The take from its beginning, in blocks of any length.
    call
        What was played.
    clocks
        Where it is on the take.
    """
    known: CallFilter | None = None
    first: list[Passage] = []
    frames = 0
    for passage, length in _passages(blocks, call, clocks):
        frames += length
        if known is not None:
            known.learn(passage)
            yield (passage.heard - known.expected(passage))[:length]
        elif not first and not passage.played.any():
            yield passage.heard[:length]
        else:
            first.append(passage)
            if len(first) == FIRST:
                known = CallFilter(first)
                yield from _without(first, known, frames)
    if known is None and first:
        yield from _without(first, CallFilter(first), frames)


def _without(passages: list[Passage], known: CallFilter, frames: int) -> Iterator[Mono]:
    """Yield passages without the call, of a take that has so many frames up to there."""
    for passage in passages:
        length = frames - passage.index * BLOCK
        yield (passage.heard - known.expected(passage))[:length]


def _passages(
    blocks: Iterable[Mono], call: PlayedCall, clocks: Clocks
) -> Iterator[tuple[Passage, int]]:
    """Yield the passages of a take, the last filled up with silence, and their frames."""
    playback = Playback(call, clocks.delay - LEAD / RATE, clocks.drift)
    before = np.zeros((BLOCK, CHANNELS), dtype=np.float32)
    for index, block in enumerate(regrouped(blocks, BLOCK)):
        played = playback.read(BLOCK)
        heard = np.pad(block, (0, BLOCK - len(block)))
        yield Passage(index, heard, np.concatenate((before, played))), len(block)
        before = played
