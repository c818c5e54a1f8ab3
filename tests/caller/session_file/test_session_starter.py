"""The new session file: it can be used as it is, and so can each of its examples."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from throwcount.caller.session_file.model import BLOCK, TOP
from throwcount.caller.session_file.reading import SessionFile, read_session
from throwcount.caller.session_file.starter import session_starter_lines

WIDTH = 95
"""Characters: a line that fits a common editor."""

TEXT = "".join(session_starter_lines())
EXAMPLE = re.compile(r"# [a-z0-9-]+ = ")
KEY = re.compile(r"(?m)^(?:# )?([a-z0-9-]+) = ")


def examples() -> Iterator[range]:
    """Yield the lines of each example: those that stand together."""
    start = None
    for number, line in enumerate([*TEXT.splitlines(), ""]):
        if EXAMPLE.match(line):
            start = number if start is None else start
        elif start is not None:
            yield range(start, number)
            start = None


def uncommented(*which: range) -> str:
    chosen = {number for each in which for number in each}
    lines = enumerate(TEXT.splitlines(keepends=True))
    return "".join(line[2:] if number in chosen else line for number, line in lines)


def used(folder: Path, text: str) -> SessionFile:
    place = folder / "new.toml"
    place.write_text(text, "utf-8")
    return read_session(place)


def test_it_can_be_used_as_it_is(tmp_path: Path) -> None:
    found = used(tmp_path, TEXT)
    assert found.title == "My session"
    assert [block.pattern.text for block in found.blocks] == ["3", "531", "441", "5", "3"]
    assert [block.title for block in found.blocks][::4] == ["warm-up", "easy end"]


def test_every_key_is_in_it() -> None:
    assert {*TOP, *BLOCK} - {"words", "phrases"} <= set(KEY.findall(TEXT))
    assert max(map(len, TEXT.splitlines())) <= WIDTH


@pytest.mark.parametrize(
    "example", [*examples()], ids=lambda lines: TEXT.splitlines()[lines.start][2:]
)
def test_every_example_can_be_used(tmp_path: Path, example: range) -> None:
    text = uncommented(example)
    assert text != TEXT
    assert used(tmp_path, text) != used(tmp_path, TEXT)


def test_all_examples_can_be_used_together_but_one_length(tmp_path: Path) -> None:
    chosen = [each for each in examples() if "# beats = " not in TEXT.splitlines()[each.start]]
    assert len(used(tmp_path, uncommented(*chosen)).blocks) == 5
