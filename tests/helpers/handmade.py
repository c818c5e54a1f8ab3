"""Timelines and voices made by hand, small enough to be seen through."""

from collections.abc import Callable, Iterable, Iterator, Sequence

import numpy as np

from throwcount.engine.timing.timeline import Beat, Click, Cue, Timeline
from throwcount.sounds.samples import Clip

RATE = 48_000


class ToneVoice:
    """Says every text as a tone, at several paces; the lengths and centres are given in frames."""

    name = "tone"

    def __init__(
        self,
        lengths: Sequence[int] = (20_000, 15_000, 10_000, 8_000),
        *,
        centre: float = 0.2,
        peak: float = 0.5,
        rate: int = RATE,
    ) -> None:
        self.rate = rate
        self.prepared: set[str] = set()
        self._paces = [tone(length, peak, rate, round(centre * length)) for length in lengths]

    def prepare(self, texts: Iterable[str]) -> None:
        self.prepared.update(texts)

    def clips(self, _text: str) -> Sequence[Clip]:
        return self._paces


class ClipVoice:
    """Has the clips it is given, one list for each text."""

    name = "clips"

    def __init__(self, clips: dict[str, list[Clip]], rate: int = RATE) -> None:
        self.rate = rate
        self._clips = clips

    def prepare(self, _texts: Iterable[str]) -> None:
        pass

    def clips(self, text: str) -> Sequence[Clip]:
        return self._clips[text]


def tone(frames: int, peak: float = 0.5, rate: int = RATE, centre: int = 0) -> Clip:
    """Return 500 Hz that swells and fades, on one channel."""
    moments = np.arange(frames)
    samples = peak * np.hanning(frames) * np.sin(2 * np.pi * 500 * moments / rate)
    return Clip(samples[:, np.newaxis].astype(np.float32), rate, centre)


def beats(
    bpm: float, count: int | None, values: Sequence[int] = (5, 3, 1), start: float = 0.5
) -> Iterator[Beat]:
    """Yield throws at a steady tempo, each called; endless if `count` is None."""
    beat = 0
    while count is None or beat < count:
        time = start + beat * 60 / bpm
        value = values[beat % len(values)]
        yield Beat(
            beat=beat,
            time=time,
            tempo=bpm,
            part="part",
            cycle=beat // len(values),
            cycle_beat=beat % len(values),
            click=Click("throw", "left" if beat % 2 else "right", beat % len(values) == 0, value),
            call=str(value),
            call_time=time,
        )
        beat += 1


def timeline(
    make: Callable[[], Iterator[Beat]], seconds: float | None = None, cues: tuple[Cue, ...] = ()
) -> Timeline:
    """Return a timeline in which any digit may be called."""
    return Timeline(make, cues, seconds, frozenset("0123456789"))
