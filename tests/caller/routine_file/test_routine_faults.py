"""What is told of a routine file that cannot be used: every fault, where it is, what is allowed."""

import re
from pathlib import Path

import pytest

from throwcount.caller.routine_file.reading import RoutineFileError, adding_up, read_routine
from throwcount.engine.routines.layout import lay_out

LARGEST = 4 * 1024 * 1024
"""Bytes: nobody writes so much, and it is read at once."""


PART = '[[part]]\npattern = "3"\ncycles = 4\n'
MUSIC = '[music]\nfile = "walk.ogg"\n'
STEADY = f"{MUSIC}tempo = 120\nfirst-beat = 0.5\n"
THREE_TWICE = f"[[part]]\nrepeat = 2\n[[part.part]]\n{PART[9:]}"
REST = "[[part]]\nrest = true\nseconds = 20\n"


def written(folder: Path, text: str | bytes) -> Path:
    place = folder / "walk.toml"
    place.write_bytes(text.encode() if isinstance(text, str) else text)
    return place


def faults_of(folder: Path, text: str | bytes) -> list[str]:
    """Return the sentences about a file; none if it can be used."""
    try:
        read_routine(written(folder, text))
    except RoutineFileError as error:
        return [str(fault) for fault in error.faults]
    return []


def part(text: str) -> str:
    """Return a file whose second part holds `text`."""
    return f"{PART}[[part]]\n{text}"


