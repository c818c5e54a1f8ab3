"""Session files of every kind: any text is a session or told, and what is written is read again."""

import tomllib
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from throwcount.caller.options.toml_file import TomlFile
from throwcount.caller.routine_file.model import LONGEST_LINE
from throwcount.caller.session_file.model import BLOCK, TOP
from throwcount.caller.session_file.reading import SessionFileError, check_session, read_session
from throwcount.caller.session_file.writing import WrittenBlock, one_line, session_text
from throwcount.engine.patterns.rules import read

FRAGMENTS = [
    *("[[block]]\n", "[block]\n", "[words]\n", "block = ", "[", "]", "{", "}", "rest = "),
    *('pattern = "', "531", "543", "(4,2x)*", '"\n', "sets = 3\n", "attempts = ", "goal = 5\n"),
    *("7", "-1", "0x", "nan", "\\", "\0", "é", ",", "=", "\r\n"),
]
ANY_TEXT = st.text() | st.lists(st.sampled_from(FRAGMENTS), max_size=12).map("".join)
ANY_VALUE = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=5)
    | st.sampled_from(["3", "531", "543", "5 cascade", "left", "flash", "clean", True, 1, 4, 120]),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["2", "rest"]), inner, max_size=3)
    ),
    max_leaves=4,
)


def check_told(faults: list[str]) -> None:
    assert faults
    assert len(set(faults)) == len(faults)
    for fault in faults:
        assert fault.splitlines()[0][-1] in ".?"


@given(text=ANY_TEXT)
def test_any_text_is_a_session_or_told(tmp_path: Path, text: str) -> None:
    place = tmp_path / "any.toml"
    place.write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        assert read_session(place).blocks
    except SessionFileError as error:
        check_told([str(fault) for fault in error.faults])


@given(
    top=st.dictionaries(st.sampled_from([*TOP, "other"]), ANY_VALUE, max_size=4),
    blocks=st.lists(
        st.dictionaries(st.sampled_from([*BLOCK, "other"]), ANY_VALUE, max_size=6) | ANY_VALUE,
        max_size=3,
    )
    | ANY_VALUE,
)
@settings(max_examples=60)
def test_any_document_is_a_session_or_told(top: dict[str, Any], blocks: object) -> None:
    _, found, faults = check_session(TomlFile({**top, "block": blocks}, ""))
    if faults:
        check_told([str(fault) for fault in faults])
    else:
        assert all(block.pattern is not None for block in found)


def optional(**keys: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({}, optional=keys)


def joined(*tables: st.SearchStrategy[dict[str, Any]]) -> st.SearchStrategy[dict[str, Any]]:
    return st.tuples(*tables).map(lambda each: {key: v for one in each for key, v in one.items()})


TEMPOS = st.integers(10, 1000) | st.floats(10, 1000)
SECONDS = st.integers(0, 3600) | st.floats(0, 3600)
ANYTHING = optional(
    told=st.text(max_size=300),
    name=st.text(min_size=1, max_size=250),
    before=st.text(max_size=20),
    props=st.text(max_size=20),
    tempo=TEMPOS,
    first=st.sampled_from(["right", "left"]),
    say=st.sampled_from(["values", "tally", "nothing"]),
    ready=SECONDS,
    count_in=st.integers(0, 64),
    rest_after=SECONDS,
    wait=st.booleans(),
    resume=st.booleans(),
)
LENGTHS = st.one_of(
    st.fixed_dictionaries({"cycles": st.integers(1, 1_000_000)}),
    st.fixed_dictionaries({"beats": st.integers(1, 1_000_000)}),
    st.fixed_dictionaries({"seconds": st.floats(0.001, 86_400)}),
)
SETS = joined(
    st.fixed_dictionaries({"sets": st.integers(3, 1_000)}, optional={"rest": SECONDS}),
    st.just({}) | LENGTHS,
    optional(to=TEMPOS, unmarked=st.sampled_from(["clean", "drop"]), on_drop=st.just("go-on")),
    st.fixed_dictionaries({"raise_by": st.floats(-200, 200)}, optional={"back": st.booleans()})
    | st.fixed_dictionaries({"staircase": st.just(True)}, optional={"clean_sets": st.just(2)}),
)
ATTEMPTS = joined(
    st.fixed_dictionaries({"attempts": st.integers(9, 1_000)}, optional={"rest": SECONDS}),
    st.fixed_dictionaries(
        {"goal": st.sampled_from(["flash", "qualify"]) | st.integers(1, 1_000)},
        optional={"goal_times": st.integers(1, 9)},
    )
    | st.just({}),
)
BLOCKS = joined(
    st.fixed_dictionaries(
        {"pattern": st.sampled_from(["3", "531", "5 cascade", "(4,2x)*", "[33]33", "4 2 3"])}
    ),
    ANYTHING,
    LENGTHS | SETS | ATTEMPTS,
).map(lambda keys: WrittenBlock(**keys))


@given(
    title=st.text(max_size=250),
    blocks=st.lists(BLOCKS, min_size=1, max_size=4),
    end=st.text(max_size=250),
    told=st.text(max_size=250),
)
@settings(max_examples=60)
def test_what_is_written_is_read_again(
    tmp_path: Path, title: str, blocks: list[WrittenBlock], end: str, told: str
) -> None:
    text = session_text(title, blocks, end=end, told=told)
    place = tmp_path / "written.toml"
    place.write_text(text, "utf-8", newline="")
    found = read_session(place)
    assert found.title == (one_line(title) or "written")
    assert found.end == one_line(end)
    assert len(found.blocks) == len(blocks)
    for block, asked in zip(found.blocks, blocks, strict=True):
        assert block.pattern == read(asked.pattern)
        assert block.title == one_line(asked.name or asked.pattern)
        assert block.before == one_line(asked.before or "")
        assert block.rest_after == (30 if asked.rest_after is None else asked.rest_after)
        for name in set(WrittenBlock.__slots__) - {
            "told",
            "pattern",
            "name",
            "before",
            "rest_after",
        }:
            value = getattr(asked, name)
            given_value = one_line(value) if isinstance(value, str) else value
            assert block.options.get(name) == given_value


def test_every_key_can_be_written() -> None:
    written = {name.replace("_", "-") for name in WrittenBlock.__slots__} - {"told"}
    assert written == {*BLOCK} - {"raise", "clicks", "curve"} | {"raise-by"}


def test_the_text_is_pleasant_to_read() -> None:
    block = WrittenBlock(told="Near its goal.", pattern="531", attempts=10, goal="flash", rest=5)
    assert session_text("Today", [block], end="well done", told="From the log.") == (
        '# From the log.\ntitle = "Today"\nend = "well done"\n\n'
        '# Near its goal.\n[[block]]\npattern = "531"\nattempts = 10\ngoal = "flash"\nrest = 5\n'
    )


@given(text=st.text(st.characters()))
def test_any_text_becomes_a_line_that_can_be_written(text: str) -> None:
    line = one_line(text)
    assert len(line) == min(len(text), LONGEST_LINE)
    assert tomllib.loads(session_text(text, []))["title"] == line
