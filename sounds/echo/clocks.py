"""How the clocks of a call, a take and the computer relate: delays and drifts.

Two machines' clocks each run evenly, but at slightly different rates, so a delay and a drift relate
the call's time to the take's. They are found from matches by hypothesis and test (after Fischler &
Bolles, Random sample consensus, Comm. ACM 24, 1981, but trying all): every match of a piece
proposes a delay, at each of some drifts. A proposal says which pieces are on the take, and where;
it is judged by how much of the take's energy it explains if all pieces are equally loud, (sum of
products)^2 / (sum of energies), each piece standing for the part of the call around it. Since
cycles are alike, several proposals may be about as good; `find_call.disambiguate` decides between
them.

A line is fitted to the matches by Huber's robust regression, through iteratively reweighted least
squares (Huber, Robust estimation of a location parameter, Ann. Math. Stat. 35, 1964; Holland &
Welsch, Robust regression using iteratively reweighted least-squares, Commun. Stat. A6, 1977).
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
"""Standard deviation of the drift between two machines, in parts in a million: the prior, which
decides where a take is too short to tell."""

OUTLIER: Final = 3.0
"""Deviation from the line, in robust standard deviations, beyond which a point counts less."""

LEAST_SPREAD: Final = 0.1
"""Least robust standard deviation that is believed, relative to the uncertainties: where points lie
closer to a line than was expected, one that does not is an outlier all the same."""

ROUNDS: Final = 10


@dataclass(frozen=True, slots=True)
class Clocks:
    """How the take's clock relates to the call's: take = delay + call (1 + drift)."""

    delay: float
    """Take time of the call's time 0, in seconds; may be negative."""
    drift: float
    """How much faster the take's clock ran, in parts in a million."""

    def take_time(self, seconds: float) -> float:
        """Return the take's time for a time of the call."""
        return self.delay + seconds * (1 + self.drift * 1e-6)

    def call_time(self, seconds: float) -> float:
        """Return the call's time for a time of the take."""
        return (seconds - self.delay) / (1 + self.drift * 1e-6)


def fitted(call_times: Floats, take_times: Floats, uncertainties: Floats) -> Clocks:
    """Return the line through points in time by Huber's regression, with `USUAL_DRIFT` as prior.

    `call_times` and `take_times` are the same moments on both clocks, in seconds; at least one.
    `uncertainties` are the standard deviations of their differences without outliers, in seconds.
    """
    ahead = take_times - call_times
    exact = uncertainties**-2.0
    weights = exact
    for _ in range(ROUNDS):
        middle = float(np.average(call_times, weights=weights))
        mean = float(np.average(ahead, weights=weights))
        offset = call_times - middle
        prior = (USUAL_DRIFT * 1e-6) ** -2.0
        slope = float(weights @ (offset * (ahead - mean)) / (weights @ offset**2 + prior))
        errors = np.abs(ahead - mean - slope * offset) / uncertainties
        usual = max(1.4826 * float(np.median(errors)), LEAST_SPREAD)
        weights = exact * np.minimum(1.0, OUTLIER * usual / np.maximum(errors, 1e-12))
    return Clocks(mean - slope * middle, slope * 1e6)


MOST_DRIFT: Final = 250.0
"""Largest drift, in parts in a million; ordinary machines differ by less."""

NEAR_SECONDS: Final = 0.012
"""Largest distance of a match from its proposed place; the steps of drift are chosen to suit."""

IN_LINE_SECONDS: Final = 0.001
"""Largest distance of a match from its final place."""

MATCH_SECONDS: Final = 0.0002
"""Standard deviation of the time of a match, owing to early reflections."""

LINE_STEP: Final = 0.0005
LINE_STEPS: Final = 4
"""Seconds from one line that is tried to the next, and how many such steps wide a line is."""

DIRECT: Final = 0.6
"""Strength of the direct sound relative to that of the strongest reflection, at least."""

PROPOSALS: Final = 600
"""About how many delays are judged at each drift, at most."""

CANDIDATES: Final = 16
"""How many of the best proposals are refined."""

AT_AN_END: Final = 3
STRONGEST: Final = 4
"""For each of `AT_AN_END` pieces at either end of the call, its `STRONGEST` strongest proposals are
refined too, since nothing in between is like them ..."""

