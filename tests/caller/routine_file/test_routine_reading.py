"""What becomes of a routine file that is right, key by key."""

from fractions import Fraction
from pathlib import Path

import pytest

from throwcount.caller.options.request import is_routine_file
from throwcount.caller.routine_file.reading import read_routine
from throwcount.engine.patterns.notation import parse
from throwcount.engine.patterns.rules import read
from throwcount.engine.routines.routine import Length, MusicBeats, PatternPart, RestPart, Routine

EVERY_KEY = """
title = "The lantern walk"
props = "lanterns"
tempo = 180
ceiling = 2.8
hands = 1.1
dwell = 0.7
first = "left"
count-in = 8
ready = 12
say = "hands"
voice = "spoken"
language = "de"
cue-voice = "sung"
cue-place = "left"
cue-ahead = 12
names = "corn, plum ,slate"
clicks = "cycle"
hall = true
voice-level = 3
click-level = -6.5
[words]
2 = "hold"
B = "high"
[phrases]
Last-one = " once more "
next = "now"
[[part]]
pattern = "3"
cycles = 24
name = "from the boathouse"
tempo = 170
to = 190
curve = "ratio"
last-one = true
first = "right"
[[part]]
pattern = "5 3 1"
beats = 24
cue = "now the well"
cue-ahead = 6
how = "under the leg"
bridge = "4 2"
shifted = "left"
[[part]]
rest = true
seconds = 20
name = "bow"
cue = ""
count-in = 6
[[part]]
pattern = "53"
seconds = 30
pick-up = 1
[[part]]
repeat = 2
[[part.part]]
pattern = "441"
cycles = 2
put-down = 1
[[part.part]]
repeat = 2
[[part.part.part]]
rest = true
beats = 24
[[part.part.part]]
pattern = "4"
cycles = 3
"""


def file_of(folder: Path, text: str) -> Path:
    place = folder / "walk.toml"
    place.write_text(text, "utf-8")
    return place


def test_every_key_comes_to_its_place(tmp_path: Path) -> None:
    (tmp_path / "spoken").mkdir()
    found = read_routine(file_of(tmp_path, EVERY_KEY))
    assert found.path == tmp_path / "walk.toml"
    assert found.title == "The lantern walk"
    assert (found.props, found.ceiling, found.hands, found.dwell) == ("lanterns", 2.8, 1.1, 0.7)
    assert (found.say, found.words, found.language) == ("hands", {"2": "hold", "b": "high"}, "de")
    assert found.phrases == {"last-one": "once more", "next": "now"}
    assert found.names == ("corn", "plum", "slate")
    assert found.voice == str(tmp_path / "spoken")  # a folder beside the file
    assert (found.cue_voice, found.cue_place) == ("sung", "left")
    assert (found.clicks, found.hall, found.voice_level) == ("cycle", True, 3)
    assert found.click_level == -6.5
    assert found.music is None
    again = (
        PatternPart(pattern=read("441"), length=Length(cycles=2), change=-1, cue_ahead=12),
        *(
            RestPart(length=Length(beats=24), cue_ahead=12),
            PatternPart(pattern=read("4"), length=Length(cycles=3), cue_ahead=12),
        )
        * 2,
    )
    assert found.routine == Routine(
        title="The lantern walk",
        tempo=180,
        first="left",
        count_in=8,
        ready=12,
        parts=(
            PatternPart(
                pattern=read("3"),
                length=Length(cycles=24),
                name="from the boathouse",
                tempo=170,
                to=190,
                curve="ratio",
                last_one=True,
                first="right",
                cue_ahead=12,
            ),
            PatternPart(
                pattern=read("531"),
                length=Length(beats=24),
                cue="now the well",
                cue_ahead=6,
                how="under the leg",
                bridge=(parse("42"),),
                shifted="left",
            ),
            RestPart(length=Length(seconds=20), name="bow", cue="", count_in=6),
            PatternPart(pattern=read("53"), length=Length(seconds=30), change=1, cue_ahead=12),
            *again,
            *again,
        ),
    )
    assert found.places == ("1", "2", "3", "4", *("5.1", *("5.2.1", "5.2.2") * 2) * 2)


