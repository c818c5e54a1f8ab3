"""Music that can be danced to, more or less: synthesised from its beats, which are so known."""

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

RATE = 44_100

Signal = npt.NDArray[np.float64]
Times = npt.NDArray[np.float64]


def steady(tempo: float, offset: float, seconds: float) -> Times:
    """Return beats at one tempo."""
    return np.arange(offset, seconds - 0.3, 60.0 / tempo)


def drifting(start: float, end: float, offset: float, seconds: float) -> Times:
    """Return beats whose tempo changes evenly from `start` to `end` beats a minute."""
    moments = np.arange(0.0, seconds - 0.3 - offset, 0.001)
    beats = np.cumsum(np.linspace(start, end, len(moments)) / 60.0 * 0.001)
    return offset + np.interp(np.arange(0, int(beats[-1])), beats, moments)


def breathing(tempo: float, depth: float, offset: float, seconds: float) -> Times:
    """Return beats that speed up and slow down by a share of the tempo, every 7 s or so."""
    moments = np.arange(0.0, seconds - 0.3 - offset, 0.001)
    sway = np.sin(2 * np.pi * moments / 7.3) + 0.7 * np.sin(2 * np.pi * moments / 4.1 + 1.0)
    beats = np.cumsum(tempo / 60.0 * (1.0 + depth * sway / 1.7) * 0.001)
    return offset + np.interp(np.arange(0, int(beats[-1])), beats, moments)


def between(beats: Times, share: float) -> Times:
    """Return the places a share of the way from each beat to the next."""
    return beats[:-1] + share * np.diff(beats)


def played(
    parts: Sequence[tuple[Callable[[int], Signal], Times]], seconds: float, seed: int = 1
) -> npt.NDArray[np.float32]:
    """Return one channel on which each instrument is struck at its times, softer and louder."""
    random = np.random.default_rng(seed)
    sound = np.zeros(round(seconds * RATE))
    for instrument, times in parts:
        for time in times:
            first = round(time * RATE)
            note = instrument(int(random.integers(1 << 30))) * random.uniform(0.7, 1.0)
            note = note[: max(len(sound) - first, 0)]
            sound[first : first + len(note)] += note
    return (0.5 * sound / max(np.abs(sound).max(), 1e-9)).astype(np.float32)


def _moments(seconds: float) -> Signal:
    return np.arange(round(seconds * RATE)) / RATE


def click(_seed: int) -> Signal:
    since = _moments(0.03)
    return np.exp(-since / 0.004) * np.sin(2 * np.pi * 1800 * since)


def kick(_seed: int) -> Signal:
    since = _moments(0.25)
    return (
        1.2 * np.exp(-since / 0.08) * np.sin(2 * np.pi * (50 * since - 4 * np.exp(-since / 0.03)))
    )


def snare(seed: int) -> Signal:
    since = _moments(0.2)
    noise = np.random.default_rng(seed).normal(0, 0.35, len(since))
    return np.exp(-since / 0.05) * (noise + 0.5 * np.sin(2 * np.pi * 190 * since))


def hat(seed: int) -> Signal:
    since = _moments(0.06)
    noise = np.random.default_rng(seed).normal(0, 0.2, len(since))
    return np.exp(-since / 0.012) * np.diff(noise, prepend=0.0)


def bass(seed: int) -> Signal:
    since = _moments(0.35)
    hertz = 55.0 * 2 ** (seed % 8 / 12)
    swell = np.minimum(since / 0.008, 1.0) * np.exp(-since / 0.2)
    release = np.minimum((0.35 - since) / 0.05, 1.0)
    return 0.6 * release * swell * sum(np.sin(2 * np.pi * hertz * k * since) / k for k in (1, 2, 3))


def pad(seed: int, seconds: float = 2.5) -> Signal:
    since = _moments(seconds)
    swell = np.minimum(since / 0.35, 1.0) * np.minimum((seconds - since) / 0.5, 1.0)
    root = 220.0 * 2 ** (seed % 7 / 12)
    chord = [root * 2 ** (step / 12) for step in (0, 4, 7)]
    return 0.25 * swell * sum(np.sin(2 * np.pi * hertz * since) for hertz in chord)


def rock(beats: Times) -> list[tuple[Callable[[int], Signal], Times]]:
    """Return a drum kit, a bass and chords: four beats to a bar, eighths on the hat."""
    return [
        (kick, beats[::2]),
        (snare, beats[1::2]),
        (hat, np.concatenate((beats, between(beats, 0.5)))),
        (bass, beats),
        (pad, beats[::4]),
    ]


def waltz(beats: Times) -> list[tuple[Callable[[int], Signal], Times]]:
    return [
        (kick, beats[::3]),
        (hat, np.concatenate((beats[1::3], beats[2::3]))),
        (bass, beats[::3]),
        (pad, beats[::3]),
    ]


def shuffle(beats: Times) -> list[tuple[Callable[[int], Signal], Times]]:
    return [
        (kick, beats[::2]),
        (snare, beats[1::2]),
        (hat, np.concatenate((beats, between(beats, 2 / 3)))),
        (pad, beats[::4]),
    ]


def seven_eight(eighths: Times) -> list[tuple[Callable[[int], Signal], Times]]:
    """Return bars of seven eighths, in groups of two, two and three."""
    return [
        (kick, eighths[::7]),
        (snare, np.concatenate((eighths[2::7], eighths[4::7]))),
        (hat, eighths),
        (pad, eighths[::14]),
    ]


def clicks_only(beats: Times) -> list[tuple[Callable[[int], Signal], Times]]:
    return [(click, beats)]


def bass_and_chords(beats: Times) -> list[tuple[Callable[[int], Signal], Times]]:
    """Return music without drums."""
    return [(bass, beats), (pad, beats[::4])]