EXPLAINED: Final = 0.5
"""... if they explain at least this share of what the best proposal explains."""

LEAST_DISTANCE_SECONDS: Final = 0.05
"""Delays that differ by less count as the same."""

FEWEST_FOUND: Final = 5
LEAST_SHARE: Final = 0.4
"""The call is on the take if at least this many of its pieces, and this share of those that should
be there, are found in line."""

MAY_FIT: Final = 0.5
"""Least strength of a match in the fit, relative to what is usual."""


@dataclass(frozen=True, slots=True, eq=False)
class Proposals:
    """Delays that are judged at one drift."""

    times: Floats
    """A time of the call for each proposal, in seconds; shape (proposals,)."""
    places: Floats
    """Where each proposal puts that time on the take, in seconds; shape (proposals,)."""
    drift: float
    """In parts in a million."""

    def clocks(self, index: int) -> Clocks:
        """Return the clocks of one proposal."""
        delay = self.places[index] - self.times[index] * (1 + self.drift * 1e-6)
        return Clocks(float(delay), self.drift)

    def expected(self, time: float) -> Floats:
        """Return where each proposal puts a time of the call on the take, in seconds."""
        return np.asarray(self.places + (time - self.times) * (1 + self.drift * 1e-6))


def candidates(pieces: Sequence[Matches], take_seconds: float) -> list[tuple[Clocks, float]]:
    """Return the clocks that the matches of the pieces allow, the likeliest first.

    `pieces` are in order of time. Each result has the share of pieces found in line, of those that
    should be on the take. There are none if the call is not on the take.
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
    """Return clocks fitted to the matches near them, and the share of pieces in line.

    The share is 0 if too few are in line.
    """
    held = [
        piece
        for piece in pieces
        if _on_take(piece, np.array(clocks.take_time(piece.time)), take_seconds)
    ]
    clocks = _in_line(held, clocks)
    fitting = _fitting(held, clocks)
    for within in (2 * IN_LINE_SECONDS, IN_LINE_SECONDS):
        clocks = _through(fitting, clocks, within)
    found = sum(_nearest(piece, clocks, IN_LINE_SECONDS) is not None for piece in fitting)
    enough = found >= FEWEST_FOUND and abs(clocks.drift) <= MOST_DRIFT
    return clocks, found / len(held) if enough else 0.0


def _proposals(pieces: Sequence[Matches]) -> Iterator[Proposals]:
    """Yield for each drift the matches of each piece as proposals, its strongest first.

    The steps of drift are so small that one of them leaves every piece near its place.
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
    """Return the first `most` proposals whose delays differ from all before them."""
    starts = proposals.expected(0.0)
    kept: list[int] = []
    for index in indices:
        if len(kept) == most:
            break
        if np.all(np.abs(starts[kept] - starts[index]) > LEAST_DISTANCE_SECONDS):
            kept.append(index)
    return kept


def _on_take(piece: Matches, middles: Floats, take_seconds: float) -> npt.NDArray[np.bool_]:
    """Return whether all of a piece is on the take, for each place of its middle in seconds."""
    half = piece.seconds / 2
    return np.asarray((middles >= half) & (middles <= take_seconds - half))


def _strengths(pieces: Sequence[Matches], proposals: Proposals, take_seconds: float) -> Floats:
    """Return how strong each piece is where each proposal puts it; NaN if that is off the take.

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
    spans = np.gradient(times)[:, np.newaxis] if len(times) > 1 else np.ones((1, 1))
    held = np.isfinite(strengths)
    products = np.sum(spans * weights * np.where(held, strengths, 0.0), axis=0)
    energies = np.sum(spans * weights**2 * held, axis=0)
    return np.asarray(products**2 / np.maximum(energies, 1e-30))


def _strongest_near(piece: Matches, expected: Floats) -> Floats:
    """Return the strength of a piece's strongest match near each of some times, 0 for none."""
    strongest = np.zeros(len(expected))
    if not len(piece.times):
        return strongest
    following = np.searchsorted(piece.times, expected)
    # Matches are about 10 ms apart, so at most two on either side are near.
    for offset in range(-2, 2):
        index = np.clip(following + offset, 0, len(piece.times) - 1)
        near = np.abs(piece.times[index] - expected) <= NEAR_SECONDS
        strongest = np.maximum(strongest, near * piece.strengths[index])
    return strongest


