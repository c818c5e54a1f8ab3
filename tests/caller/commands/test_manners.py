"""Single throws in a manner of their own, in a routine as it is rendered and planned."""

import csv
import json
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from midi_events import LYRIC, read_midi

from throwcount.caller.main import throwcount

RATE = 8000
# The built-in voice says all of this; "behind the back" takes it 0.9 s.
ROUTINE = """
tempo = 150
[[part]]
name = "the high step"
pattern = "531"
cycles = 5
[part.how]
"right 5" = "behind the back"
"every second 1" = "high"
all = "slow"
[[part]]
pattern = "3"
beats = 3
how = { "every fourth 3" = "low" }
cue = ""
[[part]]
rest = true
beats = 20
cue = ""
[[part]]
pattern = "(4,2x)*"
cycles = 2
how = { "2x" = "low" }
"""
HOW = "slow, right 5 behind the back, every second 1 high"


def run(*arguments: object) -> str:
    result = CliRunner().invoke(throwcount, list(map(str, arguments)))
    assert result.exit_code == 0, result.output
    return result.stdout


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("manners")
    (place / "r.toml").write_text(ROUTINE, "utf-8")
    endings = {"--events": "json", "--midi": "mid", "--captions": "vtt", "--page": "html"}
    beside = [part for option, end in endings.items() for part in (option, place / f"r.{end}")]
    run("render", place / "r.toml", "-o", place / "r.wav", "--rate", RATE, *beside)
    return place


def events(place: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(place.read_text("utf-8"))
    return found


def test_a_manner_is_called_on_its_beat_and_told_in_each_file(folder: Path) -> None:
    document = events(folder / "r.json")
    thrown = [beat for beat in document["beats"] if beat["cycle"] is not None]
    calls = [beat["call"] for beat in thrown]
    # "behind" takes the voice 0.73 s without haste, and is quick enough here for a beat of 0.4 s.
    assert calls[:7] == ["behind", "three", "one", "five", "three", "high", "behind"]
    # Of a pair it is called at once, whichever hand it is for.
    assert calls[18:] == ["low", None, "low", "four", "low", None, "stop", None]
    hows = [beat["manners"] for beat in thrown]
    assert hows[0] == {"right": ["behind the back"], "left": []}
    assert hows[5] == {"right": [], "left": ["high"]}
    assert hows[3] == {"right": [], "left": []}
    said = [each for each in document["said"] if each["kind"] == "manner"]
    assert {each["text"] for each in said} == {"behind", "high", "low"}
    for each in said:
        assert any(each["time"] < beat["time"] < each["time"] + each["seconds"] for beat in thrown)
    lyrics = [event.text.strip() for event in read_midi(folder / "r.mid").of(2, LYRIC)]
    assert lyrics == [beat["call"] for beat in document["beats"] if beat["call"]]
    assert "<c>1 (high)</c>" in (folder / "r.vtt").read_text("utf-8")
    assert '0, 0, "", "5", ["", "behind the back"]]' in (folder / "r.html").read_text("utf-8")


def test_a_plan_prints_it_and_says_what_is_called(folder: Path) -> None:
    document = json.loads(run("plan", folder / "r.toml", "--json"))
    first, *_ = document["entries"]
    assert first["how"] == HOW
    assert first["manners"] == [
        {"throw": "right 5", "how": "behind the back"},
        {"throw": "every second 1", "how": "high"},
    ]
    assert [each["kind"] for each in document["concerns"] if each["number"] == 2] == ["manner"]
    assert any("“behind the back” (0.9 s) as “behind”" in n for n in document["notes"])
    rows = list(csv.DictReader(StringIO(run("plan", folder / "r.toml", "--csv"))))
    assert rows[0]["how"] == HOW
    run("plan", folder / "r.toml", "--sheet", folder / "r-sheet.html")
    assert HOW in (folder / "r-sheet.html").read_text("utf-8")


@pytest.mark.parametrize(
    ("options", "called"),
    [
        (
            ["--say", "nothing"],
            ["behind the back", None, None, None, None, "high", "behind the back"],
        ),
        (["--no-cues"], ["five", "three", "one", "five", "three", "one", "five"]),
        (["--lead", "1"], ["three", "one", "five", "three", "high", "behind", "three"]),
    ],
)
def test_what_else_is_asked_for(folder: Path, options: list[str], called: list[str]) -> None:
    place = folder / "other.json"
    run("render", folder / "r.toml", "-o", folder / "o.wav", "--rate", RATE, "--events", place,
        *options, "--force")  # fmt: skip
    thrown = [beat for beat in events(place)["beats"] if beat["cycle"] is not None]
    assert [beat["call"] for beat in thrown][:7] == called


def test_where_no_voice_can_say_it_that_is_told_beforehand(folder: Path) -> None:
    place = folder / "odd.toml"
    place.write_text('[[part]]\npattern = "3"\ncycles = 9\nhow = { "3" = "¿" }\n', "utf-8")
    document = json.loads(run("plan", place, "--json"))
    assert "No voice here can say “¿”: these throws are called as ever." in document["notes"]


def test_it_is_told_how_many_calls_give_way_to_a_long_word(folder: Path) -> None:
    place = folder / "quick.toml"
    how = 'how = { "every fourth 3" = "overhead" }'  # at its quickest longer than a beat
    place.write_text(f'[[part]]\npattern = "3"\ntempo = 275\ncycles = 24\n{how}\n', "utf-8")
    told = run("render", place, "-o", folder / "quick.wav", "--rate", RATE)
    assert "about one call in 3 is left out" in told


def test_what_is_the_same_of_many_manners_is_told_once_and_in_few_words(folder: Path) -> None:
    silent = ["¿" * length for length in range(1, 9)]
    parts = [
        f'[[part]]\npattern = "531"\ncycles = 2\ntempo = 150\ncue = ""\nhow = {{ "5" = "{how}" }}\n'
        for how in (*silent, "behind the back", "high behind the back")
    ]
    place = folder / "many.toml"
    place.write_text("".join(parts), "utf-8")
    unsayable, shorter = json.loads(run("plan", place, "--json"))["notes"]
    assert "“¿”, “¿¿”, “¿¿¿”, “¿¿¿¿”, “¿¿¿¿¿” and 3 more: these throws are called as" in unsayable
    told = "“behind the back” (0.9 s) as “behind”, “high behind the back” (1.1 s) as “high”."
    assert shorter.endswith(told)


def test_another_voice_is_told_of_only_where_it_is_heard(folder: Path) -> None:
    # The manner of a throw gives way to "last one", which the built-in voice says.
    place = folder / "never.toml"
    place.write_text(
        '[[part]]\npattern = "3"\nbeats = 4\nhow = { "every fourth 3" = "zigzag" }\n', "utf-8"
    )
    notes = " ".join(json.loads(run("plan", place, "--json"))["notes"])
    assert "Only shown, as something else is called at all of these throws: “zigzag”." in notes
    assert "Another voice" not in notes
    place.write_text(place.read_text("utf-8").replace("fourth", "third"), "utf-8")
    assert "Another voice" in " ".join(json.loads(run("plan", place, "--json"))["notes"])
