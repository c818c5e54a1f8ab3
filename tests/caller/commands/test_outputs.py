"""`outputs`: a table, JSON, and a plain sentence where there is nothing to play on."""

import json
from collections.abc import Callable

import pytest
from click.testing import Result

from throwcount.caller.commands import outputs as outputs_command
from throwcount.sounds.errors import DeviceError
from throwcount.sounds.output.devices import Device

Run = Callable[..., Result]

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
