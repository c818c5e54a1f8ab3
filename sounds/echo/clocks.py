"""The clock of a call and the clock of a take: two that run evenly, but not alike.

From where pieces of a call may be on a take to how the two clocks may run.

Every match of a piece proposes a delay, for each of some drifts. A proposal says which pieces
are on the take, and where. It is judged by how much of the take's energy it explains, if all
pieces are equally loud: (sum of products)^2 / (sum of energies), each piece standing for the
stretch of the call around it. As cycles are alike, many proposals may be about as good;
`find_call.disambiguate` tells them apart.

When what a microphone hears was sounded, on the clock of the computer.
"""

import math
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from throwcount.sounds.echo.matching import Matches

Floats: TypeAlias = npt.NDArray[np.float64]

USUAL_DRIFT: Final = 100.0
"""Standard deviation of the drift between two machines, in parts in a million: what is believed
where a take is too short to tell."""

OUTLIER: Final = 3.0
"""Deviations from the line, in robust standard deviations, from which on a moment counts less."""

ROUNDS: Final = 10


@dataclass(frozen=True, slots=True)
class Clocks:
    """How the clocks of a call and of a take run: take = delay + call (1 + drift)."""

    delay: float
    """Take time of the call's time 0, in seconds; may be negative."""
    drift: float
    """How much faster the take's clock ran, in parts in a million."""

    def take_time(self, seconds: float) -> float:
        """Return the take's time of a moment in the call's time."""
        return self.delay + seconds * (1 + self.drift * 1e-6)

    def call_time(self, seconds: float) -> float:
        """Return the call's time of a moment in the take's time."""
        return (seconds - self.delay) / (1 + self.drift * 1e-6)


def fitted(call_times: Floats, take_times: Floats, uncertainties: Floats) -> Clocks:
    """Return the clocks that moments on both of them speak for.

    The line of least squares, with moments that are far from it counting less (Huber, Robust
    estimation of a location parameter, Ann. Math. Stat. 35, 1964), and with `USUAL_DRIFT` believed
    beforehand.

    `call_times` and `take_times` are the same moments, in seconds; at least one. `uncertainties`
    are the standard deviations of each difference, in seconds, if there are no outliers.
    """
    ahead = take_times - call_times
    exact = uncertainties**-2.0
    weights = exact
    for _ in range(ROUNDS):
        middle = float(np.average(call_times, weights=weights))
        mean = float(np.average(ahead, weights=weights))
        offset = call_times - middle
        believed = (USUAL_DRIFT * 1e-6) ** -2.0
        slope = float(weights @ (offset * (ahead - mean)) / (weights @ offset**2 + believed))
        errors = np.abs(ahead - mean - slope * offset) / uncertainties
        usual = max(1.4826 * float(np.median(errors)), 1.0)
        weights = exact * np.minimum(1.0, OUTLIER * usual / np.maximum(errors, 1e-12))
    return Clocks(mean - slope * middle, slope * 1e6)


MOST_DRIFT: Final = 250.0
"""Parts in a million: more than two machines of the usual kind differ by."""

NEAR_SECONDS: Final = 0.012
"""How far from its proposed place a match may be; drifts are tried in steps to suit."""

IN_LINE_SECONDS: Final = 0.001
"""How far from its final place a match may be."""

MATCH_SECONDS: Final = 0.0002
"""Standard deviation of the time of a match: rooms answer soon after."""

PROPOSALS: Final = 600
"""Delays that are judged for each drift, at the most about."""

CANDIDATES: Final = 16
"""The best of them, which are looked at more closely."""

AT_AN_END: Final = 3
STRONGEST: Final = 4
"""And as many more: where each of so many pieces at either end of the call is the strongest, as
there is nothing like them in between ..."""

EXPLAINED: Final = 0.5
"""... as far as that explains such a share of what the best one does."""

LEAST_DISTANCE_SECONDS: Final = 0.05
"""By how much delays differ at the least to be told apart."""

LEAST_SIGHTED: Final = 3
LEAST_SHARE: Final = 0.4
"""The call is not on the take unless so many of its pieces, and such a share of those that should
be, are found in line."""

MAY_FIT: Final = 0.5
"""Where a piece is found so strongly, compared with what is usual, it may be."""