@pytest.mark.parametrize(
    ("text", "fragment"),
    [
        # keys
        (f'titel = "x"\n{PART}', "\"titel\" is no key of a routine file. Did you mean 'title'?"),
        (f'[[parts]]\npattern = "3"\n{PART}', "Did you mean 'part'?"),
        (f"count_in = 4\n{PART}", "Did you mean 'count-in'?"),
        (f"zzzzzz = 4\n{PART}", '"zzzzzz" is no key of a routine file.'),
        (f'"\\u001b[2J" = 4\n{PART}', r'"\u001b[2J" is no key'),
        (f"cycles = 4\n{PART}", '"cycles" belongs in a [[part]].'),
        (f"first-beat = 4\n{PART}", '"first-beat" belongs in [music].'),
        (
            f"{STEADY}temop = 4\n{PART}",
            '[music]: "temop" is no key of [music]. Did you mean \'temp',
        ),
        (
            part('pattern = "3"\nbaets = 4\nbeats = 4'),
            'Part 2: "baets" is no key of a part. Did you',
        ),
        (
            part('pattern = "3"\nbeats = 4\ntitle = "x"'),
            'Part 2: "title" belongs at the top of the',
        ),
        # values
        (f'voice = ""\n{PART}', 'voice cannot be "": it is a text in quotes, on one line, of 1 to'),
        (f"tempo = 5\n{PART}", "tempo cannot be 5: it is a number from 10 to 1000."),
        (f'cue-place = "center"\n{PART}', "it is centre, left or right. Did you mean 'centre'?"),
        (f'say = "valeus"\n{PART}', "tally or nothing. Did you mean 'values'?"),
        (
            f"title = 5\n{PART}",
            "title cannot be 5: it is a text in quotes, on one line, of up to 200",
        ),
        (f'title = "a\\nb"\n{PART}', 'title cannot be "a\\nb": it is a text'),
        (f'title = "a\\u009bb"\n{PART}', r'title cannot be "a\u009bb": it is a text'),
        (f'title = "{"a" * 201}"\n{PART}', "aaaa ...: it is a text in quotes, on one line"),
        (f"ready = inf\n{PART}", "ready cannot be inf: it is a number from 0 to 3600."),
        (f"count-in = 0x{'f' * 5000}\n{PART}", "count-in cannot be that: it is a whole number"),
        (f"hands = true\n{PART}", "hands cannot be true: it is a number from 0 to 1000."),
        (
            f'language = "German"\n{PART}',
            'language cannot be "German": it is its letters in quotes',
        ),
        (f'names = "plum,,slate"\n{PART}', 'names cannot be "plum,,slate"'),
        (f"ceiling = 0.5\n{PART}", "ceiling 0.5 leaves no room above the hands at 1 m"),
        (f"ceiling = 2\nhands = 2\n{PART}", "ceiling 2 leaves no room above the hands at 2 m"),
        (f"words = 3\n{PART}", "words cannot be 3: it is a table of texts."),
        (f"[words]\n2 = 5\n{PART}", "2 in [words] has to be a text in quotes"),
        (f'[words]\n22 = "x"\n{PART}', '22 = "x" in [words] gives no throw a word'),
        (f'[words]\n2 = " "\n{PART}', '2 = " " in [words] gives no throw a word'),
        (f'[phrases]\nlast_one = "x"\n{PART}', "In [phrases]: 'last_one' is not a phrase"),
        (f'[phrases]\nstop = ""\n{PART}', "In [phrases]: 'stop' has no words of its own."),
        (f"[phrases]\nstop = 4\n{PART}", "stop in [phrases] has to be a text in quotes"),
        # parts as such
        ("", 'There is nothing to throw: write a [[part]] with pattern = "3".'),
        ('title = "x"', "There is nothing to throw"),
        (
            '[part]\npattern = "3"\nbeats = 4',
            "part is a row of tables, each written [[part]] in doub",
        ),
        ("part = [3]", "Part 1: it is no table"),
        (part("cycles = 4"), "Part 2: it has to say one of pattern, rest and repeat."),
        (part('pattern = "3"\nrest = true\nbeats = 4'), "pattern and rest stand together"),
        (
            part('pattern = "3"\nrepeat = 2\nrest = true\nbeats = 1'),
            "pattern, rest and repeat stand",
        ),
        (f"{REST}rest = true", "not valid TOML"),
        (f"{PART}[[part]]\nrest = false\nbeats = 4\n{PART}", "rest cannot be false: it is true."),
        (
            part('pattern = "3"\ncycles = 4\nbeats = 12'),
            "cycles and beats: each gives the length; ke",
        ),
        (part('pattern = "3"'), "Part 2: it needs a length: cycles, beats or seconds."),
        (part('name = "the well"\npattern = "3"'), "Part 2, “the well”: it needs a length"),
        (
            part('pattern = "3"\ncycles = 0'),
            "cycles cannot be 0: it is a whole number from 1 to 1,000",
        ),
        (
            part('pattern = "3"\nseconds = 0'),
            "seconds cannot be 0: it is a number more than 0, up to",
        ),
        (
            part('pattern = "3"\nbeats = 4\ncount-in = 4'),
            "count-in has no place in a pattern: it belo",
        ),
        # patterns
        (
            part('pattern = "543"\nbeats = 4'),
            'Part 2: pattern "543" cannot be thrown. Counting beats',
        ),
        (
            part('pattern = "54"\nbeats = 4'),
            'pattern "54" cannot be thrown. The values add up to 9',
        ),
        (
            part('pattern = "5!3"\nbeats = 4'),
            'pattern "5!3" cannot be read. "!" (U+0021) means noth',
        ),
        (part('pattern = "5!3"\nbeats = 4'), "\n  5!3\n   ^"),
        (part('pattern = ""\nbeats = 4'), 'pattern "" cannot be read. There is no pattern here'),
        (part("pattern = 531\nbeats = 4"), "pattern cannot be 531: it is a pattern in quotes."),
        # bridges
        (part('pattern = "531"\nbeats = 4\nbridge = "4 !"'), 'bridge "4 !" cannot be read.'),
        (
            part('pattern = "531"\nbeats = 4\nbridge = ""'),
            'bridge cannot be "": it is throws in quo',
        ),
        (
            part('pattern = "531"\nbeats = 4\nbridge = "(4,2)"'),
            "The bridge “(4,2)” changes the timing, and 3 and 531 have the same one.",
        ),
        (
            part('pattern = "(4,4)"\ncycles = 4\npick-up = 1\nbridge = "4 1"'),
            "(4,4) has more objects than 3, and the hands alternate in only one of them: leave",
        ),
        (
            part('pattern = "(4x,2x)"\ncycles = 4\nbridge = "(2,2x) 4"'),
            "The bridge “(2,2x) 4” begins with the timing of (4x,2x), and that of 3 comes first.",
        ),
        (
            part('pattern = "(4x,2x)"\ncycles = 4\nbridge = "4 (2,2x) 4"'),
            "The timing of a bridge changes once, from single throws to pairs or back, and here it",
        ),
        (
            '[[part]]\npattern = "3"\nbeats = 4\nbridge = "4 2"',
            "here there are none: the part opens",
        ),
        (
            f'{PART}{REST}[[part]]\npattern = "3"\nbeats = 4\nbridge = "4 2"',
            "the part follows a rest",
        ),
        # objects
        (
            part('pattern = "4"\nbeats = 4'),
            "before has 3 objects and this one 4: write pick-up = 1, or",
        ),
        (
            part('pattern = "2"\nbeats = 4'),
            "before has 3 objects and this one 2: write put-down = 1",
        ),
        (
            part('pattern = "5"\nbeats = 4\npick-up = 1'),
            "pick-up = 1, but the pattern before has 3 ob",
        ),
        (
            part('pattern = "4"\nbeats = 4\nput-down = 1'),
            "put-down = 1, but the pattern before has 3",
        ),
        (
            f'{PART}{REST}[[part]]\npattern = "5"\nbeats = 4\npick-up = 1',
            "Part 3: pick-up = 1, but the pattern before has 3 objects and this one 5.",
        ),
        (
            part('pattern = "4"\nbeats = 4\npick-up = 1\nput-down = 1'),
            "pick-up and put-down: each changes the number of objects; keep one of them.",
        ),
        (
            '[[part]]\npattern = "3"\nbeats = 4\npick-up = 1',
            "pick-up has no place in the opening part",
        ),
        # tempo, hands, cues
        (
            part('pattern = "3"\nbeats = 4\ncurve = "ratio"'),
            "curve says how the tempo changes; say wh",
        ),
        (
            part('pattern = "3"\nbeats = 4\nto = 200\ncurve = "linear"'),
            "it is linear-beats, linear-time or rati",
        ),
        (
            part('pattern = "3"\nbeats = 4\nfirst = "left"'),
            "first chooses the hand at the opening or",
        ),
        (part('pattern = "3"\nbeats = 4\ncue = ""\ncue-ahead = 4'), 'and cue = "" has none.'),
        # rests
        (f"{REST}{PART}", "Part 1: a rest stands between two patterns, and this one opens"),
        (f"{PART}{REST}", "Part 2: a rest stands between two patterns, and this one closes"),
        (f"{PART}{REST}{REST}{PART}", "Part 3: a rest follows another: make one of the two."),
        (
            f"{PART}{REST}cycles = 3\n{PART}",
            "cycles has no place in a rest: a rest lasts a number of be",
        ),
        (
            f"{PART}{REST}tempo = 90\n{PART}",
            "tempo has no place in a rest: it belongs to a pattern.",
        ),
        (
            f"{PART}{REST}pick-up = 1\n{PART}",
            "pick-up has no place in a rest: it belongs to the part",
        ),
        (f"{PART}[[part]]\nrest = true\n{PART}", "Part 2: it needs a length: beats or seconds."),
        (
            f"{PART}[[part]]\nrest = true\nbeats = 4\ncount-in = 5\n{PART}",
            "count-in 5 does not fit into a rest of 4 beats.",
        ),
        # repeats
        (
            "[[part]]\nrepeat = 3",
            "there is nothing to repeat: its parts stand under it, each in a [[p",
        ),
        (
            f"[[part]]\nrepeat = 3\ncycles = 3\n[[part.part]]\n{PART[9:]}",
            "cycles has no place in a rep",
        ),
        (
            f"[[part]]\nrepeat = 0\n[[part.part]]\n{PART[9:]}",
            "repeat cannot be 0: it is a whole number",
        ),
        (
            f"[[part]]\nrepeat = 3\npart = 3\n{PART}",
            "Part 1: part is a row of tables, each written [[",
        ),
        (
            part('pattern = "3"\nbeats = 4\n[[part.part]]\npattern = "3"\nbeats = 4'),
            "within a repeat.",
        ),
        (
            f"{THREE_TWICE}[[part.part]]\nrest = true\nbeats = 20",
            "Part 1.2: a rest stands between two patterns, and this one closes the routine. In a",
        ),
        (
            f'{THREE_TWICE}[[part.part]]\npattern = "4"\nbeats = 4\npick-up = 1',
            "Part 1.1: the pattern before has 4 objects and this one 3: write put-down = 1",
        ),
        (
            f"[[part]]\nrepeat = 10000\n[[part.part]]\n{PART[9:]}[[part.part]]\n{PART[9:]}",
            "at most 10,",
        ),
        (PART * 10_001, "A routine has at most 10,000 parts, with its repeats written out."),
        # music
        ("music = 3\n" + PART, "music is a table, written under [music]."),
        (
            f"[music]\ntempo = 120\nfirst-beat = 0\n{PART}",
            "[music]: it lacks its file, as in file =",
        ),
        (f"{MUSIC}{PART}", "[music]: where are its beats? Give its tempo and its first-beat"),
        (f"{MUSIC}tempo = 120\n{PART}", "where are its beats?"),
        (
            f"{STEADY}beats = [0, 1]\n{PART}",
            "tempo and first-beat and beats both say where its beats",
        ),
        (
            f"{MUSIC}beats = 3\n{PART}",
            "beats cannot be 3: it is a list of seconds, or the path of a t",
        ),
        (f"{MUSIC}beats = [1, 'x']\n{PART}", "beats cannot be that: it is a list of seconds"),
        (f"{MUSIC}beats = [1]\n{PART}", "beats lists 1: 2 to 200,000 are needed."),
        (f"{MUSIC}beats = [1, 2, 2]\n{PART}", "beats is out of order: after 2 s comes 2 s."),
        (f"{MUSIC}beats = [-1, 2]\n{PART}", "beats begins at -1 s, before the music does."),
        (
            f'{MUSIC}beats = "none.txt"\n{PART}',
            'beats "none.txt" is no file beside the routine file.',
        ),
        (f'{MUSIC}beats = "."\n{PART}', 'beats "." cannot be read: it is a folder, not a file.'),
        (
            f'{STEADY}throws = "2/1"\n{PART}',
            '[music]: throws cannot be "2/1": it is two whole numbers',
        ),
        (f'{STEADY}throws = "2:17"\n{PART}', "two whole numbers from 1 to 16 in quotes"),
        (
            f'{STEADY}throws = "9:1"\n{PART}',
            'throws "9:1" makes 1,080.0 throws a minute with this mus',
        ),
        (f'{STEADY}{PART}throws = "1:13"', 'Part 1: throws "1:13" makes 9.2 throws a minute'),
        (
            f'{MUSIC}beats = [0, 1, 1.01]\n{PART}throws = "2:1"',
            '[music]: throws "1:1" makes 6,000.0',
        ),
        (f"tempo = 180\n{STEADY}{PART}", "tempo at the top has no place with music"),
        (
            f"{STEADY}{PART}tempo = 180",
            "Part 1: tempo has no place with music, which gives the tempo",
        ),
        (f"{STEADY}{PART}to = 180", "Part 1: to has no place with music"),
        (
            f'{PART}throws = "2:1"',
            "Part 1: throws counts the music's beats, and there is no [music].",
        ),
        (f"{PART}bar = 2", "Part 1: bar counts the music's beats, and there is no [music]."),
        (
            f'{STEADY}[[part]]\npattern = "3"',
            "or seconds, or a bar on which the part after it begins.",
        ),
        (f"{STEADY}{PART}bar = 9\n{PART}bar = 9", "Part 2: bar 9 has gone by: part 1 begins on 9."),
        (
            f"{STEADY}{PART}bar = 9\n{PART}{PART}bar = 5",
            "Part 3: bar 5 has gone by: part 1 begins on",
        ),
        (
            f"{STEADY}[[part]]\nrepeat = 2\n[[part.part]]\n{PART[9:]}bar = 2",
            "Part 1.1: bar 2 comes once, and this part is repeated.",
        ),
    ],
)
def test_a_fault_is_told_in_a_plain_sentence(tmp_path: Path, text: str, fragment: str) -> None:
    faults = faults_of(tmp_path, text)
    assert any(fragment in fault for fault in faults), faults
    assert all("pydantic" not in fault for fault in faults)
    if "beats = [0, 1, 1.01]" not in text:  # there both throws are too quick
        assert len(faults) == 1, faults


