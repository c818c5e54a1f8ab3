"""Pieces of the call that are looked for on a take.

Cycles of a call are alike, so most pieces of it fit the take at many places. What tells these
apart is what comes once: the announcement and the count-in, and the end. There pieces lie closest,
and some are short, so that nothing else is in them.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from sounds.listening.call.played_call import Playback, PlayedCall
from sounds.listening.rate import RATE, Mono
from sounds.placing.mixer import CHANNELS

STEP: Final = RATE // 4
"""Pieces begin and end on multiples of so many frames."""

LONG: Final = 8
SHORT: Final = 2
"""Steps that a piece lasts. In 2 s two clocks that differ by 200 parts in a million come apart by
less than half a millisecond."""

LONGEST: Final = LONG * STEP
"""Frames of the longest piece."""

AT_THE_ENDS: Final = 4
"""Pieces of either length at the beginning and at the end of the call, each half over the next."""

BETWEEN: Final = 12
"""Long pieces between them, at the least."""

ON_A_SHORT_TAKE: Final = 8
"""Long pieces that a take holds, at the least, wherever in a long call it begins ..."""

MOST: Final = 1_000
"""... unless there were more than so many in the call."""

AUDIBLE: Final = 1e-4
"""Share of the loudest step's energy above which a step holds a sound."""


@dataclass(frozen=True, slots=True, order=True)
class CallSpan:
    """Part of a call, in frames at `RATE` in the call's time."""

    start: int
    """Its first frame."""
    frames: int
    """How many."""


@dataclass(frozen=True, slots=True, eq=False)
class Template:
    """A piece of the call."""

    stretch: CallSpan
    """Where it lies."""
    samples: Mono
    """Both channels added, shape (frames,)."""


def call_spans(call: PlayedCall, take_seconds: float) -> list[CallSpan]:
    """Return where the pieces lie that are looked for on a take, by their start."""
    audible = _audible_steps(call)
    sounding = np.flatnonzero(audible)
    if not len(sounding):
        return []
    first, end = int(sounding[0]), int(sounding[-1]) + 1
    places: set[tuple[int, int]] = set()
    for steps in (SHORT, LONG):
        for offset in range(0, AT_THE_ENDS * steps // 2, steps // 2):
            places |= {(first + offset, steps), (end - steps - offset, steps)}
    count = _count_between(end - first, take_seconds)
    spread = np.rint(np.linspace(first, end - LONG, count)).astype(int)
    places |= {(place, LONG) for place in spread.tolist()}
    held = sorted(place for place in places if first <= place[0] and place[0] + place[1] <= end)
    return [
        CallSpan(start * STEP, steps * STEP)
        for start, steps in held
        if audible[start : start + steps].any()
    ]


def cut_templates(call: PlayedCall, wanted: Iterable[CallSpan]) -> Iterator[Template]:
    """Yield pieces of a call, in the order of `wanted`, which is by their start."""
    playback = Playback(call, 0.0, 0.0)
    kept = np.zeros(0, dtype=np.float32)
    first = 0
    for stretch in wanted:
        passed = stretch.start - first
        playback.skip(max(passed - len(kept), 0))
        kept = kept[passed:]
        missing = max(stretch.frames - len(kept), 0)
        kept = np.concatenate((kept, playback.read(missing).sum(axis=1)))
        first = stretch.start
        yield Template(stretch, kept[: stretch.frames])


def _count_between(steps: int, take_seconds: float) -> int:
    seconds = steps * STEP / RATE
    for_a_short_take = math.ceil(seconds * ON_A_SHORT_TAKE / max(take_seconds, 1.0))
    return max(BETWEEN, min(for_a_short_take, MOST))


def _audible_steps(call: PlayedCall) -> npt.NDArray[np.bool_]:
    """Tell which steps of a call hold a sound."""
    energies: list[float] = []
    left = np.zeros((0, CHANNELS), dtype=np.float32)
    for block in call.blocks():
        left = np.concatenate((left, block))
        whole = len(left) // STEP
        steps = left[: whole * STEP].reshape(whole, STEP * CHANNELS)
        energies += np.sum(steps**2, axis=1).tolist()
        left = left[whole * STEP :]
    energies.append(float(np.sum(left**2)))
    loudest = max(energies)
    return np.array([energy > AUDIBLE * loudest for energy in energies])
