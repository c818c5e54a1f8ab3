"""Estimates the beats of music with a confidence, and moves tapped beats to the music's onsets.

librosa's beat tracker (Ellis, Beat tracking by dynamic programming, J. New Music Res. 36, 2007)
gives a first guess, to within some hundredths of a second. Then one tempo is looked for that holds
throughout; failing that, the tracker's own beats are moved to their onsets. All that speaks against
the beats is measured and gives the confidence. Which beats open a bar is not estimated. librosa is
an extra, slow to load, and loaded only here.

Tapped beats are moved to the onsets, since people tap early, and never twice the same.
"""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from throwcount.sounds.errors import MusicError
from throwcount.sounds.mixing.music_bed import SAMPLE, Music
from throwcount.sounds.music.candidates import (
    CLEAR,
    CONFIDENT,
    FEWEST_BEATS,
    Candidate,
    most_confident,
    moving_beats,
    steady_beats,
    tempo_of,
)
from throwcount.sounds.music.pulse import Array, Onsets, find_pulse, onsets_of
from throwcount.sounds.samples import CHANNELS, Samples, at_rate

RATE: Final = 22_050
HOP: Final = 512
"""Sample rate in Hz, and hop in frames, that librosa's methods are made for."""

MARGIN: Final = 4 * HOP
"""Frames on either side of a block that its transforms need."""

BLOCK: Final = 2048 * HOP

TIGHTNESS: Final = (100.0, 400.0)
"""How tightly the tracker keeps to the tempo: its default, and tighter."""

MISSING: Final = (
    "Beats are estimated by librosa, which is not installed: `pip install '.[music]'`. They can "
    "also be given, or tapped."
)


def tracked_beats(music: Music) -> list[Array]:
    """Return the beats of music in seconds, once for each of `TIGHTNESS`.

    Raises
    ------
    MusicError
        If librosa is not installed.
    """
    try:
        import librosa  # noqa: PLC0415 - an extra, and slow to load
    except ImportError as error:
        raise MusicError(MISSING) from error
    strength = _onset_strength(librosa, _mono(music))
    beats = []
    for tightness in TIGHTNESS:
        _, found = librosa.beat.beat_track(
            onset_envelope=strength,
            sr=RATE,
            hop_length=HOP,
            tightness=tightness,
            trim=False,
            units="time",
        )
        beats.append(np.asarray(found, dtype=np.float64))
    return beats