def test_all_faults_are_told_at_once_in_the_order_of_the_file(tmp_path: Path) -> None:
    text = (
        'ceiling = 0\nsay = "valeus"\n[words]\n2 = 2\n44 = "x"\n'
        "[music]\nfile = 3\nbeats = [2, 1]\n"
        '[[part]]\nname = "the well"\npattern = "543"\ntempo = 1\nhwo = "slow"\n'
        '[[part]]\nrepeat = 2\n[[part.part]]\npattern = "5!"\nbeats = 0\n'
        '[[part.part]]\npattern = "3"\nbar = -1\n'
    )
    starts = ["Line 1: ceiling 0", "Line 2: say cannot be"]
    starts += ["Line 4: 2 in [words]", "Line 5: 44 = ", "Line 7: [music]", "Line 8: [music]"]
    starts += [f"Line {line}: Part 1, “the well”: " for line in (9, 11, 12, 12, 13)]
    starts += [f"Line {line}: Part 2.1: " for line in (17, 18)]
    starts += [f"Line {line}: Part 2.2: " for line in (19, 21)]
    told = faults_of(tmp_path, text)
    assert len(told) == len(starts), told
    assert all(fault.startswith(start) for fault, start in zip(told, starts, strict=True)), told


@pytest.mark.parametrize(
    ("text", "start"),
    [
        (f"{PART}  tmepo = 200\n", "Line 4, column 3: Part 1: "),
        (f'# a comment\r\n\r\n{PART}"how" = 3\n', "Line 6: Part 1: how cannot be 3"),
        ('part = [{ pattern = "3", cycles = 0 }]', "Line 1: Part 1: cycles cannot be 0"),
        (
            f'{PART}[part.how]\n"first 3" = "low"\n"1st 3" = "high"\n',
            "Line 6: Part 1: how: 1st 3 names the same throws as first 3.",
        ),
        (f'how = {{ 5 = "low" }}\n{PART}', 'Line 1: "how" belongs in a '),
        (f'{PART}how = {{ "fifth" = "low" }}\n', "Line 4: Part 1: how: “fifth” names no throw: "),
        (
            f'{PART}[part.how]\n"all" = "low"\n"5" = 3\n',
            "Line 6: Part 1: how of 5 has to be",
        ),
        (
            f'{PART}[part.how]\n3 = "low"\n7 = "high"\n',
            "Line 6: Part 1: how: 3 throws no 7;",
        ),
        (f'words = {{ 2 = "" }}\n{PART}', "Line 1: 2 = "),
        (f'title = """\\\n[[part]]"""\nfirst = "both"\n{PART}', "Line 3: first cannot be"),
        # found when the parts are laid out
        (
            f'{PART}[[part]]\npattern = "4"\ncycles = 4\n',
            "Line 4: Part 2: the pattern before has 3 objects",
        ),
        (f"{PART}[[part]]\nrest = true\nbeats = 1\n{PART}", "Line 4: Part 2: "),
    ],
)
def test_a_fault_has_the_line_of_its_key_or_table(tmp_path: Path, text: str, start: str) -> None:
    told = faults_of(tmp_path, text)
    try:
        with adding_up(file := read_routine(written(tmp_path, text))):
            lay_out(file.routine)
    except RoutineFileError as error:
        told = [str(fault) for fault in error.faults]
    assert [fault[: len(start)] for fault in told] == [start]


