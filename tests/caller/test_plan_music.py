"""`throwcount plan --estimate` and `--tap`: lines for the music of a routine file."""

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import CliRunner, Result

from caller.main import throwcount

RATE = 22_050
TEMPO, FIRST = 112.0, 0.73
TWENTY_MS = 0.02


@pytest.fixture
def clicks(tmp_path: Path) -> Path:
    """Half a minute of clicks at a known tempo and offset."""
    samples = np.zeros(RATE * 30)
    burst = np.random.default_rng(1).normal(0, 0.5, 800) * np.exp(-np.arange(800) / 150)
    for beat in np.arange(FIRST, 29.5, 60 / TEMPO):
        at = round(beat * RATE)
        samples[at : at + len(burst)] += burst
    path = tmp_path / "clicks.wav"
    soundfile.write(path, samples, RATE)
    return path


def plan(*arguments: object) -> Result:
    return CliRunner().invoke(throwcount, ["plan", *map(str, arguments)])


def test_an_estimate_gives_lines_for_the_file(clicks: Path, tmp_path: Path) -> None:
    listed = tmp_path / "clicks.beats"
    told = plan(clicks, "--estimate", "--beats-file", listed, "--json")
    assert told.exit_code == 0, told.output
    document = json.loads(told.stdout)
    assert document["tempo"] == pytest.approx(TEMPO, abs=0.05)
    assert document["first_beat"] == pytest.approx(FIRST, abs=TWENTY_MS)
    assert 0.0 < document["confidence"] <= 1.0
    lines = [line for line in listed.read_text().splitlines() if not line.startswith("#")]
    assert float(lines[-1]) == pytest.approx(document["beats"][-1], abs=0.001)
    again = plan(clicks, "--estimate", "--beats-file", listed)
    assert again.exit_code == 3
    assert "already" in again.stderr


def test_the_music_of_a_routine_file_is_found(clicks: Path) -> None:
    routine = clicks.with_name("walk.toml")
    routine.write_text('[music]\nfile = "clicks.wav"\n[[part]]\npattern = "3"\ncycles = 9\n')
    told = plan(routine, "--estimate")
    assert told.exit_code == 0, told.output
    assert 'file = "clicks.wav"' in told.stdout
    assert "tempo = 1" in told.stdout


@pytest.mark.parametrize(
    ("arguments", "status", "fragment"),
    [
        (["none.wav", "--estimate"], 3, "none.wav"),
        (["none.toml", "--estimate"], 1, "none.toml"),
        (["x.wav", "--estimate", "--tap"], 2, "keep one"),
        (["x.wav", "--beats-file", "y"], 2, "--tap or --estimate"),
        (["x.wav", "--tap", "--new"], 2, "no plan"),
    ],
)
def test_what_cannot_be_meant(
    arguments: list[str],
    status: int,
    fragment: str,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    monkeypatch.chdir(tmp_path)
    told = plan(*arguments)
    assert told.exit_code == status
    assert fragment in told.stderr


def test_silence_has_no_beats(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "still.wav", np.zeros(RATE * 5), RATE)
    told = plan(tmp_path / "still.wav", "--estimate")
    assert told.exit_code == 1
    assert "Traceback" not in told.output


def test_tapping_needs_something_to_play_on(clicks: Path) -> None:
    told = plan(clicks, "--tap", "--output", "no such device")
    assert told.exit_code == 3
    assert "Traceback" not in told.output
