"""From where pieces of a call may be on a take to how the two clocks run.

Every sighting of a piece proposes a delay, for each of some drifts. A proposal says which pieces
are on the take, and where. It is judged by three things:

- how much of the take's energy it explains, if all pieces are equally loud: (sum of products)^2 /
  (sum of energies), each piece standing for the stretch of the call around it;
- the pieces that are not where it says: each speaks against it;
- the pieces that are where it says and fit at few other places: each speaks for it, the more the
  fewer. As cycles are alike, it is these, such as the announcement, that tell one from the next.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

from sounds.listening.clocks import Clocks, fitted
from sounds.listening.sightings import Sightings

Floats: TypeAlias = npt.NDArray[np.float64]

MOST_DRIFT: Final = 250.0
"""Parts in a million: more than two machines of the usual kind differ by."""

NEAR_SECONDS: Final = 0.012
"""How far from its proposed place a sighting may be; drifts are tried in steps to suit."""

IN_LINE_SECONDS: Final = 0.001
"""How far from its final place a sighting may be."""

SIGHTING_SECONDS: Final = 0.0002
"""Standard deviation of the time of a sighting: rooms answer soon after."""

PROPOSALS: Final = 600
"""Delays that are judged for each drift, at the most about."""

LEAST_SIGHTED: Final = 3
LEAST_SHARE: Final = 0.3
"""The call is not on the take unless so many of its pieces, and such a share of those that should
be, are found in line."""

FITS: Final = 0.75
"""A piece is where it should be if it is found there so strongly, compared with what is usual."""

MAY_FIT: Final = 0.5
"""Where it is found so strongly, it cannot be ruled out."""

TELLING: Final = 8.0
"""Pieces that are usually found less strongly than that do not tell by not being found."""

MISSED: Final = math.log(0.05)
"""What a piece that is not where it should be adds to the judgement: how often noise hides one."""

EXPLAINED: Final = 3.0
"""What all the energy that can be explained adds."""

RIVAL: Final = 1.5
RIVAL_SECONDS: Final = 0.05
"""There is doubt if a proposal that differs by more than so many seconds is judged less likely by
a smaller logarithm than that."""


@dataclass(frozen=True, slots=True)
class ClockLine:
    """How the clocks run, as the pieces tell.

    Parameters
    ----------
    clocks
        How they run.
    sighted
        Share of the pieces that should be on the take and are found in line, 0 to 1.
    ambiguous
        Whether other clocks are about as likely.
    """

    clocks: Clocks
    sighted: float
    ambiguous: bool


@dataclass(frozen=True, slots=True, eq=False)
class Proposals:
    """Delays that are judged, all for the same drift.

    Parameters
    ----------
    times, places
        A moment of the call and where each proposal puts it on the take, in seconds; shape
        (proposals,).
    drift
        In parts in a million.
    """

    times: Floats
    places: Floats
    drift: float

    def clocks(self, index: int) -> Clocks:
        """Return one of them."""
        delay = self.places[index] - self.times[index] * (1 + self.drift * 1e-6)
        return Clocks(float(delay), self.drift)

    def expected(self, time: float) -> Floats:
        """Return where each of them puts a moment of the call, in seconds."""
        return np.asarray(self.places + (time - self.times) * (1 + self.drift * 1e-6))


def clock_line(pieces: Sequence[Sightings], take_seconds: float) -> ClockLine | None:
    """Return how the clocks run; None if the pieces do not tell.

    Parameters
    ----------
    pieces
        Where each piece may be, in the order of their time.
    take_seconds
        Length of the take.
    """
    if not any(len(piece.times) for piece in pieces):
        return None
    tried = [
        (proposals, _strengths(pieces, proposals, take_seconds)) for proposals in _proposals(pieces)
    ]
    proposals, strengths = max(tried, key=lambda each: _explained(pieces, each[1]).max())
    usual = _usual_loudness(pieces, strengths)
    likelihoods = _likelihoods(pieces, strengths, usual)
    best = int(likelihoods.argmax())
    fitting = [piece.stronger(MAY_FIT * usual * piece.weight) for piece in pieces]
    clocks = _refined(fitting, proposals.clocks(best))
    share = _share_in_line(fitting, clocks, take_seconds)
    if share < LEAST_SHARE or abs(clocks.drift) > MOST_DRIFT:
        return None
    starts = proposals.expected(0.0)
    elsewhere = np.abs(starts - starts[best]) > RIVAL_SECONDS
    rival = bool(np.any(likelihoods[elsewhere] > likelihoods[best] - RIVAL))
    return ClockLine(clocks, share, rival)


def _proposals(pieces: Sequence[Sightings]) -> Iterator[Proposals]:
    """Yield, for each drift, the strongest sightings of each piece as proposals.

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