@dataclass(frozen=True, slots=True, eq=False)
class Proposals:
    """Delays that are judged, all for the same drift."""

    times: Floats
    """A moment of the call for each proposal, in seconds; shape (proposals,)."""
    places: Floats
    """Where each proposal puts that moment on the take, in seconds; shape (proposals,)."""
    drift: float
    """The drift that all are judged at, in parts in a million."""

    def clocks(self, index: int) -> Clocks:
        """Return one of them."""
        delay = self.places[index] - self.times[index] * (1 + self.drift * 1e-6)
        return Clocks(float(delay), self.drift)

    def expected(self, time: float) -> Floats:
        """Return where each of them puts a moment of the call, in seconds."""
        return np.asarray(self.places + (time - self.times) * (1 + self.drift * 1e-6))


def candidates(pieces: Sequence[Matches], take_seconds: float) -> list[tuple[Clocks, float]]:
    """Return how the clocks may run, for all that the pieces tell.

    `pieces` say where each piece may be, in the order of their time. The likeliest comes first,
    each with the share of the pieces that are found in line, of those that should be on the take;
    nothing if the call is not on it.
    """
    if not any(len(piece.times) for piece in pieces):
        return []
    tried = [
        (proposals, _explained(pieces, _strengths(pieces, proposals, take_seconds)))
        for proposals in _proposals(pieces)
    ]
    proposals, explained = max(tried, key=lambda each: float(each[1].max()))
    ranks = np.argsort(-explained)
    likely = explained > EXPLAINED * explained.max()
    kept = _distinct(proposals, ranks[likely[ranks]].tolist(), CANDIDATES)
    for piece in (*pieces[:AT_AN_END], *pieces[-AT_AN_END:]):
        # Proposals of a piece come with the strongest first.
        of_piece = np.flatnonzero(likely & (proposals.times == piece.time)).tolist()
        kept = _distinct(proposals, kept + of_piece, len(kept) + STRONGEST)
    fitted_to_pieces = (_refined(pieces, proposals.clocks(index), take_seconds) for index in kept)
    return [(clocks, share) for clocks, share in fitted_to_pieces if share >= LEAST_SHARE]


def _refined(
    pieces: Sequence[Matches], clocks: Clocks, take_seconds: float
) -> tuple[Clocks, float]:
    """Return clocks as the pieces tell that are near to where they put them.

    Returns
    -------
    Clocks, float
        Together with the share of pieces in line; it is 0 where they are too few.
    """
    held = [
        piece
        for piece in pieces
        if _on_take(piece, np.array(clocks.take_time(piece.time)), take_seconds)
    ]
    fitting = _fitting(held, clocks)
    for within in (NEAR_SECONDS, 2 * IN_LINE_SECONDS, IN_LINE_SECONDS):
        clocks = _through(fitting, clocks, within)
    found = sum(_nearest(piece, clocks, IN_LINE_SECONDS) is not None for piece in fitting)
    enough = found >= LEAST_SIGHTED and abs(clocks.drift) <= MOST_DRIFT
    return clocks, found / len(held) if enough else 0.0


