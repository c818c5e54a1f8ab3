"""What music costs: decoding and measuring it, and rendering with it under the call.

Run it with ``python tests/benchmarks/bench_music.py``. It prints, measured side by side in turns:

- ten minutes of music of each format decoded, measured and kept, against decoding alone;
- ten minutes of 531, spoken by the built-in voice, with and without music, against the copy, the
  conversion to 16 bits and the writing of as many samples;
- the peak memory of ten and of a hundred minutes with music, where the system tells it;
- how long the beats of ten minutes take to be estimated, against decoding alone.
"""

import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import perf_counter

import numpy as np
import soundfile

sys.path.insert(0, str(Path(__file__).parents[1] / "helpers"))

from grooves import RATE as MUSIC_RATE
from grooves import played, rock
from grooves import steady as steady_beats

from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.engine.timing.timeline import Timeline
from throwcount.sounds.files.audio_files import BLOCK, as_int16, write_audio
from throwcount.sounds.mixing.music_bed import Track
from throwcount.sounds.mixing.score import mix
from throwcount.sounds.music.decoding import decoded_music
from throwcount.sounds.music.estimate import estimate
from throwcount.sounds.samples import CHANNELS, frame_at
from throwcount.sounds.voices.open_voice import open_voice
from throwcount.sounds.voices.voice import Voice

ROOT = Path(__file__).parents[2]
RATE = 48_000
TEMPO = 200
ROUNDS = 5
MINUTES = 10
LONG_MINUTES = 100
ENDINGS = (".wav", ".flac", ".ogg", ".mp3")


def music_file(path: Path, minutes: float) -> Path:
    """Write so many minutes of drums and chords, half a minute again and again."""
    part = played(rock(steady_beats(TEMPO / 2, 0.0, 30.3)), 30.0)
    both = np.repeat(part[:, np.newaxis], CHANNELS, axis=1)
    with soundfile.SoundFile(str(path), "w", MUSIC_RATE, CHANNELS) as file:
        for _ in range(round(2 * minutes)):
            for first in range(0, len(both), BLOCK):
                file.write(both[first : first + BLOCK])
    return path


def practice(minutes: int) -> Timeline:
    """Return a timeline of about as many minutes."""
    return schedule(Run((Part(read("531"), beats=minutes * TEMPO),), steady(TEMPO)))


def render(timeline: Timeline, voice: Voice, path: Path, track: Track | None) -> int:
    """Write a timeline to a file; return its frames."""
    frames = frame_at(timeline.seconds or 0.0, RATE)
    write_audio(path, mix(timeline, voice, RATE, None, track), RATE, frames, overwrite=True)
    return frames


def bare(samples: np.ndarray, frames: int, path: Path) -> None:
    """Copy, convert and write `frames` frames, and nothing else."""
    with soundfile.SoundFile(str(path), "w", RATE, CHANNELS, "PCM_16", format="WAV") as file:
        for start in range(0, frames, BLOCK):
            file.write(as_int16(samples[: frames - start].copy()))


def decode_only(path: Path) -> None:
    with soundfile.SoundFile(str(path)) as file:
        while len(file.read(BLOCK, dtype="float32")):
            pass


def decode(path: Path) -> None:
    with decoded_music(path, RATE):
        pass


def timed(work: Callable[[], object]) -> float:
    start = perf_counter()
    work()
    return perf_counter() - start


def show(name: str, taken: float, least: float, seconds: float) -> None:
    sys.stdout.write(
        f"{name:28} {taken * 1000:7.0f} ms  {seconds / taken:6.0f} x real time  "
        f"{taken / least:5.2f} x the bare work\n"
    )


def decoding(folder: Path) -> None:
    for ending in ENDINGS:
        path = music_file(folder / f"music{ending}", MINUTES)
        ours, least = [], []
        for _ in range(ROUNDS):
            ours.append(timed(lambda path=path: decode(path)))
            least.append(timed(lambda path=path: decode_only(path)))
        show(f"decode {ending}", min(ours), min(least), 60 * MINUTES)


def rendering(folder: Path) -> None:
    voice, timeline = open_voice(None, RATE, None), practice(MINUTES)
    path, sources = folder / "bench.wav", {"bare work": [], "render": [], "render with music": []}
    with decoded_music(folder / "music.flac", RATE) as music:
        track = Track(music)
        frames = render(timeline, voice, path, track)
        samples = mix(timeline, voice, RATE).read(BLOCK)
        for _ in range(ROUNDS):
            sources["bare work"].append(timed(lambda: bare(samples, frames, path)))
            sources["render"].append(timed(lambda: render(timeline, voice, path, None)))
            sources["render with music"].append(timed(lambda: render(timeline, voice, path, track)))
    for name, taken in sources.items():
        show(name, min(taken), min(sources["bare work"]), frames / RATE)


def estimating(folder: Path) -> None:
    path = music_file(folder / "ten.flac", MINUTES)
    with decoded_music(path, MUSIC_RATE) as music:
        taken = timed(lambda: estimate(music))
    show("estimate", taken, timed(lambda: decode_only(path)), 60 * MINUTES)


def peak_megabytes(minutes: int) -> float:
    """Return the peak memory of a process that renders as many minutes with music."""
    command = [sys.executable, __file__, str(minutes)]
    path = {"PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        command, check=True, env=os.environ | path, capture_output=True, text=True
    )
    return float(done.stdout)


def print_own_peak(minutes: int) -> None:
    import resource  # noqa: PLC0415 - not on every system

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = music_file(folder / "long.ogg", minutes)
        with decoded_music(path, RATE, folder=folder) as music:
            voice = open_voice(None, RATE, None)
            render(practice(minutes), voice, folder / "long.wav", Track(music))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    sys.stdout.write(str(peak / (2**20 if sys.platform == "darwin" else 2**10)))


def main() -> None:
    """Measure and print."""
    with tempfile.TemporaryDirectory() as name:
        decoding(Path(name))
        rendering(Path(name))
        estimating(Path(name))
    for minutes in (MINUTES, LONG_MINUTES):
        sys.stdout.write(f"{minutes:4} minutes: {peak_megabytes(minutes):5.0f} MB at the most\n")


if __name__ == "__main__":
    if len(sys.argv) > 1:
        print_own_peak(int(sys.argv[1]))
    else:
        main()
