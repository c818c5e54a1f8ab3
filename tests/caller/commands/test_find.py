"""`find`: the JSON that others script against, lines that stream, and what ends early."""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO

import click
import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st
from waiting import LIMIT, wait_until

from throwcount.caller.commands import find as find_module
from throwcount.caller.commands.find import beats, filters
from throwcount.caller.main import throwcount
from throwcount.engine.hands.difficulty import difficulty
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.patterns.rules import read
from throwcount.engine.search.find import PatternQuery
from throwcount.engine.search.walks import Watch
from throwcount.sounds.errors import SoundError

Run = Callable[..., Result]

FOUR = ["4", "--highest", "7", "--beats", "3"]
HUGE = ["17", "--highest", "35", "--beats", "60"]
OF_THREE_BEATS = ["471", "534", "552", "561", "633", "642", "660", "723", "741", "750"]

OPTIONS = [
    (FOUR, OF_THREE_BEATS),
    ([*FOUR, "--having", "5", "--lacking", "1"], ["534", "552", "750"]),
    ([*FOUR, "--having", "5", "--having", "2"], ["552"]),
    ([*FOUR, "--lacking", "5", "--lacking", "6"], ["471", "723", "741"]),
    ([*FOUR, "--limit", "2"], None),
    ([*FOUR, "--only", "symmetric"], OF_THREE_BEATS),
    ([*FOUR, "--only", "one-sided"], []),
    (["4", "--highest", "6", "--beats", "1-2"], ["4", "53", "62"]),
    (["4", "--highest", "6", "--beats", "2,1"], ["4", "53", "62"]),
    (["4", "--highest", "7", "--beats", "2", "--only", "ground"], ["53"]),
    (["4", "--highest", "7", "--beats", "2", "--only", "ground,prime"], ["53"]),
    (["4", "--highest", "6", "--beats", "2", "--every-start"], ["53", "35", "62", "26"]),
    (["11", "--highest", "11", "--beats", "1"], ["b"]),
    (
        ["4", "--highest", "6", "--beats", "2", "--together"],
        ["(2,6)", "(2x,6x)", "(4,4)", "(4x,4x)", "(6,2)", "(6x,2x)"],
    ),
    (
        ["3", "--highest", "4", "--beats", "4", "--together", "--only", "symmetric"],
        ["(4,2x)*", "(4x,2)*"],
    ),
    (
        ["4", "--beats", "4", "--highest", "6", "--together", "--only", "prime,ground,symmetric"],
        ["(6,6)(2,2)", "(6,6)(2x,2x)", "(6x,6x)(2,2)", "(6x,6x)(2x,2x)"],
    ),
    (
        ["4", "--highest", "3", "--beats", "2", "--from-one-hand", "2"],
        ["[21][32]", "[32]3", "[33][11]"],
    ),
]


@pytest.mark.parametrize(("arguments", "patterns"), OPTIONS, ids=repr)
def test_list_and_json(run: Run, arguments: list[str], patterns: list[str] | None) -> None:
    lines = run("find", *arguments, "--show", "all")
    document = run("find", *arguments, "--show", "all", "--json")
    assert (lines.exit_code, document.exit_code, document.stderr) == (0, 0, "")
    found = json.loads(document.stdout)
    assert list(found) == ["patterns", "count"]
    assert found["patterns"] == lines.stdout.splitlines()
    assert found["count"] == len(found["patterns"])
    if patterns is None:
        assert found["count"] == 2
    else:
        assert sorted(found["patterns"]) == sorted(patterns)
    counted = run("find", *arguments, "--show", "count")
    assert (counted.exit_code, counted.stdout) == (0, f"{found['count']}\n")
    counted = run("find", *arguments, "--show", "count", "--json")
    assert json.loads(counted.stdout) == {"patterns": [], "count": found["count"]}
    best = json.loads(run("find", *arguments, "--json").stdout)
    assert list(best) == ["patterns", "count", "ranked"]
    assert set(best["patterns"]) <= set(found["patterns"]) or patterns is None


BEATS = [
    ("4", (4,)),
    (" 4 ", (4,)),
    ("3-6", (3, 4, 5, 6)),
    ("3,5,8", (3, 5, 8)),
    ("8, 3 ,5", (3, 5, 8)),
    ("3,5,7-9", (3, 5, 7, 8, 9)),
    ("1-3,2-4,3", (1, 2, 3, 4)),
    ("5-5", (5,)),
    ("200", (200,)),
]


