"""`voices`: a table, JSON, and only those of a language where one is asked for."""

import json
from collections.abc import Callable

import pytest
from click.testing import Result

from throwcount.caller.commands import voices as voices_command
from throwcount.sounds.voices.open_voice import VoiceName

Run = Callable[..., Result]

VOICES = [
    VoiceName("built-in", "built-in", ("en-us",), "Used unless told otherwise."),
    VoiceName("Alto [1]", "system", ("de", "en-gb"), "alto-1"),
    VoiceName("Nameless", "system"),
]


@pytest.fixture(autouse=True)
def _few_voices(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(voices_command, "voice_names", lambda: VOICES)


def test_the_table(run: Run) -> None:
    result = run("voices")
    assert (result.exit_code, result.stderr) == (0, "")
    assert [" ".join(line.split()) for line in result.stdout.splitlines()] == [
        "voice from languages note",
        "built-in built-in en-us Used unless told otherwise.",
        "Alto [1] system de en-gb alto-1",
        "Nameless system",
    ]


def test_json(run: Run) -> None:
    result = run("voices", "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    listed = json.loads(result.stdout)["voices"]
    assert listed[1] == {
        "name": "Alto [1]",
        "kind": "system",
        "languages": ["de", "en-gb"],
        "note": "alto-1",
    }
    assert len(listed) == len(VOICES)


@pytest.mark.parametrize(
    ("language", "names"),
    [
        ("en", ["built-in", "Alto [1]"]),
        ("EN_US", ["built-in"]),
        ("de", ["Alto [1]"]),
        ("d", []),
        ("fr", []),
    ],
)
def test_only_those_of_a_language(run: Run, language: str, names: list[str]) -> None:
    result = run("voices", "--language", language, "--json")
    assert [voice["name"] for voice in json.loads(result.stdout)["voices"]] == names


def test_no_voice_of_a_language_is_said_in_a_sentence(run: Run) -> None:
    result = run("voices", "--language", "fr")
    assert (result.exit_code, result.stdout) == (0, "No voice here says that it speaks fr.\n")
