"""`log`: the page, JSON, CSV and pictures of a practice made by hand, and of none."""

import csv
import json
import os
import sys
import time
import tomllib
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator
from dataclasses import asdict, replace
from datetime import UTC, datetime
from importlib.util import find_spec
from io import StringIO
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st
from kept_takes import TAKE

from throwcount.caller.commands.log import COLUMNS
from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.page import STEADY
from throwcount.caller.log.records import Plan, Thrown
from throwcount.caller.main import throwcount
from throwcount.caller.options.arguments import LOG_VARIABLE
from throwcount.engine.patterns.rules import read
from throwcount.engine.practice.tempo_rules import Mark

Run = Callable[..., Result]

SETS: list[tuple[str, float, int, int, list[Mark]]] = [
    ("531", 150.0, 48, 48, ["clean"]),
    ("315", 154.0, 60, 60, ["clean"]),
    ("531", 158.0, 30, 27, ["clean", "drop"]),
    ("744", 200.0, 40, 40, []),
]
"""Pattern, tempo, beats, catches and marks of each set."""


@pytest.fixture(scope="module", autouse=True)
def _two_hours_east() -> Iterator[None]:
    """Local time is two hours ahead of UTC, all the year round."""
    before = os.environ.get("TZ")
    os.environ["TZ"] = "XYZ-2"
    time.tzset()
    yield
    if before is None:
        del os.environ["TZ"]
    else:
        os.environ["TZ"] = before
    time.tzset()


