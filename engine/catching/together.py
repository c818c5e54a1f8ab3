"""Which catches make one sound: those too close together for anybody to tell apart."""

from collections.abc import Sequence
from typing import Final

MERGED: Final = 0.040
"""Seconds within which two catches are heard as one thud."""


def sounds_of(times: Sequence[float]) -> list[tuple[int, ...]]:
    """Return the catches of each sound, as indices.

    `times` say when each catch is expected, in order.
    """
    sounds: list[tuple[int, ...]] = []
    opened = 0.0
    for index, time in enumerate(times):
        if sounds and time - opened < MERGED:
            sounds[-1] += (index,)
        else:
            sounds.append((index,))
            opened = time
    return sounds