def _on_take(piece: Sightings, moments: Floats, take_seconds: float) -> npt.NDArray[np.bool_]:
    """Tell whether all of a piece is on the take, if its middle is at moments of it."""
    half = piece.seconds / 2
    return np.asarray((moments >= half) & (moments <= take_seconds - half))


def _strengths(pieces: Sequence[Sightings], proposals: Proposals, take_seconds: float) -> Floats:
    """Return how strong each piece is where each proposal puts it, not a number off the take.

    Returns
    -------
    Floats
        Shape (pieces, proposals), as for all that is told of both below.
    """
    rows = []
    for piece in pieces:
        expected = proposals.expected(piece.time)
        near = _strongest_near(piece, expected)
        rows.append(np.where(_on_take(piece, expected, take_seconds), near, np.nan))
    return np.stack(rows)


def _weights(pieces: Sequence[Sightings]) -> Floats:
    """Return the weights of pieces, shape (pieces, 1)."""
    return np.array([[max(piece.weight, 1e-9)] for piece in pieces])


def _explained(pieces: Sequence[Sightings], strengths: Floats) -> Floats:
    """Return how much of the take's energy each proposal explains."""
    weights = _weights(pieces)
    times = np.array([piece.time for piece in pieces])
    stretches = np.gradient(times)[:, np.newaxis] if len(times) > 1 else np.ones((1, 1))
    held = np.isfinite(strengths)
    products = np.sum(stretches * weights * np.where(held, strengths, 0.0), axis=0)
    energies = np.sum(stretches * weights**2 * held, axis=0)
    return np.asarray(products**2 / np.maximum(energies, 1e-30))


def _usual_loudness(pieces: Sequence[Sightings], strengths: Floats) -> float:
    """Return the median strength of a piece over its weight, in the proposal that explains most."""
    best = int(_explained(pieces, strengths).argmax())
    return float(np.nanmedian(strengths[:, best] / _weights(pieces)[:, 0]))


def _likelihoods(pieces: Sequence[Sightings], strengths: Floats, usual: float) -> Floats:
    """Return the logarithm of how likely each proposal is, but for a constant."""
    wanted = usual * _weights(pieces)
    places = np.array(
        [
            max(np.count_nonzero(piece.strengths >= MAY_FIT * least), 1)
            for piece, least in zip(pieces, wanted[:, 0].tolist(), strict=True)
        ]
    )
    told = np.maximum(np.log(np.median(places) / places), 0.0)[:, np.newaxis]
    found = strengths >= FITS * wanted
    missed = np.isfinite(strengths) & ~found
    spoken = np.where(found, told, 0.0) + np.where(missed, MISSED, 0.0)
    explained = _explained(pieces, strengths)
    share = explained / max(float(explained.max()), 1e-30)
    return np.asarray(EXPLAINED * share + np.sum((wanted > TELLING) * spoken, axis=0))


def _strongest_near(piece: Sightings, expected: Floats) -> Floats:
    """Return the strongest sighting of a piece near each of some times, 0 where there is none."""
    strongest = np.zeros(len(expected))
    if not len(piece.times):
        return strongest
    following = np.searchsorted(piece.times, expected)
    # Sightings are about 10 ms apart, so no more than two on either side are near.
    for offset in range(-2, 2):
        index = np.clip(following + offset, 0, len(piece.times) - 1)
        near = np.abs(piece.times[index] - expected) <= NEAR_SECONDS
        strongest = np.maximum(strongest, near * piece.strengths[index])
    return strongest


def _refined(pieces: Sequence[Sightings], clocks: Clocks) -> Clocks:
    """Return the clocks that the sightings near those proposed speak for."""
    for within in (NEAR_SECONDS, 2 * IN_LINE_SECONDS, IN_LINE_SECONDS):
        pairs = [
            (piece.time, place)
            for piece in pieces
            if (place := _nearest(piece, clocks, within)) is not None
        ]
        if not pairs:
            break
        times, places = np.array(pairs).T
        clocks = fitted(times, places, np.full(len(times), SIGHTING_SECONDS))
    return clocks


def _share_in_line(pieces: Sequence[Sightings], clocks: Clocks, take_seconds: float) -> float:
    """Return the share of the pieces on the take that are found where clocks put them.

    It is 0 where too few are found.
    """
    held = [
        piece
        for piece in pieces
        if _on_take(piece, np.array(clocks.take_time(piece.time)), take_seconds)
    ]
    found = sum(_nearest(piece, clocks, IN_LINE_SECONDS) is not None for piece in held)
    return found / len(held) if found >= LEAST_SIGHTED else 0.0


def _nearest(piece: Sightings, clocks: Clocks, within: float) -> float | None:
    """Return the strongest sighting of a piece that is so near to where clocks let it be."""
    near = np.flatnonzero(np.abs(piece.times - clocks.take_time(piece.time)) <= within)
    if not len(near):
        return None
    return float(piece.times[near[np.argmax(piece.strengths[near])]])