@pytest.mark.parametrize(("text", "expected"), BEATS)
def test_beats(text: str, expected: tuple[int, ...]) -> None:
    assert beats(text) == expected


@pytest.mark.parametrize(
    "text", ["", "x", "3-", "-3", "3-4-5", "3,,5", "3;5", "2.5", "6-3", "0", "0-3", "201", "1-201"]
)
def test_what_are_no_beats(text: str) -> None:
    with pytest.raises(click.BadParameter, match=r"1 to 200 beats|not a number of beats"):
        beats(text)


def test_several_lengths_come_one_after_another(run: Run) -> None:
    """For 4 objects of any height there are 1, 4, 20, 90 and 420 patterns: OEIS A065180."""
    found = run("find", "4", "--highest", "20", "--beats", "5,1-3", "--show", "all")
    lengths = list(map(len, found.stdout.splitlines()))
    assert lengths == sorted(lengths)
    assert [lengths.count(length) for length in range(1, 6)] == [1, 4, 20, 0, 420]
    counted = run("find", "4", "--highest", "20", "--beats", "5,1-3", "--show", "count")
    assert counted.stdout == "445\n"


FILTERS = [
    ("prime", {"prime"}),
    ("prime,ground", {"prime", "ground"}),
    (" one-sided , prime ", {"prime", "one-sided"}),
    ("symmetric,symmetric", {"symmetric"}),
    ("prime,ground,symmetric", {"prime", "ground", "symmetric"}),
]


@pytest.mark.parametrize(("text", "expected"), FILTERS)
def test_filters(text: str, expected: set[str]) -> None:
    assert filters(text) == expected


def test_all_filters_must_hold(run: Run) -> None:
    def found(*only: str) -> set[str]:
        arguments = ["find", "3", "--beats", "2-6", "--show", "all", *only]
        return set(run(*arguments).stdout.splitlines())

    every = found()
    one_by_one = [found("--only", name) for name in ("prime", "ground", "one-sided")]
    assert all(some < every for some in one_by_one)
    assert found("--only", "prime,ground,one-sided") == set.intersection(*one_by_one) != set()


@pytest.mark.parametrize(
    ("begun", "expected"),
    [
        ("", ["prime", "ground", "symmetric", "one-sided"]),
        ("gr", ["ground"]),
        ("prime,", ["prime,ground", "prime,symmetric", "prime,one-sided"]),
        ("prime,ground,o", ["prime,ground,one-sided"]),
        ("x", []),
    ],
)
def test_the_shell_completes_filters(begun: str, expected: list[str]) -> None:
    option = next(one for one in find_module.find_command.params if one.name == "only")
    found = option.shell_complete(click.Context(find_module.find_command), begun)
    assert [item.value for item in found] == expected


def test_objects_alone_list_the_best_of_short_patterns(run: Run) -> None:
    result = run("find", "3")
    assert (result.exit_code, result.stderr) == (0, "")
    spelled_out = ["3", "--highest", "7", "--beats", "1-5", "--show", "best", "--limit", "20"]
    assert result.stdout == run("find", *spelled_out).stdout
    document = json.loads(run("find", "3", "--json").stdout)
    assert document["count"] == len(document["patterns"]) == len(document["ranked"]) == 20
    assert {len(pattern) for pattern in document["patterns"]} <= {1, 2, 3, 4, 5}
    every = run("find", "3", "--show", "all").stdout.splitlines()
    assert set(document["patterns"]) < set(every)
    assert max(map(max, every)) == "7"
    assert run("find", "3", "--show", "count").stdout == f"{len(every)}\n"


def test_no_throw_is_above_the_highest_that_can_be_written(run: Run) -> None:
    assert json.loads(run("find", "33", "--json").stdout)["patterns"][0] == "x"
    assert run("find", "35", "--show", "all").stdout == "z\n"


