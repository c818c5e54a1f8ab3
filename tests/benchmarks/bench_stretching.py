"""Slow and fast music: beats, drums, pitch and work, with the engine's way and with others.

Run it with ``python tests/benchmarks/bench_stretching.py``. For each share of the tempo it prints:

- strokes: how late sharp strokes are, the median and the furthest from 0, in milliseconds;
- drums: the same for the hat and the snare of a band, with the nine in ten nearest to the median
  instead of the furthest;
- pitch: by how many cents the worst tone of two trembling chords is off;
- work: processor seconds for a minute of stereo.

Then the peak memory of two and of twenty minutes, by the engine's way.
"""

import resource
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from time import process_time

import av
import librosa
import numpy as np
import numpy.typing as npt
from python_stretch.Signalsmith import Stretch

sys.path.insert(0, str(Path(__file__).parents[1] / "helpers"))

from grooves import RATE, between, played, rock, steady
from music_files import struck

from throwcount.sounds.music.stretching import stretched

SHARES = (0.5, 0.7, 0.85, 1.1, 1.3)
BLOCK = 65_536

Sound = npt.NDArray[np.float32]
Way = Callable[[Sound, float], Sound]


def blocks_of(sound: Sound) -> Iterator[Sound]:
    """Yield stereo blocks."""
    for first in range(0, len(sound), BLOCK):
        yield np.repeat(sound[first : first + BLOCK, np.newaxis], 2, axis=1)


def ours(sound: Sound, share: float) -> Sound:
    return np.concatenate(list(stretched(blocks_of(sound), RATE, share)))[:, 0]


def as_it_comes(sound: Sound, share: float) -> Sound:
    """Stretch by the same library as it is set up by itself, all at once."""
    stretch = Stretch(0)
    stretch.preset(2, RATE)
    stretch.timeFactor = share
    return np.asarray(stretch.process(np.stack((sound, sound))))[0]


def phase_vocoder(sound: Sound, share: float) -> Sound:
    """Stretch by librosa's phase vocoder."""
    return librosa.effects.time_stretch(np.stack((sound, sound)), rate=share)[0]


def overlap_add(sound: Sound, share: float) -> Sound:
    """Stretch by the filter atempo of FFmpeg: overlapping pieces that look alike (WSOLA)."""
    graph = av.filter.Graph()
    source = graph.add_abuffer(
        format="flt", sample_rate=RATE, layout="stereo", time_base=f"1/{RATE}"
    )
    graph.link_nodes(source, graph.add("atempo", str(share)), graph.add("abuffersink")).configure()
    heard = []

    def pull() -> None:
        while True:
            try:
                heard.append(graph.pull().to_ndarray().reshape(-1, 2)[:, 0])
            except (av.error.BlockingIOError, av.error.EOFError):
                return

    for number, block in enumerate(blocks_of(sound)):
        frame = av.AudioFrame.from_ndarray(block.reshape(1, -1), format="flt", layout="stereo")
        frame.sample_rate, frame.pts = RATE, number * BLOCK
        source.push(frame)
        pull()
    source.push(None)
    pull()
    return np.concatenate(heard)


def onsets(sound: Sound, times: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Return when the level within a millisecond comes to half its peak, against each time."""
    level = np.convolve(sound.astype(np.float64) ** 2, np.hanning(RATE // 1000 | 1), "same")
    reach = round(0.05 * RATE)
    found = []
    for time in times:
        first = round(time * RATE) - reach
        around = level[first : first + 2 * reach]
        found.append((first + int(np.argmax(around > around.max() / 2))) / RATE - time)
    return 1000 * np.array(found)


def strokes(way: Way, share: float) -> str:
    times = np.concatenate((np.arange(0.7, 44, 0.485), np.arange(45.0, 58, 0.617)))
    sound = struck(times, 60.0, RATE, hertz=3000.0)
    began = process_time()
    heard = way(sound, share)
    work = process_time() - began
    late = onsets(heard, times / share) - onsets(sound, times)
    return f"{np.median(late):+8.2f}{np.abs(late).max():7.2f}{work:8.1f}"


def drums(way: Way, share: float) -> str:
    beats = steady(119.0, 0.5, 30.0)
    hats = np.sort(np.concatenate((beats, between(beats, 0.5))))
    band = played(rock(beats), 30.0, seed=4)
    edges = [np.diff(each, n=2, prepend=[0, 0]) for each in (band, way(band, share))]
    late = onsets(edges[1], hats / share) - onsets(edges[0], hats)
    middle = np.median(late)
    return f"{middle:+8.2f}{np.quantile(np.abs(late - middle), 0.9):7.2f}"


def pitch(way: Way, share: float) -> str:
    seconds, worst = np.arange(8 * RATE) / RATE, 0.0
    for root in (110.0, 440.0):
        tremble = 0.25 * root / 220 * np.sin(2 * np.pi * 5.5 * seconds)
        chord = [root, root * 1.25, root * 1.5]
        sound = 0.2 * sum(np.sin(2 * np.pi * hertz * seconds + tremble) for hertz in chord)
        heard = way(sound.astype(np.float32), share)
        middle = heard[len(heard) // 4 : -len(heard) // 4]
        power = np.abs(np.fft.rfft(middle * np.hanning(len(middle)), 1 << 21))
        scale = np.fft.rfftfreq(1 << 21, 1 / RATE)
        for hertz in chord:
            near = np.flatnonzero(np.abs(scale / hertz - 1) < 0.08)
            off = 1200 * np.log2(scale[near[np.argmax(power[near])]] / hertz)
            worst = max(worst, abs(off))
    return f"{worst:7.1f}"


WAYS: dict[str, Way] = {
    "ours": ours,
    "python-stretch, preset": as_it_comes,
    "librosa": phase_vocoder,
    "FFmpeg atempo": overlap_add,
}


def use(minutes: int) -> None:
    """Stretch so many minutes of noise, and print the peak memory in MB."""
    noise = np.random.default_rng(1).normal(0, 0.1, (RATE, 2)).astype(np.float32)
    for _ in stretched((noise for _ in range(60 * minutes)), RATE, 0.7):
        pass
    print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)  # noqa: T201


def main() -> None:
    """Measure and print."""
    if len(sys.argv) > 1:
        use(int(sys.argv[1]))
        return
    sys.stdout.write(f"{'':30}{'strokes':>15}{'work':>8}{'drums':>15}{'pitch':>7}\n")
    for name, way in WAYS.items():
        for share in SHARES:
            figures = strokes(way, share) + drums(way, share) + pitch(way, share)
            sys.stdout.write(f"{name:24}{share:6.2f}{figures}\n")
            sys.stdout.flush()
    for minutes in (2, 20):
        peak = subprocess.run(
            [sys.executable, __file__, str(minutes)], capture_output=True, text=True, check=True
        ).stdout.strip()
        sys.stdout.write(f"{minutes} minutes: {peak} MB at most\n")


if __name__ == "__main__":
    main()