@pytest.mark.parametrize(
    ("keys", "title"),
    [
        ('pattern = "box"', "box"),
        ('pattern = "5-Cascade"', "5 cascade"),
        ('pattern = "5 cascade"\nname = "the lanterns"', "the lanterns"),
        ('pattern = "5 3 1"', "531"),
    ],
)
def test_a_pattern_given_by_its_name_keeps_it(tmp_path: Path, keys: str, title: str) -> None:
    found = read_routine(file_of(tmp_path, f"[[part]]\n{keys}\ncycles = 4\n"))
    assert found.routine.parts[0].title == title


def test_what_is_left_out_is_left_to_the_program(tmp_path: Path) -> None:
    found = read_routine(file_of(tmp_path, '[[part]]\npattern = "3"\ncycles = 4\n'))
    part = PatternPart(pattern=read("3"), length=Length(cycles=4))
    assert found.routine == Routine(title="walk", parts=(part,))
    chosen = (found.props, found.ceiling, found.hands, found.dwell, found.say, found.voice)
    levels = (found.language, found.cue_voice, found.cue_place, found.clicks, found.voice_level)
    assert {*chosen, *levels, found.hall, found.click_level, found.music} == {None}
    assert (dict(found.words), dict(found.phrases), found.names) == ({}, {}, ())


MUSICAL = """
[music]
file = "band/walk.ogg"
{beats}
level = -3
duck = 9
throws = "2:1"
bar = 3
[[part]]
pattern = "3"
bar = 5
[[part]]
rest = true
bar = 9
[[part]]
pattern = "531"
cycles = 4
throws = "3:2"
bar = 12
"""


@pytest.mark.parametrize(
    ("beats", "times"),
    [
        ("tempo = 120\nfirst-beat = 0.25", (0.25, 0.75)),
        ("beats = [0, 0.5, 1.1]", (0, 0.5, 1.1)),
        ('beats = "beats.txt"', (0.5, 1.0, 1.75)),
    ],
)
def test_the_music_and_its_beats(tmp_path: Path, beats: str, times: tuple[float, ...]) -> None:
    (tmp_path / "beats.txt").write_text("\ufeff# tapped\r\n0.5\r\n\r\n  1.0 # two\n1.75", "utf-8")
    found = read_routine(file_of(tmp_path, MUSICAL.format(beats=beats)))
    assert found.routine.music == MusicBeats(times, 3, Fraction(2))
    assert found.music is not None
    assert (found.music.path, found.music.level) == (tmp_path / "band/walk.ogg", -3)
    assert found.music.duck == 9
    three, rest, five = found.routine.parts
    assert isinstance(three, PatternPart)
    assert isinstance(five, PatternPart)
    assert (three.bar, three.length.open, three.throws) == (5, True, None)
    assert (rest.bar, rest.length.open) == (9, True)
    assert (five.bar, five.throws) == (12, Fraction(3, 2))


def test_a_mark_of_byte_order_and_the_lines_of_other_systems_are_no_fault(tmp_path: Path) -> None:
    place = tmp_path / "walk.toml"
    place.write_bytes(b'\xef\xbb\xbf[[part]]\r\npattern = "3"\r\ncycles = 4\r\n')
    assert len(read_routine(place).routine.parts) == 1


@pytest.mark.parametrize(
    ("subject", "expected"),
    [
        ("531", False),
        ("(4,2x)*", False),
        ("walk.toml", True),
        ("no/such/WALK.TOML", True),
        ("walk", False),
        ("there", True),
        ("744", False),  # a folder named like a pattern
        ("97531", False),  # a file named like one
        ("5" * 5000, False),
        ("5\0", False),
        ("", False),
    ],
)
def test_a_routine_file_and_a_pattern_are_told_apart(
    subject: str, *, expected: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("there").write_text("", "utf-8")
    Path("97531").write_text("", "utf-8")
    Path("744").mkdir()
    assert is_routine_file(subject) is expected
