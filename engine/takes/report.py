"""The report on a take, as plain data for a table, a document or a picture.

A take that becomes less steady at a change point is refitted in two parts, before and after. With
one spread for all of it many of the late catches would count as extra thuds, and the juggler as
steadier than they were.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from throwcount.engine.takes.alignment import Aligned, align, align_to_cadence, align_to_grid
from throwcount.engine.takes.beat_grid import Reading, readings
from throwcount.engine.takes.catches import Catch, HeardOnset, Thuds, summed, thuds_of
from throwcount.engine.takes.drops import Drop, find_drops
from throwcount.engine.takes.expected_onsets import expected_onsets, statistics_of
from throwcount.engine.takes.hindrances import Hindrance, tells_nothing, unhindered
from throwcount.engine.takes.mixture import (
    Mixture,
    Near,
    bumps,
    fit,
    near_pairs,
    paired,
)
from throwcount.engine.takes.offsets import EASE
from throwcount.engine.takes.steadiness import (
    Change,
    KeptTempo,
    Steadiness,
    change_point,
    kept_tempos,
    residuals,
    steadiness,
)
from throwcount.engine.takes.throw_bias import HandBias, Position, hand_bias, positions
from throwcount.engine.takes.timbre import with_timbre
from throwcount.engine.takes.verdict import confidence_of, remarks

REFITS: Final = 3
"""Times, at most, that the lead is fitted anew without the stops."""


def without_stops(aligned: Aligned) -> tuple[Aligned, tuple[Drop, ...]]:
    """Return an alignment without what it takes for catches in stops, and the drops.

    Thuds on the floor draw the lead away from the last catches, which then seem to be missing. So
    the lead is fitted anew without the stops, and these are looked for again, until both agree.
    """
    gone = np.zeros(len(aligned.expected), dtype=bool)
    drops = find_drops(expected_onsets(aligned), statistics_of(aligned))
    for _ in range(REFITS):
        before, gone = gone, _stopped(aligned, drops)
        if gone.all() or np.array_equal(before, gone):
            break
        aligned = _refitted(aligned, ~gone)
        drops = find_drops(expected_onsets(aligned), statistics_of(aligned))
    return _silenced(aligned, drops), drops


def _silenced(aligned: Aligned, drops: Sequence[Drop]) -> Aligned:
    """Return the same catches without the thuds that they have in stops."""
    gone = _stopped(aligned, drops)
    near, share = aligned.mixture.near, aligned.mixture.share
    return replace(
        aligned,
        thud=tuple(
            None if lost else thud for thud, lost in zip(aligned.thud, gone.tolist(), strict=True)
        ),
        mixture=replace(aligned.mixture, share=np.where(gone[near.sound], 0.0, share)),
    )


def _stopped(aligned: Aligned, drops: Sequence[Drop]) -> npt.NDArray[np.bool_]:
    """Return whether all had stopped at each sound."""
    stopped = np.zeros(len(aligned.expected), dtype=bool)
    due = aligned.expected + aligned.mixture.lead
    for drop in drops:
        if drop.kind == "stopped":
            until = math.inf if drop.resumed is None else drop.resumed
            stopped |= (due >= drop.time) & (due < until)
    return stopped


def _refitted(aligned: Aligned, made: npt.NDArray[np.bool_]) -> Aligned:
    """Return the catches fitted again by the sounds made; the others get their neighbours' lead."""
    expected, thuds = aligned.expected, aligned.thuds
    part = align_to_grid(expected[made], thuds, float(aligned.mixture.lead[0]), EASE).mixture
    lead = np.interp(expected, expected[made], part.lead)
    near = near_pairs(expected, thuds.times, lead)
    late = near.late - lead[near.sound]
    bump = part.heard * bumps(late, part.spread) * thuds.weights[near.thud]
    share = bump / (part.extra_rate + summed(bump, near.thud, len(thuds)))[near.thud]
    mixture = replace(part, near=near, share=share, lead=lead)
    return replace(aligned, mixture=mixture, thud=paired(mixture, thuds.weights))