def test_throws_that_do_not_lead_are_told_with_all_the_rest(tmp_path: Path) -> None:
    """Bridges are judged though another part is wrong, and wherever a repeat leads into them."""
    told = faults_of(
        tmp_path,
        f'say = "valeus"\n{PART}'
        "[[part]]\nrepeat = 2\n"
        '[[part.part]]\npattern = "531"\nbeats = 4\nbridge = "5 5"\n'
        '[[part.part]]\npattern = "51"\ncycles = 4\nbridge = "5"\n'
        '[[part]]\npattern = "8"\ncycles = 3\npick-up = 5\n'
        '[[part]]\npattern = "51"\ncylces = 3\n',
    )
    no_stop = "5 objects cannot be taken up or put down without a stop, 4 at most"
    assert [fault for fault in told if not re.search("say|Part 4", fault)] == [
        "Line 10: Part 2.1: The bridge “5 5” does not lead from 3 to 531; none is needed.",
        "Line 14: Part 2.2: The bridge “5” does not lead from 531 to 51; “2” does.",
        f"Line 15: Part 3: {no_stop}: put a rest between.",
    ]


@pytest.mark.parametrize(
    ("text", "fragment"),
    [
        ("title = ", "It is not valid TOML: Invalid value (at end of document)."),
        (f"{PART}title = 'x", "(at end of document)"),
        (f"{PART}\ncycles = 5\n{PART}", "Cannot overwrite a value (at line 5, column 11)"),
        (
            f"{PART}tempo 200\n",
            "Expected '=' after a key in a key/value pair (at line 4, column 7)",
        ),
        (b"title = '\xff'", "It is not text in UTF-8."),
        ("tempo = " + "9" * 5000, "more digits than can be read"),
        ("part = " + "[" * 5000, "nested deeper than can be read"),
        ("#" * (LARGEST + 1), "It is larger than"),
    ],
)
def test_what_is_no_toml_is_told_with_its_line(
    tmp_path: Path, text: str | bytes, fragment: str
) -> None:
    faults = faults_of(tmp_path, text)
    assert len(faults) == 1
    assert fragment in faults[0]


