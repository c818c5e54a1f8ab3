"""What a session file holds, what is told of one that cannot be used, and who wins over whom."""

import os
from dataclasses import fields
from pathlib import Path

import pytest

from throwcount.caller.options.request import Request
from throwcount.caller.session_file.model import BLOCK, TOP
from throwcount.caller.session_file.reading import (
    Block,
    SessionFile,
    SessionFileError,
    is_session_file,
    read_session,
)
from throwcount.engine.patterns.rules import read

THREE = '[[block]]\npattern = "3"\nsets = 2\n'


def written(folder: Path, text: str | bytes) -> Path:
    place = folder / "tuesday.toml"
    place.write_bytes(text.encode() if isinstance(text, str) else text)
    return place


def session(folder: Path, text: str) -> SessionFile:
    return read_session(written(folder, text))


def faults_of(folder: Path, text: str | bytes) -> list[str]:
    try:
        read_session(written(folder, text))
    except SessionFileError as error:
        return [str(fault) for fault in error.faults]
    return []


WHOLE = """
title = "Tuesday"
end = "well done"
props = "clubs"
rest = 45
unmarked = "nothing"
names = "corn, plum"
voice = "mine"
words = { 2 = " hold " }
phrases = { REST = "breathe" }
[[block]]
name = "warm-up"
pattern = "3 cascade"
before = "slow and steady"
seconds = 90
rest-after = 10
props = "beanbags"
[[block]]
pattern = "(4,2x)*"
sets = 5
cycles = 8
tempo = 180
to = 200
curve = "ratio"
raise = -2.5
back = true
wait = true
[[block]]
pattern = "531"
sets = 12
staircase = true
clean-sets = 2
resume = true
unmarked = "clean"
on-drop = "go-on"
[[block]]
pattern = "5"
attempts = 10
goal = 50
goal-times = 3
first = "left"
ready = 12
count-in = 6
say = "tally"
"""


def test_all_of_it_is_read(tmp_path: Path) -> None:
    (tmp_path / "mine").mkdir()
    found = session(tmp_path, WHOLE)
    shared: dict[str, object] = {
        "props": "clubs",
        "rest": 45,
        "unmarked": None,
        "names": ("corn", "plum"),
        "voice": str(tmp_path / "mine"),
        "word": {"2": "hold"},
        "phrase": {"rest": "breathe"},
    }
    assert (found.title, found.end, found.options) == ("Tuesday", "well done", shared)
    warm_up, pairs, staircase, attempts = found.blocks
    assert warm_up == Block(
        pattern=read("3"),
        title="warm-up",
        name="warm-up",
        before="slow and steady",
        rest_after=10,
        options={**shared, "seconds": 90, "props": "beanbags"},
    )
    assert (pairs.title, pairs.before, pairs.rest_after) == ("(4,2x)*", "", 30)
    own = {"sets": 5, "cycles": 8, "tempo": 180, "to": 200, "curve": "ratio"}
    assert pairs.options == shared | own | {"raise_by": -2.5, "back": True, "wait": True}
    assert staircase.options == shared | {
        "sets": 12,
        "staircase": True,
        "clean_sets": 2,
        "resume": True,
        "unmarked": "clean",
        "on_drop": "go-on",
    }
    assert attempts.options == shared | {
        "attempts": 10,
        "goal": 50,
        "goal_times": 3,
        "first": "left",
        "ready": 12,
        "count_in": 6,
        "say": "tally",
    }


def test_what_the_file_leaves_out_is_as_usual(tmp_path: Path) -> None:
    found = session(tmp_path, f"\ufeff{THREE}")
    (block,) = found.blocks
    assert (found.title, found.end, found.options) == ("tuesday", "", {})
    assert (block.title, block.before, block.options) == ("3", "", {"sets": 2})
    asked = Request(subject="tuesday.toml", rest=7, tempo=99)
    assert block.request(asked) == Request(subject="3", rest=7, tempo=99, sets=2)


