"""Where on the take the expected catches may lie, when nothing but the thuds tells.

For every shift of a stretch of expected sounds against the thuds it is counted how many meet,
and held against how many would by chance. The stretch includes the quiet before the first catch
and after the last: in a pattern of equal throws nothing else tells one beat from the next.
"""

from typing import Final

import numpy as np

from engine.catching.heard import Floats

STRETCHES: Final = (60, 600)
"""Sounds that are compared at once: few for a juggler who wanders, many for a noisy take."""

QUIET: Final = 2.0
"""Seconds without catches before the first and after the last."""

BIN: Final = 0.01
SHIFT_BLUR: Final = 0.03
APART: Final = 0.08
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
                if all(abs(shift - other) >= APART for other in found):
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
        if all(abs(int(place) - other) * BIN >= APART for other in chosen):
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
