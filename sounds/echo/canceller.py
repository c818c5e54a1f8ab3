"""What speakers, room and microphone make of the call, learnt from a take on which it is heard.

The call reaches the microphone through a linear filter for each speaker, as long as the room
answers. Small loudspeakers do not keep to that when they are loud: they hold back the peaks, which
adds what is mostly in proportion to the cube of what they are given, the first odd term of any
curve that bends alike both ways; a filter of its own leads from there.

Filters are looked for that leave the least of the take, in the sense of least squares: in the
frequency domain, where neighbouring frames do not matter to each other (after Ferrara, Fast
implementation of LMS adaptive filters, IEEE Trans. ASSP 28, 1980), over so long a time that what
else is on the take averages out. To that end the take is made white, and held at a few times its
usual level: a thud on a click then hardly counts (Huber, Robust estimation of a location
parameter, Ann. Math. Stat. 35, 1964).

Clocks that differ by one part in a million more than was found come apart by a frame in 40 s,
which is too much at high frequencies. So the slip between them is measured block by block, and a
line through the last minute of it is made up for.
"""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from throwcount.sounds.echo.clocks import Clocks, fitted
from throwcount.sounds.echo.matching import background_spectrum
from throwcount.sounds.samples import CHANNELS, RATE, Mono, Samples

Floats: TypeAlias = npt.NDArray[np.float64]
Spectra: TypeAlias = npt.NDArray[np.complex128]

BLOCK: Final = 8_192
"""Frames of a block, which lasts 0.34 s."""

BINS: Final = BLOCK + 1
"""Frequencies that spectra of two blocks have."""

LEAD: Final = 240
"""Frames by which the call is to be early, so that the filters hold all of the direct sound,
however the clocks slip. Not more than 10 ms."""

LENGTH: Final = BLOCK - LEAD
"""Frames of a filter; less than a block by what slips."""

HELD: Final = 3.0
"""How far a frame may be from the usual, in standard deviations, to count in full."""

ROUNDS: Final = 6
"""How often filters and slip are improved in turns, at first."""

STEP: Final = 1.7
"""How far the filters move. A block tells what is left of itself, and what was played in two;
so its products are half of what the powers ask for, and a step of 2 would go all the way."""

REMEMBERED: Final = round(60 * RATE / BLOCK)
"""Blocks after which what was learnt has faded: people move, and rooms answer otherwise."""

INPUTS: Final = CHANNELS + 1
"""Of the filters: both channels, and the cube of their sum."""

DOUBTS: Final = (0.04, 0.04, 1.0)
"""Frequencies at which an input is weaker than this share of its mean power teach next to nothing,
so that the background there is not taken for an answer to the call. The cube is doubted more, since
many loudspeakers need none."""

TINY: Final = 1e-30
"""Added where nothing was played, so that there is something to divide by."""

TELLING: Final = 1e-4
"""In seconds: blocks by which a slip is told less exactly do not count."""


EVEN: Final = Clocks(0.0, 0.0)
"""Clocks that run alike."""


@dataclass(frozen=True, slots=True, eq=False)
class FilterBlock:
    """Some of a take, and what was played at the time."""

    index: int
    """Of this block, counted from the beginning of the take."""
    heard: Mono
    """What the take holds, shape (`BLOCK`,)."""
    played: Samples
    """The call in the same time and in as long a time before, `LEAD` frames early, shape (2
    `BLOCK`, 2)."""

    @property
    def time(self) -> float:
        """When it begins, in seconds."""
        return self.index * BLOCK / RATE


class _Comparison(NamedTuple):
    """What is left of a block beside the call that was expected, all of it made white.

    `played` are spectra of all inputs, `left` is held; `steepness` is by how much what was
    expected grows, a second.
    """

    played: Spectra
    left: Floats
    steepness: Floats


