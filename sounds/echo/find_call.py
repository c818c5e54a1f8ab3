"""Finds the call on a take: its delay and drift, and which of several fits is right.

What the speakers were given is known sample for sample. On the take it has a delay, runs at the
pace of another clock, and sounds as speakers, room and microphone change it. Matched filters
(`matching`) propose clocks (`clocks`). Shifted by a cycle, the call would explain nearly all of the
take as well; only its beginning, its end and what comes once in between differ. So blocks of the
take are chosen, the same for all clocks: those where any of them lets the call begin or end, and
some spread evenly. The clocks that leave the least energy of all these blocks together, once what
they expect is subtracted, are the most likely, as the noise is white. What two clocks
expect alike counts alike for both.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np

from throwcount.sounds.echo.clocks import LEAST_DISTANCE_SECONDS, Clocks, candidates
from throwcount.sounds.echo.matching import (
    STEP,
    BackgroundSpectrum,
    Floats,
    background_spectrum,
    clipped_spectrum,
    matched_filter,
    matches,
    parabolic_peak,
)
from throwcount.sounds.echo.played_call import (
    CallSpan,
    PlayedCall,
    Template,
    call_spans,
    cut_templates,
)
from throwcount.sounds.samples import RATE, Mono

COMPARED_BLOCK: Final = 3 * 2**13
"""Frames of a block."""

AFTER_THE_BEGINNING: Final = 8
"""Blocks (8 s) compared after each possible beginning of the call, and before each end."""

EVERYWHERE: Final = 40
"""Blocks compared that are spread evenly over the take."""

MOST: Final = 160
"""Most blocks compared in all: 8 MB."""

WITHIN: Final = round(LEAST_DISTANCE_SECONDS * RATE)
"""Frames about its expected place within which the call or its reflection may be strongest."""

IN_PLACE: Final = 24
"""Frames by which it may be off its place, to count as being there."""

DOUBT: Final = 1.5
DOUBT_SHARE: Final = 0.01
"""There is doubt if other clocks leave hardly more energy than the best ones: less than the
call's energy in so many blocks plus this share of that in all blocks."""


def disambiguate(
    clocks: Sequence[Clocks],
    take: Iterable[Mono],
    call: PlayedCall,
    about: BackgroundSpectrum,
    ends: tuple[float, float],
) -> tuple[Clocks, float, bool]:
    """Return the clocks that fit a take best, how well they do, and whether others may be as good.

    `clocks`, at least one, are those to choose from. `take` is the take from its beginning, in
    blocks of `COMPARED_BLOCK` frames, and `about` its background spectrum; it is not silent. `ends`
    are the times, in the call's seconds, when it begins and ceases to sound. How well they fit is
    in standard deviations of what noise gives, in the median block.
    """
    chosen = _chosen(clocks, about.frames // COMPARED_BLOCK, ends)
    white = about.whitening(COMPARED_BLOCK // 2 + 1).astype(np.float32)
    heard = {
        index: clipped_spectrum(block, white)
        for index, block in enumerate(take)
        if index in chosen and len(block) == COMPARED_BLOCK
    }
    products, there, energies = np.zeros((3, len(clocks), len(heard)))
    columns = {index: column for column, index in enumerate(heard)}
    for row, index, expected in _expected(clocks, list(heard), call):
        response, weight = matched_filter(expected, white)
        fit = np.fft.irfft(heard[index] * response, COMPARED_BLOCK)
        near = np.concatenate((fit[-WITHIN:], fit[: WITHIN + 1]))
        products[row, columns[index]] = parabolic_peak(near)
        there[row, columns[index]] = parabolic_peak(near[WITHIN - IN_PLACE : WITHIN + IN_PLACE + 1])
        energies[row, columns[index]] = weight**2
    best, doubtful = _judged(clocks, products, energies)
    sounding = energies[best] > 0
    strengths = there[best, sounding] / np.sqrt(energies[best, sounding])
    return clocks[best], float(np.median(strengths)) if len(strengths) else 0.0, doubtful


def _chosen(clocks: Sequence[Clocks], count: int, ends: tuple[float, float]) -> set[int]:
    """Return the indices of the blocks that are compared, of `count` blocks of a take."""
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
    """Yield the index of some clocks, the index of a block, and the call expected in it, if any."""
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


def _judged(clocks: Sequence[Clocks], products: Floats, energies: Floats) -> tuple[int, bool]:
    """Return the index of the best clocks and whether there is doubt.

    `products` and `energies`, shape (clocks, blocks), are those of the expected call with what is
    heard, and with itself.
    """
    held = np.maximum(energies.sum(axis=1), 1e-30)
    loudest = int(np.argmax(products.sum(axis=1) ** 2 / held))
    gain = max(float(products[loudest].sum() / held[loudest]), 0.0)
    taken = np.sum(2 * gain * products - gain**2 * energies, axis=1)
    best = int(taken.argmax())
    sounding = max(int(np.count_nonzero(energies[best])), 1)
    least = taken[best] * (1 - DOUBT / sounding - DOUBT_SHARE)
    away = [abs(each.delay - clocks[best].delay) > LEAST_DISTANCE_SECONDS for each in clocks]
    return best, bool(np.any(taken[away] > least))


CLEAR: Final = 10.0
"""Standard deviations in the median block from which on the call is surely there: catches, which
are much like clicks, reach 6.5 where it is not (on 60 takes without a call none was found)."""

DOUBTFUL: Final = 0.5
"""Highest confidence where the call fits the take as well at another place."""


class Recording(Protocol):
    """Sound that can be read from its beginning any number of times, such as a `Take`."""

    def blocks(self, size: int) -> Iterator[Mono]:
        """Yield all of it at `RATE`, in blocks of `size` frames; the last may be shorter."""


@dataclass(frozen=True, slots=True)
class CallOnTake(Clocks):
    """Where a call is on a take."""

    confidence: float
    """How likely the call is there, 0 to 1; at most 0.5 where it fits as well at another place,
    such as a cycle later."""

    @property
    def is_doubtful(self) -> bool:
        """Whether it fits as well at another place."""
        return self.confidence <= DOUBTFUL


def find_call(take: Recording, call: PlayedCall) -> CallOnTake | None:
    """Return where the call is on a take that was recorded while it played; None if not heard.

    The delay is found to a fraction of a millisecond, and the drift, up to 250 parts in a million
    either way, to a few parts in a million where take and call have half a minute in common. Take
    and call are each read three times. Either may begin first, and end first.
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
    likeliest, strength, doubtful = disambiguate(
        [clocks for clocks, _ in possible], take.blocks(COMPARED_BLOCK), call, about, _ends(pieces)
    )
    confidence = dict(possible)[likeliest] * min(strength / CLEAR, 1.0)
    confidence = min(confidence, DOUBTFUL) if doubtful else confidence
    return CallOnTake(likeliest.delay, likeliest.drift, confidence)


def _ends(pieces: Sequence[Template]) -> tuple[float, float]:
    """Return when the call begins and ceases to sound, in seconds."""
    first = min(piece.span.start for piece in pieces)
    last = max(piece.span.start + piece.span.frames for piece in pieces)
    return first / RATE, last / RATE
