"""Routine files of every kind: whatever is written is a routine or told, and nothing gets lost."""

import tomllib
from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from throwcount.caller.options.toml_file import TomlFile
from throwcount.caller.routine_file.model import MUSIC, PART, TOP, UNPRINTED
from throwcount.caller.routine_file.reading import RoutineFileError, check_document, read_routine
from throwcount.caller.routine_file.starter import toml_lines
from throwcount.engine.patterns.rules import read
from throwcount.engine.routines.routine import CUE_PLACES, MusicBeats, PatternPart, RestPart

FRAGMENTS = [
    *("[[part]]\n", "[music]\n", "[[part.part]]\n", "[words]\n", "part = ", "[", "]", "{", "}"),
    *('pattern = "', "531", "543", "(4,2x)*", '"\n', "rest = true\n", "repeat = ", "beats = "),
    *(
        "cycles = 3\n",
        "tempo = 99\n",
        "bar = 2\n",
        "7",
        "-1",
        "0x",
        "nan",
        "\\",
        "\0",
        "é",
        ",",
        "=",
    ),
]
ANY_TEXT = st.text() | st.lists(st.sampled_from(FRAGMENTS), max_size=12).map("".join)

ANY_VALUE = st.recursive(
    st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=5)
    | st.sampled_from(["3", "531", "543", "(4,2x)*", "2:1", "left", "walk.ogg", True, 1, 4, 120]),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["2", "part", *PART]), inner, max_size=3)
    ),
    max_leaves=6,
)
ANY_PART = st.recursive(
    st.dictionaries(st.sampled_from([*PART, "other"]), ANY_VALUE, max_size=5),
    lambda inner: st.fixed_dictionaries(
        {"part": st.lists(inner, max_size=3)}, optional={"repeat": ANY_VALUE, "rest": ANY_VALUE}
    ),
    max_leaves=4,
)
ANY_MUSIC = st.dictionaries(st.sampled_from([*MUSIC, "other"]), ANY_VALUE, max_size=5)


def check_told(faults: list[str]) -> None:
    assert faults
    assert len(set(faults)) == len(faults)
    for fault in faults:
        assert fault.splitlines()[0][-1] in ".?"


@given(text=ANY_TEXT)
def test_any_text_is_a_routine_or_told(tmp_path: Path, text: str) -> None:
    place = tmp_path / "any.toml"
    place.write_bytes(text.encode("utf-8", "surrogatepass"))
    try:
        assert read_routine(place).routine.parts
    except RoutineFileError as error:
        check_told([str(fault) for fault in error.faults])


@given(
    top=st.dictionaries(st.sampled_from([*TOP, "other"]), ANY_VALUE, max_size=4),
    music=st.none() | ANY_MUSIC | ANY_VALUE,
    parts=st.lists(ANY_PART, max_size=4) | ANY_VALUE,
)
def test_any_document_is_a_routine_or_told(
    top: dict[str, Any], music: object, parts: object
) -> None:
    whole = {**top, "part": parts} | ({} if music is None else {"music": music})
    document, faults = check_document(TomlFile(whole, ""), Path("/no/such/folder"))
    if faults:
        check_told([str(fault) for fault in faults])
    else:
        assert any(part.pattern is not None for part in document.order)


LINES = st.text(
    st.characters(exclude_categories=sorted(UNPRINTED), codec="utf-8"), min_size=1, max_size=12
)
TEMPOS = st.integers(10, 1000) | st.floats(10, 1000)
TOPS = st.fixed_dictionaries(
    {},
    optional={
        "title": LINES,
        "props": LINES,
        "ceiling": st.floats(2.5, 20),
        "hands": st.floats(0, 2),
        "dwell": st.floats(0.01, 0.99),
        "first": st.sampled_from(["right", "left"]),
        "count-in": st.integers(0, 64),
        "ready": st.floats(0, 3600),
        "cue-place": st.sampled_from(CUE_PLACES),
        "voice-level": st.floats(-60, 12),
        "words": st.dictionaries(
            st.sampled_from("029az"), LINES.filter(lambda text: text.strip()), max_size=3
        ),
    },
)
LENGTHS = st.one_of(
    st.fixed_dictionaries({"cycles": st.integers(1, 1_000_000)}),
    st.fixed_dictionaries({"beats": st.integers(1, 1_000_000)}),
    st.fixed_dictionaries({"seconds": st.floats(0.001, 86_400)}),
)
PATTERNS = st.fixed_dictionaries(
    {"pattern": st.sampled_from(["3", "531", "51", "900", "4 2 3", "(4x,2x)", "(4,2x)*"])},
    optional={
        "name": LINES,
        "cue": LINES,
        "cue-ahead": st.integers(1, 64),
        "how": LINES,
        "last-one": st.booleans(),
    },
)
OWN_TEMPOS = st.fixed_dictionaries({}, optional={"tempo": TEMPOS, "to": TEMPOS})
RATIOS = st.tuples(st.integers(1, 4), st.integers(1, 4)).map(lambda pair: f"{pair[0]}:{pair[1]}")
TO_MUSIC = st.fixed_dictionaries({}, optional={"throws": RATIOS})


