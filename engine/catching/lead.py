"""The slowly varying lead, followed through a take by dynamic programming.

A dozen sounds at a time are compared with the thuds for every lead within reach; the path through
these windows is the one that explains most thuds and changes least. The grid of leads moves with
it, so that a clock that drifts, or a juggler who goes at a pace of their own, is followed however
far that leads.
"""

from typing import Final

import numpy as np

from engine.catching.heard import Floats, Indices, Thuds

WINDOW: Final = 12
"""Sounds in a window."""

STEP: Final = 0.01
HALF_GRID: Final = 30
"""Steps on either side of the middle: leads within 0.3 s of it."""

GRID: Final[Floats] = np.arange(-HALF_GRID, HALF_GRID + 1, dtype=np.float64) * STEP

LEAD_BLUR: Final = 0.03
"""The sd of a bump, in seconds, while the true spread is not known."""

GAIN: Final = 100.0
"""A thud right on a sound is so many times as likely as an extra thud there."""

EASE: Final = 0.015
"""Seconds of change from window to window that cost one nat."""

START_EASE: Final = 0.06
"""The same from where the lead is thought to start to where it does, if that is hardly known."""

LEAP: Final = 20.0
"""Nats that a change of any size costs."""


def follow(sounds: Floats, thuds: Thuds, start: float, start_ease: float = START_EASE) -> Floats:
    """Return the lead at each sound, in seconds.

    `sounds` say when each is expected, in order; at least one. `start` is the lead of the first
    sounds, about. `start_ease` is how many seconds off that cost one nat.
    """
    firsts = range(0, len(sounds), WINDOW)
    bases: list[int] = []
    backs: list[Indices] = []
    base, value = 0, -np.abs(GRID) / start_ease
    for first in firsts:
        if first:
            value, back = eased(value, STEP / EASE, LEAP)
            backs.append(back)
        leads = GRID + (start + base * STEP)
        value = value + _explained(sounds[first : first + WINDOW], thuds, leads)
        bases.append(base)
        shift = int(np.argmax(value)) - HALF_GRID
        base, value = base + shift, _shifted(value, shift)
    path = _traced(value, bases, base, backs)
    centres = [float(np.mean(sounds[first : first + WINDOW])) for first in firsts]
    leads = start + np.array(path) * STEP
    return np.interp(sounds, centres, leads)


def _explained(window: Floats, thuds: Thuds, leads: Floats) -> Floats:
    """Return, for each lead, how well the thuds explain the sounds of a window, in nats."""
    near = thuds.between(
        window[0] + leads[0] - 4 * LEAD_BLUR, window[-1] + leads[-1] + 4 * LEAD_BLUR
    )
    late = near.times - window[:, np.newaxis]
    sound, thud = np.nonzero((late > leads[0] - 4 * LEAD_BLUR) & (late < leads[-1] + 4 * LEAD_BLUR))
    off = late[sound, thud, np.newaxis] - leads
    bumps = np.zeros((len(window), len(leads)))
    np.add.at(bumps, sound, np.exp(-0.5 * (off / LEAD_BLUR) ** 2) * near.weights[thud, np.newaxis])
    nats: Floats = np.log1p(GAIN * bumps).sum(axis=0)
    return nats


def eased(value: Floats, ease: float, leap: float) -> tuple[Floats, Indices]:
    """Return the best value of each state one step on, and from which state it comes.

    Parameters
    ----------
    value
        Of each state, in nats.
    ease
        The cost of moving to the next state.
    leap
        The cost of moving to any.
    """
    cost = ease * np.arange(len(value))
    up, from_below = _running_best(value + cost)
    down, from_above = _running_best((value - cost)[::-1])
    up, down, from_above = up - cost, down[::-1] + cost, len(value) - 1 - from_above[::-1]
    best = np.where(up >= down, up, down)
    back = np.where(up >= down, from_below, from_above)
    top = int(np.argmax(value))
    leaping = best < value[top] - leap
    best[leaping], back[leaping] = value[top] - leap, top
    return best, back


def _running_best(value: Floats) -> tuple[Floats, Indices]:
    best = np.maximum.accumulate(value)
    fresh = np.where(value == best, np.arange(len(value)), 0)
    return best, np.maximum.accumulate(fresh)


def _shifted(value: Floats, shift: int) -> Floats:
    """Return the values on a grid whose middle has moved; what comes into view is unlikely."""
    out = np.full(len(value), float(value.min()) - LEAP)
    if shift >= 0:
        out[: len(value) - shift] = value[shift:]
    else:
        out[-shift:] = value[:shift]
    return out


def _traced(value: Floats, bases: list[int], base: int, backs: list[Indices]) -> list[int]:
    """Return the lead of each window along the best path, in steps from the start."""
    place = int(np.argmax(value)) - HALF_GRID + base
    path = [place]
    for index in range(len(backs) - 1, -1, -1):
        middle = bases[index + 1] - HALF_GRID
        place = int(backs[index][place - middle]) + middle
        path.append(place)
    return path[::-1]