def _onset_strength(librosa: Any, sound: Samples) -> npt.NDArray[np.float32]:  # noqa: ANN401 - librosa has few types
    """Return librosa's onset strength, computed block by block to save memory."""
    padded = np.pad(sound, (MARGIN, MARGIN + BLOCK))
    pieces = []
    for first in range(0, len(sound), BLOCK):
        block = padded[first : first + BLOCK + 2 * MARGIN]
        strength = librosa.onset.onset_strength(y=block, sr=RATE, hop_length=HOP)
        pieces.append(strength[MARGIN // HOP : (MARGIN + BLOCK) // HOP])
    return np.concatenate(pieces)[: len(sound) // HOP + 1]


def _mono(music: Music) -> Samples:
    """Return the mean of the channels at `RATE`."""
    with music.path.open("rb") as file:
        blocks = iter(lambda: file.read(BLOCK * CHANNELS * SAMPLE.itemsize), b"")
        stereo = (np.frombuffer(data, dtype=SAMPLE).reshape(-1, CHANNELS) for data in blocks)
        return np.concatenate(list(at_rate((s.mean(axis=1) for s in stereo), music.rate, RATE, 1)))


LONGEST_SECONDS: Final = 1200.0

NEARLY_ALL: Final = 0.95

NO_BEATS: Final = "Unsure: hardly any beats are heard in the music."


@dataclass(frozen=True, slots=True)
class Estimate:
    """The beats of music, as far as they can be heard from it alone."""

    beats: tuple[float, ...]
    """In seconds, in order, from the first with an onset to the last; empty if none is heard."""
    tempo: float | None
    """Beats a minute: the tempo throughout, or the median where it moves; None without beats."""
    steady: bool
    """Whether the tempo is the same throughout, so that `tempo` and the first beat say it all."""
    confidence: float
    """From 0 to 1."""
    sentence: str
    """What was found, whether it is sure and, if not, why; half and twice the tempo, since a person
    may count so."""


def estimate(music: Music) -> Estimate:
    """Estimate the beats of decoded music.

    This takes a few seconds, or some twenty when librosa is used for the first time, since parts of
    it are compiled then.

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
    """Return the first candidate that is sure, unless another covers clearly more of the music."""
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


EARLIEST: Final = 0.12
LATEST: Final = 0.06
"""Seconds by which taps may be early or late on the whole; people tap 20 to 80 ms early (Repp,
Psychon. Bull. Rev. 12 (2005) 969-992; figures from memory)."""

REACH: Final = 0.05
"""Largest distance in seconds of a tap from its onset, once all taps are moved alike."""

SHARE: Final = 0.25
"""The same as a share of a beat; a larger distance is to another beat."""

HELD: Final = 0.6
"""Least share of the stretches that keep to one tempo."""

STRONGER: Final = 2.0
"""Onsets at the moved taps must be so many times stronger than in the mean."""


@dataclass(frozen=True, slots=True)
class Settled:
    """Tapped beats, moved to the onsets of the music."""

    beats: tuple[float, ...]
    """In seconds, in order, as many as were tapped."""
    later: float
    """Median time in seconds by which they are later than the taps."""


def settled_steady(first: float, period: float, count: int, onsets: Onsets) -> Settled | None:
    """Return `count` tapped beats of one tempo, moved to the music's pulse.

    `first` is the first beat in seconds and `period` the seconds from beat to beat, as tapped. The
    result is None if the music has no such pulse near the taps.
    """
    numbers = np.arange(count, dtype=np.float64) - count // 2
    middle = first + period * (count // 2)
    for parts in (1, 2):  # If half beats are as strong, whole ones may be hard to find.
        pulse = find_pulse(onsets, period / parts)
        if pulse is None or pulse.held < HELD:
            continue
        beat = pulse.first + round((middle - pulse.first) / pulse.period) * pulse.period
        beats = beat + numbers * parts * pulse.period
        if _is_near(beat - middle, period) and _is_strong(onsets.at(beats), onsets):
            return _settled(beats, beat - middle)
    return None


def _is_near(later: float, period: float) -> bool:
    return -min(LATEST, SHARE * period) <= later <= min(EARLIEST, SHARE * period)


def _is_strong(strengths: Array, onsets: Onsets) -> bool:
    """Return whether onsets at some times are much stronger than in the mean."""
    return float(strengths.mean()) > STRONGER * max(float(onsets.strength.mean()), 1e-12)


def settled_listed(taps: Array, onsets: Onsets) -> Settled | None:
    """Return beats tapped one by one, each moved to its onset; None if there are none near."""
    usual = float(np.median(np.diff(taps)))
    shifts = np.arange(
        -min(LATEST, SHARE * usual), min(EARLIEST, SHARE * usual), onsets.hop, dtype=np.float64
    )
    strengths = onsets.at(taps + shifts[:, np.newaxis])
    best = int(np.argmax(strengths.mean(axis=1)))
    if not _is_strong(strengths[best], onsets):
        return None
    moved = taps + shifts[best]
    found, own = onsets.near(moved, min(REACH, SHARE * usual))
    clear = own > CLEAR * np.median(own)
    change = np.interp(np.arange(len(taps)), np.flatnonzero(clear), (found - taps)[clear])
    return _settled(taps + change, float(np.median(change)))


def _settled(beats: Array, later: float) -> Settled:
    return Settled(tuple(round(float(beat), 4) for beat in beats), later)
