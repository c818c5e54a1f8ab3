"""What keeps a take from telling anything, found before all else from the thuds alone.

*Own clicks.* What was played may be heard as thuds. Clicks keep to the beats to a millisecond or
two, and hands do not: the best who tap along have a standard deviation of 2 % of the interval, some
10 ms (Repp, Psychon. Bull. Rev. 12 (2005) 969-992). So of the thuds within `AROUND` of a beat
nearly all lie within `LOCKED` of it. Where that is so, these thuds are left out.

*An echo.* From one bare wall it follows each thud after the same time, to a millisecond or two,
whether it is weaker or not. Catches that fall together do so within some 10 ms and more. So an echo
is a narrow peak among the times from clear thuds to others, and what follows a clear thud after
that time is left out.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

import numpy as np

from throwcount.engine.takes.catches import Floats, Indices, Thuds

HindranceKind: TypeAlias = Literal[
    "own clicks", "echo", "suppression", "call not found", "call doubtful", "too few thuds"
]


@dataclass(frozen=True, slots=True)
class Hindrance:
    """What is wrong with a take, whether or not it could be helped."""

    kind: HindranceKind
    """What it is, in a word or two."""
    text: str
    """What that means, and what to do about it, in sentences."""


LEFT_OUT: Final = (
    "The clicks of the call are on the take: {count:,} thuds keep to the beat to {most:.0f} ms, as "
    "no hand does. They were left out. If the call was played aloud, say what was played and leave "
    "out --headphones, or turn the speakers down until the catches are louder."
)

ONLY_CLICKS: Final = (
    "What was heard keeps to its beat to {sd:.1f} ms, as clicks do and no hand does, so it tells "
    "nothing of the catches. Use headphones, or turn the speakers down until the catches are "
    "louder; if the call was played aloud, listen without --headphones and say what was played."
)

ECHO: Final = (
    "An echo followed the catches after {lag:.0f} ms, and was left out. Lay the phone nearer to "
    "you, and further from bare walls."
)

NOTHING_HEARD: Final = (
    "No catch was heard on this take: was it recorded close enough, and loud enough?"
)

TOO_FEW: Final = (
    "Too little of what was heard is a catch to tell anything. See that the pattern, if given, is "
    "the one thrown, lay the phone nearer, on something soft, and turn off whatever levels its "
    "recording or takes out noise."
)

HANDS: Final = 0.005
"""Seconds: a standard deviation that no hands reach."""

FEWEST_HANDS: Final = 8
"""Catches that tell it. Of so many with one of 8 ms 9 in 100 seem to have less than `HANDS`, but a
take of so few tells little anyway."""


def unhindered(
    thuds: Thuds, beats: Sequence[float], *, placed: bool
) -> tuple[Thuds, tuple[Hindrance, ...]]:
    """Return the thuds without those of clicks and echoes, and what hindered.

    `beats` are the times at which a click was played, in order: in seconds of the take if `placed`,
    else of the call; none if that is not known.
    """
    found: list[Hindrance] = []
    clicks = clicks_among(thuds, beats, placed=placed)
    if len(clicks):
        thuds = thuds.chosen(np.delete(np.arange(len(thuds)), clicks))
        text = LEFT_OUT.format(count=len(clicks), most=1000 * LOCKED)
        found.append(Hindrance("own clicks", text))
    thuds, lag = without_echo(thuds)
    if lag is not None:
        found.append(Hindrance("echo", ECHO.format(lag=1000 * lag)))
    return thuds, tuple(found)


def tells_nothing(thuds: int, spread: tuple[int, float] | None) -> Hindrance | None:
    """Return why a report tells nothing of a juggler, if it does not.

    `thuds` is the number of thuds. `spread` is the number of catches among them, and the standard
    deviation in seconds of their asynchronies, or of the intervals if that is less; None if they
    are too few to tell.
    """
    if spread is None:
        return Hindrance("too few thuds", TOO_FEW if thuds else NOTHING_HEARD)
    heard, sd = spread
    if heard >= FEWEST_HANDS and sd < HANDS:
        return Hindrance("own clicks", ONLY_CLICKS.format(sd=1000 * sd))
    return None


SHORTEST_LAG: Final = 0.040
LONGEST_LAG: Final = 0.150
"""Seconds from a thud to its echo: nearer ones are one thud, and further walls too weak."""

SAME_LAG: Final = 0.0015
NEAR_LAG: Final = 0.015
"""Seconds about the lag of an echo: within the first its own lie, within the second those of
catches that follow each other closely."""

FEWEST_ECHOES: Final = 6
ECHO_SHARE: Final = 0.1
"""Echoes, at least: in number, and as a share of the thuds that are not doubtful."""

NARROW: Final = 0.45
"""Share of the lags within `NEAR_LAG` that lie within `SAME_LAG`, at least."""


def without_echo(thuds: Thuds) -> tuple[Thuds, float | None]:
    """Return the thuds without those that are echoes, and the lag of these in seconds, if any."""
    lag = _echo_lag(thuds)
    if lag is None:
        return thuds, None
    clear, kept = thuds.clear, np.ones(len(thuds), dtype=np.bool_)
    before = thuds.times - lag
    same = np.searchsorted(thuds.times, [before - SAME_LAG, before + SAME_LAG]).T.tolist()
    for later, (first, end) in enumerate(same):
        kept[later] = not (kept[first:end] & clear[first:end]).any()
    return thuds.chosen(kept), lag


def _echo_lag(thuds: Thuds) -> float | None:
    """Return the lag of the echoes among some thuds, in seconds; None if they are few."""
    times = thuds.times
    last = np.searchsorted(times, times + LONGEST_LAG)
    clear = np.flatnonzero(thuds.clear)
    lags = np.concatenate(
        [np.zeros(0), *(times[first + 1 : last[first]] - times[first] for first in clear.tolist())]
    )
    lags = lags[lags >= SHORTEST_LAG]
    if len(lags) < FEWEST_ECHOES:
        return None
    lag, same = _commonest(lags)
    near = np.count_nonzero(np.abs(lags - lag) < NEAR_LAG)
    least = max(FEWEST_ECHOES, ECHO_SHARE * len(clear), NARROW * near)
    return None if same < least else lag


def _commonest(lags: Floats) -> tuple[float, int]:
    """Return the lag that most lie within `SAME_LAG` of, and how many these are."""
    order = np.sort(lags)
    ends = np.searchsorted(order, order + 2 * SAME_LAG)
    most = int(np.argmax(ends - np.arange(len(order))))
    lag = float(np.median(order[most : ends[most]]))
    return lag, int(np.count_nonzero(np.abs(lags - lag) <= SAME_LAG))


AROUND: Final = 0.015
LOCKED: Final = 0.004
"""Seconds about a beat."""

FEWEST_CLICKS: Final = 16
CLICK_SHARE: Final = 0.4
"""Clicks heard, at least: in number, and as a share of the beats."""

CLICKS: Final = 0.75
"""Share of the thuds within `AROUND` of a beat that lie within `LOCKED`, at least."""

COMPARED: Final = 300
"""Thuds that are compared with the beats, at most, from the middle of a take."""

STEP: Final = 0.004
"""Seconds to which the offset is known at first; drift over `COMPARED` thuds moves it by more."""

PLACED_WITHIN: Final = 0.05
"""Seconds by which the clicks may be off where the call was found."""

MOST_DRIFT: Final = 3e-4
"""By how much two clocks differ, as a share, at most."""


def clicks_among(thuds: Thuds, beats: Sequence[float], *, placed: bool) -> Indices:
    """Return the indices of the thuds that are clicks; none if there are too few to tell.

    `beats` are the times on which a click was played: in seconds of the take if `placed`, else of
    the call.
    """
    times = thuds.times[thuds.clear]
    none = np.zeros(0, dtype=np.int64)
    due = np.asarray(beats, dtype=np.float64)
    middle = len(times) // 2
    some = times[max(middle - COMPARED // 2, 0) : middle + COMPARED // 2]
    if min(len(some), len(due)) < FEWEST_CLICKS:
        return none
    delay, rate = _offset(some, due, PLACED_WITHIN if placed else None), 1.0
    for within in (AROUND, AROUND, 2 * LOCKED, LOCKED):
        nearest, late = _nearest(some, due * rate + delay)
        own = np.abs(late) < within
        if np.count_nonzero(own) < FEWEST_CLICKS:
            return none
        rate, delay = np.polyfit(due[nearest[own]], some[own], 1).tolist()
    there = due * rate + delay
    _, late = _nearest(some, there)
    beats_there = np.count_nonzero((there >= some[0] - AROUND) & (there <= some[-1] + AROUND))
    near = np.count_nonzero(np.abs(late) < AROUND)
    locked = np.count_nonzero(np.abs(late) < LOCKED)
    least = max(FEWEST_CLICKS, CLICK_SHARE * beats_there, CLICKS * near)
    if locked < least or abs(rate - 1) > MOST_DRIFT:
        return none
    _, late = _nearest(thuds.times, there)
    return np.flatnonzero(np.abs(late) < AROUND)


def _offset(times: Floats, due: Floats, within: float | None) -> float:
    """Return by how much the beats have to be moved for most thuds to be on one."""
    moved = (times - due[:, np.newaxis]).ravel()
    if within is not None:
        moved = moved[np.abs(moved) < within]
    if not len(moved):
        return math.inf
    counts = np.bincount(np.floor((moved - moved.min()) / STEP).astype(np.int64))
    smooth = np.convolve(counts, (1, 1, 1), "same")
    return float(moved.min() + (int(np.argmax(smooth)) + 0.5) * STEP)


def _nearest(times: Floats, due: Floats) -> tuple[Indices, Floats]:
    """Return the index of the beat nearest to each thud, and how much later the thud is."""
    after = np.clip(np.searchsorted(due, times), 1, len(due) - 1)
    nearest = after - (times - due[after - 1] < due[after] - times)
    return nearest, times - due[nearest]
