"""How long rendering takes, against the bare work that any way of making such a file needs.

Run it with ``python tests/benchmarks/bench_render.py``. It prints, in processor time and measured
side by side in turns:

- ten minutes of 531, spoken by the built-in voice, rendered to WAV, start-up left out, against
  the copy, the conversion to 16 bits and the writing of as many samples, block by block;
- the whole process of ``throwcount render``;
- the peak memory of ten and of a hundred minutes, where the system tells it.
"""

import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import process_time

import numpy as np
import soundfile

from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.engine.timing.timeline import Timeline
from throwcount.sounds.files.audio_files import BLOCK, as_int16, write_audio
from throwcount.sounds.mixing.score import mix
from throwcount.sounds.samples import CHANNELS, frame_at
from throwcount.sounds.voices.open_voice import open_voice
from throwcount.sounds.voices.voice import Voice

ROOT = Path(__file__).parents[2]
RATE = 48_000
TEMPO = 200
ROUNDS = 7
MINUTES = 10
LONG_MINUTES = 100


def practice(minutes: int) -> Timeline:
    """Return a timeline of about as many minutes."""
    part = Part(read("531"), beats=minutes * TEMPO)
    return schedule(Run((part,), steady(TEMPO)))


def render(timeline: Timeline, voice: Voice, path: Path) -> int:
    """Write a timeline to a file; return its frames."""
    frames = frame_at(timeline.seconds or 0.0, RATE)
    write_audio(path, mix(timeline, voice, RATE), RATE, frames, overwrite=True)
    return frames


def bare(samples: np.ndarray, frames: int, path: Path) -> None:
    """Copy, convert and write `frames` frames, and nothing else, block by block."""
    with soundfile.SoundFile(str(path), "w", RATE, CHANNELS, "PCM_16", format="WAV") as file:
        for start in range(0, frames, len(samples)):
            file.write(as_int16(samples[: frames - start].copy()))


def timed(work: Callable[[], object]) -> float:
    start = process_time()
    work()
    return process_time() - start


def whole_process(path: Path) -> float:
    """Return the processor time of the whole command, in seconds."""
    length = ("--seconds", str(60 * MINUTES), "--tempo", str(TEMPO), "--rate", str(RATE))
    command = [
        sys.executable,
        "-m",
        "throwcount.caller",
        "render",
        "531",
        *length,
        "--force",
        "-o",
        str(path),
    ]
    quiet = {"cwd": ROOT, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    before = os.times()
    subprocess.run(command, check=True, **quiet)
    after = os.times()
    return sum(after[2:4]) - sum(before[2:4])


def peak_megabytes(minutes: int) -> float:
    """Return the peak memory of a process that renders as many minutes."""
    command = [sys.executable, __file__, str(minutes)]
    path = {"PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        command, check=True, env=os.environ | path, capture_output=True, text=True
    )
    return float(done.stdout)


def print_own_peak(minutes: int) -> None:
    import resource  # noqa: PLC0415 - not on every system

    with tempfile.TemporaryDirectory() as folder:
        render(practice(minutes), open_voice(None, RATE, None), Path(folder) / "long.wav")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    sys.stdout.write(str(peak / (2**20 if sys.platform == "darwin" else 2**10)))


def main() -> None:
    """Measure and print."""
    voice = open_voice(None, RATE, None)
    timeline = practice(MINUTES)
    ours, least, whole = [], [], []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "bench.wav"
        frames = render(timeline, voice, path)
        samples = mix(timeline, voice, RATE).read(BLOCK)
        for _ in range(ROUNDS):
            ours.append(timed(lambda: render(timeline, voice, path)))
            least.append(timed(lambda: bare(samples, frames, path)))
            whole.append(whole_process(path))
    seconds = frames / RATE
    rows = {"render": ours, "bare work": least, "whole process": whole}
    for name, taken in rows.items():
        quickest = min(taken)
        sys.stdout.write(
            f"{name:14} {quickest * 1000:7.0f} ms  {seconds / quickest:6.0f} x real time  "
            f"{quickest / min(least):5.2f} x bare work\n"
        )
    for minutes in (MINUTES, LONG_MINUTES):
        sys.stdout.write(f"{minutes:4} minutes: {peak_megabytes(minutes):5.0f} MB at the most\n")


if __name__ == "__main__":
    if len(sys.argv) > 1:
        print_own_peak(int(sys.argv[1]))
    else:
        main()
