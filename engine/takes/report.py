"""All that a take tells, as plain data for a table, a document or a picture.

A take that fell apart, listened to as two: before and after.

One spread for all of it lies between the two, so that many of the wide catches at the end would
count as extra thuds, and the juggler as steadier than they were.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from throwcount.engine.takes.alignment import Aligned, align, align_to_grid
from throwcount.engine.takes.beat_grid import (
    Reading,
    beat_grid,
    ends,
    grid_tempos,
    overall,
    readings,
)
from throwcount.engine.takes.catches import Catch, HeardOnset, Thuds, thuds_of
from throwcount.engine.takes.drops import Drop, find_drops
from throwcount.engine.takes.expected_onsets import expected_onsets, statistics_of
from throwcount.engine.takes.mixture import Mixture, Near, choices, fit, pair_up
from throwcount.engine.takes.steadiness import (
    Change,
    KeptTempo,
    Steadiness,
    change_point,
    kept_tempos,
    residuals,
    steadiness,
)
from throwcount.engine.takes.throw_bias import HandBias, Position, cycle_of, hand_bias, positions
from throwcount.engine.takes.verdict import (
    confidence_of,
    confidence_of_grid,
    nothing_heard,
    remarks,
)


@dataclass(frozen=True, slots=True)
class _TakePart:
    """A part of the take: its first sound, its first thud, and what fits it best."""

    sound: int
    thud: int
    mixture: Mixture
    pairs: dict[int, int]

    @property
    def mass(self) -> float:
        """Catches that were heard in it."""
        return float(self.mixture.share.sum())


def split_refit(aligned: Aligned, moment: float) -> Aligned:
    """Return the same catches with the thuds of each part by the spread of that part.

    Parameters
    ----------
    aligned
        By one spread for all.
    moment
        From when on the catches are less steady: when a sound was expected, but not the first.
    """
    sound = int(np.searchsorted(aligned.expected, moment))
    due = (aligned.expected + aligned.mixture.lead)[sound - 1 : sound + 1]
    thud = int(np.searchsorted(aligned.thuds.times, due.mean()))
    parts = (
        _part(aligned, slice(0, sound), slice(0, thud)),
        _part(aligned, slice(sound, None), slice(thud, None)),
    )
    paired = {
        part.sound + index: part.thud + of for part in parts for index, of in part.pairs.items()
    }
    return replace(
        aligned,
        thud=tuple(paired.get(index) for index in range(len(aligned.thud))),
        mixture=_joined(parts, len(aligned.thud)),
    )


def _part(aligned: Aligned, sounds: slice, heard: slice) -> _TakePart:
    thuds = aligned.thuds
    own = Thuds(thuds.times[heard], thuds.weights[heard])
    mixture = fit(aligned.expected[sounds], own, aligned.mixture.lead[sounds])
    return _TakePart(
        sounds.start, heard.start, mixture, dict(pair_up(choices(mixture, own.weights)))
    )


def _joined(parts: Sequence[_TakePart], sounds: int) -> Mixture:
    """Return the mixtures of the parts as one, with the spread of all catches together."""
    near = Near(
        np.concatenate([part.mixture.near.sound + part.sound for part in parts]),
        np.concatenate([part.mixture.near.thud + part.thud for part in parts]),
        np.concatenate([part.mixture.near.late for part in parts]),
    )
    mass = math.fsum(part.mass for part in parts)
    shares = [len(part.mixture.lead) / sounds for part in parts]
    return Mixture(
        near=near,
        share=np.concatenate([part.mixture.share for part in parts]),
        lead=np.concatenate([part.mixture.lead for part in parts]),
        spread=math.sqrt(math.fsum(part.mass * part.mixture.spread**2 for part in parts) / mass),
        heard=math.fsum(
            share * part.mixture.heard for share, part in zip(shares, parts, strict=True)
        ),
        extra_rate=math.fsum(
            share * part.mixture.extra_rate for share, part in zip(shares, parts, strict=True)
        ),
    )


@dataclass(frozen=True, slots=True)
class Sound:
    """A sound that was expected, and whether it was heard."""

    time: float
    """When it was due, in seconds of the take, no lead taken into account."""
    late: float | None
    """Seconds by which it was heard later, below zero for earlier; None where it was not heard."""
    catches: tuple[Catch, ...]
    """Its catches: one, several that fall together, or none where no pattern is known."""


@dataclass(frozen=True, slots=True)
class TakeReport:
    """What is told of a take. All times are in seconds of the take."""

    seconds: float
    """The length of the take."""
    thuds: int
    """Thuds that were heard."""
    known: bool
    """Whether it was held against expected catches."""
    confidence: float
    """The chance that this report is right, 0 to 1, and 0 where too few catches were heard to tell
    how steady they are; see `throwcount.engine.takes.verdict`."""
    remarks: tuple[str, ...]
    """What cannot be told, or only with care, in sentences; the most important first."""
    tempo: float | None
    """The tempo kept, over all: beats a minute, or catches a minute where no pattern is known; None
    where nothing tells."""
    readings: tuple[Reading, ...]
    """Where no pattern is known, the beats a minute that this may mean, the likeliest first."""
    pace: tuple[KeptTempo, ...]
    """The tempo in each stretch of it."""
    steadiness: Steadiness | None
    """How steady it was; None where too few catches were heard."""
    hands: HandBias | None
    """The right hand against the left; None where they cannot be told apart."""
    positions: tuple[Position, ...]
    """Each throw of the cycle; empty where no pattern is known."""
    split: Change | None
    """From when on it was less steady; None where it did not fall apart."""
    drops: tuple[Drop, ...]
    """Gaps that look like a drop, in order."""
    sounds: tuple[Sound, ...]
    """Every sound that was expected on the take, in order."""
    extra_times: tuple[float, ...]
    """When thuds were heard that are no catch."""


def listen_report(
    thuds: Sequence[HeardOnset],
    seconds: float,
    catches: Iterable[Catch] = (),
    *,
    placed: bool = False,
) -> TakeReport:
    """Return what a take tells.

    `catches` are what was expected, in order of time; empty where no pattern is known. `placed`
    says whether the times of the catches are in seconds of the take, as they are once the call was
    found on it; else they are in seconds of the call, which may begin anywhere, and the juggler may
    have kept to the tempo only roughly.
    """
    heard = thuds_of(thuds)
    expected = tuple(catches)
    if expected:
        return _against(expected, heard, seconds, placed=placed)
    return _alone(heard, seconds)


def _against(
    catches: tuple[Catch, ...], thuds: Thuds, seconds: float, *, placed: bool
) -> TakeReport:
    aligned = align(catches, thuds, seconds, placed=placed)
    if aligned is None:
        return _empty(thuds, seconds, known=True)
    return _told(aligned, seconds, confidence_of(aligned), ())


def _alone(thuds: Thuds, seconds: float) -> TakeReport:
    found = grid_tempos(thuds.times.tolist())
    rate = overall(found)
    if rate is None:
        return _empty(thuds, seconds, known=False)
    first, last = ends(thuds.times, rate)
    margin = 0.5 * 60 / rate
    places = beat_grid(found, first - margin, last + margin)
    aligned = align_to_grid(places, thuds)
    return _told(aligned, seconds, confidence_of_grid(found), readings(rate))


def _told(
    aligned: Aligned,
    seconds: float,
    confidence: float,
    meant: tuple[Reading, ...],
) -> TakeReport:
    steady, change = _steadiness(aligned)
    if change is not None:
        aligned = split_refit(aligned, change.time)
        steady, again = _steadiness(aligned)
        change = again or change
    confidence = confidence if steady else 0.0
    cycle = cycle_of(aligned)
    pace = kept_tempos(aligned, cycle)
    extra = aligned.extra_times
    known = bool(aligned.catches)
    return TakeReport(
        seconds=seconds,
        thuds=len(aligned.thuds),
        known=known,
        confidence=confidence,
        remarks=tuple(remarks(aligned, confidence)),
        tempo=_usual(pace),
        readings=meant,
        pace=pace,
        steadiness=steady,
        hands=hand_bias(aligned) if known and steady else None,
        positions=positions(aligned, cycle) if known and steady else (),
        split=change,
        drops=find_drops(expected_onsets(aligned), statistics_of(aligned)),
        sounds=_sounds(aligned),
        extra_times=extra,
    )


def _steadiness(aligned: Aligned) -> tuple[Steadiness | None, Change | None]:
    """Return how steady a take is, and where it fell apart, if it did."""
    about = residuals(aligned)
    if about is None:
        return None, None
    steady = steadiness(aligned, about)
    return steady, change_point(aligned.expected, about.sound, steady.correlation)


def _empty(thuds: Thuds, seconds: float, *, known: bool) -> TakeReport:
    """Return the report of a take on which nothing is to be found."""
    return TakeReport(
        seconds=seconds,
        thuds=len(thuds),
        known=known,
        confidence=0.0,
        remarks=(nothing_heard(len(thuds), known=known),),
        tempo=None,
        readings=(),
        pace=(),
        steadiness=None,
        hands=None,
        positions=(),
        split=None,
        drops=(),
        sounds=(),
        extra_times=tuple(thuds.times.tolist()),
    )


def _usual(pace: Sequence[KeptTempo]) -> float | None:
    """Return the mean tempo, by the catches heard."""
    heard = sum(each.heard for each in pace)
    return math.fsum(each.tempo * each.heard for each in pace) / heard if heard else None


def _sounds(aligned: Aligned) -> tuple[Sound, ...]:
    late = aligned.asynchrony.tolist()
    return tuple(
        Sound(
            time=time,
            late=None if math.isnan(off) else off,
            catches=tuple(aligned.catches[catch] for catch in sound),
        )
        for time, off, sound in zip(aligned.expected.tolist(), late, aligned.sounds, strict=True)
    )
