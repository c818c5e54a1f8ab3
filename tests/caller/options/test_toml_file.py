"""Keys and tables found in the text of TOML: each where it stands, as `tomllib` reads it."""

import json
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from throwcount.caller.options.toml_file import (
    KeyPath,
    TextPosition,
    TomlFile,
    TomlFileError,
    located,
    read_toml,
)


def read(text: str) -> TomlFile:
    return TomlFile(tomllib.loads(text), text)


TEXT = '''# a comment = 1
top = "a [table] # and no comment"
 "quoted \\" key" = 2
a.b . 'c d' = [ # [not = "a table"]
  1, "]", # ]
] # x = 1
long = """
x = 1
\\"""
[y]"""""
raw = \'\'\'
[z]'\'\'\'\'
inline = { x = "}", y = [1, 2] }

[[part]]
name = 'it''s'
[part.words]
2 = "hold"
[[ part . part ]]
x = 1
[[part]]
  [[part.part]]
  y = 1
  [[part.part]]
[other.table]
z = 1979-05-27T07:32:00Z
'''.replace("'it''s'", "'its'")


@pytest.mark.parametrize(
    ("path", "position"),
    [
        (("top",), (2, 1)),
        (('quoted " key',), (3, 2)),
        (("a",), (4, 1)),
        (("a", "b", "c d"), (4, 1)),
        (("long",), (7, 1)),
        (("raw",), (11, 1)),
        (("inline",), (13, 1)),
        (("part",), (15, 1)),
        (("part", 0), (15, 1)),
        (("part", 0, "name"), (16, 1)),
        (("part", 0, "words"), (17, 1)),
        (("part", 0, "words", "2"), (18, 1)),
        (("part", 0, "part", 0, "x"), (20, 1)),
        (("part", 1), (21, 1)),
        (("part", 1, "part", 0), (22, 3)),
        (("part", 1, "part", 0, "y"), (23, 3)),
        (("part", 1, "part", 1), (24, 3)),
        (("other",), (25, 1)),
        (("other", "table", "z"), (26, 1)),
        # what is not written has the place of the table around it
        (("inline", "x"), (13, 1)),
        (("part", 1, "tempo"), (21, 1)),
        (("missing",), None),
        ((), None),
    ],
)
def test_each_key_and_table_stands_where_it_is_written(
    path: KeyPath, position: tuple[int, int] | None
) -> None:
    assert read(TEXT).position(path) == position


def test_a_sentence_has_its_line_and_a_column_that_is_not_the_first() -> None:
    assert located(None, "Wrong.") == "Wrong."
    assert located(TextPosition(3, 1), "Wrong.") == "Line 3: Wrong."
    assert located(TextPosition(3, 5), "Wrong.") == "Line 3, column 5: Wrong."


def test_lines_may_end_as_on_windows_and_a_mark_of_byte_order_counts_for_nothing(
    tmp_path: Path,
) -> None:
    place = tmp_path / "any.toml"
    place.write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
    assert read_toml(place).position(("part", 1, "part", 0, "y")) == (23, 3)
    assert read_toml(place).position(("top",)) == (2, 1)


KEYS = st.sampled_from(["a", "b-1", "_", "2", "part", "", "a.b", 'q"', "it's", "é", "x y", "\\"])
SCALARS = (
    st.integers(-9, 9)
    | st.booleans()
    | st.text(st.sampled_from("[]{}#=\"'\\\n ,.a\té"), max_size=8)
)
DOCUMENTS = st.recursive(
    st.dictionaries(KEYS, SCALARS | st.lists(SCALARS, max_size=3), max_size=4),
    lambda inner: st.dictionaries(
        KEYS, SCALARS | inner | st.lists(inner, min_size=1, max_size=3), max_size=4
    ),
    max_leaves=12,
)


@st.composite
def texts(draw: st.DrawFn) -> str:
    """Draw a document as text, its strings, blanks and comments written in several ways."""
    return "".join(written(draw, draw(DOCUMENTS), ""))


def written(draw: st.DrawFn, table: dict[str, Any], around: str) -> Iterator[str]:
    inner = {}
    for key, value in table.items():
        if isinstance(value, dict) or (value and isinstance(value, list) and is_table(value[0])):
            inner[key] = value
            continue
        indent, after = draw(st.sampled_from(["", "  ", "\t"])), draw(AFTER)
        yield f"{indent}{key_text(draw, key)} = {value_text(draw, value)}{after}\n"
    for key, value in inner.items():
        name = around + key_text(draw, key)
        for one in value if isinstance(value, list) else [value]:
            brackets = ("[[", "]]") if isinstance(value, list) else ("[", "]")
            yield f"{draw(BLANKS)}{brackets[0]}{name}{brackets[1]}{draw(AFTER)}\n"
            yield from written(draw, one, f"{name}.")


