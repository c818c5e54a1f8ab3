"""The call as the speakers were given it, and the pieces of it that are looked for on a take.

Cycles of a call are alike, so most pieces of it fit a take at many places. Only what comes once
tells the places apart: the announcement, the count-in and the end. So the pieces lie closest there,
and some are short, so that they hold nothing else.
"""

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import soundfile

from throwcount.sounds.child_process import native_chatter_discarded
from throwcount.sounds.errors import TakeError
from throwcount.sounds.files.decoders import (
    HIGHEST_RATE,
    LOWEST_RATE,
    ForwardFile,
    check_readable,
    finite,
)
from throwcount.sounds.samples import CHANNELS, RATE, Mono, Samples, Source, at_rate

BLOCK: Final = 16_384
"""Frames that are read at a time."""


@dataclass(frozen=True, slots=True, eq=False)
class PlayedCall:
    """What the speakers were given."""

    start: Callable[[], Source]
    """Returns the sound from its beginning each time it is called: stereo, with the first frame at
    the call's time 0."""
    rate: int
    """Sample rate in Hz of that sound."""

    def blocks(self, rate: float = RATE) -> Iterator[Samples]:
        """Yield the whole sound at another rate, in stereo blocks of different lengths.

        `rate` is the sample rate in Hz, which need not be whole.
        """

        def played() -> Iterator[Samples]:
            source = self.start()
            while len(block := source.read(BLOCK)):
                yield block

        return at_rate(played(), self.rate, rate, CHANNELS)


class Playback:
    """A call on the clock of a take, frame by frame, with silence before and after it.

    `delay` is the take's time of the call's time 0, in seconds, met to half a frame. `drift` is how
    much faster the take's clock ran, in parts in a million.
    """

    def __init__(self, call: PlayedCall, delay: float, drift: float) -> None:
        first = round(delay * RATE)
        self._blocks = call.blocks(RATE * (1 + drift * 1e-6))
        self._waiting = _silence(max(first, 0))
        self.over = False
        """Whether only silence follows."""
        self.skip(max(-first, 0))

    def read(self, count: int) -> Samples:
        """Return the next frames of the take's clock, shape (`count`, 2)."""
        parts = [self._waiting[:count]]
        left = self._waiting[count:]
        missing = count - len(parts[0])
        while missing and not self.over:
            block = next(self._blocks, None)
            if block is None:
                self.over = True
                break
            parts.append(block[:missing])
            left = block[missing:]
            missing -= len(parts[-1])
        self._waiting = left
        return np.concatenate([*parts, _silence(missing)])

    def skip(self, count: int) -> None:
        """Skip the next `count` frames."""
        while count and not self.over:
            count -= len(self.read(min(count, BLOCK)))


def _silence(count: int) -> Samples:
    return np.zeros((count, CHANNELS), dtype=np.float32)


MOST_CHANNELS: Final = 2


class _FileSource:
    """Reads a file on two channels, which are the same if the file has one."""

    def __init__(self, path: Path) -> None:
        with native_chatter_discarded():
            self._file = ForwardFile(str(path))

    def read(self, count: int) -> Samples:
        """Return the next `count` frames: fewer at the end or where the file breaks off."""
        block = self._file.decoded(count)
        if not len(block):
            self._file.close()
        return np.ascontiguousarray(np.broadcast_to(finite(block), (len(block), CHANNELS)))


def call_in_file(path: Path) -> PlayedCall:
    """Return the call in a WAV or FLAC file as `render` writes; OGG and MP3 may be shifted in time.

    Raises
    ------
    TakeError
        If the file cannot be read, or has more than two channels.
    """
    check_readable(path, "call")
    try:
        with native_chatter_discarded(), ForwardFile(str(path)) as file:
            channels, rate = file.channels, file.samplerate
    except (soundfile.LibsndfileError, TypeError) as error:  # TypeError: bare samples, by its name
        raise TakeError(
            f"The call {path} cannot be read: it is damaged, or it is not a WAV, FLAC, OGG or MP3 "
            f"file."
        ) from error
    if channels > MOST_CHANNELS:
        raise TakeError(f"The call {path} has {channels} channels; a call has one or two.")
    if not LOWEST_RATE <= rate <= HIGHEST_RATE:
        raise TakeError(
            f"The call {path} has {rate} samples a second; a call has {LOWEST_RATE} to "
            f"{HIGHEST_RATE}."
        )
    return PlayedCall(lambda: _FileSource(path), rate)


