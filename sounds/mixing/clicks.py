"""Synthesised clicks: short struck tones that are loudest on their first frame.

A click is a sum of decaying partials, each at the top of its swing on frame 0, so that the onset is
exact and nothing precedes it. A click tells four things apart:

- the hand, by side and timbre: the right hand strikes a bar, the left hand a stopped pipe, which
  sounds hollow;
- the throw, by pitch: one step of a pentatonic scale for each value, so that every pattern has
  a tune of its own and any two of its notes go together;
- the opening of a cycle, by level and a ringing octave;
- the count-in and the run-out, by a lower tone and by dry ticks that no throw has.

Clicks last 45 ms and stay above the first formant of speech (up to about 800 Hz), so that words are
understood through them. In a loud room words are told apart by what is heard of them from 2 to 5
kHz, so there clicks keep out of that band instead: tones are below it, and what makes a click
bright is above it.
"""

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from throwcount.engine.timing.timeline import Click
from throwcount.sounds.measures import true_peak, word_loudness
from throwcount.sounds.mixing.mixer import linear
from throwcount.sounds.samples import Clip, Samples

CLICK_SECONDS: Final = 0.045
RELEASE_SECONDS: Final = 0.005
"""The end of a click, in which the rest of its ringing fades to zero."""

HIGHEST_PARTIAL: Final = 0.4
"""Partials above this share of the sample rate are left out, and a tone above it is lowered by
octaves."""

SURROUNDINGS: Final = 64
"""Silent frames around a click while its true peak is measured."""

CLICK_PEAK: Final = 0.86
"""Highest true peak of a click, linear."""

CLICK_LEVEL: Final = -25.0
"""Loudness of a click, measured as that of words, in LKFS: some 13 dB below a word that is heard
from both sides."""

ACCENT: Final = 4.0
RUN_OUT: Final = -4.0
"""Level of a click that opens a cycle, and of one in the run-out, in dB against the others."""

LOWEST_TONE: Final = 880.0
"""Pitch of an empty hand, in Hz: the tonic of the scale."""

PENTATONIC: Final = (0, 2, 4, 7, 9)
"""Semitones of the major pentatonic scale; no two of its notes are a semitone apart."""

HIGHEST_STEP: Final = 12
"""The highest value with a pitch of its own; higher tones are hard to tell apart."""

PLAIN_STEP: Final = 5
"""The value whose pitch all throws have when the pitch does not follow the throw."""

NEAR_SIDE: Final = 1.0
FAR_SIDE: Final = 0.3
"""Gains of a click in the channel of its hand and in the other one."""


@dataclass(frozen=True, slots=True)
class Partial:
    """One partial of a struck tone."""

    ratio: float
    """Its frequency, as a multiple of the tone's."""
    amplitude: float
    """Linear, on the first frame."""
    decay: float
    """Seconds in which it falls to 1/e."""


BAR: Final = (Partial(1.0, 1.0, 0.010), Partial(2.756, 0.9, 0.009), Partial(5.404, 0.6, 0.005))
"""The right hand: the first modes of a bar with free ends (ratios 1 : 2.756 : 5.404, Fletcher &
Rossing, The Physics of Musical Instruments, 1998; from memory). The upper ones are strong, so that
it is bright and differs from the left hand even on a single speaker."""

PIPE: Final = (Partial(1.0, 1.0, 0.013), Partial(3.0, 0.1, 0.003))
"""The left hand: the odd harmonics of a stopped pipe, dull and round."""

RINGING_OCTAVE: Final = Partial(2.0, 0.6, 0.014)
"""Added where a cycle opens."""

CONSONANTS: Final = (2000.0, 5000.0)
"""The band that clicks leave to words in a loud room, in Hz."""

LOUD_ROOM_TONES: Final = 494 / 880
LOUD_ROOM_STEP: Final = 10
"""Pitches of throws and count-in in a loud room against the usual ones, and the highest value with
a pitch of its own there: it is just below `CONSONANTS`."""

RINGING_TONE: Final = replace(RINGING_OCTAVE, ratio=1.0)
"""Added in a loud room, where the octave may lie in that band."""

COUNT_IN_TONE: Final = 660.0
"""Pitch of the count-in, below those of all throws, in Hz; each hand keeps its timbre."""

