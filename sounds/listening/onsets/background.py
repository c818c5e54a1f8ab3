"""What a take is like where nothing is caught, as its last few seconds have it.

All of it are shares of many moments, so that the catches themselves, which are few, change little.
"""

from typing import Final

import numpy as np
import numpy.typing as npt

from sounds.listening.onsets.bands import Powers
from sounds.listening.onsets.evidence import Evidence
from sounds.listening.onsets.history import RunningQuantile

QUIETEST: Final = 1e-10
"""Mean square of a band that counts as silence, -100 dB: about what 16 bits leave.
Nothing is told from the background below it."""

FLOOR_HOPS: Final = 20
FLOOR_SECONDS: Final = 4.0
FLOOR_SHARE: Final = 0.3
"""The background of a band is what its means over so many moments exceed in 7 of 10, so that it
is found in the pauses between words and thuds."""

STRIDE: Final = 4
SECONDS: Final = 8.0
"""How far the moments are apart that are kept, and for how long they are."""

USUAL_SHARE: Final = 0.8
USUAL_EVIDENCE: Final = 2.0
SCORE_SHARE: Final = 0.9
USUAL_SCORE: Final = 0.85
"""Stationary noise has more than this evidence in one band in one moment of 5, and more than this
score in one moment of 10, both in dB; so it is in any other take, with numbers of its own."""

SOFTENING: Final = 0.2
"""Added to the usual score, in dB, so that not everything stands out where there is no noise."""

TRUST_SECONDS: Final = 0.5
"""How much of stationary noise is taken for granted as long as little else is known."""


class BandBackground:
    """Keeps what is usual.

    `period` is in seconds from moment to moment.
    """

    def __init__(self, bands: int, period: float) -> None:
        kept = round(SECONDS / (STRIDE * period))
        trust = round(TRUST_SECONDS / (STRIDE * period))
        floors = round(FLOOR_SECONDS / (FLOOR_HOPS * period))
        self._floors = RunningQuantile(floors, np.full(bands, QUIETEST))
        self._evidence = RunningQuantile(kept, np.full(bands, USUAL_EVIDENCE), trust)
        self._scores = RunningQuantile(kept, [USUAL_SCORE], trust)

    def add_powers(self, powers: Powers) -> None:
        """Take in the powers of moments; those that do not fill a mean are left out."""
        count = len(powers) // FLOOR_HOPS
        whole = powers[: count * FLOOR_HOPS]
        self._floors.add(whole.reshape(count, FLOOR_HOPS, powers.shape[1]).mean(axis=1))

    @property
    def floor(self) -> npt.NDArray[np.float64]:
        """Mean square of the background in each band, shape (bands,)."""
        return np.maximum(self._floors.quantile(FLOOR_SHARE), QUIETEST)

    def add_evidence(self, evidence: Evidence) -> None:
        """Take in the evidence of moments."""
        self._evidence.add(evidence[::STRIDE])

    @property
    def weights(self) -> npt.NDArray[np.float64]:
        """How much each band counts, shape (bands,); their sum is 1.

        A band counts by the inverse square of the evidence that it often has where there is
        nothing, as independent measures do by the inverse of their variance. In a room full of
        voices, those above the voices count most.
        """
        weights = (1.0 + self._evidence.quantile(USUAL_SHARE)) ** -2
        return np.asarray(weights / np.sum(weights))

    def add_scores(self, scores: npt.NDArray[np.float64]) -> None:
        """Take in the scores of moments, in dB, shape (moments,)."""
        self._scores.add(scores[::STRIDE, np.newaxis])

    @property
    def usual_score(self) -> float:
        """The score that 9 moments of 10 stay below, and a little, in dB."""
        return SOFTENING + float(self._scores.quantile(SCORE_SHARE)[0])
