"""A take that fell apart, listened to as two: before and after.

One spread for all of it lies between the two, so that many of the wide catches at the end would
count as extra thuds, and the juggler as steadier than they were.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from engine.catching.alignment import Aligned
from engine.catching.heard import Thuds
from engine.catching.mixture import Mixture, Near, fit
from engine.catching.pairing import choices, pair_up


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
