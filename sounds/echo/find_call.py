"""The call's own sound on a take: where it is, and the take without it.

What the speakers were given is known sample for sample. On the take it is late by a delay, runs at
the pace of another clock, and sounds as the speakers, the room and the microphone let it sound.
`find_call` tells the delay and the clock; `without_call` learns what the room makes of it, takes
that out, and turns down what is left of it.

Which of several clocks a take speaks for, where the call repeats itself.

If the call were a cycle later or earlier, it would explain nearly all of the take just as well.
What differs are its beginning, its end and what comes once in between. So blocks of the take are
chosen, the same for all clocks: those where any of them lets the call begin or end, and some of
all of it. Each clock is judged by how much is left of all of these blocks together, when what
it expects there is taken away. What is alike for two clocks counts alike.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np

from throwcount.sounds.echo.clocks import Clocks, candidates
from throwcount.sounds.echo.matching import (
    STEP,
    BackgroundSpectrum,
    Floats,
    Spectrum,
    background_spectrum,
    held_spectrum,
    matches,
    parabolic_peak,
    sought,
)
from throwcount.sounds.echo.played_call import (
    CallSpan,
    PlayedCall,
    Template,
    call_spans,
    cut_templates,
)
from throwcount.sounds.echo.removal import removed
from throwcount.sounds.samples import RATE, Mono

COMPARED_BLOCK: Final = 16_384
"""Frames of a block."""

AFTER_THE_BEGINNING: Final = 12
"""Blocks (8 s) from where the call may begin, and as many to where it may end."""

EVERYWHERE: Final = 64
"""Blocks in all of the take, evenly spread."""

MOST: Final = 256
"""Blocks at the most: 16 MB."""

WITHIN: Final = 24
"""Frames that the call may be off where it is expected."""

DOUBT: Final = 0.3
DOUBT_SHARE: Final = 0.01
"""There is doubt if another clock leaves hardly more than the best: this share of what the call is
in a block, and this share of what it is in all of them."""


def disambiguate(
    clocks: Sequence[Clocks],
    take: Iterable[Mono],
    call: PlayedCall,
    about: BackgroundSpectrum,
    ends: tuple[float, float],
) -> tuple[Clocks, bool]:
    """Return the clocks that a take speaks for most, and whether others may be as good.

    Parameters
    ----------
    clocks
        Those to choose from, the likeliest first; at least one.
    take
        The take from its beginning, in blocks of `COMPARED_BLOCK` frames.
    about
        What the take is like; not silent.
    ends
        When the call begins to sound, and when it ends, in its time, in seconds.
    """
    if len(clocks) == 1:
        return clocks[0], False
    chosen = _chosen(clocks, about.frames // COMPARED_BLOCK, ends)
    white = about.whitening(COMPARED_BLOCK // 2 + 1).astype(np.float32)
    heard = {
        index: held_spectrum(block, white)
        for index, block in enumerate(take)
        if index in chosen and len(block) == COMPARED_BLOCK
    }
    products = np.zeros((len(clocks), len(heard)))
    energies = np.zeros((len(clocks), len(heard)))
    columns = {index: column for column, index in enumerate(heard)}
    for row, index, expected in _expected(clocks, list(heard), call):
        pattern, weight = sought(expected, white)
        products[row, columns[index]] = _strongest(heard[index], pattern)
        energies[row, columns[index]] = weight**2
    return _judged(clocks, products, energies)


def _chosen(clocks: Sequence[Clocks], count: int, ends: tuple[float, float]) -> set[int]:
    """Return which of so many blocks of a take are looked at."""
    chosen = set(np.linspace(0, count - 1, min(EVERYWHERE, count)).astype(int).tolist())
    for each in clocks:
        begins, stops = (int(each.take_time(end) * RATE / COMPARED_BLOCK) for end in ends)
        wanted = {*range(begins - 1, begins + AFTER_THE_BEGINNING)}
        wanted |= {*range(stops - AFTER_THE_BEGINNING, stops + 2)}
        wanted &= {*range(count)}
        if len(chosen | wanted) <= MOST:
            chosen |= wanted
    return chosen


def _expected(
    clocks: Sequence[Clocks], indices: Sequence[int], call: PlayedCall
) -> Iterator[tuple[int, int, Mono]]:
    """Yield the number of a clock, a block, and what of the call is expected in it, if any."""
    wanted = sorted(
        (round(each.call_time(index * COMPARED_BLOCK / RATE) * RATE), row, index)
        for row, each in enumerate(clocks)
        for index in indices
    )
    wanted = [each for each in wanted if each[0] > -COMPARED_BLOCK]
    cut = cut_templates(
        call, (CallSpan(max(start, 0), COMPARED_BLOCK + min(start, 0)) for start, _, _ in wanted)
    )
    for (_, row, index), piece in zip(wanted, cut, strict=True):
        if piece.samples.any():
            yield row, index, np.pad(piece.samples, (COMPARED_BLOCK - len(piece.samples), 0))


def _strongest(heard: Spectrum, pattern: Spectrum) -> float:
    """Return the largest product of a block with what is expected in it."""
    fit = np.fft.irfft(heard * pattern, COMPARED_BLOCK)
    return parabolic_peak(np.concatenate((fit[-WITHIN:], fit[: WITHIN + 1])))


def _judged(clocks: Sequence[Clocks], products: Floats, energies: Floats) -> tuple[Clocks, bool]:
    """Return the best clocks and whether there is doubt.

    Parameters
    ----------
    products, energies
        Of what is expected by each of them, with and without what is heard, shape (clocks, blocks).
    """
    held = np.maximum(energies.sum(axis=1), 1e-30)
    loudest = int(np.argmax(products.sum(axis=1) ** 2 / held))
    gain = max(float(products[loudest].sum() / held[loudest]), 0.0)
    taken = np.sum(2 * gain * products - gain**2 * energies, axis=1)
    best = int(taken.argmax())
    sounding = max(int(np.count_nonzero(energies[best])), 1)
    least = taken[best] * (1 - DOUBT / sounding - DOUBT_SHARE)
    return clocks[best], bool(np.count_nonzero(taken > least) > 1)


DOUBTFUL: Final = 0.5
"""Confidence at the most where the call fits the take as well at another place."""


class Recording(Protocol):
    """What can be read from its beginning again and again, such as a `Take`."""

    def blocks(self, size: int) -> Iterator[Mono]:
        """Yield all of it at `RATE`, in blocks of `size` frames; the last may be shorter."""


@dataclass(frozen=True, slots=True)
class CallOnTake(Clocks):
    """Where a call is on a take."""

    confidence: float
    """How likely it is there, 0 to 1; no more than 0.5 where it fits as well at another place, such
    as a cycle later."""


def find_call(take: Recording, call: PlayedCall) -> CallOnTake | None:
    """Find on a take what the speakers played while it was recorded.

    The take and the call are read three times. Either may begin first, and end first.

    Returns
    -------
    CallOnTake | None
        Delay (to a fraction of a millisecond) and drift (to a few parts in a million where take
        and call have half a minute in common, up to 250 either way); None if the call is not
        heard on the take.
    """
    about = background_spectrum(take.blocks(STEP))
    if about.spectrum is None:
        return None
    pieces = list(cut_templates(call, call_spans(call, about.seconds)))
    if not pieces:
        return None
    places = matches(take.blocks(STEP), pieces, about)
    possible = candidates(places, about.seconds)
    if not possible:
        return None
    likeliest, doubtful = disambiguate(
        [clocks for clocks, _ in possible], take.blocks(COMPARED_BLOCK), call, about, _ends(pieces)
    )
    share = dict(possible)[likeliest]
    confidence = min(share, DOUBTFUL) if doubtful else share
    return CallOnTake(likeliest.delay, likeliest.drift, confidence)


def _ends(pieces: Sequence[Template]) -> tuple[float, float]:
    """Return when the call begins to sound, and when it ends, in seconds."""
    first = min(piece.stretch.start for piece in pieces)
    last = max(piece.stretch.start + piece.stretch.frames for piece in pieces)
    return first / RATE, last / RATE


def without_call(blocks: Iterable[Mono], call: PlayedCall, found: CallOnTake) -> Iterator[Mono]:
    """Yield a take without the call.

    `blocks` are the take from its beginning at `RATE`, in blocks of any length.

    Yields
    ------
    Mono
        As many frames as go in, in blocks of other lengths. What comes before the call is passed
        on at once; of the call's beginning half a minute is heard before the first is passed on;
        from there on, each within a second.
    """
    return removed(blocks, call, found)
