"""`plan`: the page, the JSON that others script against, new files, and what it refuses."""

import json
import math
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from click.testing import Result

from throwcount.caller.routine_file.reading import read_routine
from throwcount.caller.routine_file.starter import starter_lines

Run = Callable[..., Result]

WALK = """
title = "The walk"
tempo = 180
ceiling = 2.8
ready = 2
[[part]]
pattern = "3"
cycles = 24
[[part]]
name = "the well"
pattern = "531"
cycles = 8
to = 200
[[part]]
rest = true
seconds = 12
[[part]]
pattern = "(4,4)"
cycles = 5
"""


@pytest.fixture
def walk(tmp_path: Path) -> Path:
    return written(tmp_path, WALK)


@pytest.fixture
def in_its_folder(walk: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(walk.parent)


def written(folder: Path, text: str) -> Path:
    place = folder / "walk.toml"
    place.write_text(text, "utf-8")
    return place


def plan(run: Run, *arguments: object) -> dict[str, Any]:
    result = run("plan", *arguments, "--json")
    assert result.exit_code == 0, result.stderr
    document: dict[str, Any] = json.loads(result.stdout)
    return document


def test_beats_and_times_are_those_of_the_parts(run: Run, walk: Path) -> None:
    document = plan(run, walk, "--no-announce")
    three, well, rest, four = document["entries"]
    assert [entry["beats"] for entry in document["entries"]] == [24, 24, 40, 10]
    assert three["time"] == pytest.approx(2 + 4 * 60 / 180)  # hands filled, four beats counted
    assert well["time"] == pytest.approx(three["time"] + 24 * 60 / 180)
    # Linear in beats from 180 to 200 over 24 beats: (60 / k) ln(1 + k n / b0), k = 20 / 24.
    ramp = 60 / (20 / 24) * math.log(200 / 180)
    assert rest["time"] == pytest.approx(well["time"] + ramp)
    assert four["time"] == pytest.approx(rest["time"] + 40 * 60 / 200)
    assert (well["tempo"], well["to"], four["tempo"]) == pytest.approx((180, 200, 200))
    assert [entry["objects"] for entry in document["entries"]] == [3, 3, 3, 4]
    assert document["beats"] == 98


RATE = 8000
FRAME = 1 / RATE
"""An announcement lasts a whole number of frames, so its length depends on the rate."""


def test_what_is_planned_is_what_is_rendered(run: Run, walk: Path, tmp_path: Path) -> None:
    sound, events = tmp_path / "walk.wav", tmp_path / "walk.json"
    assert run("render", walk, "-o", sound, "--events", events, "--rate", RATE).exit_code == 0
    beats = json.loads(events.read_text("utf-8"))["beats"]
    document = plan(run, walk)
    times = {beat["beat"]: beat["time"] for beat in beats}
    parts = {beat["beat"]: beat["part"] for beat in beats}
    for entry in document["entries"]:
        assert entry["time"] == pytest.approx(times[entry["beat"]], abs=FRAME)
        if entry["kind"] == "part":
            assert parts[entry["beat"]] == entry["title"]
    assert document["seconds"] == pytest.approx(soundfile.info(sound).duration, abs=FRAME)


LOADED = """
title = "Loaded"
tempo = 200
[[part]]
pattern = "441"
beats = 10
first = "left"
[[part]]
rest = true
beats = 12
[[part]]
pattern = "b97531"
cycles = 2
[[part]]
pattern = "55550"
cycles = 3
put-down = 2
[[part]]
rest = true
beats = 14
[[part]]
pattern = "([64],2)"
cycles = 3
"""


def test_what_each_hand_holds_is_what_it_throws_first(run: Run, tmp_path: Path) -> None:
    routine, events = written(tmp_path, LOADED), tmp_path / "walk.json"
    asked = ("--events", events, "--rate", RATE, "--no-cues")
    assert run("render", routine, "-o", tmp_path / "walk.wav", *asked).exit_code == 0
    beats = json.loads(events.read_text("utf-8"))["beats"]
    loaded = [entry for entry in plan(run, routine)["entries"] if entry["start"] is not None]
    assert [(entry["title"], sum(entry["start"].values())) for entry in loaded] == [
        ("441", 3),
        ("b97531", 6),
        ("([64],2)", 6),
    ]
    for entry in loaded:
        hands: dict[str, str] = {}  # the hand that throws each object first
        for beat in beats:
            if beat["beat"] >= entry["beat"] and len(hands) < entry["objects"]:
                for hand in ("left", "right"):
                    for one in beat["objects"][hand]:
                        hands.setdefault(one, hand)
        counted = {hand: [*hands.values()].count(hand) for hand in ("right", "left")}
        assert counted == entry["start"]


def test_the_page_has_the_rows_and_what_may_go_wrong(run: Run, walk: Path) -> None:
    result = run("plan", walk)
    assert result.exit_code == 0
    text = " ".join(result.stdout.split())
    assert "The walk: 3 patterns and 1 rest, " in text
    assert "the well: 531 8 24 180-200 3 5: 2.83 !" in text
    assert "Part 2: The 5 rises 1.83 m above the hands at 180 beats a minute, 2.83 m" in text
    assert "the ceiling is at 2.8 m" in text
    assert max(map(len, result.stdout.splitlines())) <= 80


@pytest.mark.parametrize(
    ("arguments", "settings", "expected"),
    [
        ((), "", (2.8, 1.0)),
        ((), "ceiling = 5.0\nhands = 1.2\n", (2.8, 1.2)),  # the file wins over the settings
        (("--ceiling", "3", "--hands", "1.1"), "ceiling = 5.0\n", (3.0, 1.1)),
        (("--hands", "0"), "", (2.8, 0.0)),
    ],
)
def test_the_room_is_typed_or_in_the_file_or_in_the_settings(
    run: Run, walk: Path, arguments: tuple[str, ...], settings: str, expected: tuple[float, float]
) -> None:
    own = walk.with_name("settings.toml")
    own.write_text(settings, "utf-8")
    document = plan(run, walk, "--settings", own, *arguments)
    assert (document["ceiling"], document["hands"]) == expected
    floor = document["entries"][0]["highest"]["floor_m"]
    assert floor == pytest.approx(expected[1] + 9.80665 * ((3 - 4 / 3) / 3) ** 2 / 8, abs=1e-6)


@pytest.mark.parametrize(
    ("arguments", "in_the_file", "opening"),
    [
        ((), "", ("left", 7)),
        ((), 'first = "right"\ncount-in = 2\n', ("right", 2)),  # the file wins over the settings
        (("--first", "right", "--count-in", "3"), "", ("right", 3)),
    ],
)
def test_the_opening_is_typed_or_in_the_file_or_in_the_settings(
    run: Run, tmp_path: Path, arguments: tuple[str, ...], in_the_file: str, opening: tuple[str, int]
) -> None:
    place = written(tmp_path, in_the_file + WALK)
    own, events = tmp_path / "settings.toml", tmp_path / "walk.json"
    own.write_text('first = "left"\ncount-in = 7\n', "utf-8")
    asked = ("--settings", own, *arguments, "--rate", "8000", "--events", events)
    assert run("render", place, "-o", tmp_path / "walk.wav", *asked).exit_code == 0
    beats = json.loads(events.read_text("utf-8"))["beats"]
    hand, counted = opening
    assert beats[0]["beat"] == -counted
    assert beats[counted]["throws"][hand] == ["3"]


def test_slower_and_from_a_part_on(run: Run, walk: Path) -> None:
    whole, slow = plan(run, walk), plan(run, walk, "--percent", "50")
    assert [entry["tempo"] for entry in slow["entries"]] == pytest.approx(
        [entry["tempo"] / 2 for entry in whole["entries"]]
    )
    rest = plan(run, walk, "--from", "the well")["entries"]
    assert [entry["number"] for entry in rest] == [2, 3, 4]


STRETCHED = """
tempo = 180
[[part]]
pattern = "3-cascade"
cycles = 8
[[part]]
repeat = 2
    [[part.part]]
    rest = true
    beats = 8
    [[part.part]]
    name = "the well"
    pattern = "531"
    cycles = 4
    [[part.part]]
    pattern = "51"
    cycles = 4
"""
"""Parts 1 to 7: a cascade, then twice a rest, the well and a 51."""


@pytest.mark.parametrize(
    ("asked", "numbers"),
    [
        ("--from 3 --until 4", [3, 4]),
        ("--until 3", [1, 2, 3]),
        ("--from 2 --until 5", [3, 4]),  # a rest neither opens nor closes it
        ("--from 51 --until 51", [4]),
        ("--until cascade", [1]),
        ("--from 5 --until 51", [6, 7]),  # the one that comes after the beginning
        ("--from 6 --until 3-shower", [6, 7]),
    ],
)
def test_some_parts_alone(run: Run, tmp_path: Path, asked: str, numbers: list[int]) -> None:
    path = tmp_path / "stretched.toml"
    path.write_text(STRETCHED, "utf-8")
    entries = plan(run, path, *asked.split())["entries"]
    assert sorted({entry["number"] for entry in entries}) == numbers
    assert entries[-1]["kind"] == "part"


def test_a_pattern_given_by_its_name_is_called_by_it(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "stretched.toml"
    path.write_text(STRETCHED.replace('"51"', '"3 shower"'), "utf-8")
    entries = plan(run, path, "--from", "3-shower")["entries"]
    assert (entries[0]["title"], entries[0]["throws"]) == ("3 shower", "51")
    cues = {entry["cue"]["text"] for entry in entries if entry["cue"]}
    assert cues == {"rest", "next the well", "next 3 shower"}


def test_a_new_file_is_written_once(run: Run, tmp_path: Path) -> None:
    place = tmp_path / "new.toml"
    first = run("plan", "--new", place)
    assert (first.exit_code, first.stderr) == (0, "")
    assert str(place) in first.stdout.replace("\n", "")
    assert place.read_text("utf-8") == "".join(starter_lines())
    assert read_routine(place).title == "My routine"
    place.write_text("mine", "utf-8")
    again = run("plan", "--new", place)
    assert again.exit_code == 3
    assert "was left as it is" in again.stderr.replace("\n", " ")
    assert place.read_text("utf-8") == "mine"
    assert run("plan", "--new", place, "--force").exit_code == 0
    assert run("plan", place).exit_code == 0


@pytest.mark.parametrize("other", [["--json"], ["--picture", "new.svg"]])
def test_a_new_file_is_not_planned_at_once(run: Run, tmp_path: Path, other: list[str]) -> None:
    result = run("plan", "--new", tmp_path / "new.toml", *other)
    assert (result.exit_code, result.stdout) == (2, "")
    assert not list(tmp_path.iterdir())


THREE = '[[part]]\npattern = "3"\nbeats = 9\n'
SEVEN = '[[part]]\npattern = "7"\nbeats = 20\n'
FIVES = 'pattern = "531"\nbeats = 9\nbridge = "5 5"\n'
OUT = '[[part]]\nname = "out"\npattern = "1"\nbeats = 9\nput-down = 2\nbridge = "9 9 9"\n'
PAIRS = '[[part]]\npattern = "(4x,2x)"\ncycles = 4\nbridge = "4 3"\n'
NO_WAY = "does not lead from 3 to 531"


@pytest.mark.parametrize(
    ("text", "places", "fragment"),
    [
        ('[[part]]\npattern = "543"\nbeats = 0\n', ["Part 1"] * 2, "cannot be thrown"),
        ("[[part", [""], "not valid TOML"),
        (f"{THREE}[[part]]\n{FIVES}{OUT}", ["Part 2", "Part 3, “out”"], NO_WAY),
        (
            f"[[part]]\nrepeat = 3\n[[part.part]]\n{THREE[9:]}[[part.part]]\n{FIVES}",
            ["Part 1.2"],
            NO_WAY,
        ),
        # which throws would do depends on the hand that comes next
        (f"{THREE}{PAIRS}", ["Part 2"], "does not lead from 3 to (4x,2x); “4x 1” does"),
        (f"{THREE}{THREE}{PAIRS}", ["Part 3"], "does not lead from 3 to (4x,2x); “4 1” does"),
        (f"{SEVEN}[[part]]\nrest = true\nbeats = 3\n{SEVEN}", ["Part 2"], "is caught 6"),
    ],
)
def test_wrong_routines_end_with_1_and_every_fault(
    run: Run, tmp_path: Path, text: str, places: list[str], fragment: str
) -> None:
    place = written(tmp_path, text)
    told = run("plan", place)
    assert (told.exit_code, told.stdout) == (1, "")
    assert fragment in told.stderr
    assert "Traceback" not in told.stderr
    as_json = run("plan", place, "--json")
    assert (as_json.exit_code, as_json.stderr) == (1, "")
    document = json.loads(as_json.stdout)
    assert document["valid"] is False
    assert [fault["place"] for fault in document["faults"]] == places
    assert fragment in document["message"]


@pytest.mark.parametrize(
    ("arguments", "status", "fragment"),
    [
        (["none.toml"], 1, "There is no such file; `throwcount plan --new FILE` writes a"),
        (["531"], 1, "There is no such file"),
        (["."], 1, "It is a folder, not a file"),
        ([], 2, "Missing argument 'FILE'"),
        (["walk.toml", "--tempo", "100"], 2, "No such option"),
        (["walk.toml", "--from", "the wall"], 2, "Did you mean 'the well'?"),
        (["walk.toml", "--from", "wel"], 2, "Did you mean 'the well'?"),
        (["walk.toml", "--until", "the"], 2, "--until the: the routine has no such part"),
        (["walk.toml", "--until", "the"], 2, "Did you mean 'the well'?"),
        (["walk.toml", "--from", "3", "--until", "1"], 2, "so nothing would be thrown."),
        (["walk.toml", "--ceiling", "nan"], 2, "--ceiling"),
        (["walk.toml", "--picture", "walk.pdf"], 2, "has to end in .svg or .png."),
        (["walk.toml", "--voice", "no-such-voice"], 2, "no-such-voice"),
    ],
)
@pytest.mark.usefixtures("in_its_folder")
def test_what_is_not_planned(run: Run, arguments: list[str], status: int, fragment: str) -> None:
    result = run("plan", *arguments)
    assert (result.exit_code, result.stdout) == (status, "")
    assert fragment in " ".join(result.stderr.split())


MUSICAL = """
[music]
file = "tune.wav"
tempo = 120
first-beat = 0.5
[[part]]
pattern = "3"
cycles = 20
"""


def test_music_that_is_missing_or_too_short_is_told(run: Run, tmp_path: Path) -> None:
    place = written(tmp_path, MUSICAL)
    tune = tmp_path / "tune.wav"

    def notes() -> list[str]:
        return list(plan(run, place, "--ready", "1", "--no-announce")["notes"])

    assert "tune.wav" in notes()[0]
    assert plan(run, place)["entries"][0]["bar"] == 1
    soundfile.write(tune, np.zeros(8 * 8000), 8000)
    # First throw at 1 + 4 x 0.5 = 3 s, music from 2.5 s to 10.5 s, throws to 13 s.
    assert notes() == ["The music is over at 0:10, and the throws end at 0:13."]
    soundfile.write(tune, np.zeros(11 * 8000), 8000)
    assert notes() == []


def test_a_long_routine_takes_work_in_proportion(run: Run, tmp_path: Path) -> None:
    """Calls of functions are counted and not seconds, which depend on what else a machine does."""

    def calls(parts: int) -> int:
        names = [f'[[part]]\npattern = "{("3", "531")[n % 2]}"\ncycles = 4\n' for n in range(parts)]
        made = 0

        def count(_frame: object, event: str, _argument: object) -> None:
            nonlocal made
            made += event in {"call", "c_call"}

        place = written(tmp_path, "".join(names))
        sys.setprofile(count)
        try:
            assert len(plan(run, place)["entries"]) == parts
        finally:
            sys.setprofile(None)
        return made

    calls(10)  # whatever is loaded once
    assert calls(1000) <= 5.5 * calls(200)


def test_a_bar_shows_how_far_it_is(run: Run, walk: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: list[tuple[str, int, int]] = []

    @contextmanager
    def noted(title: str, total: int) -> Iterator[Callable[[int], None]]:
        yield lambda done: seen.append((title, total, done))

    monkeypatch.setattr("throwcount.caller.terminal.printing.progress", noted)
    walk.write_text(walk.read_text("utf-8").replace("cycles = 24", "cycles = 3000"), "utf-8")
    assert plan(run, walk)["beats"] == 98 - 24 + 3000
    assert seen == [("Planning The walk", 98 - 24 + 3000, 1000)] * 3
