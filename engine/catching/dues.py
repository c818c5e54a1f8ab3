"""The sounds that were due, and how likely each was to be heard while all went well."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import Final, TypeAlias

from engine.catching.alignment import Aligned
from engine.catching.expected import Catch
from engine.catching.heard import Thuds

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
class Due:
    """A sound that was due.

    Parameters
    ----------
    time
        When, in seconds of the take, the lead of this juggler included.
    share
        How surely the thud that was taken for it is its own and no stray, 0 to 1; 0 where none
        was heard.
    catches
        What it is of; nothing where no pattern is known.
    """

    time: float
    share: float
    catches: tuple[Catch, ...] = ()

    @property
    def heard(self) -> bool:
        """Whether a thud was taken for it."""
        return self.share > 0


@dataclass(frozen=True, slots=True, eq=False)
class Background:
    """What is known of a take apart from its drops.

    Parameters
    ----------
    thuds
        All that was heard.
    spread
        The sd of thuds around the sounds they are of, in seconds.
    strays
        Stray sounds a second, more than 0.
    rate
        Seconds of the take in a second of the timeline, about.
    """

    thuds: Thuds
    spread: float
    strays: float
    rate: float = 1.0


def background_of(aligned: Aligned) -> Background:
    """Return what is known of a take apart from its drops."""
    mixture = aligned.mixture
    return Background(aligned.thuds, mixture.spread, mixture.strays, aligned.rate)


def dues_of(aligned: Aligned) -> list[Due]:
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
    dues: list[Due] = []
    times = (aligned.expected + mixture.lead).tolist()
    for index, (time, thud) in enumerate(zip(times, aligned.thud, strict=True)):
        share = 0.0 if thud is None else max(shares[index, thud], LEAST_SHARE)
        catches = tuple(aligned.catches[catch] for catch in aligned.sounds[index])
        apart = CLOSE * mixture.spread
        if catches:
            apart = min(apart, CLOSE_BEATS * 60 / catches[0].tempo)
        if dues and catches and time - dues[-1].time < apart:
            before = dues[-1]
            dues[-1] = replace(
                before, share=max(before.share, share), catches=before.catches + catches
            )
        else:
            dues.append(Due(time, share, catches))
    return dues


def indices_of(rows: Iterable[Row]) -> Iterator[int]:
    """Yield the sounds of these rows, in order."""
    return chain.from_iterable(range(*row) for row in rows)


def quiet(dues: Sequence[Due]) -> list[Row]:
    """Return the stretches in which next to nothing was heard, for a first guess."""
    rows = [(start, min(start + STRETCH, len(dues))) for start in range(0, len(dues), STRETCH)]
    shares = [sum(due.heard for due in dues[start:end]) / (end - start) for start, end in rows]
    return [row for row, share in zip(rows, shares, strict=True) if share < max(shares) / 2]


def chances(dues: Sequence[Due], gone: Iterable[int]) -> list[float]:
    """Return how likely each sound is to be heard while all is well, by its kind of throw.

    Parameters
    ----------
    dues
        Every sound that was due.
    gone
        Those that were not to be heard, as indices.
    """
    heard: dict[object, int] = {}
    total: dict[object, int] = {}
    left_out = set(gone)
    for index, due in enumerate(dues):
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
        for kind in map(_kind, dues)
    ]


def _kind(due: Due) -> object:
    return tuple((catch.part, catch.cycle_beat, catch.throw) for catch in due.catches)
