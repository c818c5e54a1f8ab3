"""`outputs`: a table, JSON, and a plain sentence where there is nothing to play on."""

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from click.testing import Result

from throwcount.caller.commands import outputs as outputs_command
from throwcount.sounds.errors import DeviceError
from throwcount.sounds.output import trial
from throwcount.sounds.output.devices import Device
from throwcount.sounds.output.trial import Trial

Run = Callable[..., Result]

PRETEND = Path(__file__).parents[2] / "helpers" / "pretend_device"

SPEAKERS = Device("Speakers [built in]", "ALSA", 2, 48_000, is_default=True)
HEADSET = Device("Écouteurs", "ALSA", 1, 44_100, is_default=False)


def has(monkeypatch: pytest.MonkeyPatch, *found: Device) -> None:
    monkeypatch.setattr(outputs_command, "listed", lambda _kind: list(found))


def has_no_library(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_kind: str) -> list[Device]:
        raise DeviceError("The PortAudio library was not found.")

    monkeypatch.setattr(outputs_command, "listed", fail)


def test_the_table(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    has(monkeypatch, SPEAKERS, HEADSET)
    result = run("outputs")
    assert (result.exit_code, result.stderr) == (0, "")
    rows = [" ".join(line.split()) for line in result.stdout.splitlines()]
    assert rows == [
        "output through channels sample rate",
        "Speakers [built in] (default) ALSA 2 48000",
        "Écouteurs ALSA 1 44100",
    ]


def test_json(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    has(monkeypatch, SPEAKERS)
    result = run("outputs", "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    assert json.loads(result.stdout) == {
        "outputs": [
            {
                "name": "Speakers [built in]",
                "through": "ALSA",
                "channels": 2,
                "rate": 48_000,
                "default": True,
            }
        ],
        "message": None,
    }


@pytest.mark.parametrize(
    ("machine", "fragment"), [(has, "throwcount render"), (has_no_library, "PortAudio")]
)
def test_nothing_to_play_on_is_told_with_3(
    run: Run,
    monkeypatch: pytest.MonkeyPatch,
    machine: Callable[[pytest.MonkeyPatch], None],
    fragment: str,
) -> None:
    machine(monkeypatch)
    result = run("outputs")
    assert (result.exit_code, result.stdout) == (3, "")
    assert fragment in result.stderr
    result = run("outputs", "--json")
    assert (result.exit_code, result.stderr) == (3, "")
    document = json.loads(result.stdout)
    assert document["outputs"] == []
    assert fragment in document["message"]


def test_the_real_machine_answers_one_way_or_the_other(run: Run) -> None:
    result = run("outputs", "--json")
    assert result.exit_code == (0 if json.loads(result.stdout)["outputs"] else 3)


@pytest.mark.parametrize(
    ("gaps", "told", "lowest"),
    [
        ([(0, 0), (0, 0)], "at a latency of 0.01 s: --latency 0.01.", 0.01),
        ([(0, 0), (3, 2)], "does nothing but play silence loses sound too", 0.2),
        ([(1, 0), (3, 0)], "Beats were lost at every latency", None),
        ([(1, 1), (3, 0)], "The computer was held up meanwhile", None),
    ],
)
def test_latencies_are_tried(
    run: Run,
    monkeypatch: pytest.MonkeyPatch,
    gaps: list[tuple[int, int]],
    told: str,
    lowest: float | None,
) -> None:
    found = [Trial(latency, *lost) for latency, lost in zip((0.2, 0.01), gaps, strict=True)]
    monkeypatch.setattr(trial, "trials", lambda _opened: iter(found))
    result = run("outputs", "--try")
    assert result.exit_code == 0
    assert told in " ".join(result.stdout.split())
    document = json.loads(run("outputs", "--try", "Speakers", "--json").stdout)
    assert (document["device"], document["lowest"]) == ("Speakers", lowest)
    assert [(each["gaps"], each["bare_gaps"]) for each in document["trials"]] == gaps


@pytest.mark.parametrize(
    "arguments",
    [
        "outputs --try nobody",
        "play 531 --output nobody",
        "plan --tap music.wav --output nobody",
        "render 531 -o x.wav --voice nobody",
        "play 531 --voice nobody --no-keep",
    ],
)
def test_a_name_on_the_command_line_that_nothing_has(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, arguments: str
) -> None:
    """The command line is wrong; what is named in the settings may only be unplugged."""
    monkeypatch.chdir(tmp_path)
    soundfile.write("music.wav", np.zeros(8_000), 8_000)
    monkeypatch.setenv("PYTHONPATH", str(PRETEND))
    result = run(*arguments.split())
    assert result.exit_code == 2, result.output
    assert "'nobody'" in result.output
    settings = tmp_path / "settings.toml"
    settings.write_text('output = "nobody"\n')
    result = run("play", "531", "--settings", settings, "--no-keep")
    assert (result.exit_code, "'nobody'" in result.output) == (3, True)


ABORTS = 'import os\nos.write(1, b"ALSA lib")\nos.abort()\n'


def test_a_sound_system_that_brings_a_process_down(
    run: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "sounddevice.py").write_text(ABORTS)
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    result = run("outputs")
    assert (result.exit_code, result.stdout) == (3, "")
    assert "it brought down the process that asked" in result.stderr
