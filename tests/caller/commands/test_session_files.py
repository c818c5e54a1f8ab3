"""Session files on the command line: new ones, wrong ones, lead-ups, and the usual session."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result

from throwcount.caller.session_file.reading import read_session
from throwcount.caller.session_file.starter import session_starter_lines
from throwcount.engine.patterns.rules import read
from throwcount.engine.search.leadups import lead_up

Run = Callable[..., Result]

SESSION = '[[block]]\npattern = "3"\nsets = 2\n'
WRONG = '[[block]]\npattern = "543"\n  stes = 2\n'


def written(folder: Path, text: str) -> Path:
    place = folder / "tuesday.toml"
    place.write_text(text, "utf-8")
    return place


def test_a_new_session_is_written_once(run: Run, tmp_path: Path) -> None:
    place = tmp_path / "new.toml"
    first = run("plan", "--new-session", place)
    assert (first.exit_code, first.stderr) == (0, "")
    assert "change its blocks" in first.stdout.replace("\n", " ")
    assert place.read_text("utf-8") == "".join(session_starter_lines())
    again = run("plan", "--new-session", place)
    assert again.exit_code == 3
    assert "was left as it is" in again.stderr.replace("\n", " ")
    assert run("plan", "--new-session", place, "--force").exit_code == 0


@pytest.mark.parametrize("other", [["--json"], ["--picture", "new.svg"], ["--new"]])
def test_a_new_session_is_not_planned_at_once(run: Run, tmp_path: Path, other: list[str]) -> None:
    result = run("plan", "--new-session", tmp_path / "new.toml", *other)
    assert (result.exit_code, result.stdout) == (2, "")
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    "command",
    [
        ["plan"],
        ["play", "--no-keep"],
        ["render", "-o", "x.wav"],
        ["listen", "--live"],
    ],
)
def test_a_wrong_session_is_told_by_every_command(
    run: Run, tmp_path: Path, command: list[str]
) -> None:
    result = run(*command, written(tmp_path, WRONG))
    assert result.exit_code == 1
    assert "Line 2: Block 1: pattern" in result.stderr
    assert "Line 3, column 3: Block 1: " in result.stderr
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize("command", [["plan"], ["render", "-o", "x.wav"]])
def test_json_has_the_line_and_column_of_each_fault(
    run: Run, tmp_path: Path, command: list[str]
) -> None:
    result = run(*command, written(tmp_path, WRONG), "--json")
    assert (result.exit_code, result.stderr) == (1, "")
    document = json.loads(result.stdout)
    assert document["valid"] is False
    found = [(each["key"], each["line"], each["column"]) for each in document["faults"]]
    assert found == [("pattern", 2, 1), ("stes", 3, 3)]


def test_json_has_the_lines_of_routines_too(run: Run, tmp_path: Path) -> None:
    place = written(tmp_path, '[[part]]\npattern = "3"\ncycles = 0\n')
    (fault,) = json.loads(run("plan", place, "--json").stdout)["faults"]
    assert (fault["place"], fault["line"], fault["column"]) == ("Part 1", 3, 1)


@pytest.mark.parametrize(
    "command", [["render", "-o", "x.wav"], ["listen", "--live"]], ids=["render", "listen"]
)
def test_a_session_is_only_played(run: Run, tmp_path: Path, command: list[str]) -> None:
    place = written(tmp_path, SESSION)
    result = run(*command, place)
    assert (result.exit_code, result.stdout) == (2, "")
    assert f"is played with `throwcount play {place}`" in result.stderr.replace("\n", " ")


@pytest.mark.parametrize(
    ("options", "fragment"),
    [
        (["--staircase"], "With --staircase, block 2, “five”, would go on without end; say how"),
        (["--to", "300"], "--to changes the tempo over a length, and block 2, “five”, has none;"),
        (["--from", "2"], "--from is for a routine file; this is a session."),
    ],
)
def test_what_is_typed_suits_every_block(
    run: Run, tmp_path: Path, options: list[str], fragment: str
) -> None:
    place = written(tmp_path, f'{SESSION}[[block]]\nname = "five"\npattern = "5"\nattempts = 3\n')
    result = run("play", place, "--no-keep", *options)
    assert result.exit_code == 2
    assert fragment in " ".join(result.stderr.split())


@pytest.mark.parametrize(
    ("text", "fragment"),
    [
        (f'{SESSION}[[part]]\npattern = "3"\ncycles = 3\n', '"block" belongs in a session file.'),
        ("title = 'x'\n", "A session file has a [[block]] instead."),
        ("[[blok]]\npattern = '3'\n", "Did you mean 'block'?"),
    ],
)
def test_what_is_neither_or_both_is_told(
    run: Run, tmp_path: Path, text: str, fragment: str
) -> None:
    result = run("plan", written(tmp_path, text))
    assert result.exit_code == 1
    assert fragment in result.stderr


def test_a_lead_up_becomes_a_session_of_attempts(run: Run, tmp_path: Path) -> None:
    place = tmp_path / "up.toml"
    result = run("leadup", "51", "--session", place)
    assert (result.exit_code, result.stderr) == (0, "")
    assert f"Wrote {place}" in result.stdout.replace("\n", "")
    found, steps = read_session(place), lead_up(read("51"))
    *blocks, last = found.blocks
    assert [block.pattern for block in blocks] == [step.pattern for step in steps]
    assert [block.options["tempo"] for block in blocks] == [step.tempo for step in steps]
    for block, step in zip(blocks, steps, strict=True):
        goal = block.options["goal"]
        catches = {"flash": step.pattern.objects, "qualify": 2 * step.pattern.objects}
        assert (catches[goal] if isinstance(goal, str) else goal) == step.catches
        assert (block.options["attempts"], block.options["goal_times"]) == (10, 3)
    assert (last.pattern.text, last.options) == ("3", {"seconds": 60})
    assert found.end == "well done"
    assert "# Step 1. " in place.read_text("utf-8")


@pytest.mark.parametrize("target", ["1", "5", "(4,2x)*", "[33]33", "97531"])
def test_every_lead_up_can_be_read_again(run: Run, tmp_path: Path, target: str) -> None:
    place = tmp_path / "up.toml"
    document = json.loads(run("leadup", target, "--session", place, "--json").stdout)
    assert document["session"] == str(place)
    assert len(read_session(place).blocks) == len(document["steps"]) + 1


def test_lead_ups_are_not_written_over_other_files(run: Run, tmp_path: Path) -> None:
    mine, other = written(tmp_path, "mine"), tmp_path / "other.toml"
    refused = run("leadup", "51", "--routine", other, "--session", mine)
    assert refused.exit_code == 3
    assert (mine.read_text(), other.exists()) == ("mine", False)
    assert run("leadup", "51", "--session", mine, "--force").exit_code == 0
    same = run("leadup", "51", "--routine", other, "--session", tmp_path / "." / "other.toml")
    assert same.exit_code == 2
    assert "each needs its own" in same.stderr


@pytest.fixture
def settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    place = tmp_path / "here" / "settings.toml"
    place.parent.mkdir()
    monkeypatch.setenv("THROWCOUNT_SETTINGS", str(place))
    return place


def test_play_alone_begins_the_usual_session(
    run: Run, settings: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is seen from the settings, and what is typed wins; elsewhere it means nothing."""
    played: list[object] = []
    monkeypatch.setattr(
        "throwcount.caller.practice.sessions.play",
        lambda subject, _request, child: played.append((subject.title, child is not None)),
    )
    settings.write_text('session = "tuesday.toml"\n')
    written(settings.parent, f'title = "usual"\n{SESSION}')
    other = settings.parent / "other.toml"
    other.write_text(f'title = "other"\n{SESSION}')
    for arguments in ([], [other]):
        result = run("play", *arguments)
        assert result.exit_code == 0, result.stderr
    assert [title for title, _ in played] == ["usual", "other"]
    assert "Missing argument 'SUBJECT'" in run("render", "-o", "x.wav").stderr
    assert "Wrote" not in run("leadup", "51").stdout  # its --session is another matter


def test_a_usual_session_that_is_not_there_is_told(run: Run, settings: Path) -> None:
    settings.write_text('session = "tuesday.toml"\n')
    result = run("play")
    assert result.exit_code == 1
    assert str(settings.parent / "tuesday.toml") in result.stderr.replace("\n", "")


def test_play_without_a_subject_tells_how_to_name_one(run: Run, settings: Path) -> None:
    settings.write_text("")
    result = run("play")
    assert result.exit_code == 2
    told = " ".join(result.stderr.split())
    assert "Missing argument 'SUBJECT'." in told
    assert 'name that in your settings, as in session = "tuesday.toml"' in told


def test_a_usual_session_ends_in_toml(run: Run, settings: Path) -> None:
    settings.write_text('rest = 3\nsession = "531"\n')
    result = run("play")
    assert result.exit_code == 2
    assert 'Line 2: session cannot be "531": it is the name of a session file' in result.stderr
