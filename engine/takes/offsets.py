"""Offsets of the expected sounds against the thuds: candidates, and the slowly varying lead.

Where the offset is unknown, candidates are the peaks of the cross-correlation histogram of
expected sounds and thuds, smoothed and less the level expected by chance (Perkel, Gerstein &
Moore, Neuronal spike trains and stochastic point processes II, Biophys. J. 7 (1967) 419-440). It
includes the quiet before the first catch and after the last, as in a pattern of equal throws
nothing else tells one beat from the next.

The lead is then followed through the take by dynamic programming (Viterbi's algorithm; Forney,
Proc. IEEE 61 (1973) 268-278): in each window of a dozen sounds every lead within reach is compared
with the thuds, and the path taken explains most thuds for the least change. The grid of leads
moves along, so that a drifting clock, or a juggler with a pace of their own, is followed any
distance.
"""

from typing import Final

import numpy as np

from throwcount.engine.takes.catches import Floats, Indices, Thuds

WINDOW: Final = 12
"""Sounds in a window."""

STEP: Final = 0.01
"""Seconds from one lead on the grid to the next."""

HALF_GRID: Final = 30
"""Steps on either side of the middle of the grid, which are 0.3 s."""

GRID: Final[Floats] = np.arange(-HALF_GRID, HALF_GRID + 1, dtype=np.float64) * STEP

LEAD_BLUR: Final = 0.03
"""Standard deviation of thuds about their sounds, in seconds, while the spread is unknown."""

GAIN: Final = 100.0
"""How many times as likely a thud right on a sound is as an extra thud there."""

EASE: Final = 0.015
"""Seconds of change from window to window that cost one nat."""

START_EASE: Final = 0.06
"""Seconds between the assumed and the true lead at the start that cost one nat, by default."""

LEAP: Final = 20.0
"""The most that a change costs, in nats."""


def follow(sounds: Floats, thuds: Thuds, start: float, start_ease: float = START_EASE) -> Floats:
    """Return the lead at each sound, in seconds.

    `sounds` holds the expected times, in order, at least one. `start` is roughly the lead of the
    first sounds, and `start_ease` the error in it, in seconds, that costs one nat.
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
    """Return the log likelihood, in nats, of each lead for the sounds of a window."""
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
    """Return the best value of each state one step on, and the index of the state it comes from.

    `value` is that of each state, in nats. Moving costs `ease` a state, and at most `leap`. Time is
    linear in the number of states (Felzenszwalb & Huttenlocher, Efficient belief propagation for
    early vision, Int. J. Computer Vision 70 (2006) 41-54).
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
    """Return the values on a grid moved by `shift` steps; values that enter it are unlikely."""
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


SECTIONS: Final = (60, 600)
"""Sounds that are compared at once: few for a juggler who wanders, many for a noisy take."""

QUIET: Final = 2.0
"""Seconds without catches before the first and after the last."""

BIN: Final = 0.01
SHIFT_BLUR: Final = 0.03
"""Seconds of a bin of the histogram, and the standard deviation of its smoothing kernel."""

LEAST_DISTANCE: Final = 0.08
"""Seconds between two candidates, at least."""

BESIDE: Final = 4
"""How many sounds after the first a candidate may be off by."""

FIRST: Final = 8
LAST: Final = 3
"""How many of the first thuds may be the first catch, and of the last ones the last catch."""

MOST: Final = 6
"""Candidates from each section, at most."""


def shifts(sounds: Floats, thuds: Floats, nearby: float | None = None) -> list[float]:
    """Return the candidate offsets of the sounds against the thuds, in seconds.

    `sounds` and `thuds` are in order of time, at least one of each. `nearby` is how far the sounds
    may be off, in seconds; None if that is unknown.
    """
    found: list[float] = []
    if nearby is None:  # the first sound may be an early thud, or the last one a late thud
        found += [float(thud - sounds[0]) for thud in thuds[:FIRST]]
        found += [float(thud - sounds[-1]) for thud in thuds[-LAST:]]
    for size in sorted({min(size, len(sounds)) for size in SECTIONS}):
        head, tail = sounds[:size], sounds[-size:]
        for part in (head, tail) if size < len(sounds) else (sounds,):
            for shift in _peaks(part, thuds, sounds, nearby):
                if all(abs(shift - other) >= LEAST_DISTANCE for other in found):
                    found.append(shift)
    return found


def around(shift: float, sounds: Floats) -> list[float]:
    """Return offsets that differ from `shift` by the time between sounds near the start."""
    steps = [float(sound - sounds[0]) for sound in sounds[1 : 1 + BESIDE]]
    return [shift + sign * step for step in steps for sign in (1, -1)]


def _peaks(part: Floats, thuds: Floats, sounds: Floats, nearby: float | None) -> list[float]:
    """Return the highest peaks of the cross-correlation histogram of a part, in seconds."""
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
    half = int(3 * SHIFT_BLUR / BIN)
    kernel = np.exp(-0.5 * (np.arange(-half, half + 1) * BIN / SHIFT_BLUR) ** 2)
    smoothed = np.convolve(counted, kernel)[half : half + bins]
    score = smoothed - _by_chance(part, thuds, sounds, steps)
    order = np.argsort(score)[::-1]
    chosen: list[int] = []
    for place in order[: 60 * MOST]:
        if all(abs(int(place) - other) * BIN >= LEAST_DISTANCE for other in chosen):
            chosen.append(int(place))
        if len(chosen) == MOST:
            break
    return [low + (place + 0.5) * BIN for place in chosen]


def _by_chance(part: Floats, thuds: Floats, sounds: Floats, shift: Floats) -> Floats:
    """Return how many thuds would meet a sound at each offset if they came at a constant rate."""
    start = part[0] - QUIET * (part[0] == sounds[0])
    end = part[-1] + QUIET * (part[-1] == sounds[-1])
    near = np.searchsorted(thuds, end + shift) - np.searchsorted(thuds, start + shift)
    share = len(part) * SHIFT_BLUR * np.sqrt(2 * np.pi) / max(end - start, SHIFT_BLUR)
    chance: Floats = near * share
    return chance
