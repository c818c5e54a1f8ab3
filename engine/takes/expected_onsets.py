"""The sounds that were due, and how likely each was to be heard while all went well."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import Final, TypeAlias

from throwcount.engine.takes.alignment import Aligned
from throwcount.engine.takes.catches import Catch, Thuds

STRETCH: Final = 12
"""Sounds in a stretch of the first guess."""

MOST_HEARD: Final = 0.98
"""The share heard of a kind of throw that is reckoned with, at most."""

PRIOR: Final = 8.0
"""Catches' worth of the overall share in the share heard of each kind of throw."""

Row: TypeAlias = tuple[int, int]
"""The first of a row of sounds, and the first after it."""

CLOSE: Final = 3.0
"""Spreads between two sounds within which a thud may be of either."""

CLOSE_BEATS: Final = 0.25
"""Beats beyond which two sounds are told apart, however wide the spread."""

LEAST_SHARE: Final = 0.001


@dataclass(frozen=True, slots=True)
class ExpectedOnset:
    """A sound that was due."""

    time: float
    """When, in seconds of the take, the lead of this juggler included."""
    share: float
    """How surely the thud that was taken for it is its own and no extra thud, 0 to 1; 0 where none
    was heard."""
    catches: tuple[Catch, ...] = ()
    """What it is of; nothing where no pattern is known."""

    @property
    def heard(self) -> bool:
        """Whether a thud was taken for it."""
        return self.share > 0


@dataclass(frozen=True, slots=True, eq=False)
class TakeStatistics:
    """What is known of a take apart from its drops."""

    thuds: Thuds
    """All that was heard."""
    spread: float
    """The sd of thuds around the sounds they are of, in seconds."""
    extra_rate: float
    """Extra sounds a second, more than 0."""
    rate: float = 1.0
    """Seconds of the take in a second of the timeline, about."""


def statistics_of(aligned: Aligned) -> TakeStatistics:
    """Return what is known of a take apart from its drops."""
    mixture = aligned.mixture
    return TakeStatistics(aligned.thuds, mixture.spread, mixture.extra_rate, aligned.rate)


def expected_onsets(aligned: Aligned) -> list[ExpectedOnset]:
    """Return the sounds that were due, those that may take each other's thud as one."""
    mixture = aligned.mixture
    near = mixture.near
    shares = dict(
        zip(
            zip(near.sound.tolist(), near.thud.tolist(), strict=True),
            mixture.share.tolist(),
            strict=True,
        )
    )
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


def indices_of(rows: Iterable[Row]) -> Iterator[int]:
    """Yield the sounds of these rows, in order."""
    return chain.from_iterable(range(*row) for row in rows)


def quiet(expected: Sequence[ExpectedOnset]) -> list[Row]:
    """Return the stretches in which next to nothing was heard, for a first guess."""
    rows = [
        (start, min(start + STRETCH, len(expected))) for start in range(0, len(expected), STRETCH)
    ]
    shares = [sum(due.heard for due in expected[start:end]) / (end - start) for start, end in rows]
    return [row for row, share in zip(rows, shares, strict=True) if share < max(shares) / 2]


def chances(expected: Sequence[ExpectedOnset], gone: Iterable[int]) -> list[float]:
    """Return how likely each sound is to be heard while all is well, by its kind of throw.

    `expected` is every sound that was due. `gone` are the sounds that were not to be heard, as
    indices.
    """
    heard: dict[object, int] = {}
    total: dict[object, int] = {}
    left_out = set(gone)
    for index, due in enumerate(expected):
        if index not in left_out:
            kind = _kind(due)
            heard[kind] = heard.get(kind, 0) + due.heard
            total[kind] = total.get(kind, 0) + 1
    overall = (sum(heard.values()) + 0.9 * PRIOR) / (sum(total.values()) + PRIOR)
    return [
        min(
            (heard.get(kind, 0) + overall * PRIOR) / (total.get(kind, 0) + PRIOR),
            MOST_HEARD,
        )
        for kind in map(_kind, expected)
    ]


def _kind(due: ExpectedOnset) -> object:
    return tuple((catch.part, catch.cycle_beat, catch.throw) for catch in due.catches)
