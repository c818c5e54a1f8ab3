"""The beats of music estimated, and how far the estimate is to be trusted.

librosa's beat tracker says about how fast the music is. First one tempo is looked for that holds
throughout; where there is none, the tracker's own beats are moved to the onsets they belong to.
Then everything that speaks against the beats is looked at, and that together says how sure the
estimate is. Which of the beats opens a bar is not estimated.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from sounds.errors import MusicError
from sounds.music.candidates import (
    CONFIDENT,
    FEWEST_BEATS,
    Candidate,
    most_confident,
    moving_beats,
    steady_beats,
    tempo_of,
)
from sounds.music.music import Music
from sounds.music.onsets import Array, onsets_of
from sounds.music.tracking import tracked_beats

LONGEST_SECONDS: Final = 1200.0

NEARLY_ALL: Final = 0.95

NO_BEATS: Final = "Unsure: hardly any beats are heard in the music."


@dataclass(frozen=True, slots=True)
class Estimate:
    """The beats of music, as far as they can be heard from it alone."""

    beats: tuple[float, ...]
    """The beats, in seconds of the music, in order, from the first one with an onset to the last;
    none where there are none."""
    tempo: float | None
    """Beats a minute: that of all of it, or the usual one where it moves; None without beats."""
    steady: bool
    """Whether it is the same throughout, so that `tempo` and the first beat say it all."""
    confidence: float
    """How sure this is, from 0 to 1."""
    sentence: str
    """What was found, whether it is sure and if not, why; half and twice the tempo, since a person
    may as well count so."""


def estimate(music: Music) -> Estimate:
    """Estimate the beats of decoded music.

    Takes a few seconds; some twenty when librosa is used for the first time, since parts of it
    are compiled then.

    Raises
    ------
    MusicError
        If librosa is not installed, or the music is longer than `LONGEST_SECONDS`.
    """
    if music.seconds > LONGEST_SECONDS:
        raise MusicError(
            f"The music lasts {music.seconds / 60:.0f} minutes; beats are estimated for at most "
            f"{LONGEST_SECONDS / 60:.0f}. Give its tempo and first beat, or tap it."
        )
    onsets = onsets_of(music)
    tracked = tracked_beats(music) if onsets.strength.any() else []
    if not tracked or min(map(len, tracked)) < FEWEST_BEATS:
        return Estimate((), None, False, 0.0, NO_BEATS)
    candidates = [steady_beats(tracked[0], onsets), moving_beats(tracked, onsets)]
    found = [each for each in candidates if each is not None]
    if not found:
        return Estimate((), None, False, 0.0, NO_BEATS)
    return _told(_chosen(found))


def _chosen(candidates: list[Candidate]) -> Candidate:
    """Return the first that is sure, unless another tells of clearly more of the music."""
    sure = [each for each in candidates if each.confidence >= CONFIDENT]
    if not sure:
        return most_confident(candidates)
    fullest = max(sure, key=lambda each: each.seconds)
    return sure[0] if sure[0].seconds > NEARLY_ALL * fullest.seconds else fullest


def _told(candidate: Candidate) -> Estimate:
    beats, confidence = candidate.beats, round(candidate.confidence, 2)
    tempo = tempo_of(beats)
    worst = min(candidate.doubts, key=lambda doubt: doubt.confidence)
    sentence = _found(beats, candidate.steady)
    if confidence < CONFIDENT:
        sentence = f"Unsure, {worst.reason}: {sentence[0].lower()}{sentence[1:]}"
    sentence += f" Half of that, {tempo / 2:.1f}, or twice, {tempo * 2:.1f}, may be meant."
    times = tuple(round(float(beat), 4) for beat in beats)
    return Estimate(times, tempo, candidate.steady, confidence, sentence)


def _found(beats: Array, steady: bool) -> str:
    where = f"from {beats[0]:.2f} s to {beats[-1]:.2f} s"
    if steady:
        return f"One tempo, {tempo_of(beats):.2f} beats a minute, {where}."
    low, high = np.quantile(60.0 / np.diff(beats), [0.05, 0.95])
    return f"A tempo that moves between {low:.1f} and {high:.1f} beats a minute, {where}."
