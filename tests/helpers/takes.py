"""Synthesised takes: a person juggles in a room, and where every thud lies is known.

Levels. The level of a thud is the mean square of its loudest `WINDOW_SECONDS`, without the room's
answer. `Room.above_noise` is the level of the median thud over the mean square of the background
noise, in dB; thuds lie within `Room.level_range` around it, each as likely. Hum and voices are
given over the noise, by their mean square in the long run; voices are quieter in pauses and
louder in vowels. The call's sound is given over the median thud, measured alike: by its windows
that are louder than nine in ten of those that are not silent.

Clocks. Times that go in are the call's. The take's clock runs faster by `Room.drift` parts in a
million and is `Room.delay` seconds ahead when the call begins: take = delay + call * (1 + drift).
Everything that comes out is in the take's time.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
import numpy.typing as npt
import soxr
from scipy.signal import butter, fftconvolve, sosfilt

from throwcount.sounds.samples import RATE, Mono
from throwcount.sounds.voices.recorded import built_in

Signal = npt.NDArray[np.float64]
Objects = Literal["beanbags", "balls", "clubs"]
Colour = Literal["pink", "white"]

WINDOW_SECONDS = 0.010
THUD_SECONDS = 0.25
MEDIAN_LEVEL = -26.0
"""Of the median thud, in dB below full scale: room for what is 20 dB louder."""

WORDS = "again both catch cross double four hold left ready right seven six stop three two".split()
TALKERS = 3
SIZES = (0.8, 0.9, 1.0, 1.12, 1.25)
"""Of people, against the one whose words they borrow."""


@dataclass(frozen=True)
class Room:
    """Where a take was recorded, and how.

    Parameters
    ----------
    above_noise
        Level of the median thud over the noise, in dB.
    level_range
        From the softest thud to the loudest, in dB.
    objects
        What is caught: beanbags thud, balls are shorter and brighter, clubs ring.
    noise
        Colour of the noise.
    hum
        Mains hum over the noise, in dB; None for none.
    voices
        People who talk, over the noise, in dB; None for none.
    reverberation
        Seconds in which the room's answer falls by 60 dB; 0 for none.
    direct
        Level of the direct sound over the room's whole answer, in dB.
    call_level
        Level of the call's sound over the median thud, in dB.
    delay
        Take time of the call's time 0, in seconds; may be negative.
    drift
        How much faster the take's clock runs, in parts in a million.
    """

    above_noise: float = 20.0
    level_range: float = 12.0
    objects: Objects = "beanbags"
    noise: Colour = "pink"
    hum: float | None = 0.0
    voices: float | None = 0.0
    reverberation: float = 0.5
    direct: float = 3.0
    call_level: float = 0.0
    delay: float = 0.0
    drift: float = 0.0

    def take_time(self, seconds: float) -> float:
        """Return the take's time of a moment in the call's time."""
        return self.delay + seconds * (1 + self.drift * 1e-6)


@dataclass(frozen=True)
class Synthesised:
    """A take, and what is on it.

    Parameters
    ----------
    samples
        Float32, shape (frames,).
    rate
        Sample rate, in Hz.
    thuds
        Take time of everything that thuds, in order: catches that are heard, and the others.
    catches
        Take time of every catch, heard or not, in the order they were given.
    missing
        Indices of the catches that are not heard.
    extra
        Take time of the thuds that are no catches, in order.
    """

    samples: Mono
    rate: int
    thuds: tuple[float, ...]
    catches: tuple[float, ...]
    missing: frozenset[int]
    extra: tuple[float, ...]

    def blocks(self, size: int = 4096) -> Iterator[Mono]:
        """Return the samples in blocks."""
        return (self.samples[start : start + size] for start in range(0, len(self.samples), size))


@dataclass(frozen=True, eq=False)
class CallSound:
    """What the speakers were given.

    Parameters
    ----------
    samples
        Float32, shape (frames, 2).
    rate
        Sample rate, in Hz.
    """

    samples: npt.NDArray[np.float32]
    rate: int


def steady_times(
    tempo: float, count: int, *, sd: float = 0.0, start: float = 1.0, seed: int = 0
) -> list[float]:
    """Return times at `tempo` a minute, each off by normal errors of `sd` seconds."""
    errors = np.random.default_rng((seed, 1)).normal(0.0, sd, count) if sd else np.zeros(count)
    return [start + index * 60 / tempo + error for index, error in enumerate(errors.tolist())]


def synthesise(  # noqa: PLR0913 - a take is made of that much
    times: Sequence[float],
    room: Room | None = None,
    *,
    seed: int,
    missing: float = 0.05,
    extra: float = 0.05,
    apart: float = 0.05,
    call: CallSound | None = None,
    rate: int = RATE,
    seconds: float | None = None,
) -> Synthesised:
    """Make a take.

    Parameters
    ----------
    times
        Catches in the call's time, in seconds, in order.
    room
        Where and how.
    seed
        Takes of the same seed and arguments are the same.
    missing
        Share of the catches that make no sound.
    extra
        Thuds that are no catches, as a share of the catches.
    apart
        No extra thud is nearer than this, in seconds, to another: nearer ones sound as one.
    call
        What the speakers played, from the call's time 0 on; None for a take without.
    rate
        Sample rate, in Hz.
    seconds
        Length of the take; until a second after the last catch if None.
    """
    room = room or Room()
    random = np.random.default_rng((seed, 0))
    catches = [room.take_time(time) for time in times]
    length = round((seconds or max(catches, default=0.0) + 1.0) * rate)
    silent = _chosen(len(catches), missing, random)
    heard = [time for index, time in enumerate(catches) if index not in silent]
    others = _others(heard, round(extra * len(catches)), length / rate, apart, random)
    thuds = sorted([*heard, *others])
    sound = _background(length, rate, room, random) + _thuds(thuds, length, rate, room, random)
    if call is not None:
        sound += _call(call, length, rate, room, random)
    sound *= 10 ** (MEDIAN_LEVEL / 20)
    return Synthesised(
        np.clip(sound, -1, 1).astype(np.float32),
        rate,
        tuple(thuds),
        tuple(catches),
        silent,
        tuple(others),
    )


def _chosen(count: int, share: float, random: np.random.Generator) -> frozenset[int]:
    return frozenset(random.permutation(count)[: round(share * count)].tolist())


def _others(
    heard: Iterable[float], count: int, seconds: float, apart: float, random: np.random.Generator
) -> list[float]:
    """Return times of `count` thuds, no nearer than `apart` to each other or to those heard."""
    taken = list(heard)
    others: list[float] = []
    while len(others) < count:
        time = float(random.uniform(0.5, max(seconds - 0.5, 0.6)))
        if all(abs(time - other) >= apart for other in taken):
            taken.append(time)
            others.append(time)
    return sorted(others)


def _thuds(
    times: Iterable[float], length: int, rate: int, room: Room, random: np.random.Generator
) -> Signal:
    """Return all thuds with the room's answer, the median one at level 0 dB."""
    dry = np.zeros(length)
    for time in times:
        level = random.uniform(-0.5, 0.5) * room.level_range
        sound = thud(room.objects, rate, random) * 10 ** (level / 20)
        start = round(time * rate)
        if 0 <= start < length:
            part = dry[start : start + len(sound)]
            part += sound[: len(part)]
    return in_room(dry, rate, room, random)