def test_parts_may_be_nested_so_deep_and_no_deeper(tmp_path: Path) -> None:
    def nested(depth: int) -> str:
        repeats = (f"[[{'.'.join(['part'] * level)}]]\nrepeat = 1" for level in range(1, depth))
        innermost = f'[[{".".join(["part"] * depth)}]]\npattern = "3"\nbeats = 1'
        return "\n".join([*repeats, innermost])

    assert faults_of(tmp_path, nested(8)) == []
    deeper = faults_of(tmp_path, nested(9))
    assert deeper == [f"Line 17: Part {'.'.join('1' * 8)}: parts are nested at most 8 deep."]
    assert [fault.split(": ", 1)[1] for fault in faults_of(tmp_path, nested(300))] == [
        fault.split(": ", 1)[1] for fault in deeper
    ]


@pytest.mark.parametrize(
    ("list_of_beats", "fragment"),
    [
        ("0.5\n1.0\nx\n1.5\n", 'beats "beats.txt" has to have one number of seconds a line, and'),
        ("0.5\n1.0\nx\n1.5\n", "has not on line 3."),
        ("0.5\n1.0 1.5\n-2\nnan\n1e3\n1_0\n\u0661\n", "has not on lines 2, 3, 4, 5, 6 ..."),
        ("0.5\n", "beats lists 1: 2 to 200,000 are needed."),
        ("", "beats lists 0"),
        ("1\n0.5\n", "beats is out of order: after 1 s comes 0.5 s."),
        ("1\n" * 3_000_000, "is larger than 4,194,304 bytes."),
        (b"\xff", "is not text in UTF-8."),
    ],
)
def test_a_list_of_beats_in_a_file_of_its_own(
    tmp_path: Path, list_of_beats: str | bytes, fragment: str
) -> None:
    content = list_of_beats.encode() if isinstance(list_of_beats, str) else list_of_beats
    (tmp_path / "beats.txt").write_bytes(content)
    faults = faults_of(tmp_path, f'{MUSIC}beats = "beats.txt"\n{PART}')
    assert len(faults) == 1
    assert fragment in faults[0]


def test_a_file_that_is_not_there_and_a_folder(tmp_path: Path) -> None:
    for path in (tmp_path / "none.toml", written(tmp_path, PART) / "none.toml"):
        with pytest.raises(RoutineFileError, match="There is no such file; `throwcount plan --new"):
            read_routine(path)
    with pytest.raises(RoutineFileError, match="It is a folder, not a file") as raised:
        read_routine(tmp_path)
    assert raised.value.exit_code == 1
    assert str(tmp_path) in raised.value.message