STEP: Final = RATE // 4
"""Frames of a step; pieces begin and end on whole steps."""

LONG: Final = 8
SHORT: Final = 2
"""Lengths of a piece, in steps. In 2 s two clocks that differ by 200 parts in a million drift apart
by less than half a millisecond."""

LONGEST: Final = LONG * STEP
"""Frames of the longest piece."""

AT_THE_ENDS: Final = 4
"""How many pieces of either length lie at each end of the call; each overlaps the next by half."""

BETWEEN: Final = 12
"""Least number of long pieces between them."""

ON_A_SHORT_TAKE: Final = 8
"""Least number of long pieces on a take, wherever in a long call it begins ..."""

MOST: Final = 1_000
"""... as long as the call has no more pieces than this."""

AUDIBLE: Final = 1e-4
"""Share of the loudest step's energy above which a step counts as sounding."""


@dataclass(frozen=True, slots=True, order=True)
class CallSpan:
    """Part of a call, in frames at `RATE` in the call's time."""

    start: int
    """The first frame."""
    frames: int
    """How many frames there are."""


@dataclass(frozen=True, slots=True, eq=False)
class Template:
    """A piece of the call."""

    span: CallSpan
    """Where it lies."""
    samples: Mono
    """The sum of both channels, shape (frames,)."""


def call_spans(call: PlayedCall, take_seconds: float) -> list[CallSpan]:
    """Return where the pieces lie that are looked for on a take, in order of their start."""
    audible = _audible_steps(call)
    sounding = np.flatnonzero(audible)
    if not len(sounding):
        return []
    first, end = int(sounding[0]), int(sounding[-1]) + 1
    places: set[tuple[int, int]] = set()
    for steps in (SHORT, LONG):
        for offset in range(0, AT_THE_ENDS * steps // 2, steps // 2):
            places |= {(first + offset, steps), (end - steps - offset, steps)}
    seconds = (end - first) * STEP / RATE
    for_a_short_take = math.ceil(seconds * ON_A_SHORT_TAKE / max(take_seconds, 1.0))
    count = max(BETWEEN, min(for_a_short_take, MOST))
    spread = np.rint(np.linspace(first, end - LONG, count)).astype(int)
    places |= {(place, LONG) for place in spread.tolist()}
    held = sorted(place for place in places if first <= place[0] and place[0] + place[1] <= end)
    return [
        CallSpan(start * STEP, steps * STEP)
        for start, steps in held
        if audible[start : start + steps].any()
    ]


def cut_templates(call: PlayedCall, wanted: Iterable[CallSpan]) -> Iterator[Template]:
    """Yield the wanted pieces of a call; `wanted` is in order of start."""
    playback = Playback(call, 0.0, 0.0)
    kept = np.zeros(0, dtype=np.float32)
    first = 0
    for span in wanted:
        passed = span.start - first
        playback.skip(max(passed - len(kept), 0))
        kept = kept[passed:]
        missing = max(span.frames - len(kept), 0)
        kept = np.concatenate((kept, playback.read(missing).sum(axis=1)))
        first = span.start
        yield Template(span, kept[: span.frames])


def _audible_steps(call: PlayedCall) -> npt.NDArray[np.bool_]:
    """Return which steps of a call hold a sound."""
    source, end, over = call.start(), 0, False
    energies: list[float] = []
    while not over:
        start, end = end, round((len(energies) + 1) * STEP * call.rate / RATE)
        step = source.read(end - start)
        energies.append(float(np.sum(step**2)))
        over = len(step) < end - start
    return np.array(energies) > AUDIBLE * max(energies)