class CallFilter:
    """Tells what of a block is the call.

    `blocks` are what is learnt from at first: at least one, in the order of their time. `clocks`
    say how the clocks run beyond what the blocks are cut by, as far as it is known before. Over a
    dozen blocks a drift that is 35 parts in a million off is found; over more of them, only one
    that is less far off.
    """

    def __init__(self, blocks: Sequence[FilterBlock], clocks: Clocks = EVEN) -> None:
        self._white = _whitening(blocks)
        self._filters = np.zeros((INPUTS, BINS), dtype=np.complex128)
        self._powers = np.zeros((INPUTS, INPUTS, BINS), dtype=np.complex128)
        self._slip = clocks
        self._slips: deque[tuple[float, float, float]] = deque(maxlen=REMEMBERED)
        for _ in range(ROUNDS):
            self._relearn(blocks)

    @property
    def clocks(self) -> Clocks:
        """How the clocks run beyond what the blocks are cut by."""
        return self._slip

    def expected(self, block: FilterBlock) -> Mono:
        """Return what of a block is the call, shape (`BLOCK`,)."""
        return _last_block(self._expected(self._played(block))).astype(np.float32)

    def learn(self, block: FilterBlock) -> None:
        """Improve by what comes next."""
        compared = self._compared(block)
        powers, products = _statistics(compared)
        self._powers = self._powers * (1 - 1 / REMEMBERED) + powers
        self._improve(products)
        self._note_slip(block, compared)
        self._follow_slip()

    def _relearn(self, blocks: Sequence[FilterBlock]) -> None:
        """Go once through all that is known at first."""
        self._slips.clear()
        self._powers[:] = 0.0
        products = np.zeros((INPUTS, BINS), dtype=np.complex128)
        for block in blocks:
            compared = self._compared(block)
            powers, more = _statistics(compared)
            self._powers += powers
            products += more
            self._note_slip(block, compared)
        self._improve(products)
        self._follow_slip()

    def _played(self, block: FilterBlock) -> Spectra:
        """Return the spectra of what was played, the slip made up for."""
        spectra = np.fft.rfft(_inputs(block.played), axis=1)
        slip = self._slip.take_time(block.time) - block.time
        return np.asarray(spectra * np.exp(-_turns() * slip))

    def _expected(self, played: Spectra) -> Spectra:
        return np.asarray(np.sum(self._filters * played, axis=0))

    def _compared(self, block: FilterBlock) -> _Comparison:
        played = self._played(block)
        expected = self._expected(played)
        left = np.fft.rfft(_after_silence(block.heard - _last_block(expected)))
        white_left = _last_block(left * self._white)
        return _Comparison(
            played * self._white,
            np.clip(white_left, -HELD, HELD),
            _last_block(expected * self._white * _turns()),
        )

    def _improve(self, products: Spectra) -> None:
        """Move the filters to where less is left, given by the products of left and played."""
        mean = np.einsum("iif->i", self._powers).real / BINS
        doubt = np.diag(DOUBTS * mean + TINY)
        powers = np.moveaxis(self._powers, -1, 0) + doubt
        steps = np.linalg.solve(powers, STEP * products.T[:, :, np.newaxis])[:, :, 0].T
        answers = np.fft.irfft(self._filters + steps, axis=1)
        answers[:, LENGTH:] = 0.0
        self._filters = np.fft.rfft(answers, axis=1)

    def _note_slip(self, block: FilterBlock, compared: _Comparison) -> None:
        """Keep by how much the call is later than expected, where that can be told."""
        told = float(compared.steepness @ compared.steepness)
        if told * TELLING**2 > 1:
            late = -float(compared.left @ compared.steepness) / told
            slip = self._slip.take_time(block.time) + late
            self._slips.append((block.time, slip, told**-0.5))

    def _follow_slip(self) -> None:
        if self._slips:
            self._slip = fitted(*np.array(self._slips).T)


def _inputs(played: Samples) -> Floats:
    """Return what the filters are given, shape (`INPUTS`, frames)."""
    sides = played.T.astype(np.float64)
    middle = np.sum(sides, axis=0, keepdims=True)
    # Many times as quick as a power.
    return np.concatenate((sides, middle * middle * middle))


def _whitening(blocks: Sequence[FilterBlock]) -> Floats:
    """Return the factors that make the background white, of mean square 1."""
    about = background_spectrum(block.heard for block in blocks)
    return np.ones(BINS) if about.spectrum is None else about.whitening(BINS)


def _statistics(compared: _Comparison) -> tuple[Spectra, Spectra]:
    """Return the powers of what was played, and its products with what is left.

    Returns
    -------
    Spectra, Spectra
        Shapes (`INPUTS`, `INPUTS`, `BINS`) and (`INPUTS`, `BINS`).
    """
    adjoint = compared.played.conj()
    powers = adjoint[:, np.newaxis] * compared.played
    return powers, adjoint * np.fft.rfft(_after_silence(compared.left))


def _turns() -> Spectra:
    """Return what turns spectra into those of the slope, a second."""
    return np.asarray(2j * np.pi * np.fft.rfftfreq(2 * BLOCK, 1 / RATE))


def _after_silence(block: Floats) -> Floats:
    return np.concatenate((np.zeros(BLOCK), block))


def _last_block(spectrum: Spectra) -> Floats:
    return np.asarray(np.fft.irfft(spectrum)[BLOCK:])