def thud(objects: Objects, rate: int, random: np.random.Generator) -> Signal:
    """Return one thud that begins on the first frame, its loudest window at mean square 1."""
    seconds = np.arange(round(THUD_SECONDS * rate)) / rate
    sound = {"beanbags": _beanbag, "balls": _ball, "clubs": _club}[objects](seconds, rate, random)
    return sound / _loudest(sound, rate)


def _beanbag(seconds: Signal, rate: int, random: np.random.Generator) -> Signal:
    """Return noise that dies away, dull."""
    noise = _band(random.normal(size=len(seconds)), rate, 120, random.uniform(1500, 4000))
    return noise * _struck(seconds, random.uniform(0.001, 0.003), random.uniform(0.015, 0.035))


def _ball(seconds: Signal, rate: int, random: np.random.Generator) -> Signal:
    """Return noise that dies away, short and bright."""
    noise = _band(random.normal(size=len(seconds)), rate, 300, random.uniform(4000, 8000))
    return noise * _struck(seconds, random.uniform(0.0005, 0.0015), random.uniform(0.006, 0.015))


def _club(seconds: Signal, rate: int, random: np.random.Generator) -> Signal:
    """Return a handle that is struck: a short noise, and some tones that ring."""
    noise = _band(random.normal(size=len(seconds)), rate, 400, 9000)
    sound = noise * _struck(seconds, 0.0005, random.uniform(0.004, 0.008))
    for lowest, highest in ((350, 600), (900, 1500), (1900, 3200), (3500, 5500)):
        tone = 2 * np.pi * random.uniform(lowest, highest) * seconds
        ringing = _struck(seconds, 0.0007, random.uniform(0.012, 0.045))
        sound += random.uniform(0.5, 1.5) * np.sin(tone + random.uniform(0, 6)) * ringing
    return sound


def _struck(seconds: Signal, rise: float, decay: float) -> Signal:
    return np.asarray(np.minimum(seconds / rise, 1.0) * np.exp(-seconds / decay))


def _loudest(sound: Signal, rate: int) -> float:
    """Return the root of the mean square of the loudest window."""
    return float(np.sqrt(np.max(_windows(sound, rate))))


def _windows(sound: Signal, rate: int) -> Signal:
    """Return the mean squares of all windows, each half over the next."""
    half = max(round(WINDOW_SECONDS * rate / 2), 1)
    whole = len(sound) // half * half
    halves = np.mean(sound[:whole].reshape(-1, half) ** 2, axis=1)
    return np.asarray((halves[1:] + halves[:-1]) / 2)


def _band(sound: Signal, rate: int, lowest: float, highest: float) -> Signal:
    highest = min(highest, 0.45 * rate)
    return np.asarray(
        sosfilt(butter(1, (lowest, highest), "bandpass", fs=rate, output="sos"), sound)
    )