def _proposals(pieces: Sequence[Matches]) -> Iterator[Proposals]:
    """Yield, for each drift, the strongest matches of each piece as proposals, in this order.

    So many drifts are tried that one of them leaves every piece near its place.
    """
    each = max(PROPOSALS // len(pieces), 2)
    best = [np.argsort(-piece.strengths)[:each] for piece in pieces]
    pairs = list(zip(pieces, best, strict=True))
    times = np.concatenate([np.full(len(kept), piece.time) for piece, kept in pairs])
    places = np.concatenate([piece.times[kept] for piece, kept in pairs])
    span = max(pieces[-1].time - pieces[0].time, 1.0)
    steps = math.ceil(MOST_DRIFT * 1e-6 * span / NEAR_SECONDS)
    for drift in np.linspace(-MOST_DRIFT, MOST_DRIFT, 2 * steps + 1).tolist():
        yield Proposals(times, places, drift)


def _distinct(proposals: Proposals, indices: Sequence[int], most: int) -> list[int]:
    """Return the first so many of some proposals that are apart from those before them."""
    starts = proposals.expected(0.0)
    kept: list[int] = []
    for index in indices:
        if len(kept) == most:
            break
        if np.all(np.abs(starts[kept] - starts[index]) > LEAST_DISTANCE_SECONDS):
            kept.append(index)
    return kept


def _on_take(piece: Matches, middles: Floats, take_seconds: float) -> npt.NDArray[np.bool_]:
    """Tell whether all of a piece is on the take, if its middle is at these times of it."""
    half = piece.seconds / 2
    return np.asarray((middles >= half) & (middles <= take_seconds - half))


def _strengths(pieces: Sequence[Matches], proposals: Proposals, take_seconds: float) -> Floats:
    """Return how strong each piece is where each proposal puts it, not a number off the take.

    The result has shape (pieces, proposals).
    """
    rows = []
    for piece in pieces:
        expected = proposals.expected(piece.time)
        near = _strongest_near(piece, expected)
        rows.append(np.where(_on_take(piece, expected, take_seconds), near, np.nan))
    return np.stack(rows)


def _explained(pieces: Sequence[Matches], strengths: Floats) -> Floats:
    """Return how much of the take's energy each proposal explains."""
    weights = np.array([[piece.weight] for piece in pieces])
    times = np.array([piece.time for piece in pieces])
    stretches = np.gradient(times)[:, np.newaxis] if len(times) > 1 else np.ones((1, 1))
    held = np.isfinite(strengths)
    products = np.sum(stretches * weights * np.where(held, strengths, 0.0), axis=0)
    energies = np.sum(stretches * weights**2 * held, axis=0)
    return np.asarray(products**2 / np.maximum(energies, 1e-30))


def _strongest_near(piece: Matches, expected: Floats) -> Floats:
    """Return the strongest match of a piece near each of some times, 0 where there is none."""
    strongest = np.zeros(len(expected))
    if not len(piece.times):
        return strongest
    following = np.searchsorted(piece.times, expected)
    # Matches are about 10 ms apart, so no more than two on either side are near.
    for offset in range(-2, 2):
        index = np.clip(following + offset, 0, len(piece.times) - 1)
        near = np.abs(piece.times[index] - expected) <= NEAR_SECONDS
        strongest = np.maximum(strongest, near * piece.strengths[index])
    return strongest


def _fitting(pieces: Sequence[Matches], clocks: Clocks) -> list[Matches]:
    """Return the matches of pieces that are as strong as it is usual where clocks put them."""
    ratios = []
    for piece in pieces:
        near = _strongest_near(piece, np.array([clocks.take_time(piece.time)]))
        ratios.append(float(near[0]) / max(piece.weight, 1e-9))
    usual = float(np.median(ratios)) if ratios else 0.0
    return [piece.stronger(MAY_FIT * usual * piece.weight) for piece in pieces]


def _through(pieces: Sequence[Matches], clocks: Clocks, within: float) -> Clocks:
    """Return the clocks that the matches near those proposed speak for."""
    pairs = [
        (piece.time, place, MATCH_SECONDS)
        for piece in pieces
        if (place := _nearest(piece, clocks, within)) is not None
    ]
    return fitted(*np.array(pairs).T) if pairs else clocks


def _nearest(piece: Matches, clocks: Clocks, within: float) -> float | None:
    """Return the strongest match of a piece that is so near to where clocks let it be."""
    near = np.flatnonzero(np.abs(piece.times - clocks.take_time(piece.time)) <= within)
    if not len(near):
        return None
    return float(piece.times[near[np.argmax(piece.strengths[near])]])


REMEMBERED: Final = 128
"""Pieces of sound over which the clocks are compared."""


class TakeClock:
    """Holds the frames of an input against the moments at which they came.

    Single moments are off by some milliseconds, and a few by far more on a busy machine, so that
    the median of the last ones counts. It follows an input that drifts or that has lost frames.

    `rate` is the sample rate in Hz.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._offsets: deque[float] = deque(maxlen=REMEMBERED)

    def note(self, frame: int, moment: float) -> None:
        """Take note that `frame` was sounded at `moment`, in seconds, about."""
        self._offsets.append(moment - frame / self._rate)

    def moment(self, seconds: float) -> float:
        """Return the moment of a time of the take, in seconds from its first frame."""
        return seconds + median(self._offsets)