RUN_OUT_TONE: Final = 1500.0
BRIGHT_TICK: Final = (Partial(1.0, 0.7, 0.002), Partial(2.17, 1.0, 0.002))
DULL_TICK: Final = (Partial(1.0, 1.0, 0.002),)
"""The run-out is a dry tick: a bright one for the right hand, a dull one for the left."""


def tone_of(value: int | None) -> float:
    """Return the pitch of a throw value in Hz; that of an empty hand if None."""
    octave, step = divmod(min(value or 0, HIGHEST_STEP), len(PENTATONIC))
    return float(LOWEST_TONE * 2.0 ** (octave + PENTATONIC[step] / 12))


@lru_cache(maxsize=512)
def click_clip(click: Click, rate: int, *, tune: bool = True, loud_room: bool = False) -> Clip:
    """Return the sound of a click, in stereo, with its centre on frame 0, where it is not zero.

    `rate` is the sample rate in Hz. `tune` says whether the pitch of a throw follows its value.
    `loud_room` says whether the click keeps out of the band `CONSONANTS`.
    """
    tone = _tone(click, tune=tune, loud_room=loud_room)
    bright, dull = (BRIGHT_TICK, DULL_TICK) if click.kind == "run-out" else (BAR, PIPE)
    ringing = (RINGING_TONE if loud_room else RINGING_OCTAVE,) if click.accent else ()
    right_partials: tuple[Partial, ...] = (*bright, *ringing)
    left_partials: tuple[Partial, ...] = (*dull, *ringing)
    if loud_room:
        right_partials = tuple(_off_consonants(part, tone, rate) for part in right_partials)
        left_partials = tuple(_off_consonants(part, tone, rate) for part in left_partials)
    right = _struck(tone, right_partials, rate)
    left = _struck(tone, left_partials, rate)
    samples = {
        "right": np.column_stack((FAR_SIDE * right, NEAR_SIDE * right)),
        "left": np.column_stack((NEAR_SIDE * left, FAR_SIDE * left)),
        "both": np.column_stack((left, right)),
    }[click.hands]
    return Clip(_levelled(samples, rate, click), rate)


def _tone(click: Click, *, tune: bool, loud_room: bool) -> float:
    if click.kind == "run-out":
        return RUN_OUT_TONE
    share = LOUD_ROOM_TONES if loud_room else 1.0
    if click.kind == "count-in":
        return share * COUNT_IN_TONE
    step = min(
        (click.value if tune else PLAIN_STEP) or 0, LOUD_ROOM_STEP if loud_room else HIGHEST_STEP
    )
    return share * tone_of(step)


def _off_consonants(part: Partial, tone: float, rate: int) -> Partial:
    """Return a partial raised by octaves out of the band, unless `rate` holds nothing above it."""
    low, high = CONSONANTS
    hertz = part.ratio * tone
    octaves = math.ceil(math.log2(high / hertz)) if low <= hertz < high else 0
    raised = replace(part, ratio=part.ratio * 2**octaves)
    return raised if raised.ratio * tone < HIGHEST_PARTIAL * rate else part


def _struck(tone: float, partials: tuple[Partial, ...], rate: int) -> Samples:
    """Return one channel of a tone struck on frame 0, of shape (frames,)."""
    seconds = np.arange(round(CLICK_SECONDS * rate)) / rate
    while tone >= HIGHEST_PARTIAL * rate:
        tone /= 2
    audible = [part for part in partials if part.ratio * tone < HIGHEST_PARTIAL * rate]
    sound = sum(
        part.amplitude
        * np.exp(-seconds / part.decay)
        * np.cos(2 * np.pi * part.ratio * tone * seconds)
        for part in audible
    )
    release = np.clip((CLICK_SECONDS - seconds) / RELEASE_SECONDS, 0.0, 1.0)
    return (sound * release).astype(np.float32)


def _levelled(samples: Samples, rate: int, click: Click) -> Samples:
    """Return `samples` at the level of a click, with a true peak of at most `CLICK_PEAK`."""
    level = CLICK_LEVEL
    level += ACCENT if click.accent else 0.0
    level += RUN_OUT if click.kind == "run-out" else 0.0
    gain = linear(level - word_loudness(samples, rate))
    # Around a jump from silence the signal swings between the samples, even before the jump.
    surrounded = np.pad(samples, ((SURROUNDINGS, SURROUNDINGS), (0, 0)))
    return samples * np.float32(min(gain, CLICK_PEAK / true_peak(surrounded, rate)))