@pytest.fixture
def with_takes(tmp_path: Path) -> Path:
    """A log of takes alone."""
    place = tmp_path / "takes.sqlite"
    now = datetime(2026, 3, 31, 22, 30, tzinfo=UTC).timestamp()
    with PracticeLog.open(place, lambda: now) as log:
        log.keep_take(TAKE)
        log.keep_take(replace(TAKE, file="yard.wav", pattern="", tempo=None, asynchrony_sd=None))
    return place


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A log of one evening in the spring of 2026."""
    place = tmp_path_factory.mktemp("log") / "practice.sqlite"
    now = datetime(2026, 3, 31, 22, 30, tzinfo=UTC).timestamp()
    with PracticeLog.open(place, lambda: now) as log:
        session = log.begin_session("clubs", "speakers")
        for pattern, tempo, beats, catches, marks in SETS:
            number = log.begin_set(session, Plan(read(pattern), tempo, 60, goal=50))
            for beat, mark in enumerate(marks):
                log.mark(number, mark, beat)
            now += 60
            log.end_set(number, Thrown(beats, beats / 2, tempo, catches))
        log.end_session(session)
        now += 3600
        number = log.begin_set(log.begin_session(), Plan(read("3"), 180.0))
    return place


def test_the_page(run: Run, path: Path) -> None:
    result = run("log", "--log", str(path))
    assert (result.exit_code, result.stderr) == (0, "")
    assert [" ".join(line.split()) for line in result.stdout.splitlines()] == [
        "2 sessions, 5 sets of 3 patterns, 1:29 of throwing, the first on 2026-04-01.",
        "",
        "session length throwing sets clean drops patterns props",
        "2026-04-01 01:34 0:00+ 0:00 1 0 0 1",
        "2026-04-01 00:30 4:00 1:29 4 2 1 2 clubs",
        "+ goes on, or was interrupted.",
        "",
        "best best most",
        "pattern props clean sets tempo run in a row throwing last",
        "3 3 0 of 1 - - 0 0:00 2026-04-01",
        "744 5 clubs 0 of 1 - 40 0 0:20 2026-04-01",
        "531 3 clubs 2 of 3 154 60 2 1:09 2026-04-01",
        "Best run: most catches in any set, until the drop. Of clean sets: fastest tempo,",
        "most in a row.",
        "",
        "best its",
        "pattern props run tempo its day flash qualify 50 100 own goal",
        "744 5 clubs 40 200 2026-04-01 1 1 0 0 0 of 1",
        "531 3 clubs 60 154 2026-04-01 3 3 1 0 1 of 3",
        "How often a goal was met: flash is every object caught once, qualify twice. Own",
        "goal: of the sets that had one.",
        "",
        "Not practised for 14 days:",
        "pattern props last last clean tempo",
        "531 3 clubs 2026-04-01 154",
        "744 5 clubs 2026-04-01 -",
        "3 3 2026-04-01 -",
    ]


@pytest.mark.parametrize(
    ("arguments", "fragments"),
    [
        (["--pattern", "153"], ["1 session, 3 sets of 1 pattern"]),
        (["--pattern", "531", "--props", "CLUBS"], ["3 sets"]),
        (["--pattern", "51"], ["The practice log has no set of 51."]),
        (["--props", "rings"], ["no set of any pattern with rings."]),
        (["--since", "2027-01-01"], ["no set of any pattern since 2027-01-01."]),
        (["--since", "2026-04-01"], ["5 sets of 3 patterns"]),
        (["--rows", "1"], ["The last 1; --rows shows more.", "The 1 practised last"]),
        (["--lately", "36500"], ["5 sets"]),
    ],
)
def test_what_is_asked_for(
    run: Run, path: Path, arguments: list[str], fragments: list[str]
) -> None:
    result = run("log", "--log", str(path), *arguments)
    assert (result.exit_code, result.stderr) == (0, "")
    page = " ".join(result.stdout.split())
    for fragment in fragments:
        assert fragment in page
    assert ("Not practised" in page) == ("sets" in page and "--lately" not in arguments)


@pytest.mark.parametrize(
    ("arguments", "lines"),
    [
        (
            [],
            [
                "take listened to pattern tempo sd drops sure",
                "yard.wav 2026-04-01 - - - 1 90%",
                "barn.wav 2026-04-01 531 152 12 ms 1 90%",
                STEADY,
            ],
        ),
        (
            ["--rows", "1"],
            [
                "take listened to pattern tempo sd drops sure",
                "yard.wav 2026-04-01 - - - 1 90%",
                STEADY,
                "The last 1; --rows shows more.",
            ],
        ),
        (
            ["--pattern", "315"],
            [
                "The practice log has no set of 531.",
                "take listened to pattern tempo sd drops sure",
                "barn.wav 2026-04-01 531 152 12 ms 1 90%",
                STEADY,
            ],
        ),
        (["--props", "rings"], ["The practice log has no set of any pattern with rings."]),
    ],
)
def test_takes_are_listed(
    run: Run, with_takes: Path, arguments: list[str], lines: list[str]
) -> None:
    result = run("log", "--log", str(with_takes), *arguments)
    assert (result.exit_code, result.stderr) == (0, "")
    assert [" ".join(line.split()) for line in result.stdout.splitlines()] == lines


def test_takes_stand_below_the_sets(run: Run, path: Path, tmp_path: Path) -> None:
    both = tmp_path / "both.sqlite"
    both.write_bytes(path.read_bytes())
    with PracticeLog.open(both) as log:
        log.keep_take(TAKE)
    page = run("log", "--log", str(both)).stdout
    assert page.startswith("2 sessions")
    assert page.rstrip().endswith(STEADY)


def test_takes_in_json(run: Run, with_takes: Path) -> None:
    _, first = json.loads(run("log", "--json", "--log", str(with_takes)).stdout)["takes"]
    told = asdict(TAKE)
    told["sureness"] = told.pop("confidence")
    assert first == {"number": 1, "kept": "2026-03-31T22:30:00.000Z", **told}


@pytest.mark.parametrize("columns", [40, 60, 80, 132])
def test_the_page_fits_its_terminal(
    monkeypatch: pytest.MonkeyPatch, path: Path, with_takes: Path, columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    with PracticeLog.open(with_takes) as log:
        log.keep_take(replace(TAKE, file="a_take_with_a_name_that_goes_on_and_on.m4a"))
    for log_file in (path, with_takes):
        page = CliRunner().invoke(throwcount, ["log", "--log", str(log_file)]).stdout
        assert max(map(len, page.splitlines())) <= columns
        assert "\u2026" not in page


def test_patterns_stay_whole_beside_long_names_of_props(run: Run, tmp_path: Path) -> None:
    place = tmp_path / "lanterns.sqlite"
    with PracticeLog.open(place) as log:
        number = log.begin_set(log.begin_session("three lanterns"), Plan(read("97531"), 200.0))
        log.end_set(number, Thrown(60, 18.0, 200.0))
    lines = run("log", "--log", str(place)).stdout.splitlines()
    assert any(line.startswith("97531    5 three") for line in lines)
    assert max(map(len, lines)) <= 80


def test_json(run: Run, path: Path) -> None:
    result = run("log", "--json", "--log", str(path), "--pattern", "315")
    assert (result.exit_code, result.stderr) == (0, "")
    document = json.loads(result.stdout)
    assert list(document) == [
        *("log", "pattern", "props", "since", "totals"),
        *("sessions", "patterns", "lately_days", "not_lately", "sets", "takes"),
        *("records", "parts", "changes"),
    ]
    assert (document["log"], document["pattern"]) == (str(path), "531")
    assert document["totals"] == {
        "sessions": 1,
        "patterns": 1,
        "sets": 3,
        "clean": 2,
        "drops": 1,
        "seconds": 69.0,
        "first": "2026-03-31T22:30:00.000Z",
        "last": "2026-03-31T22:32:00.000Z",
    }
    assert document["patterns"] == document["not_lately"]
    assert document["patterns"][0] == {
        "pattern": "531",
        "objects": 3,
        "props": "clubs",
        "sets": 3,
        "clean": 2,
        "drops": 1,
        "seconds": 69.0,
        "best_tempo": 154.0,
        "last_tempo": 154.0,
        "longest_run": 60,
        "longest_row": 2,
        "last": "2026-03-31T22:32:00.000Z",
        "best_run": 60,
    }
    (record,) = document["records"]
    told = ("pattern", "props", "catches", "seconds", "tempo", "when")
    assert [record[key] for key in told] == [
        *("531", "clubs", 60, 30.0, 154.0, "2026-03-31T22:31:00.000Z"),
    ]
    assert (record["attempts"], record["before"]) == (3, 60)
    assert record["own_goal"] == {"asked": 3, "met": 1}
    assert record["today"] == {"catches": None, "attempts": 0, "throwing": 0.0}
    assert record["goals"][:3] == [
        {"goal": "flash", "catches": 3, "met": 3, "met_today": 0},
        {"goal": "qualify", "catches": 6, "met": 3, "met_today": 0},
        {"goal": "50", "catches": 50, "met": 1, "met_today": 0},
    ]
    third = document["sets"][2]
    assert (third["number"], third["written"], third["outcome"]) == (3, "531", "drop")
    assert [third[key] for key in ("catches", "goal", "part", "after_part")] == [27, 50, "", ""]
    assert (third["started"], third["ended"]) == (
        *("2026-03-31T22:32:00.000Z", "2026-03-31T22:33:00.000Z"),
    )
    assert [(mark["mark"], mark["beat"]) for mark in third["marks"]] == [("clean", 0), ("drop", 1)]


def test_csv(run: Run, path: Path) -> None:
    result = run("log", "--csv", "--log", str(path))
    assert (result.exit_code, result.stderr) == (0, "")
    rows = list(csv.DictReader(StringIO(result.stdout)))
    assert [row["written"] for row in rows] == ["531", "315", "531", "744", "3"]
    assert rows[2] == {
        "session": "1",
        "set": "3",
        "status": "finished",
        "outcome": "drop",
        "started": "2026-03-31T22:32:00.000Z",
        "ended": "2026-03-31T22:33:00.000Z",
        "pattern": "531",
        "written": "531",
        "objects": "3",
        "props": "clubs",
        "first": "right",
        "tempo_start": "158.0",
        "tempo_end": "158.0",
        "tempo_fastest": "158.0",
        "cycle_beats": "3",
        "beats_planned": "60",
        "beats_thrown": "30",
        "cycles_thrown": "10.0",
        "seconds": "15.0",
        "clean_marks": "1",
        "drop_marks": "1",
        "catches": "27",
        "goal": "50",
        "part": "",
        "after_part": "",
    }
    assert (rows[4]["status"], rows[4]["ended"], rows[4]["outcome"]) == ("interrupted", "", "")


def test_every_column_is_explained_in_the_help(run: Run) -> None:
    page = run("log", "--help").stdout
    for name, (what, _) in COLUMNS.items():
        assert f"{name} {what}" in " ".join(page.split())


def practised_now(place: Path) -> Path:
    """A log of one set of yesterday and two of today, and of a routine rehearsed today."""
    noon = datetime.now(UTC).astimezone().replace(hour=12, minute=0).timestamp()
    now = noon - 86_400
    with PracticeLog.open(place, lambda: now) as log:
        for catches in (40, 7, 52):
            number = log.begin_set(log.begin_session("rings"), Plan(read("5"), 220.0))
            log.end_set(number, Thrown(catches + 3, 10.0, 220.0, catches))
            now = noon
        now += 60
        session = log.begin_session("rings", file="/home/me/walk.toml")
        for part, after, catches, mark in (
            *(("entry", "", 30, "clean"), ("rush", "entry", 5, "drop")),
            *(("rush", "entry", 6, "drop"), ("rush", "entry", 40, "clean")),
        ):
            plan = Plan(read("531"), 180.0, 60, part=part, after_part=after)
            number = log.begin_set(session, plan)
            log.mark(number, mark)
            log.end_set(number, Thrown(60, 20.0, 180.0, catches))
    return place


def test_today_against_before_and_changes_by_drops(run: Run, tmp_path: Path) -> None:
    place = practised_now(tmp_path / "now.sqlite")
    result = run("log", "--log", str(place), "--props", "rings")
    assert (result.exit_code, result.stderr) == (0, "")
    lines = [" ".join(line.split()) for line in result.stdout.splitlines()]
    first = lines.index("Today, against the best before:")
    assert lines[first + 1 : first + 4] == [
        "pattern props sets throwing best run before met today",
        "531 3 rings 4 1:20 40 - flash: 4, qualify: 3",
        "5 5 rings 2 0:20 52 40 flash: 2, qualify: 1, 50: 1",
    ]
    first = lines.index("Changes that were dropped:")
    assert lines[first + 1 : first + 8] == [
        "from to dropped routine",
        "entry rush 1 of 3 walk.toml",
        "A change is over with a qualifying run of the part that it leads to.",
        "",
        "Parts that were dropped:",
        "part dropped routine",
        "rush 2 of 3 walk.toml",
    ]
    document = json.loads(run("log", "--json", "--log", str(place)).stdout)
    assert document["changes"] == [
        {"file": "/home/me/walk.toml", "after_part": "entry", "part": "rush"}
        | {"times": 3, "drops": 1}
    ]
    assert document["parts"][0] == (
        {"file": "/home/me/walk.toml", "part": "rush", "times": 3, "drops": 2}
    )
    assert document["records"][1]["today"] == {"catches": 52, "attempts": 2, "throwing": 20.0}


def test_a_set_of_today_is_not_called_old(run: Run, tmp_path: Path) -> None:
    with PracticeLog.open(tmp_path / "log.sqlite") as log:
        number = log.begin_set(log.begin_session(), Plan(read("531"), 180.0, 12))
        log.end_set(number, Thrown(12, 4.0, 180.0, 12))
        log.mark(number, "drop")
    told = run("log", "--log", str(tmp_path / "log.sqlite")).stdout
    assert "The catches of 1 set with a drop are not known." in told


def test_a_suggestion(run: Run, tmp_path: Path) -> None:
    place, session = practised_now(tmp_path / "now.sqlite"), tmp_path / "next.toml"
    result = run("log", "--log", str(place), "--suggest", str(session))
    assert (result.exit_code, result.stderr) == (0, "")
    assert "minutes with rings:" in result.stdout
    assert "52 catches in the last 4 weeks, 52% of 100" not in result.stdout
    blocks = tomllib.loads(session.read_text("utf-8"))["block"]
    assert {block["pattern"] for block in blocks} == {"5", "531"}
    again = run("log", "--log", str(place), "--suggest", str(session))
    assert (again.exit_code, "was left as it is" in again.stderr) == (3, True)
    forced = run("log", "--log", str(place), "--suggest", str(session), "--force", "--json")
    suggested = json.loads(forced.stdout)["suggested"]
    assert [one["pattern"] for one in suggested] == [block["pattern"] for block in blocks]


def test_a_clock_set_back_is_no_length(run: Run, tmp_path: Path) -> None:
    place, now = tmp_path / "back.sqlite", 1_775_000_000.0
    with PracticeLog.open(place, lambda: now) as log:
        session = log.begin_session()
        log.end_set(log.begin_set(session, Plan(read("3"), 150.0)), Thrown(30, 12.0, 150.0, 30))
        now -= 7200
        log.end_session(session)
    result = run("log", "--log", str(place))
    assert (result.exit_code, result.stderr) == (0, "")
    assert any(line.split()[2:4] == ["-", "0:12"] for line in result.stdout.splitlines())


@pytest.mark.parametrize("ending", ["svg", "png"])
def test_a_picture(
    run: Run, path: Path, tmp_path: Path, ending: str, require: Callable[[object, str], None]
) -> None:
    require(find_spec("matplotlib"), "no matplotlib")
    picture = tmp_path / f"march.{ending}"
    result = run("log", "--log", str(path), "--picture", str(picture))
    assert (result.exit_code, result.stderr) == (0, "")
    if ending == "png":
        assert picture.read_bytes().startswith(b"\x89PNG")
    else:
        text = " ".join(ET.parse(picture).getroot().itertext())
        assert "Practice on 1 day: 1 minute of throwing" in text
        assert "531 clubs up to 60" in text
        assert "531 clubs up to 154" in text
    again = run("log", "--log", str(path), "--picture", str(picture))
    assert (again.exit_code, "was left as it is" in again.stderr) == (3, True)


def test_without_matplotlib_one_sentence_says_so(
    run: Run, path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib.figure", None)
    result = run("log", "--log", str(path), "--picture", str(tmp_path / "march.svg"))
    assert (result.exit_code, result.stdout) == (3, "")
    assert "pip install 'throwcount[pictures]'" in result.stderr


@pytest.mark.parametrize(
    ("arguments", "fragment"),
    [
        ([], "Nothing has been practised yet."),
        (["--pattern", "531"], "The practice log has no set of 531."),
        (["--json"], '"takes": [\n], "records": [\n], "parts": [\n], "changes": [\n]}'),
        (["--csv"], "session,set,started"),
        (["--picture", "empty.svg"], "Nothing has been practised yet."),
        (["--suggest", "empty.toml"], "Nothing is suggested. Nothing has been practised yet."),
        (["--suggest", "empty.toml", "--json"], '"changes": [\n], "suggested": [\n]}'),
    ],
)
def test_before_the_first_practice(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, arguments: list[str], fragment: str
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv(LOG_VARIABLE, str(tmp_path / "none" / "practice.sqlite"))
    result = run("log", *arguments)
    assert (result.exit_code, result.stderr) == (0, "")
    assert fragment in result.stdout
    assert list(tmp_path.iterdir()) == []


def test_the_option_comes_before_the_environment(
    run: Run, path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(LOG_VARIABLE, str(path))
    assert "5 sets" in run("log").stdout
    assert "Nothing" in run("log", "--log", str(tmp_path / "other.sqlite")).stdout


@pytest.mark.parametrize(
    ("arguments", "status", "fragment"),
    [
        (["--pattern", "54"], 1, "mean of 4.5"),
        (["--json", "--csv"], 2, "keep one of them"),
        (["--since", "yesterday"], 2, "does not match the format"),
        (["--since", "0001-01-01"], 2, "too far away"),
        (["--rows", "0"], 2, "not in the range"),
        (["--picture", "log.gif"], 2, "has to end in .svg or .png"),
        (["--suggest", "next.toml", "--pattern", "531"], 2, "needs all patterns"),
    ],
)
def test_wrong_input(
    run: Run, path: Path, arguments: list[str], status: int, fragment: str
) -> None:
    result = run("log", "--log", str(path), *arguments)
    assert (result.exit_code, result.stdout) == (status, "")
    assert fragment in " ".join(result.stderr.split())


@settings(max_examples=200)
@given(option=st.sampled_from(["--pattern", "--props", "--since"]), text=st.text())
def test_any_text_ends_in_status_0_1_or_2(path: Path, option: str, text: str) -> None:
    result = CliRunner().invoke(throwcount, ["log", "--log", str(path), f"{option}={text}"])
    assert result.exit_code in {0, 1, 2}, result.output
    assert "Traceback" not in result.output
    assert "fault in throwcount" not in result.output