def test_every_option_of_a_block_is_a_field_of_a_request(tmp_path: Path) -> None:
    known = {field.name for field in fields(Request)}
    found = session(tmp_path, WHOLE)
    assert {name for block in found.blocks for name in block.options} <= known
    renamed = {"words", "phrases", "raise", "title", "end", "pattern", "name", "before"}
    assert {key.replace("-", "_") for key in {*TOP, *BLOCK} - renamed - {"rest-after"}} <= known


@pytest.mark.parametrize(
    ("block", "typed", "changed"),
    [
        ("sets = 2\nrest = 9", {"rest": 3.0}, {"sets": 2, "rest": 3.0}),
        ("cycles = 8", {"seconds": 5.0}, {"cycles": None, "seconds": 5.0}),
        ("sets = 5\ntempo = 99\nto = 120", {"tempo": 100.0}, {"sets": 5, "tempo": 100, "to": 120}),
        (
            'attempts = 3\ngoal = "flash"',
            {"sets": 4},
            {"attempts": None, "goal": None, "sets": 4},
        ),
        (
            "sets = 9\nstaircase = true\nclean-sets = 2",
            {"attempts": 4},
            {"attempts": 4, "sets": None, "staircase": False},
        ),
        (
            "sets = 9\nstaircase = true\nclean-sets = 2",
            {"raise_by": 4.0},
            {"sets": 9, "staircase": False, "raise_by": 4.0},
        ),
        (
            "sets = 9\nraise = 4\nback = true",
            {"staircase": True},
            {"sets": 9, "staircase": True, "raise_by": 0, "back": False},
        ),
    ],
)
def test_what_is_typed_wins_with_all_that_would_contradict_it(
    tmp_path: Path, block: str, typed: dict[str, object], changed: dict[str, object]
) -> None:
    (found,) = session(tmp_path, f'[[block]]\npattern = "3"\n{block}').blocks
    asked = found.request(Request(typed=frozenset(typed), **typed))
    assert {name: getattr(asked, name) for name in changed} == changed


def test_the_top_fills_in_what_was_not_typed(tmp_path: Path) -> None:
    found = session(tmp_path, f'props = "clubs"\nlanguage = "de"\n{THREE}')
    asked = Request(props="rings", typed=frozenset({"props"}))
    assert found.request(asked).props == found.blocks[0].request(asked).props == "rings"
    assert found.request(asked).language == "de"


