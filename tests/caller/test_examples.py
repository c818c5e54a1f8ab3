"""The example routines: they add up, they fit under their ceilings, and their tune keeps time."""

import json
import runpy
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from click.testing import Result
from scipy import signal

Run = Callable[..., Result]

EXAMPLES = Path(__file__).parents[2] / "examples"
NAMES = sorted(path.name for path in EXAMPLES.glob("*.toml"))

FIRST_BEAT, BEAT, BARS = 0.6, 60 / 100, 24
"""What green.toml says of the tune, in seconds."""

BLOCK = 1900.0
"""Hertz of the wood block in it."""


def plan(run: Run, name: str) -> dict[str, Any]:
    result = run("plan", EXAMPLES / name, "--json")
    assert result.exit_code == 0, result.stdout
    document: dict[str, Any] = json.loads(result.stdout)
    return document


def test_there_are_three() -> None:
    assert NAMES == ["boathouse.toml", "green.toml", "village.toml"]


@pytest.mark.parametrize("name", NAMES)
def test_nothing_in_it_is_a_concern(run: Run, name: str) -> None:
    document = plan(run, name)
    assert document["concerns"] == []
    assert not [note for note in document["notes"] if "music" in note]
    assert 45 <= document["seconds"] <= 180
    for entry in document["entries"]:
        assert entry["highest"] is None or entry["highest"]["fits"]
        assert entry["number"] == 1 or entry["cue"] is None or entry["cue"]["said"]
        assert 120 <= entry["tempo"] <= 240


def test_between_them_they_show_what_a_routine_can_hold(run: Run) -> None:
    entries = [entry for name in NAMES for entry in plan(run, name)["entries"]]
    assert {entry["kind"] for entry in entries} == {"part", "bridge", "rest"}
    assert {1, -1} <= {entry["change"] for entry in entries}
    assert any(entry["tempo"] != entry["to"] for entry in entries)
    assert any(entry["how"] for entry in entries)
    assert any("." in entry["place"] for entry in entries)
    assert any("(" in entry["throws"] for entry in entries)


def test_parts_begin_on_their_bars(run: Run) -> None:
    entries = [entry for entry in plan(run, "green.toml")["entries"] if entry["kind"] != "bridge"]
    assert [entry["bar"] for entry in entries] == [3, 7, 11, 15, 17, 19, 21]
    begins = entries[0]["time"] - (FIRST_BEAT + 8 * BEAT)
    for entry in entries:
        beat = (entry["time"] - begins - FIRST_BEAT) / BEAT
        assert beat == pytest.approx((entry["bar"] - 1) * 4, abs=1e-9)
    assert [entry["tempo"] for entry in entries] == pytest.approx([200] * 5 + [150] * 2)


def test_it_renders_with_its_music(run: Run, tmp_path: Path) -> None:
    place = tmp_path / "green.wav"
    assert run("render", EXAMPLES / "green.toml", "-o", place, "--rate", "16000").exit_code == 0
    info = soundfile.info(place)
    assert info.duration == pytest.approx(plan(run, "green.toml")["seconds"], abs=1e-3)


def test_the_tune_has_a_beat_where_the_file_says() -> None:
    """The wood block, told apart by a band-pass and found at its loudest, against 100 a minute."""
    samples, rate = soundfile.read(EXAMPLES / "green.ogg")
    band = signal.butter(4, [BLOCK - 500, BLOCK + 500], "bandpass", fs=rate, output="sos")
    loud = np.abs(signal.hilbert(signal.sosfiltfilt(band, samples)))
    for beat in range(4 * BARS):
        time = FIRST_BEAT + beat * BEAT
        around = slice(round((time - 0.1) * rate), round((time + 0.1) * rate))
        peak = (around.start + int(np.argmax(loud[around]))) / rate
        assert peak == pytest.approx(time, abs=0.008), beat
    assert len(samples) / rate >= FIRST_BEAT + 4 * BARS * BEAT


def test_the_tune_is_what_its_script_makes() -> None:
    script = runpy.run_path(str(EXAMPLES / "make_music.py"))
    made = script["tune"]()
    kept, rate = soundfile.read(EXAMPLES / "green.ogg")
    assert rate == script["RATE"]
    length = min(len(made), len(kept))
    assert abs(len(made) - len(kept)) <= rate / 10
    assert np.corrcoef(made[:length], kept[:length])[0, 1] > 0.98
    assert (EXAMPLES / "green.ogg").stat().st_size < 200_000