def test_best(run: Run) -> None:
    asked = ["4", "--highest", "7", "--beats", "2-5", "--limit", "4"]
    result = run("find", *asked)
    assert (result.exit_code, result.stderr) == (0, "")
    page = result.stdout.splitlines()
    assert page[0].split() == ["pattern", "difficulty", "told", "busy", "whole", "worth"]
    listed = [line.split() for line in page[1:] if line[:1].isdigit()]
    document = json.loads(run("find", *asked, "--json").stdout)
    assert document["count"] == len(listed) == 4
    assert document["patterns"] == [row[0] for row in listed]
    assert document["patterns"] == [one["pattern"] for one in document["ranked"]]
    shares = ["worth", "busy", "whole", "crossing", "varied", "near"]
    keys = ["pattern", "difficulty", *shares, "told", "gaps", "rising"]
    for row, one in zip(listed, document["ranked"], strict=True):
        assert list(one) == keys
        assert one["difficulty"] == round(difficulty(read(one["pattern"])).number, 3)
        assert row[1] == f"{one['difficulty']:.2f}"
        assert row[2] == str(one["told"])
        assert row[3:5] == [f"{one[name]:.2f}" for name in ("busy", "whole")]
        assert float(row[5]) == pytest.approx(one["worth"], abs=6e-4)
    worths = [one["worth"] for one in document["ranked"]]
    assert worths == sorted(worths, reverse=True)


def test_every_start_is_ranked_for_itself(run: Run) -> None:
    asked = ["3", "--beats", "4", "--highest", "4", "--together", "--only", "symmetric"]
    assert json.loads(run("find", *asked, "--json").stdout)["count"] == 2
    starts = json.loads(run("find", *asked, "--every-start", "--json").stdout)["patterns"]
    assert sorted(starts) == ["(2,4x)*", "(2x,4)*", "(4,2x)*", "(4x,2)*"]


@pytest.mark.parametrize("show", [[], ["--show", "all"]])
@pytest.mark.parametrize(
    ("arguments", "fragment"),
    [
        (["4", "--highest", "3"], "throws of at least 4"),
        (["3", "--highest", "3", "--together"], "go up to 2"),
        (["3", "--beats", "3", "--together"], "the number of beats is even"),
        ([*FOUR, "--having", "9"], "none is a 9: a higher --highest"),
        ([*FOUR, "--having", "7", "--having", "6"], "No pattern fits"),
    ],
)
def test_nothing_found(run: Run, arguments: list[str], fragment: str, show: list[str]) -> None:
    result = run("find", *arguments, *show)
    assert (result.exit_code, result.stdout) == (0, "")
    assert fragment in result.stderr
    document = run("find", *arguments, *show, "--json")
    assert (document.exit_code, document.stderr) == (0, "")
    empty = {"patterns": [], "count": 0}
    assert json.loads(document.stdout) == (empty if show else empty | {"ranked": []})