def split_refit(aligned: Aligned, moment: float) -> Aligned:
    """Return the same catches with the mixture and the pairing refitted before and after `moment`.

    `moment` is a change point: when a sound was expected, but not the first.
    """
    sound = int(np.searchsorted(aligned.expected, moment))
    due = (aligned.expected + aligned.mixture.lead)[sound - 1 : sound + 1]
    thud = int(np.searchsorted(aligned.thuds.times, due.mean()))
    fits: list[Mixture] = []
    of_sound: list[int | None] = []
    for sounds, heard in (
        (slice(0, sound), slice(0, thud)),
        (slice(sound, None), slice(thud, None)),
    ):
        own = aligned.thuds.chosen(heard)
        mixture = fit(aligned.expected[sounds], own, aligned.mixture.lead[sounds])
        of_part = paired(mixture, own.weights)
        of_sound += [None if of is None else heard.start + of for of in of_part]
        near = mixture.near
        near = Near(near.sound + sounds.start, near.thud + heard.start, near.late)
        fits.append(replace(mixture, near=near))
    return replace(
        aligned,
        thud=tuple(of_sound),
        mixture=_joined(fits),
    )


def _joined(fits: Sequence[Mixture]) -> Mixture:
    """Return the mixtures of successive parts as one, with the spread of all catches together."""
    mass = [float(part.share.sum()) for part in fits]
    sounds = sum(len(part.lead) for part in fits)
    squares = math.fsum(own * part.spread**2 for own, part in zip(mass, fits, strict=True))
    return Mixture(
        near=Near(
            np.concatenate([part.near.sound for part in fits]),
            np.concatenate([part.near.thud for part in fits]),
            np.concatenate([part.near.late for part in fits]),
        ),
        share=np.concatenate([part.share for part in fits]),
        lead=np.concatenate([part.lead for part in fits]),
        spread=math.sqrt(squares / math.fsum(mass)),
        heard=math.fsum(len(part.lead) / sounds * part.heard for part in fits),
        extra_rate=math.fsum(len(part.lead) / sounds * part.extra_rate for part in fits),
        extra_confidence=math.fsum(
            len(part.lead) / sounds * part.extra_confidence for part in fits
        ),
    )


@dataclass(frozen=True, slots=True)
class Sound:
    """A sound that was expected, and whether it was heard."""

    time: float
    """When it was due, in seconds of the take, without the lead."""
    late: float | None
    """Its asynchrony in seconds, below zero for early; None if it was not heard."""
    catches: tuple[Catch, ...]
    """Its catches: one, several that fall together, or none if no pattern is known."""


@dataclass(frozen=True, slots=True)
class TakeReport:
    """The report on a take. All times are in seconds of the take."""

    seconds: float
    """The length of the take."""
    thuds: int
    """The number of thuds heard: all that are clear, and all that are taken for catches."""
    known: bool
    """Whether it was compared with expected catches."""
    confidence: float
    """The probability that this report is right, or 0 if too few catches were heard to tell how
    steady they are; see `throwcount.engine.takes.verdict`."""
    remarks: tuple[str, ...]
    """What cannot be told, or only with care, in sentences; the most important first."""
    tempo: float | None = None
    """The mean tempo kept: beats a minute, or catches a minute if no pattern is known; None if it
    cannot be told."""
    readings: tuple[Reading, ...] = ()
    """If no pattern is known, the beats a minute that this may mean, the likeliest first."""
    pace: tuple[KeptTempo, ...] = ()
    """The tempo over time."""
    steadiness: Steadiness | None = None
    """How steady it was; None if too few catches were heard."""
    hands: HandBias | None = None
    """The right hand against the left; None if they cannot be told apart."""
    positions: tuple[Position, ...] = ()
    """Each throw of the cycle; empty if no pattern is known."""
    split: Change | None = None
    """The change point from which it was less steady; None if there is none."""
    drops: tuple[Drop, ...] = ()
    """Gaps that look like a drop, in order."""
    sounds: tuple[Sound, ...] = ()
    """Every sound that was expected on the take, in order."""
    extra_times: tuple[float, ...] = ()
    """When the extra thuds were heard, in order."""
    hindrances: tuple[Hindrance, ...] = ()
    """What was wrong with the take, the most important first."""


UNSURE_BY_CLICKS: Final = 0.5
"""The probability of the right place, at most, where clicks drown some catches and the call was not
found."""


