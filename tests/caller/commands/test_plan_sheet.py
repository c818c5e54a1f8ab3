"""`plan --sheet` and `plan --csv`: a line a part, and what they refuse."""

import csv
import json
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result
from cue_sheets import ReadSheet

Run = Callable[..., Result]

VILLAGE = """
title = "The village"
props = "lanterns"
tempo = 180
ceiling = 2.8
[[part]]
name = "the quay"
pattern = "3"
cycles = 12
to = 200
[[part]]
pattern = "441"
cycles = 6
how = "under the leg"
[[part]]
rest = true
name = "a bow"
seconds = 10
cue = "bow, and turn"
[[part]]
pattern = "3"
cycles = 8
[[part]]
name = "four"
pattern = "4"
cycles = 6
pick-up = 1
cue = "take the fourth"
"""


@pytest.fixture
def village(tmp_path: Path) -> Path:
    path = tmp_path / "village.toml"
    path.write_text(VILLAGE, "utf-8")
    return path


@pytest.fixture
def in_its_folder(village: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(village.parent)


def entries(run: Run, *arguments: object) -> list[dict[str, Any]]:
    result = run("plan", *arguments, "--json")
    assert result.exit_code == 0, result.stderr
    found: list[dict[str, Any]] = json.loads(result.stdout)["entries"]
    return found


def clock(seconds: float) -> str:
    return f"{round(seconds) // 60}:{round(seconds) % 60:02}"


def metres(value: int, tempo: float) -> float:
    """Return a height above the floor by Shannon's theorem: F = (n - 2r) tau, h = g F^2 / 8."""
    return 1 + 9.80665 * ((value - 4 / 3) * 60 / tempo) ** 2 / 8


def test_a_sheet_has_a_line_a_part(run: Run, village: Path) -> None:
    path = village.with_suffix(".html")
    result = run("plan", village, "--sheet", path)
    assert result.exit_code == 0
    assert "The village: 4 patterns and 1 rest" in result.stdout
    sheet = ReadSheet(path.read_text("ascii"))
    planned = entries(run, village)
    parts = [entry for entry in planned if entry["kind"] != "bridge"]
    (bridge,) = [entry for entry in planned if entry["kind"] == "bridge"]
    first, last = sheet.headings[:7], sheet.headings[7:]
    assert first == ["part", "clock", "pattern", "objects", "left", "right", "tempo"]
    assert last == ["height (m)", "cue words", "light, sound"]
    assert sheet.kinds == ["part", "part", "rest", "part", "part"]
    columns = list(zip(*(row.values() for row in sheet.rows), strict=True))
    cues = [entry["cue"] for entry in planned if entry["cue"]]
    rising = bridge["highest"]["throw"]
    at_200 = {value: f"{metres(value, 200):.2f}" for value in (3, 4, int(rising[0]))}
    heights = [f"3: {metres(3, 180):.2f}", f"4: {at_200[4]}", "", f"3: {at_200[3]}"]
    heights.append(f"{rising}: {at_200[int(rising[0])]}")
    leads = f"bridge {bridge['throws']}, at {clock(bridge['time'])}"
    assert columns == [
        ("1", "2", "3", "4", "5"),
        tuple(clock(entry["time"]) for entry in parts),
        ("the quay: 3", "441, under the leg", "a bow (rest)", "3", f"four: 4\n{leads}"),
        ("3", "3", "3", "3", "4 (+1)"),
        ("1", "", "", "1", ""),  # the first hand is the right one, so of three it holds two
        ("2", "", "", "2", ""),
        ("180-200", "200", "200", "200", "200"),
        tuple(heights),
        ("", *(f"{clock(cue['time'])} {cue['text']}" for cue in cues)),
        ("",) * 5,
    ]
    assert [cue["text"] for cue in cues][1::2] == ["bow, and turn", "take the fourth"]


def test_above_and_below_the_table(run: Run, village: Path) -> None:
    path = village.with_suffix(".htm")
    assert run("plan", village, "--sheet", path, "--percent", 80).exit_code == 0
    sheet = ReadSheet(path.read_text("ascii"))
    assert sheet.texts["title"] == sheet.texts["h1"] == ["The village"]
    facts, remarks = sheet.texts["p"]
    planned = json.loads(run("plan", village, "--percent", 80, "--json").stdout)
    assert facts == f"{clock(planned['seconds'])} long · at 80 % of its tempo · lanterns"
    last = planned["entries"][-1]
    over = clock(last["time"] + last["seconds"])
    assert remarks.startswith(f"The last part is over at {over}. The clock starts with the sound")
    assert "the ceiling is at 2.8 m" in remarks
    assert "leave room above for the object itself" in remarks
    assert remarks.endswith("! stands where a throw reaches the ceiling.")
    assert metres(4, 160) < 2.8 < metres(5, 160)
    assert ["!" in row["height"] for row in sheet.rows] == [False] * 4 + [True]


def test_bars_and_the_name_of_the_music(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "green.html"
    example = Path(__file__).parents[3] / "examples" / "green.toml"
    assert run("plan", example, "--sheet", path).exit_code == 0
    sheet = ReadSheet(path.read_text("ascii"))
    assert sheet.headings[2] == "bar"
    assert [row["bar"] for row in sheet.rows] == "3 7 11 15 17 19 21".split()  # as in the file
    assert sheet.texts["p"][0].endswith("three lanterns · music: green.ogg")


def test_the_values_have_the_same_lines(run: Run, village: Path) -> None:
    result = run("plan", village, "--csv")
    assert result.exit_code == 0
    planned = entries(run, village)
    (bridge,) = [entry for entry in planned if entry["kind"] == "bridge"]
    read = list(csv.DictReader(StringIO(result.stdout_bytes.decode(), newline=""), strict=True))
    assert [row["title"] for row in read] == ["the quay", "441", "a bow", "3", "four"]
    assert [row["kind"] for row in read] == ["part", "part", "rest", "part", "part"]
    parts = [entry for entry in planned if entry["kind"] != "bridge"]
    for row, entry in zip(read, parts, strict=True):
        assert [row[name] for name in ("part", "place", "beats", "objects", "pattern", "how")] == [
            str(entry[name]) for name in ("number", "place", "beats", "objects", "throws", "how")
        ]
        for name in ("time", "seconds", "tempo", "to"):
            assert float(row[name]) == pytest.approx(entry[name], abs=5e-4)
        assert row["clock"] == clock(entry["time"])
        start = entry["start"] or {"left": "", "right": ""}
        assert (row["left"], row["right"]) == (str(start["left"]), str(start["right"]))
    four = read[-1]
    assert (four["bridge"], four["change"], four["cue"]) == (
        bridge["throws"],
        "1",
        "take the fourth",
    )
    assert float(four["bridge_time"]) == pytest.approx(bridge["time"], abs=5e-4)
    assert float(four["floor_m"]) == pytest.approx(bridge["highest"]["floor_m"], abs=5e-4)
    assert four["throw"] == bridge["highest"]["throw"]
    assert read[2]["throw"] == read[2]["floor_m"] == read[0]["cue"] == ""


def test_the_values_are_as_rfc_4180_has_them(run: Run, village: Path) -> None:
    """Records end in CR LF (2.1), all have as many fields (2.4), and quotes are doubled (2.7)."""
    village.write_text(VILLAGE.replace('"a bow"', "'a \"bow\", große Geste'"), "utf-8")
    lines = run("plan", village, "--csv").stdout_bytes.decode("utf-8").split("\r\n")
    assert lines.pop() == ""
    assert len(lines) == 6
    assert not any("\n" in line or "\r" in line for line in lines)
    assert lines[0].startswith("part,place,kind,clock,time,seconds,beats,bar,title,pattern,how,")
    assert ',"a ""bow"", große Geste",' in lines[3]
    assert lines[3].count(",") == lines[0].count(",") + 1 + 1  # one in the name, one in the cue


@pytest.mark.parametrize(
    ("arguments", "code", "message"),
    [
        ("--sheet walk.pdf", 2, "a sheet has the ending .html"),
        ("--csv --json", 2, "--json and --csv both fill the output"),
        ("--csv --new", 2, "--new writes a file to begin with"),
        ("--sheet x.html --new", 2, "--new writes a file to begin with"),
        ("--sheet x.html --tap", 2, "make no plan"),
        ("--csv --estimate", 2, "make no plan"),
        ("--sheet there.html", 3, "There is a file of that name already"),
        ("--sheet nowhere/x.html", 3, "There is no such folder"),
    ],
)
@pytest.mark.usefixtures("in_its_folder")
def test_what_is_refused(run: Run, village: Path, arguments: str, code: int, message: str) -> None:
    there = village.with_name("there.html")
    there.write_text("mine", "utf-8")
    result = run("plan", village.name, *arguments.split())
    assert result.exit_code == code
    assert message in result.stderr
    assert there.read_text("utf-8") == "mine"
    assert sorted(path.name for path in village.parent.iterdir()) == ["there.html", "village.toml"]


def test_a_file_is_replaced_only_if_asked_for(run: Run, village: Path) -> None:
    path = village.with_suffix(".html")
    path.write_text("mine", "utf-8")
    assert run("plan", village, "--sheet", path, "--force", "--csv").exit_code == 0
    assert ReadSheet(path.read_text("ascii")).texts["title"] == ["The village"]


@pytest.mark.parametrize("option", [("--csv",), ("--sheet", "x.html")])
def test_a_session_has_neither(run: Run, tmp_path: Path, option: tuple[str, ...]) -> None:
    path = tmp_path / "tuesday.toml"
    assert run("plan", "--new-session", path).exit_code == 0
    result = run("plan", path, *option)
    assert result.exit_code == 2
    assert f"{option[0]} is for a routine" in result.stderr


def test_nothing_is_written_of_a_routine_with_faults(run: Run, village: Path) -> None:
    village.write_text(VILLAGE.replace('"441"', '"443"'), "utf-8")
    result = run("plan", village, "--csv", "--sheet", village.with_suffix(".html"))
    assert result.exit_code == 1
    assert result.stdout_bytes == b""
    assert not village.with_suffix(".html").exists()