@pytest.mark.parametrize(
    ("arguments", "fragment"),
    [
        ([], "How many objects? `throwcount find 4` finds"),
        (["--highest", "5"], "How many objects?"),
        (["0"], "0 is not in the range 1<=x<=35"),
        (["36"], "36 is not in the range 1<=x<=35"),
        (["-3"], "-3 is not in the range 1<=x<=35"),
        (["four"], "'four' is not a valid whole number"),
        (["4", "5"], "unexpected extra argument"),
        (["4", "--highest", "36"], "36 is not in the range 1<=x<=35"),
        (["4", "--highest", "0"], "0 is not in the range"),
        (["4", "--beats", "x"], "'x' is not a number of beats, such as 4"),
        (["4", "--beats", "5-3"], "'5-3': patterns have 1 to 200 beats"),
        (["4", "--beats", "0"], "1 to 200 beats"),
        (["4", "--beats", "201"], "1 to 200 beats"),
        (["4", "--beats", "99999999999"], "not a number of beats"),
        (["4", "--only", "fancy"], "these are prime, ground, symmetric and one-sided"),
        (["4", "--only", "grund"], "Did you mean 'ground'?"),
        (["4", "--only", ""], "'' is not a filter"),
        (["4", "--only", "prime,"], "'' is not a filter"),
        (["4", "--only", "symmetric,one-sided"], "no pattern is both"),
        (["4", "--having", "36"], "'36' is not a throw value: these are 0 to 9, and a to z"),
        (["4", "--lacking", "\N{ARABIC-INDIC DIGIT THREE}"], "not a throw value"),
        (["4", "--show", "worst"], "'worst' is not one of 'best', 'all', 'count'"),
        (["4", "--limit", "0"], "0 is not in the range x>=1"),
        (["4", "--limit", "1001"], "1001 is too many to rank: the best are at most 1,000"),
        (["--words", "-", "--together"], "--words takes words as they stand"),
        (["--words", "-", "--show", "best"], "--words takes words as they stand"),
        (["--words", "-", "--every-start"], "--words takes words as they stand"),
        (["--words", "/no/such/file"], "does not exist"),
        (["4", "--from-one-hand", "9"], "9 is not in the range 1<=x<=4"),
    ],
)
def test_wrong_command_lines(run: Run, arguments: list[str], fragment: str) -> None:
    result = run("find", *arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert fragment in " ".join(result.stderr.split())


@pytest.mark.parametrize(
    "gone",
    ["--objects", "--max", "--period", "--with", "--without", "--best", "--multiplex"],
)
def test_what_was_renamed_is_gone(run: Run, gone: str) -> None:
    result = run("find", "4", gone, "3")
    assert (result.exit_code, result.stdout) == (2, "")
    assert f"No such option '{gone}'" in result.stderr


def begun(arguments: list[str], output: IO[str] | int) -> subprocess.Popen[str]:
    """Start a search in a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "throwcount.caller", "find", *arguments],
        stdout=output,
        stderr=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONUNBUFFERED": ""},
    )


def test_a_list_without_end_begins_and_says_so(run: Run) -> None:
    result = run("find", *HUGE, "--show", "all", "--limit", "3")
    assert (result.exit_code, len(result.stdout.splitlines()), result.stderr) == (0, 3, "")
    ready = begun([*HUGE, "--show", "all"], subprocess.PIPE)
    assert ready.stdout is not None
    assert len(ready.stdout.readline().strip()) == 60
    ready.stdout.close()
    _, stderr = ready.communicate(timeout=LIMIT)
    assert ready.returncode == 0
    assert "too many to wait for" in stderr


@pytest.mark.parametrize("option", [["--show", "count"], [], ["--show", "best", "--limit", "3"]])
def test_what_cannot_end_is_refused(run: Run, option: list[str]) -> None:
    result = run("find", *HUGE, *option)
    assert (result.exit_code, result.stdout) == (1, "")
    assert "too many to wait for" in result.stderr
    document = run("find", *HUGE, *option, "--json")
    assert (document.exit_code, document.stderr) == (1, "")
    assert "too many to wait for" in json.loads(document.stdout)["message"]


def test_counts_that_need_no_search(run: Run) -> None:
    result = run("find", "4", "--highest", "8", "--beats", "60", "--show", "count")
    assert (result.exit_code, len(result.stdout.strip())) == (0, 33)


@pytest.mark.parametrize("flags", [[], ["--json"]])
def test_ctrl_c_keeps_what_was_found(tmp_path: Path, flags: list[str]) -> None:
    found = tmp_path / "found"
    with found.open("w") as output:
        search = begun([*HUGE, "--show", "all", *flags], output)
        wait_until(lambda: found.stat().st_size >= 10_000 or search.poll() is not None)
        assert search.poll() is None
        search.send_signal(signal.SIGINT)
        search.communicate(timeout=LIMIT)
        assert search.returncode == 130
    text = found.read_text()
    patterns = text.splitlines()
    if flags:
        document = json.loads(text)
        patterns = document["patterns"]
        assert document["count"] == len(patterns)
    assert len(patterns) > 100
    assert {len(pattern) for pattern in patterns} == {60}


@pytest.mark.parametrize("flags", [[], ["--json"]])
def test_ctrl_c_keeps_the_best_of_what_was_found(
    run: Run, monkeypatch: pytest.MonkeyPatch, flags: list[str]
) -> None:
    def stopped(_query: PatternQuery, _watch: Watch) -> Iterator[Pattern]:
        yield from [read("4"), read("53")]
        raise KeyboardInterrupt

    monkeypatch.setattr(find_module, "rising", stopped)
    result = run("find", "4", *flags)
    assert result.exit_code == 130
    if flags:
        assert json.loads(result.stdout)["patterns"] == ["4", "53"]
    else:
        assert [line.split()[0] for line in result.stdout.splitlines()[1:3]] == ["4", "53"]


def test_what_goes_wrong_amid_the_list_is_no_second_document(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(_query: PatternQuery, _watch: Watch) -> Iterator[str]:
        yield "531"
        raise SoundError("No more.")

    monkeypatch.setattr(find_module, "find_lines", failing)
    result = run("find", "3", "--beats", "3", "--highest", "5", "--show", "all", "--json")
    assert (result.exit_code, result.stderr) == (3, "No more.\n")
    assert result.stdout == '{"patterns": ["531"'


def test_of_very_many_the_lowest_are_compared(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(find_module, "MOST_COMPARED", 12)
    asked = ["4", "--highest", "9", "--beats", "1-4"]
    result = run("find", *asked, "--json")
    assert "there are more" in result.stderr
    found = json.loads(result.stdout)["patterns"]
    every = run("find", *asked, "--show", "all").stdout.splitlines()
    lowest = sorted(max(pattern) for pattern in every)[:12]
    assert sorted(max(pattern) for pattern in found) == lowest
    assert run("find", "4", "--highest", "6", "--beats", "1-2", "--json").stderr == ""


@pytest.mark.parametrize("limit", ["1", "2", "19", "20", "21", "500"])
def test_a_limit_cuts_the_list_where_it_is(run: Run, limit: str) -> None:
    asked = ["find", "4", "--highest", "12", "--beats", "3", "--show", "all"]
    every = run(*asked).stdout.splitlines()
    assert len(every) == 20  # OEIS A065180
    assert run(*asked, "--limit", limit).stdout.splitlines() == every[: int(limit)]
    assert (
        json.loads(run(*asked, "--limit", limit, "--json").stdout)["patterns"]
        == (every[: int(limit)])
    )


WORDS = "Add the bad tea to\nthe GREEN beef, add 531.\n"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], ["add", "the"]),
        (["20"], ["the"]),
        (["--highest", "d"], None),
        (["--highest", "13"], ["add"]),
        (["--having", "e"], ["the"]),
        (["--lacking", "14"], ["add"]),
        (["--beats", "2"], []),
        (["--beats", "2-3"], ["add", "the"]),
        (["--limit", "1"], ["add"]),
        (["--only", "symmetric"], ["add", "the"]),
        (["--only", "one-sided"], []),
        (["--show", "all"], ["add", "the"]),
    ],
)
def test_words(run: Run, tmp_path: Path, arguments: list[str], words: list[str] | None) -> None:
    text = tmp_path / "text"
    text.write_text(WORDS)
    result = run("find", "--words", str(text), *arguments)
    if words is None:
        assert result.exit_code == 2
        return
    assert (result.exit_code, result.stdout.splitlines()) == (0, words)
    assert bool(result.stderr) == (not words)
    document = json.loads(run("find", "--words", str(text), *arguments, "--json").stdout)
    assert document == {"patterns": words, "count": len(words)}
    counted = run("find", "--words", str(text), *arguments, "--show", "count")
    assert counted.stdout == f"{len(words)}\n"


@settings(max_examples=150)
@given(
    st.lists(
        st.sampled_from(["--highest", "--beats", "--having", "--lacking", "--limit", "--show"])
        | st.sampled_from(["--only", "prime", "ground,one-sided", "symmetric", "all", "count"])
        | st.sampled_from(["--together", "--json", "--every-start"])
        | st.integers(-1, 6).map(str)
        | st.text(max_size=4),
        max_size=8,
    )
)
def test_any_arguments_end_in_a_status(arguments: list[str]) -> None:
    complete = ["4", "--highest", "7", "--beats", "3", "--limit", "50", *arguments]
    for given_arguments in (arguments, complete):
        result = CliRunner().invoke(throwcount, ["find", *given_arguments])
        assert result.exit_code in {0, 1, 2}, result.output
        assert isinstance(result.exception, SystemExit | None)
        assert "Traceback" not in result.output


@given(st.binary(max_size=300))
@settings(max_examples=100)
def test_any_file_of_words(content: bytes) -> None:
    result = CliRunner().invoke(throwcount, ["find", "--words", "-", "--json"], input=content)
    assert result.exit_code == 0
    assert json.loads(result.stdout)["count"] >= 0


@pytest.mark.parametrize("columns", ["40", "80"])
def test_the_table_fits(monkeypatch: pytest.MonkeyPatch, columns: str) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    arguments = ["find", "4", "--highest", "7", "--beats", "3-6"]
    result = CliRunner().invoke(throwcount, arguments)
    assert max(map(len, result.stdout.splitlines())) <= int(columns)
    assert "…" not in result.stdout
