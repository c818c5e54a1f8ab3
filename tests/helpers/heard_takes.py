"""The whole road of a take: the call is found, taken out, and thuds are found."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from called_takes import USUAL, CalledTake, Circumstances, called_take
from played import Recorded, played

from throwcount.sounds.echo.find_call import CallOnTake, find_call
from throwcount.sounds.echo.removal import without_call
from throwcount.sounds.listening.thuds import find_thuds
from throwcount.sounds.samples import RATE, Mono

BLOCK = 4096


@dataclass(frozen=True, eq=False)
class HeardTake:
    """A take, and what the program makes of it.

    Parameters
    ----------
    take
        As it was made.
    found
        Where the call was found on it.
    cleared
        What it is without the call.
    """

    take: CalledTake
    found: CallOnTake
    cleared: Mono


def heard_take(
    seed: int, above_noise: float, seconds: float = 24.0, circumstances: Circumstances = USUAL
) -> HeardTake:
    """Make a take with the call on it, find the call and take it out."""
    take = called_take(seed, above_noise, seconds, circumstances)
    recorded, call = Recorded(take.called.samples), played(take.call)
    found = find_call(recorded, call)
    assert found is not None, "the call was not found"
    cleared = without_call(recorded.blocks(BLOCK), call, found)
    return HeardTake(take, found, np.concatenate(list(cleared)))


usual_take = lru_cache(heard_take)
"""The same, made once for all tests that ask for it."""


def times_in(samples: Mono) -> list[float]:
    """Return the times of the thuds that are found."""
    return [thud.time for thud in find_thuds(Recorded(samples).blocks(BLOCK), RATE)]
