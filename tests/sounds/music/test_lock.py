"""Ten minutes of music and the clicks over it, in one mix: every beat of both where it belongs."""

from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
from music_files import struck, write
from scipy.signal import butter, correlate, sosfiltfilt

from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.timing.run import Part, Run
from throwcount.engine.timing.tempo import steady
from throwcount.engine.timing.timeline import Click
from throwcount.sounds.mixing.clicks import click_clip
from throwcount.sounds.mixing.music_bed import Track
from throwcount.sounds.mixing.score import Balance, mix
from throwcount.sounds.music.decoding import decoded_music
from throwcount.sounds.samples import frame_at

OUTPUT = 48_000
LOCKED = 0.001
"""Seconds; what is promised is no more than this between the count and the music."""

MUSIC_HERTZ = 16_000.0
BETWEEN = 13_000.0
"""The music's bursts lie above this, all partials of our clicks below."""

REACH = round(0.005 * OUTPUT)
"""Frames by which something may be found early or late."""

GUARD = 1_000
"""Frames in which filters settle."""

LONGEST = 3_000
"""Frames; bursts and clicks are shorter."""

Signal = npt.NDArray[np.float64]


def late(windows: Signal, template: Signal, frames: Signal) -> Signal:
    """Return by how many frames a template is found late, beat by beat.

    Parameters
    ----------
    windows
        What is heard around each beat, from `REACH` + `GUARD` frames before its frame on.
    template
        What is looked for.
    frames
        How far the beat itself is after its frame, between -0.5 and 0.5.
    """
    inner = windows[:, GUARD : GUARD + 2 * REACH + len(template)]
    lags = [int(np.argmax(correlate(each, template, "valid"))) - REACH for each in inner]
    return np.array(lags) - frames


@pytest.mark.parametrize(
    ("name", "rate", "seconds", "tempo", "offset", "throws"),
    [
        ("a.flac", 44_100, 600, 123.7, 0.8123, 2),
        ("a.ogg", 48_000, 120, 97.31, 2.5, 1),
        ("a.mp3", 44_100, 120, 171.3, 0.1, 1),
    ],
)
def test_the_count_stays_with_the_music(  # noqa: PLR0913, PLR0917 - a piece is many things
    tmp_path: Path, name: str, rate: int, seconds: int, tempo: float, offset: float, throws: int
) -> None:
    pulses = np.arange(offset, seconds - 1.0, 60.0 / tempo)
    path = write(tmp_path / name, struck(pulses, seconds, rate, hertz=MUSIC_HERTZ), rate)
    run = Run((Part(read("3"), throws * (len(pulses) - 4)),), steady(throws * tempo), say="nothing")
    line = schedule(run)
    first = next(beat.time for beat in line if beat.beat == 0)
    start = first - pulses[2]  # The first throw falls on the third beat of the music.
    with decoded_music(path, OUTPUT, folder=tmp_path) as music:
        mixer = mix(line, None, OUTPUT, Balance(tune=False), Track(music, start))
        mixed = mixer.read(frame_at(line.seconds or 0.0, OUTPUT))[:, 1]
    times = first + np.arange(len(pulses) - 5) * 60.0 / tempo
    assert len(times) > 0.9 * seconds * tempo / 60
    frames = np.rint(times * OUTPUT).astype(int)
    around = np.arange(-REACH - GUARD, REACH + GUARD + LONGEST)
    windows = mixed[frames[:, np.newaxis] + around].astype(np.float64)
    high = sosfiltfilt(butter(6, BETWEEN, "high", fs=OUTPUT, output="sos"), windows)
    burst = struck(np.zeros(1), 0.03, OUTPUT, hertz=MUSIC_HERTZ).astype(np.float64)
    click = click_clip(Click("throw", "right", value=3), OUTPUT, tune=False).samples[:, 1]
    of_music = late(high, burst, times * OUTPUT - frames)
    ours = late(windows - high, click.astype(np.float64), times * OUTPUT - frames)
    for lateness in (of_music, ours, of_music - ours):
        assert np.abs(lateness).max() < LOCKED * OUTPUT
