"""`throwcount settings`, and commands with settings that cannot be used."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from throwcount.caller.options.settings_model import FIELDS
from throwcount.caller.terminal.controls import CONTROLS

Run = Callable[..., Result]


def test_without_a_file(run: Run, tmp_path: Path) -> None:
    result = run("settings", "--settings", tmp_path / "none.toml")
    assert result.exit_code == 0
    text = result.stdout.replace("\n", " ")
    assert "You have no settings yet" in text
    assert str(tmp_path / "none.toml") in text
    assert "yours" not in result.stdout.partition("whose")[2]
    for name in FIELDS:
        assert name in result.stdout or name == "keys"
    for control in CONTROLS:
        assert f"{control.name} " in result.stdout


def test_a_new_file_is_written_once(run: Run, tmp_path: Path) -> None:
    place = tmp_path / "deep" / "folder" / "settings.toml"
    first = run("settings", "--settings", place, "--new")
    assert first.exit_code == 0
    assert str(place) in first.stdout
    kept = place.read_text("utf-8")
    again = run("settings", "--settings", place, "--new")
    assert again.exit_code == 3
    assert "already" in again.stderr
    assert place.read_text("utf-8") == kept


def test_what_is_in_force(run: Run, tmp_path: Path) -> None:
    place = tmp_path / "mine.toml"
    place.write_text('say = "hands"\nready = 12\n[words]\n2 = "hold"\n[keys]\npause = "k"\n')
    lines = [line.split() for line in run("settings", "--settings", place).stdout.splitlines()]
    assert ["say", "hands", "yours"] in lines
    assert ["ready", "12", "yours"] in lines
    assert ["count-in", "4", "usual"] in lines
    assert ["words", "2", "=", "hold", "yours"] in lines
    assert ["pause", "k", "yours", "pause,", "and", "go", "on"] in lines
    document = json.loads(run("settings", "--settings", place, "--json").stdout)
    assert document["file"] == str(place)
    assert document["exists"] is True
    assert document["settings"]["say"] == {"own": "hands", "usual": "values"}
    assert document["settings"]["clicks"] == {"own": None, "usual": "both"}
    assert document["keys"]["pause"] == ["k"]
    assert document["keys"]["drop"] == ["page-up", "d"]


@pytest.mark.parametrize(
    "arguments",
    [
        ("settings",),
        ("play", "531"),
        ("render", "531", "-o", "never.wav"),
        ("heights", "531"),
    ],
)
def test_settings_that_cannot_be_used_end_with_2(
    run: Run, arguments: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    place = tmp_path / "wrong.toml"
    place.write_text('sya = 1\nfirst = "both"\n')
    result = run(*arguments, "--settings", place)
    assert (result.exit_code, result.stdout) == (2, "")
    assert str(place) in result.stderr
    assert "'sya' is not a setting. Did you mean 'say'?" in result.stderr
    assert "it is right or left" in result.stderr
    assert "Traceback" not in result.stderr
    assert list(tmp_path.iterdir()) == [place]


@pytest.mark.parametrize(
    ("given", "fragment"),
    [
        ("pause", "not a control and a key"),
        ("puase=k", "Did you mean 'pause'"),
        ("pause=kk", "not a key"),
    ],
)
def test_keys_on_the_command_line(run: Run, given: str, fragment: str) -> None:
    result = run("play", "531", "--key", given)
    assert result.exit_code == 2
    assert fragment in " ".join(result.stderr.split())
