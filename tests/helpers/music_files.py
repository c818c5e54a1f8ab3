"""Music for tests: made by hand, so that every sample and every beat of it is known."""

from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile

from throwcount.sounds.mixing.music_bed import USUAL_LEVEL, Music

RATE = 48_000

Samples = npt.NDArray[np.float32]


def decoded(path: Path, samples: Samples, *, rate: int = RATE, peak: float = 0.25) -> Music:
    """Return music with exactly these samples, at the usual level as it is."""
    stereo = np.broadcast_to(samples.reshape(len(samples), -1), (len(samples), 2))
    path.write_bytes(np.ascontiguousarray(stereo, dtype="<f4").tobytes())
    return Music(path, rate, len(samples), peak, USUAL_LEVEL)


def hum(seconds: float, rate: int = RATE) -> Samples:
    """Return exactly representable noise, no louder than 0.25."""
    steps = np.random.default_rng(5).integers(-256, 257, (round(seconds * rate), 2))
    return (steps / 1024).astype(np.float32)


def tone(hertz: float, level: float, seconds: float, rate: int = RATE) -> Samples:
    """Return a sine on both channels, its peaks at `level` dBFS."""
    moments = np.arange(round(seconds * rate)) / rate
    sine = 10 ** (level / 20) * np.sin(2 * np.pi * hertz * moments)
    return np.repeat(sine[:, np.newaxis], 2, axis=1).astype(np.float32)


def struck(
    times: npt.NDArray[np.float64], seconds: float, rate: int, *, hertz: float = 1000.0
) -> Samples:
    """Return one channel of short bursts, each beginning at its time to a fraction of a sample."""
    samples = np.zeros(round(seconds * rate), dtype=np.float64)
    length = round(0.03 * rate)
    for time in times:
        first = int(np.ceil(time * rate))
        since = (np.arange(first, first + length) / rate - time)[: max(len(samples) - first, 0)]
        burst = np.exp(-since / 0.006) * np.sin(2 * np.pi * hertz * since)
        samples[first : first + len(burst)] += 0.5 * burst
    return samples.astype(np.float32)


def write(path: Path, samples: Samples, rate: int, subtype: str | None = None) -> Path:
    """Write a sound file piece by piece, in the format of its ending."""
    channels = 1 if samples.ndim == 1 else samples.shape[1]
    with soundfile.SoundFile(str(path), "w", rate, channels, subtype) as file:
        for first in range(0, len(samples), 16_384):
            file.write(samples[first : first + 16_384])
    return path
