"""Expected onsets: the sounds that were due, and how likely each was to be heard."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import Final, TypeAlias

from throwcount.engine.takes.alignment import Aligned
from throwcount.engine.takes.catches import Catch, Thuds

STRETCH: Final = 12
"""Sounds in each section of the first guess."""

MOST_HEARD: Final = 0.98
"""The share heard of a kind of throw, at most."""

PRIOR: Final = 8.0
"""Weight of the overall share in the share heard of each kind of throw, in catches."""

SoundRange: TypeAlias = tuple[int, int]
"""The index of the first of successive sounds, and of the first after them."""

CLOSE: Final = 3.0
"""Standard deviations between two sounds within which a thud may be of either."""

CLOSE_BEATS: Final = 0.25
"""Beats beyond which two sounds are told apart, however wide the spread."""

LEAST_SHARE: Final = 0.001


@dataclass(frozen=True, slots=True)
class ExpectedOnset:
    """A sound that was due."""

    time: float
    """When it was due, in seconds of the take, the lead included."""
    share: float
    """The probability that its thud is its own and not an extra one, 0 to 1; 0 if it was not
    heard."""
    catches: tuple[Catch, ...] = ()
    """Its catches; none if no pattern is known."""

    @property
    def heard(self) -> bool:
        """Whether it was heard."""
        return self.share > 0


@dataclass(frozen=True, slots=True, eq=False)
class TakeStatistics:
    """The statistics of a take that the search for drops needs."""

    thuds: Thuds
    """All thuds."""
    spread: float
    """Standard deviation of thuds about their sounds, in seconds."""
    extra_rate: float
    """Extra onsets a second, more than 0."""
    extra_confidence: float
    """The sum of their confidence, a second, more than 0."""
    rate: float = 1.0
    """Seconds of the take in a second of the timeline, roughly."""


def statistics_of(aligned: Aligned) -> TakeStatistics:
    """Return the statistics of a take."""
    mixture = aligned.mixture
    return TakeStatistics(
        aligned.thuds, mixture.spread, mixture.extra_rate, mixture.extra_confidence, aligned.rate
    )


def expected_onsets(aligned: Aligned) -> list[ExpectedOnset]:
    """Return the sounds that were due; those too close to tell apart count as one."""
    mixture = aligned.mixture
    pairs = zip(mixture.near.sound.tolist(), mixture.near.thud.tolist(), strict=True)
    shares = dict(zip(pairs, mixture.share.tolist(), strict=True))
    expected: list[ExpectedOnset] = []
    times = (aligned.expected + mixture.lead).tolist()
    for index, (time, thud) in enumerate(zip(times, aligned.thud, strict=True)):
        share = 0.0 if thud is None else max(shares[index, thud], LEAST_SHARE)
        catches = tuple(aligned.catches[catch] for catch in aligned.sounds[index])
        closest = CLOSE * mixture.spread
        if catches:
            closest = min(closest, CLOSE_BEATS * 60 / catches[0].tempo)
        if expected and catches and time - expected[-1].time < closest:
            before = expected[-1]
            expected[-1] = replace(
                before, share=max(before.share, share), catches=before.catches + catches
            )
        else:
            expected.append(ExpectedOnset(time, share, catches))
    return expected


def indices_of(rows: Iterable[SoundRange]) -> Iterator[int]:
    """Yield the indices of the sounds of these rows, in order."""
    return chain.from_iterable(range(*row) for row in rows)


def quiet(expected: Sequence[ExpectedOnset]) -> list[SoundRange]:
    """Return the sections in which hardly anything was heard, as a first guess at the stops."""
    rows = [
        (start, min(start + STRETCH, len(expected))) for start in range(0, len(expected), STRETCH)
    ]
    shares = [sum(due.heard for due in expected[start:end]) / (end - start) for start, end in rows]
    return [row for row, share in zip(rows, shares, strict=True) if share < max(shares) / 2]


def chances(expected: Sequence[ExpectedOnset], gone: Iterable[int]) -> list[float]:
    """Return the probability that each sound is heard while all goes well, by its kind of throw.

    It is the share heard of its kind, drawn towards that of all (additive smoothing). `expected`
    is every sound that was due. `gone` holds the indices of the sounds that were not made.
    """
    kinds = [
        tuple((catch.part, catch.cycle_beat, catch.throw) for catch in due.catches)
        for due in expected
    ]
    left_out = set(gone)
    there = [index for index in range(len(expected)) if index not in left_out]
    total = Counter(kinds[index] for index in there)
    heard = Counter(kinds[index] for index in there if expected[index].heard)
    overall = (heard.total() + 0.9 * PRIOR) / (total.total() + PRIOR)
    return [
        min((heard[kind] + overall * PRIOR) / (total[kind] + PRIOR), MOST_HEARD) for kind in kinds
    ]
