"""The slowly varying lead, followed through a take by dynamic programming.

A dozen sounds at a time are compared with the thuds for every lead within reach; the path through
these windows is the one that explains most thuds and changes least. The grid of leads moves with
it, so that a clock that drifts, or a juggler who goes at a pace of their own, is followed however
far that leads.

Where on the take the expected catches may lie, when nothing but the thuds tells.

For every shift of a stretch of expected sounds against the thuds it is counted how many meet,
and held against how many would by chance. The stretch includes the quiet before the first catch
and after the last: in a pattern of equal throws nothing else tells one beat from the next.
"""

from typing import Final

import numpy as np

from throwcount.engine.takes.catches import Floats, Indices, Thuds

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


STRETCHES: Final = (60, 600)
"""Sounds that are compared at once: few for a juggler who wanders, many for a noisy take."""

QUIET: Final = 2.0
"""Seconds without catches before the first and after the last."""

BIN: Final = 0.01
SHIFT_BLUR: Final = 0.03
LEAST_DISTANCE: Final = 0.08
"""Seconds between two shifts that are both worth trying."""

BESIDE: Final = 4
ENDS: Final = 3
"""Sounds beside another one, and thuds at either end, that are tried."""

MOST: Final = 6
"""Shifts that are tried for each stretch."""


def shifts(sounds: Floats, thuds: Floats, nearby: float | None = None) -> list[float]:
    """Return the shifts at which most thuds meet the sounds, in seconds, the best first.

    `sounds` and `thuds` are in order of time, at least one of each. `nearby` is how far the sounds
    may be off, in seconds; None where nothing is known.
    """
    found: list[float] = []
    if nearby is None:
        found += _ends(sounds, thuds)
    for stretch in sorted({min(size, len(sounds)) for size in STRETCHES}):
        head, tail = sounds[:stretch], sounds[-stretch:]
        for part in (head, tail) if stretch < len(sounds) else (sounds,):
            for shift in _best(part, thuds, sounds, nearby):
                if all(abs(shift - other) >= LEAST_DISTANCE for other in found):
                    found.append(shift)
    return found


def around(shift: float, sounds: Floats) -> list[float]:
    """Return the shifts beside one at which a sound comes where another near the start was."""
    steps = [float(sound - sounds[0]) for sound in sounds[1 : 1 + BESIDE]]
    return [shift + sign * step for step in steps for sign in (1, -1)]


def _ends(sounds: Floats, thuds: Floats) -> list[float]:
    """Return the shifts at which the first sound is an early thud, or the last a late one."""
    early = [float(thud - sounds[0]) for thud in thuds[:ENDS]]
    late = [float(thud - sounds[-1]) for thud in thuds[-ENDS:]]
    return early + late


def _best(part: Floats, thuds: Floats, sounds: Floats, nearby: float | None) -> list[float]:
    if nearby is not None:
        low, high = -nearby, nearby
    else:
        low, high = float(thuds[0] - part[-1]), float(thuds[-1] - part[0])
    bins = int((high - low) / BIN) + 2
    counted = np.zeros(bins)
    for sound in part:
        first, last = np.searchsorted(thuds, [sound + low, sound + high])
        np.add.at(counted, ((thuds[first:last] - sound - low) / BIN).astype(np.int64), 1.0)
    steps = np.arange(bins, dtype=np.float64) * BIN + low
    score = _smoothed(counted) - _by_chance(part, thuds, sounds, steps)
    order = np.argsort(score)[::-1]
    chosen: list[int] = []
    for place in order[: 60 * MOST]:
        if all(abs(int(place) - other) * BIN >= LEAST_DISTANCE for other in chosen):
            chosen.append(int(place))
        if len(chosen) == MOST:
            break
    return [low + (place + 0.5) * BIN for place in chosen]


def _smoothed(counted: Floats) -> Floats:
    half = int(3 * SHIFT_BLUR / BIN)
    kernel = np.exp(-0.5 * (np.arange(-half, half + 1) * BIN / SHIFT_BLUR) ** 2)
    result: Floats = np.convolve(counted, kernel)[half : half + len(counted)]
    return result


def _by_chance(part: Floats, thuds: Floats, sounds: Floats, shift: Floats) -> Floats:
    """Return how many would meet at each shift if those near were anywhere near."""
    start = part[0] - QUIET * (part[0] == sounds[0])
    end = part[-1] + QUIET * (part[-1] == sounds[-1])
    near = np.searchsorted(thuds, end + shift) - np.searchsorted(thuds, start + shift)
    share = len(part) * SHIFT_BLUR * np.sqrt(2 * np.pi) / max(end - start, SHIFT_BLUR)
    chance: Floats = near * share
    return chance