def block(text: str) -> str:
    """Return a file whose second block holds `text`."""
    return f"{THREE}[[block]]\n{text}"


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        # keys
        (f'titel = "x"\n{THREE}', 'Line 1: "titel" is no key of a session file. Did you mean \'ti'),
        (f'[[blocks]]\npattern = "3"\n{THREE}', 'Line 1: "blocks" is no key of a session file. D'),
        (f"sets = 4\n{THREE}", 'Line 1: "sets" belongs in a [[block]].'),
        (f"{THREE}[music]\n", 'Line 4: "music" belongs in a routine file.'),
        (block('pattern = "3"\nsets = 1\nend = ""'), 'Line 7: Block 2: "end" belongs at the top'),
        (block('pattern = "3"\nstes = 4'), 'Line 6: Block 2: "stes" is no key of a block. Did'),
        (block('pattern = "3"\ncycles = 4\ngoal_times = 4'), "Did you mean 'goal-times'?"),
        # values
        (block('pattern = "543"\nsets = 4'), 'Line 5: Block 2: pattern "543" cannot be thrown.'),
        (block('pattern = "5!"\nsets = 4'), 'Line 5: Block 2: pattern "5!" cannot be read.'),
        (block('pattern = "8 box"\nsets = 4'), 'Line 5: Block 2: pattern "8 box" cannot be'),
        (
            block("pattern = 3\nsets = 4"),
            "Line 5: Block 2: pattern cannot be 3: it is a pattern in",
        ),
        (block('pattern = "3"\nsets = 0'), "sets cannot be 0: it is a whole number from 1 to"),
        (block('pattern = "3"\nsets = 2.0'), "sets cannot be 2.0: it is a whole number from 1"),
        (block('pattern = "3"\nsets = true'), "sets cannot be true: it is a whole number"),
        (
            block('pattern = "3"\nattempts = 2\ngoal = "flsh"'),
            'goal cannot be "flsh": it is "flash", "qualify", or a number of catches such as 50.',
        ),
        (block('pattern = "3"\nattempts = 2\ngoal = true'), "goal cannot be true: it is"),
        (block('pattern = "3"\nattempts = 2\ngoal = 0'), "goal cannot be 0: it is"),
        (block('pattern = "3"\nsets = 2\nunmarked = "claen"'), "Did you mean 'clean'?"),
        (
            block('pattern = "3"\nsets = 2\nname = "a\\nb"'),
            'Block 2: name cannot be "a\\nb": it is',
        ),
        (f'say = "valeus"\n{THREE}', 'Line 1: say cannot be "valeus": it is values, pos'),
        (f"rest-after = -1\n{THREE}", "Line 1: rest-after cannot be -1: it is a number from 0 to"),
        (f"[words]\n44 = 'x'\n{THREE}", "Line 2: 44 = "),
        (f"[phrases]\nrest = ''\n{THREE}", "Line 2: In [phrases]: 'rest' has no words of its own."),
        (f"ceiling = 1\n{THREE}", "Line 1: ceiling 1 leaves no room above the hands at 1 m;"),
        # what a block has to have
        (block("sets = 3"), 'Line 4: Block 2: it has no pattern, as in pattern = "531".'),
        (block('pattern = "3"\nname = "x"'), "Line 4: Block 2, “x”: it has no end: give sets, att"),
        (
            block('pattern = "3"\nstaircase = true'),
            "Line 6: Block 2: a staircase has no end of its",
        ),
        (
            block('pattern = "3"\nattempts = 5\nto = 99'),
            "Line 7: Block 2: to changes the tempo over",
        ),
        # what contradicts
        (block('pattern = "3"\ncycles = 2\nbeats = 2'), "cycles and beats: each gives the length;"),
        (
            block('pattern = "3"\nattempts = 2\nsets = 2'),
            "sets is for sets, and this block has atte",
        ),
        (
            block('pattern = "3"\nattempts = 2\nstaircase = true'),
            "Line 7: Block 2: staircase is for sets, and this block has attempts, each until the",
        ),
        (block('pattern = "3"\nattempts = 2\non-drop = "stop"'), "on-drop is for sets, and this"),
        (block('pattern = "3"\nsets = 2\ngoal = "flash"'), "goal is for attempts; say how many at"),
        (
            block('pattern = "3"\nattempts = 2\ngoal-times = 2'),
            "goal-times counts how often a goal",
        ),
        (
            block('pattern = "3"\nattempts = 2\ngoal = 9\ngoal-times = 3'),
            "Line 8: Block 2: the goal cannot be met 3 times in 2 attempts.",
        ),
        (
            block('pattern = "3"\nsets = 4\nstaircase = true\nraise = 2'),
            "Line 8: Block 2: staircase lets the marks move the tempo, so raise has no place in",
        ),
        (
            block('pattern = "3"\ncycles = 4\nraise = 2'),
            "raise moves the tempo from set to set; say",
        ),
        (block('pattern = "3"\nsets = 4\nback = true'), "back comes back from a tempo that was"),
        (block('pattern = "3"\nsets = 2\nraise = 2\nback = true'), "back needs at least 3 sets"),
        (
            block('pattern = "3"\nsets = 2\nclean-sets = 2'),
            "clean-sets belongs to a staircase; add",
        ),
        (
            block('pattern = "3"\nsets = 2\ncurve = "ratio"'),
            "curve says how the tempo changes; say",
        ),
        (block('pattern = "3"\ncycles = 2\nrest = 9'), "rest stands between sets, and this block"),
        (
            block('pattern = "2"\nattempts = 2'),
            "attempts count catches, and nothing is thrown in 2.",
        ),
        (
            block('pattern = "00"\nattempts = 2'),
            "attempts count catches, and nothing is thrown in 0",
        ),
        # tables
        ("title = 'x'", 'There is nothing to practise: write a [[block]] with pattern = "3".'),
        ("[block]\npattern = '3'", "Line 1: block is a row of tables, each written [[block]] in"),
        (
            "block = [3]",
            "Line 1: Block 1: it is no table: every block is written under a [[block]]",
        ),
        ("block = []", "There is nothing to practise"),
        ("[[block]\n", "It is not valid TOML: "),
        (b"title = '\xff'", "It is not text in UTF-8."),
    ],
)
def test_a_fault_is_told_in_a_plain_sentence(tmp_path: Path, text: str | bytes, fault: str) -> None:
    faults = faults_of(tmp_path, text)
    assert len(faults) == 1, faults
    assert fault in faults[0]
    assert faults[0].splitlines()[0][-1] in ".?"


