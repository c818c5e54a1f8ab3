"""Beats in a file: what `render --events` wrote, and what it never would have."""

import copy
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result
from hypothesis import given, settings
from hypothesis import strategies as st
from thud_times import Heard

from throwcount.caller.reports.take import beats_in
from throwcount.caller.terminal.text import WrongInputError
from throwcount.engine.takes.catches import expected_catches
from throwcount.engine.takes.report import listen_report
from throwcount.engine.timing.timeline import Beat

Document = dict[str, Any]


def written() -> Document:
    """Return twelve beats of a cascade as `render --events` has them, with what it has besides."""
    beats = [
        {
            "beat": beat,
            "time": 2.0 + beat / 3,
            "tempo": 180.0,
            "part": "3",
            "cycle": beat,
            "cycle_beat": 0,
            "throws": {"right": ["3"] if beat % 2 == 0 else [], "left": ["3"] if beat % 2 else []},
            "objects": {"right": ["A"] if beat % 2 == 0 else [], "left": ["B"] if beat % 2 else []},
            "click": None,
            "call": "three",
        }
        for beat in range(12)
    ]
    return {"sample_rate": 48_000, "seconds": 8.0, "beats": beats}


def put(path: Path, content: object) -> Path:
    path.write_text(content if isinstance(content, str) else json.dumps(content), encoding="utf-8")
    return path


def test_what_render_wrote_is_read(run: Callable[..., Result], tmp_path: Path) -> None:
    """The contract's file: times, throws and hands come back as they were written."""
    events = tmp_path / "e.json"
    done = run("render", "744", "--cycles", 4, "-o", tmp_path / "e.wav", "--events", events)
    assert done.exit_code == 0, done.stderr
    beats = beats_in(events)
    raw = json.loads(events.read_text(encoding="utf-8"))["beats"]
    assert [(beat.beat, beat.time, list(beat.throws.right)) for beat in beats] == [
        (each["beat"], each["time"], each["throws"]["right"]) for each in raw
    ]
    assert len(list(expected_catches(beats))) == 12
    clicks = [beat.click and beat.click.hands for beat in beats]
    assert clicks == [each["click"] for each in raw]
    assert any(clicks)


def changed(**fields: object) -> Document:
    document = written()
    document["beats"][5].update(fields)
    return document


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ("", "is not valid JSON"),
        ("[" * 100_000, "is not valid JSON"),
        ("[]", "should be an object, in braces"),
        ("{}", "beats: Field required"),
        ({"beats": []}, "at least 1 item"),
        (changed(time=-1), "Entry 6 of its beats, time: Input should be greater"),
        (changed(time="soon"), "Entry 6 of its beats, time: Input should be a valid number"),
        (changed(time=1e300), "Entry 6 of its beats, time: Input should be less"),
        (changed(tempo=0), "Entry 6 of its beats, tempo"),
        (changed(tempo=1e300), "Entry 6 of its beats, tempo"),
        (changed(beat=10**30), "Entry 6 of its beats, beat"),
        (changed(throws={"right": ["zz"]}), 'beat 5: "zz" is no throw'),
        (changed(beat=9), "beat 9 at 3.66667 s comes after beat 4"),
        (changed(time=1.0), "beat 5 at 1 s comes after beat 4"),
    ],
)
def test_what_is_none_is_told_in_a_sentence(tmp_path: Path, content: object, told: str) -> None:
    path = put(tmp_path / "e.json", content)
    with pytest.raises(WrongInputError) as problem:
        beats_in(path)
    assert told in problem.value.message
    assert str(path) in problem.value.message
    assert "_" not in problem.value.message.replace(str(path), "")


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(WrongInputError, match="cannot be read"):
        beats_in(tmp_path / "none.json")


ANYTHING = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**20), 10**20)
    | st.floats()
    | st.text(max_size=5)
    | st.sampled_from(["3", "4x", "z", 0.5, 1e6]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=4,
)
PLACES = ("beat", "time", "tempo", "part", "cycle", "cycle_beat", "throws", "objects")


@settings(
    max_examples=80,
    derandomize=True,
)
@given(
    changes=st.lists(
        st.tuples(st.integers(0, 11), st.sampled_from(PLACES), ANYTHING), min_size=1, max_size=3
    ),
    cut=st.integers(1, 12),
)
def test_no_file_of_beats_is_a_fault(
    tmp_path: Path, changes: list[tuple[int, str, object]], cut: int
) -> None:
    document = copy.deepcopy(written())
    for entry, name, value in changes:
        document["beats"][entry][name] = value
    document["beats"] = document["beats"][:cut]
    path = put(tmp_path / "e.json", document)
    beats = read_or_refused(path)
    thuds = [Heard(3.1 + index / 3) for index in range(12)]
    report = listen_report(thuds, 9.0, tuple(expected_catches(beats)), placed=True)
    assert 0 <= report.confidence <= 1


def read_or_refused(path: Path) -> list[Beat]:
    """Return the beats in a file; none where it is refused, in sentences."""
    try:
        return beats_in(path)
    except WrongInputError:
        return []