def merged(*tables: st.SearchStrategy[dict[str, Any]]) -> st.SearchStrategy[dict[str, Any]]:
    return st.tuples(*tables).map(lambda each: {key: v for one in each for key, v in one.items()})


@st.composite
def documents(draw: st.DrawFn) -> dict[str, Any]:
    """Draw a document that is right: patterns of three objects, alone or in repeats."""
    musical = draw(st.booleans())
    one = merged(PATTERNS, LENGTHS, TO_MUSIC if musical else OWN_TEMPOS)
    repeat = st.fixed_dictionaries(
        {"repeat": st.integers(1, 3), "part": st.lists(one, min_size=1, max_size=2)}
    )
    document = dict(draw(TOPS))
    if musical:
        beats = st.lists(st.floats(0.3, 1.0), min_size=1, max_size=4)
        document["music"] = {"file": draw(LINES), "throws": draw(RATIOS)}
        document["music"]["beats"] = [sum([0.5, *steps]) for steps in _starts(draw(beats))]
    document["part"] = draw(st.lists(one | repeat, min_size=1, max_size=3))
    return document


def _starts(steps: list[float]) -> list[list[float]]:
    return [steps[:count] for count in range(len(steps) + 1)]


def written_out(parts: list[dict[str, Any]]) -> list[Mapping[str, Any]]:
    """Return the patterns as they come."""
    rows: list[Mapping[str, Any]] = []
    for part in parts:
        rows += part["part"] * part["repeat"] if "repeat" in part else [part]
    return rows


def ratio(text: str) -> Fraction:
    return Fraction(text.replace(":", "/"))


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
@given(document=documents())
@settings(max_examples=60)
def test_nothing_gets_lost(tmp_path: Path, document: dict[str, Any], ending: str) -> None:
    text = "".join(toml_lines(document))
    assert tomllib.loads(text) == document
    place = tmp_path / "right.toml"
    place.write_bytes(text.replace("\n", ending).encode())
    found = read_routine(place)
    assert found.title == document.get("title", "right")
    assert found.routine.first == document.get("first", "right")
    assert found.routine.count_in == document.get("count-in", 4)
    for key in ("props", "ceiling", "hands", "dwell", "cue-place", "voice-level"):
        assert getattr(found, key.replace("-", "_")) == document.get(key)
    words = {value.lower(): word.strip() for value, word in document.get("words", {}).items()}
    assert dict(found.words) == words
    music = document.get("music")
    if music is not None:
        beats = MusicBeats(tuple(music["beats"]), 4, ratio(music["throws"]))
        assert found.routine.music == beats
        assert found.music is not None
        assert found.music.path == tmp_path / music["file"]
    rows = written_out(document["part"])
    assert len(found.routine.parts) == len(rows)
    for part, row in zip(found.routine.parts, rows, strict=True):
        check_part(part, row)


def check_part(part: PatternPart | RestPart, row: Mapping[str, Any]) -> None:
    assert isinstance(part, PatternPart)
    assert part.pattern == read(row["pattern"])
    length = (part.length.cycles, part.length.beats, part.length.seconds)
    assert length == (row.get("cycles"), row.get("beats"), row.get("seconds"))
    assert (part.tempo, part.to) == (row.get("tempo"), row.get("to"))
    assert (part.name, part.how) == (row.get("name", ""), row.get("how", ""))
    assert (part.cue, part.cue_ahead) == (row.get("cue"), row.get("cue-ahead"))
    assert part.last_one == row.get("last-one", False)
    assert part.throws == (ratio(row["throws"]) if "throws" in row else None)