BLANKS = st.sampled_from(["", "\n", "  ", "# [x]\n\n"])
AFTER = st.sampled_from(["", " ", " # x = [", "#'''"])


def is_table(value: object) -> bool:
    return isinstance(value, dict)


def key_text(draw: st.DrawFn, key: str) -> str:
    plain = key.isascii() and key.replace("-", "").replace("_", "x").isalnum()
    ways = [json.dumps(key, ensure_ascii=False)]
    ways += [key] if plain else []
    ways += [f"'{key}'"] if "'" not in key else []
    return draw(st.sampled_from(ways))


def value_text(draw: st.DrawFn, value: object) -> str:
    if isinstance(value, list):
        inner = f",{draw(st.sampled_from(['', ' ', ' # ]', '']))}\n".join(
            value_text(draw, one) for one in value
        )
        return f"[{inner}]"
    if isinstance(value, str):
        ways = [json.dumps(value, ensure_ascii=False)]
        ways += [f"'{value}'"] if not set(value) & set("'\n") else []
        ways += [f"'''\n{value}'''"] if "'''" not in value and not value.endswith("'" * 3) else []
        escaped = value.replace("\\", "\\\\")
        ways += [f'"""\n{escaped}"""'] if '"""' not in value else []
        return draw(st.sampled_from(ways))
    return json.dumps(value)


def every_path(value: object, path: KeyPath = ()) -> Iterator[KeyPath]:
    """Yield the paths to every key and to every table in a row."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield (*path, key)
            yield from every_path(inner, (*path, key))
    elif isinstance(value, list) and value and is_table(value[0]):
        for index, inner in enumerate(value):
            yield (*path, index)
            yield from every_path(inner, (*path, index))


@given(text=texts())
@settings(max_examples=60)
def test_every_key_is_found_where_the_text_has_it(text: str) -> None:
    """What stands at the position is a text that tomllib reads as this very key."""
    file, lines = read(text), text.split("\n")
    for path in every_path(file.values):
        position = file.position(path)
        assert position is not None
        line = lines[position.line - 1]
        if isinstance(path[-1], int) or line.startswith("[", position.column - 1):
            header = tomllib.loads(line.strip())
            for name in (step for step in path if isinstance(step, str)):
                header = header[name]
                header = header[0] if isinstance(header, list) else header
        else:
            (key,) = tomllib.loads(f"{line[position.column - 1 :].split(' = ')[0]} = 0")
            assert key == path[-1]


@given(text=texts())
@settings(max_examples=60)
def test_no_two_keys_stand_at_one_place(text: str) -> None:
    file = read(text)
    paths = [path for path in every_path(file.values) if isinstance(path[-1], str)]
    scalars = [path for path in paths if not isinstance(value_at(file.values, path), dict | list)]
    places = [file.position(path) for path in scalars]
    assert len(set(places)) == len(places)


def value_at(value: Any, path: KeyPath) -> object:  # noqa: ANN401 - any document
    for step in path:
        value = value[step]
    return value


FRAGMENTS = st.lists(
    st.sampled_from(
        [
            "[",
            "]",
            "[[",
            "]]",
            "a",
            ".",
            "=",
            '"',
            "'''",
            '"""',
            "\n",
            "#",
            "{",
            "}",
            "1",
            ",",
            "\\",
        ]
    ),
    max_size=20,
).map("".join)


@given(text=st.text() | FRAGMENTS)
def test_whatever_tomllib_reads_has_a_position_for_each_of_its_keys(text: str) -> None:
    try:
        file = read(text.replace("\r\n", "\n"))
    except tomllib.TOMLDecodeError:
        return
    for key in file.values:
        position = file.position((key,))
        assert position is not None
        assert position.line <= text.count("\n") + 1


@pytest.mark.parametrize(
    "text",
    ["[" + "a." * 1_000 + "a]\n" + "b = 1\n", "a." * 1_000 + "a = 1\n[b]\n"],
    ids=["a deep header", "a deep key"],
)
def test_keys_however_deep_have_a_position(text: str) -> None:
    assert read(text).position(("a",)) == (1, 1)


def test_a_file_that_is_no_toml_is_refused(tmp_path: Path) -> None:
    place = tmp_path / "any.toml"
    place.write_text("a = \n")
    with pytest.raises(TomlFileError, match="It is not valid TOML"):
        read_toml(place)