def _in_line(pieces: Sequence[Matches], clocks: Clocks) -> Clocks:
    """Return the clocks near some clocks that put the strongest matches in line.

    A reflection is as good a match as the direct sound, now stronger and now weaker than it, so
    that a line through the strongest match of each piece may lie between both and meet neither. Of
    lines nearly as strong the earliest is the direct sound.
    """
    parts = []
    for piece in pieces:
        off = piece.times - clocks.take_time(piece.time)
        near = np.abs(off) <= LEAST_DISTANCE_SECONDS
        strengths = piece.weight * piece.strengths[near]
        parts.append(np.stack((np.full(len(strengths), piece.time), off[near], strengths)))
    times, off, strengths = np.concatenate(parts, axis=1) if parts else np.zeros((3, 0))
    if not len(times):
        return clocks
    middle, length = float(times.mean()), max(float(np.ptp(times)), 1.0)
    least = -LEAST_DISTANCE_SECONDS - 2 * NEAR_SECONDS
    best, best_slope = np.zeros(1), 0.0
    for slope in (np.arange(-2 * NEAR_SECONDS, 2 * NEAR_SECONDS, LINE_STEP) / length).tolist():
        if abs(clocks.drift + slope * 1e6) <= MOST_DRIFT:
            level = off - slope * (times - middle)
            bins = ((level - least) / LINE_STEP).astype(np.int64)
            sums = np.convolve(np.bincount(bins, strengths), np.ones(LINE_STEPS))
            if sums.max() > best.max():
                best, best_slope = sums, slope
    first = int(np.argmax(best >= DIRECT * best.max()))
    first += int(np.argmax(best[first : first + LINE_STEPS]))
    moved = least + (first + 1 - LINE_STEPS / 2) * LINE_STEP
    return Clocks(clocks.delay + moved - best_slope * middle, clocks.drift + best_slope * 1e6)


def _fitting(pieces: Sequence[Matches], clocks: Clocks) -> list[Matches]:
    """Return the matches that are not much weaker than is usual where the clocks put them."""
    ratios = []
    for piece in pieces:
        near = _strongest_near(piece, np.array([clocks.take_time(piece.time)]))
        ratios.append(float(near[0]) / max(piece.weight, 1e-9))
    usual = float(np.median(ratios)) if ratios else 0.0
    return [piece.stronger(MAY_FIT * usual * piece.weight) for piece in pieces]


def _through(pieces: Sequence[Matches], clocks: Clocks, within: float) -> Clocks:
    """Return clocks fitted to the matches within this many seconds of some clocks."""
    pairs = [
        (piece.time, place, MATCH_SECONDS)
        for piece in pieces
        if (place := _nearest(piece, clocks, within)) is not None
    ]
    return fitted(*np.array(pairs).T) if pairs else clocks


def _nearest(piece: Matches, clocks: Clocks, within: float) -> float | None:
    """Return the time of a piece's strongest match within this many seconds of the clocks."""
    near = np.flatnonzero(np.abs(piece.times - clocks.take_time(piece.time)) <= within)
    if not len(near):
        return None
    return float(piece.times[near[np.argmax(piece.strengths[near])]])


REMEMBERED: Final = 128
"""How many of the last blocks count."""


class TakeClock:
    """Relates the frames of an input or a deck to the computer's clock.

    Single readings are off by some milliseconds, a few by far more on a busy machine, so the median
    of the last ones counts. It follows an input that drifts or has lost frames. `rate` is the
    sample rate in Hz.
    """

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._offsets: deque[float] = deque(maxlen=REMEMBERED)

    def note(self, frame: int, moment: float) -> None:
        """Note that `frame` sounded at about `moment`, in seconds of the computer's clock."""
        self._offsets.append(moment - frame / self._rate)

    def moment(self, seconds: float) -> float:
        """Return the moment, on the computer's clock, of a time in seconds from the first frame."""
        return seconds + median(self._offsets)
