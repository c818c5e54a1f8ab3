"""What every take is brought to before it is listened to."""

from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt

RATE: Final = 24_000
"""Frames a second. Thuds, claps and clacks have next to nothing above 12 kHz, phones that record
compressed sound cut there or not far above, and half the frames take half the time."""

Mono: TypeAlias = npt.NDArray[np.float32]
"""Float32 of shape (frames,), values in [-1, 1]."""