def in_room(dry: Signal, rate: int, room: Room, random: np.random.Generator) -> Signal:
    """Return a sound with the room's answer, which differs from place to place in the room."""
    if not room.reverberation:
        return dry
    return np.asarray(fftconvolve(dry, room_answer(rate, room, random))[: len(dry)])


def room_answer(rate: int, room: Room, random: np.random.Generator) -> Signal:
    """Return an impulse response: the direct sound, a few reflections, and noise that dies away."""
    seconds = np.arange(round(room.reverberation * rate)) / rate
    tail = random.normal(size=len(seconds)) * 10 ** (-3 * seconds / room.reverberation)
    tail[: round(0.002 * rate)] = 0.0
    tail = _band(tail, rate, 80, 5000)
    tail /= np.sqrt(np.sum(tail**2))
    walls = random.uniform(0.003, 0.04, 6)
    reflections = np.zeros_like(tail)
    places = np.minimum((walls * rate).astype(int), len(tail) - 1)
    reflections[places] = random.choice((-1.0, 1.0), 6) * 0.5 * np.exp(-walls / 0.03)
    answer = tail + reflections
    answer *= 10 ** (-room.direct / 20) / np.sqrt(np.sum(answer**2))
    answer[0] = 1.0
    return np.asarray(answer)


def _background(length: int, rate: int, room: Room, random: np.random.Generator) -> Signal:
    """Return noise, hum and voices."""
    level = 10 ** (-room.above_noise / 20)
    sound = _noise(length, rate, room.noise, random)
    if room.hum is not None:
        sound += 10 ** (room.hum / 20) * _hum(length, rate, random)
    if room.voices is not None:
        sound += 10 ** (room.voices / 20) * _voices(length, rate, room, random)
    return level * sound


def _noise(length: int, rate: int, colour: Colour, random: np.random.Generator) -> Signal:
    """Return noise of mean square 1; pink falls by 3 dB an octave from 40 Hz on."""
    noise = random.normal(size=length)
    if colour == "pink":
        spectrum = np.fft.rfft(noise)
        spectrum /= np.sqrt(np.maximum(np.fft.rfftfreq(length, 1 / rate), 40.0))
        noise = np.fft.irfft(spectrum, length)
    return _levelled(noise)


def _hum(length: int, rate: int, random: np.random.Generator) -> Signal:
    """Return 50 Hz with harmonics, of mean square 1."""
    turns = 2 * np.pi * 50 * np.arange(rate) / rate
    second = np.zeros(rate)
    for harmonic in range(1, 13):
        second += np.sin(harmonic * turns + random.uniform(0, 6)) / harmonic**0.7
    return _levelled(np.resize(second, length))


def _voices(length: int, rate: int, room: Room, random: np.random.Generator) -> Signal:
    """Return people of different size who talk, with pauses; of mean square 1 in the long run."""
    sound = np.zeros(length)
    for _ in range(TALKERS):
        size = random.choice(SIZES)
        dry = np.zeros(length)
        start = random.uniform(0, 1.5) * rate
        while start < length:
            word = _word(str(random.choice(WORDS)), round(rate * size))
            part = dry[int(start) : int(start) + len(word)]
            part += word[: len(part)]
            pause = random.uniform(0.4, 2.0) if random.uniform() < 0.15 else random.uniform(0, 0.1)
            start += len(word) + pause * rate
        sound += in_room(dry, rate, room, random)
    return _levelled(sound)


@lru_cache(maxsize=256)
def _word(text: str, rate: int) -> Signal:
    """Return a word; played at another rate than this, it is another person's."""
    return built_in(rate).clips(text)[0].samples.mean(axis=1).astype(np.float64)


def _call(
    call: CallSound, length: int, rate: int, room: Room, random: np.random.Generator
) -> Signal:
    """Return the call's sound as the take has it, from two speakers, at `Room.call_level`."""
    faster = 1 + room.drift * 1e-6
    sides = soxr.resample(call.samples.astype(np.float64), call.rate, rate * faster, quality="VHQ")
    sound = np.zeros(length)
    for side in sides.T:
        sound += in_room(_delayed(side, room.delay * rate, length), rate, room, random)
    windows = _windows(sides.sum(axis=1), rate)
    loud = np.quantile(windows[windows > np.max(windows, initial=0.0) * 1e-6], 0.9)
    return np.asarray(sound * 10 ** (room.call_level / 20) / np.sqrt(loud))


def _delayed(side: Signal, frames: float, length: int) -> Signal:
    """Return a signal `frames` later, which need not be whole, cut or filled to `length`."""
    whole = int(np.floor(frames))
    taps = np.arange(-32, 33)
    between = np.sinc(taps - (frames - whole)) * np.hanning(67)[1:-1]
    shifted = fftconvolve(side, between)
    start = whole - 32
    delayed = np.zeros(length)
    first, last = max(start, 0), min(start + len(shifted), length)
    if first < last:
        delayed[first:last] = shifted[first - start : last - start]
    return delayed


def _levelled(sound: Signal) -> Signal:
    return np.asarray(sound / np.sqrt(np.mean(sound**2)))
