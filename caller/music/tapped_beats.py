"""Tapped beats as the music has them: taps put on the onsets that they belong to.

A person taps early, and not twice the same. Where something begins to sound near the taps, again
and again, the beats are there; elsewhere they stay as they were tapped.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from caller.music.taps import SteadyTaps, TapsError, listed_taps, steady_taps, wanders
from sounds.music.estimate import LONGEST_SECONDS
from sounds.music.music import Music
from sounds.music.onsets import Onsets, onsets_of
from sounds.music.settling import Settled, settled_listed, settled_steady

EARLY: Final = (
    "People tap some 20 to 80 ms early (Repp, Psychon. Bull. Rev. 12 (2005) 969-992), and no "
    "onsets of the music were found to put the beats on: if the count comes before the music, "
    "make the first beat that much later."
)
WANDERING: Final = 0.02
"""Seconds by which the music's own beats leave an even one where its tempo is held to move."""

LISTED: Final = "The tempo moves, or the taps are uneven: every beat is listed as it was tapped."


@dataclass(frozen=True, slots=True)
class TappedBeats:
    """Beats that were tapped."""

    tempo: float | None
    """Beats a minute; None where the taps keep to no tempo."""
    beats: tuple[float, ...]
    """The beats, in seconds of the music, in order."""
    sentences: tuple[str, ...]
    """What a person should know of them."""


def tapped_beats(taps: Sequence[float], music: Music) -> TappedBeats:
    """Return the beats that taps on music were meant for.

    `taps` are in seconds of the music, in order. `music` is what was heard. Onsets are looked for
    in up to `LONGEST_SECONDS` of it.

    Raises
    ------
    TapsError
        If they are too few to tell of beats.
    """
    listed, even = listed_taps(taps), _even(taps)
    onsets = onsets_of(music) if music.seconds <= LONGEST_SECONDS else None
    own = None if onsets is None else settled_listed(np.array(listed.beats), onsets)
    if even is not None and (own is None or not wanders(np.array(own.beats), WANDERING)):
        return _steady(even, onsets)
    told = (LISTED, *listed.sentences)
    if own is None:
        return TappedBeats(None, listed.beats, (*told, EARLY))
    return TappedBeats(None, _from_zero(own.beats), (*told, _settled_told(own)))


def _even(taps: Sequence[float]) -> SteadyTaps | None:
    """Return the one tempo of the taps; None where there is none."""
    try:
        even = steady_taps(taps)
    except TapsError:
        return None
    return None if even.moves else even


def _steady(even: SteadyTaps, onsets: Onsets | None) -> TappedBeats:
    settled = None
    if onsets is not None:
        settled = settled_steady(even.first, 60 / even.tempo, even.beats, onsets)
    if settled is None:
        every = tuple(even.first + number * 60 / even.tempo for number in range(even.beats))
        return TappedBeats(even.tempo, _from_zero(every), (*even.sentences, EARLY))
    beats = _from_zero(settled.beats)
    tempo = 60.0 / float(np.mean(np.diff(beats)))
    return TappedBeats(tempo, beats, (*even.sentences, _settled_told(settled)))


def _from_zero(beats: Sequence[float]) -> tuple[float, ...]:
    """Return the beats without those that would be before the music."""
    return tuple(beat for beat in beats if beat >= 0.0)


def _settled_told(settled: Settled) -> str:
    when = "later" if settled.later >= 0.0 else "earlier"
    return (
        f"They were put on the onsets of the music, {1000 * abs(settled.later):.0f} ms {when} "
        "than tapped."
    )
