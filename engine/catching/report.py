"""All that a take tells, as plain data for a table, a document or a picture."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from engine.catching.alignment import Aligned, align, align_to_lattice
from engine.catching.apart import apart
from engine.catching.cadence import Reading, cadences, overall, readings
from engine.catching.change import Change, fell_apart
from engine.catching.drops import Drop, find_drops
from engine.catching.dues import background_of, dues_of
from engine.catching.expected import Catch
from engine.catching.heard import Heard, Thuds, thuds_of
from engine.catching.lattice import ends, lattice
from engine.catching.leanings import Hands, Position, cycle_of, hands, positions
from engine.catching.pace import Pace, paces_of
from engine.catching.remarks import nothing_heard, remarks
from engine.catching.steadiness import Steadiness, residuals, steadiness
from engine.catching.sureness import sureness_of, sureness_of_cadence


@dataclass(frozen=True, slots=True)
class Sound:
    """A sound that was expected, and whether it was heard.

    Parameters
    ----------
    time
        When it was due, in seconds of the take, no lead taken into account.
    late
        Seconds by which it was heard later, below zero for earlier; None where it was not heard.
    catches
        Its catches: one, several that fall together, or none where no pattern is known.
    """

    time: float
    late: float | None
    catches: tuple[Catch, ...]


@dataclass(frozen=True, slots=True)
class TakeReport:
    """What is told of a take. All times are in seconds of the take.

    Parameters
    ----------
    seconds
        The length of the take.
    thuds
        Thuds that were heard.
    known
        Whether it was held against expected catches.
    sureness
        The chance that this report is right, 0 to 1, and 0 where too few catches were heard to tell
        how steady they are; see `engine.catching.sureness`.
    remarks
        What cannot be told, or only with care, in sentences; the most important first.
    tempo
        The tempo kept, over all: beats a minute, or catches a minute where no pattern is known;
        None where nothing tells.
    readings
        Where no pattern is known, the beats a minute that this may mean, the likeliest first.
    pace
        The tempo over time.
    steadiness
        None where too few catches were heard.
    hands
        None where the hands cannot be told apart.
    positions
        Each throw of the cycle; empty where no pattern is known.
    fell_apart
        None where the take did not.
    drops
        Gaps that look like a drop, in order.
    sounds
        Every sound that was expected on the take, in order.
    strays
        When thuds were heard that are no catch.
    """

    seconds: float
    thuds: int
    known: bool
    sureness: float
    remarks: tuple[str, ...]
    tempo: float | None
    readings: tuple[Reading, ...]
    pace: tuple[Pace, ...]
    steadiness: Steadiness | None
    hands: Hands | None
    positions: tuple[Position, ...]
    fell_apart: Change | None
    drops: tuple[Drop, ...]
    sounds: tuple[Sound, ...]
    strays: tuple[float, ...]


def listen_report(
    thuds: Sequence[Heard],
    seconds: float,
    catches: Iterable[Catch] = (),
    *,
    placed: bool = False,
) -> TakeReport:
    """Return what a take tells.

    Parameters
    ----------
    thuds
        What was heard on it.
    seconds
        Its length.
    catches
        What was expected, in order of time; empty where no pattern is known.
    placed
        Whether the times of the catches are in seconds of the take, as they are once the call was
        found on it; else they are in seconds of the call, which may begin anywhere, and the
        juggler may have kept to the tempo only roughly.
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
    return _told(aligned, seconds, sureness_of(aligned), ())


def _alone(thuds: Thuds, seconds: float) -> TakeReport:
    found = cadences(thuds.times.tolist())
    rate = overall(found)
    if rate is None:
        return _empty(thuds, seconds, known=False)
    first, last = ends(thuds.times, rate)
    margin = 0.5 * 60 / rate
    places = lattice(found, first - margin, last + margin)
    aligned = align_to_lattice(places, thuds)
    return _told(aligned, seconds, sureness_of_cadence(found), readings(rate))


def _told(
    aligned: Aligned,
    seconds: float,
    sureness: float,
    meant: tuple[Reading, ...],
) -> TakeReport:
    steady, change = _steadiness(aligned)
    if change is not None:
        aligned = apart(aligned, change.time)
        steady, again = _steadiness(aligned)
        change = again or change
    sureness = sureness if steady else 0.0
    cycle = cycle_of(aligned)
    pace = paces_of(aligned, cycle)
    strays = aligned.strays
    known = bool(aligned.catches)
    return TakeReport(
        seconds=seconds,
        thuds=len(aligned.thuds),
        known=known,
        sureness=sureness,
        remarks=tuple(remarks(aligned, sureness)),
        tempo=_usual(pace),
        readings=meant,
        pace=pace,
        steadiness=steady,
        hands=hands(aligned) if known and steady else None,
        positions=positions(aligned, cycle) if known and steady else (),
        fell_apart=change,
        drops=find_drops(dues_of(aligned), background_of(aligned)),
        sounds=_sounds(aligned),
        strays=strays,
    )


def _steadiness(aligned: Aligned) -> tuple[Steadiness | None, Change | None]:
    """Return how steady a take is, and where it fell apart, if it did."""
    about = residuals(aligned)
    if about is None:
        return None, None
    steady = steadiness(aligned, about)
    return steady, fell_apart(aligned.expected, about.sound, steady.correlation)


def _empty(thuds: Thuds, seconds: float, *, known: bool) -> TakeReport:
    """Return the report of a take on which nothing is to be found."""
    return TakeReport(
        seconds=seconds,
        thuds=len(thuds),
        known=known,
        sureness=0.0,
        remarks=(nothing_heard(len(thuds), known=known),),
        tempo=None,
        readings=(),
        pace=(),
        steadiness=None,
        hands=None,
        positions=(),
        fell_apart=None,
        drops=(),
        sounds=(),
        strays=tuple(thuds.times.tolist()),
    )


def _usual(pace: Sequence[Pace]) -> float | None:
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
