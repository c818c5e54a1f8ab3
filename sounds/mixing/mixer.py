"""Placed sounds become blocks of samples, and the gains that no sum of them can clip.

The mixer holds only the sounds that sound now, whatever the length of the piece. Each sample is the
sum of its sounds in the order of their placement, so it does not depend on where blocks begin and
end: what is heard live is, bit for bit, what is written to a file.

Gains are laid out beforehand. At most one word and one click sound at a time (the score sees to
it), with music under them, and the true peak of a sum is at most the sum of the true peaks. So one
factor for the whole piece, worked out from the peaks that words and clicks are made to and that of
the music, keeps each of them under the ceiling, and a click that sounds together with a word gives
way as far as the two need. That depends on nothing else that is heard, and is the same in a file
and live.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from throwcount.sounds.samples import CHANNELS, Mono, Samples

FADE_SECONDS = 0.008
"""How long a sound that is cut takes to fade: short, but without a click of its own."""


@dataclass(slots=True, eq=False)
class Placement:
    """A sound with its place in the piece."""

    start: int
    """The frame that the first of `samples` falls on, at least 0."""
    samples: Samples
    """Float32, shape (frames, 2)."""
    gain: float | Samples = 1.0
    """Linear factor; without a `stop` also one for each frame, float32 of shape (frames, 1)."""
    stop: int | None = None
    """The frame by which the sound has faded to silence; None to let it end by itself."""
    fade: int = 0
    """Length of that fade in frames."""
    moment: int | None = None
    """The frame of its beat or cue, before which a word starts; `start` if None."""
    spoken: bool = False
    """Whether it is a word."""
    alone: float | None = None
    """The factor where no word is heard; `gain` if None."""
    heights: Mono | None = None
    """Of a word, at least the magnitude of each frame and up to the next, without its gain."""
    again: bool = False
    """Whether the same `samples` are likely to come again with the same gain, a number."""

    @property
    def belongs(self) -> int:
        """The frame of the beat or cue that it belongs to."""
        return self.start if self.moment is None else self.moment

    @property
    def end(self) -> int:
        """The frame after its last one."""
        whole = self.start + len(self.samples)
        return whole if self.stop is None else min(max(self.stop, self.start), whole)

    def by_itself(self) -> "Placement":
        """Return the placement for where no word is heard."""
        return self if self.alone is None else replace(self, gain=self.alone)

    def heard(self) -> Samples:
        """Return the samples cut, faded and with their gain; not to be changed."""
        length = self.end - self.start
        fade = min(self.fade, length) if length < len(self.samples) else 0
        if not self.again:
            return self._shaped(length, fade)
        key = id(self.samples), self.gain, length, fade
        if key not in _kept:
            if len(_kept) >= MOST_KEPT:
                del _kept[next(iter(_kept))]
            _kept[key] = self.samples, self._shaped(length, fade)
        return _kept[key][1]

    def _shaped(self, length: int, fade: int) -> Samples:
        """Return the first `length` frames at their gain, the last `fade` of them fading."""
        shaped = self.samples[:length] * np.asarray(self.gain, dtype=np.float32)
        if fade:
            shaped[length - fade :] *= falling(fade)[:, np.newaxis]
        return shaped


_kept: dict[tuple[object, ...], tuple[Samples, Samples]] = {}
"""Samples and their heard form, by gain, length, fade, and the identity of the samples, which is
theirs alone for as long as they are kept here."""

MOST_KEPT = 64


class Sounding:
    """A sound that has started, and may be cut short."""

    def __init__(self, placement: Placement) -> None:
        self.placement = placement
        self._samples = placement.heard()
        self.end = placement.start + len(self._samples)
        """The frame after its last one."""

    def add_to(self, block: Samples, position: int) -> int:
        """Add what falls in `block`, which begins at frame `position`; return where that ends."""
        start = self.placement.start
        first, last = max(start, position), min(self.end, position + len(block))
        block[first - position : last - position] += self._samples[first - start : last - start]
        return last

    def cut(self, start: int, frames: int) -> None:
        """Fade to silence over `frames` frames, from frame `start` on."""
        first = max(start - self.placement.start, 0)
        self._samples = self._samples[: first + frames].copy()
        self._samples[first:] *= falling(frames)[: len(self._samples) - first, np.newaxis]
        self.end = self.placement.start + len(self._samples)


@lru_cache(maxsize=64)
def falling(frames: int) -> Samples:
    """Return `frames` factors that fall from near 1 to near 0 along half a cosine."""
    phase = (np.arange(frames) + 0.5) / max(frames, 1)
    factors: Samples = (0.5 + 0.5 * np.cos(np.pi * phase)).astype(np.float32)
    factors.flags.writeable = False  # as they are cached
    return factors


class Mixer:
    """Adds placed sounds into blocks.

    `placements` come in order of `start`, and are taken only as far as the blocks have come.
    `frames` is the length of the whole; None to end with the last sound.
    """

    def __init__(self, placements: Iterable[Placement], frames: int | None = None) -> None:
        self._coming = iter(placements)
        self._next = next(self._coming, None)
        self._sounding: list[Sounding] = []
        self._frames = frames
        self.position = 0

    def read(self, count: int) -> Samples:
        """Return the next `count` frames, float32 of shape (`count`, 2); fewer at the end."""
        if self._frames is not None:
            count = min(count, self._frames - self.position)
        block = np.zeros((count, CHANNELS), dtype=np.float32)
        while self._next is not None and self._next.start < self.position + count:
            self._sounding.append(Sounding(self._next))
            following = next(self._coming, None)
            if following is not None and following.start < self._next.start:
                raise ValueError(
                    f"A sound placed at frame {following.start} came after one placed at frame "
                    f"{self._next.start}; placements must come in order of their start."
                )
            self._next = following
        end = self.position
        for sounding in self._sounding:
            end = max(end, sounding.add_to(block, self.position))
        if self._frames is None and self._next is None:
            block = block[: end - self.position]
        self.position += len(block)
        self._sounding = [each for each in self._sounding if each.end > self.position]
        return block


TRUE_PEAK_CEILING = -1.0
"""Highest true peak of anything heard, in dBTP (EBU R 128)."""

MARGIN = 0.2
"""Kept below that ceiling, in dB: true-peak meters differ by about as much."""

DUCKING = -6.0
"""Level of a click that sounds together with a word, in dB against its level alone."""


def linear(decibels: float) -> float:
    """Return the linear factor of a level in dB."""
    return float(10.0 ** (decibels / 20.0))


@dataclass(frozen=True, slots=True)
class MusicLevel:
    """How loud music is to be."""

    peak: float = 0.0
    """Its true peak as recorded, linear; 0 without music."""
    level: float = 0.0
    """Wanted level, in dB against the recorded one."""
    duck: float = 0.0
    """How much lower it is under words, in dB."""


NO_MUSIC = MusicLevel()


@dataclass(frozen=True, slots=True)
class Gains:
    """The linear factors of one piece."""

    word: float
    """Of words."""
    click: float
    """Of clicks alone."""
    ducked_click: float
    """Of clicks together with a word, where there is room for it."""
    music: float
    """Of music without words."""
    ducked_music: float
    """Of music under a word."""
    room: float
    """The highest true peak that words and clicks may have together, linear."""
    lowered: float
    """Decibels by which all factors are lower than was wanted."""

    def click_beside(self, word: Mono, click: Mono) -> float:
        """Return the factor of a click that begins with a stretch of words.

        Both are magnitudes, as `throwcount.sounds.measures.heights` gives them; those of the words
        with their gain.
        """
        both = min(len(word), len(click))
        left = self.room - word[:both]
        sounding = click[:both] > 0.0
        fitting = left[sounding] / click[:both][sounding]
        return max(0.0, min(self.ducked_click, float(fitting.min(initial=self.ducked_click))))


def lay_out_gains(
    word_peak: float,
    click_peak: float,
    voice_level: float = 0.0,
    click_level: float = 0.0,
    music: MusicLevel = NO_MUSIC,
) -> Gains:
    """Return the factors that keep every moment of a piece under the ceiling.

    `word_peak` and `click_peak` are the highest true peaks of a word and of a click that may sound,
    linear; 0 where there is none. `voice_level` and `click_level` are wanted levels, in dB against
    the usual ones. The wanted levels are all lowered alike as far as the ceiling requires, and
    never raised.
    """
    word = linear(voice_level)
    click = linear(click_level)
    under = linear(music.level)
    ducked_under = under * linear(-music.duck)
    loudest = max(
        click_peak * click + music.peak * under,
        word_peak * word + music.peak * ducked_under,
    )
    ceiling = linear(TRUE_PEAK_CEILING - MARGIN)
    master = ceiling / max(loudest, ceiling)
    return Gains(
        word=word * master,
        click=click * master,
        ducked_click=click * linear(DUCKING) * master,
        music=under * master,
        ducked_music=ducked_under * master,
        room=ceiling - music.peak * ducked_under * master,
        lowered=-20.0 * math.log10(master),
    )
