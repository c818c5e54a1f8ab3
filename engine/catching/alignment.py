"""Which thud is which catch.

Where the call was found on the take, expected catches are on the take's clock but for a lead;
else their shift is searched for, and their pace too, as a juggler who hears no beat keeps to a
tempo only roughly (`placing`). What is left is a lead that varies slowly (`lead`), a spread around
it and a rate of extra sounds (`mixture`); with these known each sound gets at most one thud, and
each thud at most one sound (`pairing`).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.catching.expected import Catch
from engine.catching.heard import Floats, Thuds
from engine.catching.lead import EASE, START_EASE, follow
from engine.catching.mixture import Mixture, fit
from engine.catching.pairing import choices, pair_up
from engine.catching.placing import Search, certainty, within
from engine.catching.together import sounds_of


@dataclass(frozen=True, slots=True, eq=False)
class Aligned:
    """Expected sounds and the thuds that are theirs."""

    catches: tuple[Catch, ...]
    """All that were expected, in order; none where no pattern is known."""
    sounds: tuple[tuple[int, ...], ...]
    """The catches of each sound that lies on the take, as indices."""
    expected: Floats
    """When each of these sounds was expected, in seconds of the take."""
    thud: tuple[int | None, ...]
    """The thud of each sound, as an index, None where none was heard."""
    thuds: Thuds
    """All that was heard."""
    mixture: Mixture
    """The lead, the spread and how many were heard."""
    placed: bool
    """Whether the catches came on the take's clock, so that the lead means something."""
    rate: float = 1.0
    """Seconds of the take in a second of the timeline, about."""
    certainty: float = 1.0
    """How surely the catches are at this place and not at another that is nearly as
    good, 0 to 1."""

    @property
    def asynchrony(self) -> Floats:
        """Of each sound, in seconds; not a number where none was heard."""
        heard = [math.nan if thud is None else float(self.thuds.times[thud]) for thud in self.thud]
        return np.array(heard) - self.expected

    @property
    def extra(self) -> tuple[int, ...]:
        """The thuds that are no catch, as indices."""
        used = set(self.thud)
        return tuple(index for index in range(len(self.thuds.times)) if index not in used)

    @property
    def extra_times(self) -> tuple[float, ...]:
        """When they were heard, in seconds of the take, in order."""
        return tuple(self.thuds.times[list(self.extra)].tolist())


def align(
    catches: Sequence[Catch], thuds: Thuds, seconds: float, *, placed: bool
) -> Aligned | None:
    """Return the catches with their thuds; None where there is nothing to compare.

    `catches` are in order of time; in seconds of the take if they are placed. `placed` says whether
    the catches are on the take's clock, so that only a lead is not known.
    """
    groups = sounds_of([catch.time for catch in catches])
    if not groups or not len(thuds):
        return None
    due = np.array([catches[group[0]].time for group in groups])
    places = Search(due, thuds, seconds, placed).places()
    if not places:
        return None
    best = places[0]
    there = within(due * best.rate + best.shift, seconds)
    # Without the call on the take a lead cannot be told from the shift, and is taken into it.
    expected = due[there] * best.rate + (0.0 if placed else best.shift)
    start = best.lead + (best.shift if placed else 0.0)
    mixture, thud = _heard(expected, thuds, start, EASE)
    return Aligned(
        catches=tuple(catches),
        sounds=tuple(groups[index] for index in there),
        expected=expected,
        thud=thud,
        thuds=thuds,
        mixture=mixture,
        placed=placed,
        rate=best.rate,
        certainty=certainty(places),
    )


def align_near(catches: Sequence[Catch], thuds: Thuds, lead: float) -> Aligned | None:
    """Return catches that are on the clock of the thuds with their thuds; None without either.

    `catches` are in order of time. `lead` is what the lead is at first, in seconds, to a tenth of a
    second or so: that all is a beat out is taken for unlikely.
    """
    sounds = sounds_of([catch.time for catch in catches])
    if not sounds or not len(thuds):
        return None
    expected = np.array([catches[sound[0]].time for sound in sounds])
    mixture, thud = _heard(expected, thuds, lead, EASE)
    return Aligned(
        catches=tuple(catches),
        sounds=tuple(sounds),
        expected=expected,
        thud=thud,
        thuds=thuds,
        mixture=mixture,
        placed=True,
    )


def align_to_grid(grid: Sequence[float], thuds: Thuds) -> Aligned:
    """Return the places of a beat grid with their thuds; no pattern is known.

    `grid` is when a catch falls due, in seconds of the take, in order; at least one.
    """
    expected = np.asarray(grid, dtype=np.float64)
    mixture, thud = _heard(expected, thuds, 0.0)
    return Aligned(
        catches=(),
        sounds=((),) * len(expected),
        expected=expected,
        thud=thud,
        thuds=thuds,
        mixture=mixture,
        placed=False,
    )


def _heard(
    expected: Floats, thuds: Thuds, start: float, start_ease: float = START_EASE
) -> tuple[Mixture, tuple[int | None, ...]]:
    """Return the mixture that fits best, and the thud of each sound."""
    mixture = fit(expected, thuds, follow(expected, thuds, start, start_ease))
    pairs = dict(pair_up(choices(mixture, thuds.weights)))
    return mixture, tuple(pairs.get(index) for index in range(len(expected)))