def test_all_faults_are_told_at_once_in_the_order_of_the_file(tmp_path: Path) -> None:
    text = (
        'rset = 3\nsay = "valeus"\n[words]\n2 = 2\n'
        '[[block]]\nname = "easy"\ncycles = 3\nbeats = 3\npattern = "543"\n'
        '  [[block]]\n  pattern = "3"\n  attempts = 0\n  staircase = true\n  goal-times = "x"\n'
    )
    starts = ["Line 1: ", "Line 2: say", "Line 4: 2 in [words]"]
    starts += [f"Line {line}: Block 1, “easy”: " for line in (8, 9)]
    starts += [f"Line {line}, column 3: Block 2: " for line in (12, 13, 14, 14)]
    told = faults_of(tmp_path, text)
    assert [fault[: len(start)] for fault, start in zip(told, starts, strict=True)] == starts


def test_a_misspelt_key_is_not_told_as_a_missing_one_too(tmp_path: Path) -> None:
    assert len(faults_of(tmp_path, '[[block]]\npatern = "3"\nattemps = 3\ngoal = "flash"')) == 2


def test_so_many_blocks_and_no_more(tmp_path: Path) -> None:
    assert faults_of(tmp_path, THREE * 1_000) == []
    assert faults_of(tmp_path, THREE * 1_001) == ["Line 1: A session has at most 1,000 blocks."]


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(
        SessionFileError, match="no such file; `throwcount plan --new-session FILE`"
    ):
        read_session(tmp_path / "none.toml")


def test_the_error_names_the_file_and_ends_with_1(tmp_path: Path) -> None:
    place = written(tmp_path, "block = 3")
    with pytest.raises(SessionFileError) as raised:
        read_session(place)
    assert raised.value.message.startswith(f"The session in {place} cannot be used.\nLine 1: ")
    assert raised.value.exit_code == 1


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (THREE, True),
        ("[block]", True),
        ("[[block]\n", True),
        ("title = 'x\n\n  [[ block ]]\n", True),
        (f"{THREE}[[part]]\n", False),
        ('[[part]]\npattern = "3"\ncycles = 3\n', False),
        ("# [[block]]\n", False),
        ("title = [\n", False),
        ("", False),
    ],
)
def test_a_session_is_told_from_a_routine(tmp_path: Path, text: str, expected: bool) -> None:
    assert is_session_file(written(tmp_path, text)) is expected


def test_what_is_no_file_is_no_session(tmp_path: Path) -> None:
    assert not is_session_file(tmp_path)
    assert not is_session_file(tmp_path / "none.toml")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no named pipes here")
def test_a_pipe_is_left_for_whoever_reads_it(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.toml"
    os.mkfifo(pipe)
    assert not is_session_file(pipe)
