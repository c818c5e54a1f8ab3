"""The new routine file: it can be used as it is, and so can each of its examples."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from throwcount.caller.routine_file.model import MUSIC, PART, TOP
from throwcount.caller.routine_file.reading import RoutineFile, read_routine
from throwcount.caller.routine_file.starter import starter_lines
from throwcount.engine.routines.layout import lay_out

WIDTH = 90
"""Characters: a line that fits a common editor."""


TEXT = "".join(starter_lines())
EXAMPLE = re.compile(r"# (\[|[a-z0-9-]+ = )")
KEY = re.compile(r"(?m)^(?:# )?([a-z0-9-]+) = ")


def examples() -> Iterator[range]:
    """Yield the lines of each example: those that stand together."""
    lines = TEXT.splitlines()
    start = None
    for number, line in enumerate([*lines, ""]):
        if EXAMPLE.match(line):
            start = number if start is None else start
        elif start is not None:
            yield range(start, number)
            start = None


def uncommented(*which: range) -> str:
    chosen = {number for each in which for number in each}
    lines = enumerate(TEXT.splitlines(keepends=True))
    return "".join(line[2:] if number in chosen else line for number, line in lines)


def used(folder: Path, text: str) -> RoutineFile:
    """Return the routine in a text, which can be laid out too."""
    place = folder / "new.toml"
    place.write_text(text, "utf-8")
    found = read_routine(place)
    lay_out(found.routine)
    return found


def test_it_can_be_used_as_it_is(tmp_path: Path) -> None:
    found = used(tmp_path, TEXT)
    assert found.title == "My routine"
    assert [part.title for part in found.routine.parts] == ["3", "531", "rest", "53", "3"]


def test_every_key_is_in_it() -> None:
    assert {*TOP, *MUSIC, *PART} - {"words", "phrases", "beats"} <= set(KEY.findall(TEXT))
    for field in (*TOP.values(), *PART.values(), *MUSIC.values()):
        assert field.description is not None
    assert max(map(len, TEXT.splitlines())) <= WIDTH + 5


@pytest.mark.parametrize(
    "example", [*examples()], ids=lambda lines: TEXT.splitlines()[lines.start][2:]
)
def test_every_example_can_be_used(tmp_path: Path, example: range) -> None:
    text = uncommented(example)
    assert text != TEXT
    assert used(tmp_path, text) != used(tmp_path, TEXT)


def test_all_examples_can_be_used_together_without_music(tmp_path: Path) -> None:
    *others, music = examples()
    assert "[music]" in TEXT.splitlines()[music.start]
    assert len(used(tmp_path, uncommented(*others)).routine.parts) == 11


def test_music_can_be_used_with_the_rest(tmp_path: Path) -> None:
    found = used(tmp_path, uncommented(list(examples())[-1]))
    assert found.music is not None
    assert found.routine.music is not None
    assert found.routine.parts[-1].bar == 41