def listen_report(  # noqa: PLR0913 - a take, what was played, and how they belong together
    thuds: Sequence[HeardOnset],
    seconds: float,
    catches: Iterable[Catch] = (),
    *,
    placed: bool = False,
    beats: Sequence[float] = (),
    certainty: float = 1.0,
) -> TakeReport:
    """Return the report on a take of `seconds`.

    `catches` are those expected, in order of time; empty if no pattern is known. `placed` says
    whether their times are in seconds of the take, as they are once the call was found on it; else
    they are in seconds of the call, which may begin anywhere, and the juggler may have kept to the
    tempo only roughly. `beats` are the times of the clicks that were played, on the same clock, and
    `certainty` is the probability that this is the right place, 0 to 1.
    """
    heard, hindrances = unhindered(thuds_of(thuds), beats, placed=placed)
    report = _reported(heard, seconds, tuple(catches), beats, placed=placed)
    if not placed and any(each.kind == "own clicks" for each in hindrances):
        certainty = UNSURE_BY_CLICKS
    confidence = report.confidence * certainty
    report = replace(report, confidence=confidence, hindrances=hindrances)
    steady = report.steadiness
    spread = None
    if steady is not None:
        sd = steady.asynchrony_sd
        if not report.known and steady.interval_sd is not None:
            # Clicks among other sounds are even from one to the next.
            sd = min(sd, steady.interval_sd)
        spread = (steady.heard, sd)
    nothing = tells_nothing(report.thuds, spread)
    return report if nothing is None else _told_nothing(report, nothing)


def _told_nothing(report: TakeReport, why: Hindrance) -> TakeReport:
    """Return a report without what it would tell of a juggler."""
    return replace(
        report,
        confidence=0.0,
        remarks=(),
        steadiness=None,
        hands=None,
        positions=(),
        split=None,
        drops=(),
        hindrances=(why, *report.hindrances),
    )


def _reported(
    heard: Thuds,
    seconds: float,
    expected: tuple[Catch, ...],
    clicks: Sequence[float],
    *,
    placed: bool,
) -> TakeReport:
    if not heard.clear.any():
        return _empty(heard, seconds, known=bool(expected))
    if not expected:
        heard = heard.chosen(heard.clear)
        cadence = align_to_cadence(heard)
        if cadence is None:
            return _empty(heard, seconds, known=False)
        return _report(cadence[0], seconds, readings(cadence[1]))
    aligned = align(expected, heard, seconds, placed=placed, clicks=clicks)
    if aligned is None:
        return _empty(heard, seconds, known=True)
    told = with_timbre(heard, aligned.catch_share)
    if told is not heard:
        aligned = align(expected, told, seconds, placed=placed, clicks=clicks) or aligned
    return _report(aligned, seconds, ())


def _report(aligned: Aligned, seconds: float, meant: tuple[Reading, ...]) -> TakeReport:
    """Return the report on an alignment."""
    aligned, drops = without_stops(aligned)
    confidence = confidence_of(aligned)
    steady, change = _steadiness(aligned)
    if change is not None:
        aligned = _silenced(split_refit(aligned, change.time), drops)
        steady, again = _steadiness(aligned)
        change = again or change
    confidence = confidence if steady else 0.0
    pace = kept_tempos(aligned)
    heard = sum(each.heard for each in pace)
    known = bool(aligned.catches)
    return TakeReport(
        seconds=seconds,
        thuds=aligned.heard + len(aligned.extra),
        known=known,
        confidence=confidence,
        remarks=tuple(remarks(aligned, confidence)),
        tempo=math.fsum(each.tempo * each.heard for each in pace) / heard if heard else None,
        readings=meant,
        pace=pace,
        steadiness=steady,
        hands=hand_bias(aligned) if known and steady else None,
        positions=positions(aligned) if known and steady else (),
        split=change,
        drops=drops,
        sounds=_sounds(aligned),
        extra_times=aligned.extra_times,
    )


def _steadiness(aligned: Aligned) -> tuple[Steadiness | None, Change | None]:
    """Return how steady a take is, and its change point, if any."""
    about = residuals(aligned)
    if about is None:
        return None, None
    steady = steadiness(aligned, about)
    return steady, change_point(aligned.expected, about.sound, steady.correlation)


def _empty(thuds: Thuds, seconds: float, *, known: bool) -> TakeReport:
    """Return the report on a take on which nothing is found."""
    return TakeReport(
        seconds=seconds,
        thuds=int(thuds.clear.sum()),
        known=known,
        confidence=0.0,
        remarks=(),
        extra_times=tuple(thuds.times[thuds.clear].tolist()),
    )


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
