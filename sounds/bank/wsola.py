"""Speech made quicker without a change of pitch: waveform similarity overlap-add.

Short stretches of the original are laid closer together, each moved by a few milliseconds to
where its waveform continues the one before it best (Verhelst & Roelands, ICASSP 1993, 554-557).
"""

import numpy as np
import numpy.typing as npt

from sounds.voices.clip import Samples

FRAME_SECONDS = 0.020
REACH_SECONDS = 0.008
"""How far a stretch may move either way: a whole period of a voice down to 63 Hz in all."""

SPECK = 1e-9
"""Keeps the similarity of silences defined."""


def shortened(samples: Samples, rate: int, factor: float) -> Samples:
    """Return speech that lasts `factor` times less long at the same pitch.

    `samples` are float32, shape (frames,). `rate` is in frames a second. A `factor` above 1
    shortens; 1 changes nothing.
    """
    if factor == 1:
        return samples
    hop = round(FRAME_SECONDS * rate / 2)
    reach = round(REACH_SECONDS * rate)
    window = 0.5 - 0.5 * np.cos(np.pi * (np.arange(2 * hop) + 0.5) / hop)
    length = round(len(samples) / factor)
    steps = -(-length // hop) + 1
    margin = hop + reach
    padded = np.zeros(margin + len(samples) + round(hop * factor) + 3 * hop + reach)
    padded[margin : margin + len(samples)] = samples
    quick = np.zeros((steps + 1) * hop)
    place = reach
    for step in range(steps):
        wanted = round(step * hop * factor) + reach
        if step:
            place = _best_place(padded, wanted, place + hop, reach, 2 * hop)
        quick[step * hop : (step + 2) * hop] += window * padded[place : place + 2 * hop]
    return quick[hop : hop + length].astype(np.float32)


def _best_place(
    padded: npt.NDArray[np.float64], wanted: int, following: int, reach: int, size: int
) -> int:
    """Return where, within `reach` of `wanted`, the waveform is most like that at `following`."""
    natural = padded[following : following + size]
    around = padded[wanted - reach : wanted + reach + size]
    similarity = np.correlate(around, natural, mode="valid")
    energy = np.convolve(around**2, np.ones(size), mode="valid")
    return int(wanted - reach + np.argmax(similarity / np.sqrt(energy + SPECK)))
