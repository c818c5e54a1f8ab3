"""Music as plain data: where its samples are, how loud it is, and where it lies under a piece."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np

from sounds.placing.gain import MusicLevel

USUAL_LEVEL: Final = -23.0
"""Integrated loudness of music where nobody speaks, in LKFS: that of broadcast programmes (EBU
R 128). It is then a little softer than a count, and well above the clicks alone.

A count by the built-in voice measures -21 to -18 LKFS over the whole of it (100 to 240 beats a
minute). Under words music is `USUAL_DUCK` lower, -31 LKFS, hence at least 10 LU below them, which
is what listeners want of speech over music (Torcoli et al., Preferred levels for background
ducking to produce esthetically pleasing audio for TV with clear speech, J. Audio Eng. Soc. 67
(2019) 1003-1011).
"""

USUAL_DUCK: Final = 8.0
"""How much lower music is under words, in dB."""

SAMPLE: Final = np.dtype("<f4")
"""One sample of a decoded file."""


@dataclass(frozen=True, slots=True)
class Music:
    """Decoded music."""

    path: Path
    """A file of bare samples, `SAMPLE`, left and right in turn."""
    rate: int
    """Frames a second."""
    frames: int
    """How many frames there are, at least 1."""
    peak: float
    """True peak, linear; above 1 where lossy coding has swung over."""
    loudness: float
    """Integrated loudness in LKFS (ITU-R BS.1770), as it is heard from both sides; -inf where
    nothing is louder than its absolute gate of -70."""
    warning: str = ""
    """A sentence on what is damaged; empty if nothing is."""

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return self.frames / self.rate


@dataclass(frozen=True, slots=True)
class Track:
    """Music at its place under a piece."""

    music: Music
    """What is heard."""
    start: float = 0.0
    """When its first frame is heard, in seconds of the piece; negative if it began earlier, so that
    the piece opens in the middle of it."""
    level: float = 0.0
    """Its level, in dB against the usual."""
    duck: float = USUAL_DUCK
    """How much lower it is under words, in dB, at least 0."""
    since: float = 0.0
    """Nothing is heard of it before this moment of the piece, in seconds."""

    def later(self, seconds: float) -> "Track":
        """Return it with the music so much later in the piece."""
        return replace(self, start=self.start + seconds)

    @property
    def wanted(self) -> MusicLevel:
        """How loud it is to be, for laying out all gains of the piece.

        Music that is all but silent is left as it is.
        """
        audible = self.music.loudness > -np.inf
        change = USUAL_LEVEL - self.music.loudness if audible else 0.0
        return MusicLevel(self.music.peak, change + self.level, self.duck)
