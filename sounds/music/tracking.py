"""Beats as librosa hears them: a first guess, to within some hundredths of a second.

librosa is an extra, and slow to load: it is only loaded where beats are estimated.
"""

from typing import Any, Final

import numpy as np
import numpy.typing as npt
import soxr

from sounds.errors import MusicError
from sounds.music.music import SAMPLE, Music
from sounds.music.onsets import Array
from sounds.placing.mixer import CHANNELS
from sounds.voices.clip import Samples

RATE: Final = 22_050
HOP: Final = 512
"""The rate and the hop that librosa's methods are made for."""

MARGIN: Final = 4 * HOP
"""Samples on either side of a block, in which its transforms reach out."""

BLOCK: Final = 2048 * HOP

TIGHTNESS: Final = (100.0, 400.0)
"""How firmly the tempo is held to: as usual, and more firmly."""

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
    librosa = _library()
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


def _library() -> Any:  # noqa: ANN401 - librosa has few types
    try:
        import librosa  # noqa: PLC0415 - an extra, and slow to load
    except ImportError as error:
        raise MusicError(MISSING) from error
    return librosa


def _onset_strength(librosa: Any, sound: Samples) -> npt.NDArray[np.float32]:  # noqa: ANN401 - librosa has few types
    """Return librosa's onset strength block by block, since a whole piece takes much memory."""
    padded = np.pad(sound, (MARGIN, MARGIN + BLOCK))
    pieces = []
    for first in range(0, len(sound), BLOCK):
        block = padded[first : first + BLOCK + 2 * MARGIN]
        strength = librosa.onset.onset_strength(y=block, sr=RATE, hop_length=HOP)
        pieces.append(strength[MARGIN // HOP : (MARGIN + BLOCK) // HOP])
    return np.concatenate(pieces)[: len(sound) // HOP + 1]


def _mono(music: Music) -> Samples:
    """Return the mean of the channels at `RATE`."""
    resampler = soxr.ResampleStream(music.rate, RATE, 1, dtype="float32", quality="HQ")
    pieces = []
    with music.path.open("rb") as file:
        while data := file.read(BLOCK * CHANNELS * SAMPLE.itemsize):
            samples = np.frombuffer(data, dtype=SAMPLE).reshape(-1, CHANNELS)
            pieces.append(resampler.resample_chunk(samples.mean(axis=1)))
    pieces.append(resampler.resample_chunk(np.zeros(0, dtype=np.float32), last=True))
    return np.concatenate(pieces)
