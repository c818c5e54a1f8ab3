"""What `plan` says of a running order that is made by hand."""

from dataclasses import replace
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from throwcount.caller.plans.page import concern_sentences, highest, plan_document, plan_page
from throwcount.caller.routine_file.reading import RoutineFile
from throwcount.engine.patterns.flight import HIGH_CAUTION, Room
from throwcount.engine.patterns.pattern import Throw
from throwcount.engine.patterns.rules import read
from throwcount.engine.routines.routine import Length, PatternPart, RestPart, Routine
from throwcount.engine.routines.running_order import Concern, Entry, EntryKind, RunningOrder
from throwcount.engine.scheduling.cues import CueCall

GRAVITY = 9.80665
TWO, THREE, FOUR, FIVE = map(Throw, (2, 3, 4, 5))

CUE = CueCall(text="next the well", change=24, beat=20, time=9.5, seconds=1.0)
NEVER_SAID = replace(CUE, time=10.5, change=28, said=False, reason="It does not fit.")
BOW = replace(CUE, text="bow", time=16.0, change=48)
FIGURES = "beat beats time seconds tempo to objects change".split()


def row_of(
    kind: EntryKind,
    title: str,
    text: str,
    *figures: float,
    **others: Any,  # noqa: ANN401 - the other fields, each of its own type
) -> Entry:
    """Return a row with the `FIGURES` in this order."""
    named: dict[str, Any] = dict(zip(FIGURES, figures, strict=True))
    slowest, fastest = sorted([named["tempo"], named["to"]])
    limits = {"slowest": slowest, "fastest": fastest}
    return Entry(kind=kind, title=title, text=text, **named, **limits, **others)


ENTRIES = (
    row_of(
        *("part", "3", "3", 0, 24, 2.0, 8.0, 180, 180, 3, 0),
        number=1,
        throws=(THREE,),
        held={"right": 2, "left": 1},
    ),
    row_of(
        *("bridge", "3 to the well", "4 4 4 4", 24, 4, 10.0, 1.25, 180, 180, 4, 1),
        number=2,
        throws=(FOUR,),
        cue=CUE,
    ),
    row_of(
        *("part", "the well", "534", 28, 20, 11.25, 6.0, 180, 210, 4, 0),
        number=2,
        throws=(FIVE, FOUR, THREE),
        how="under the leg",
        cue=NEVER_SAID,
    ),
    row_of("rest", "bow", "", 48, 30, 17.25, 9.0, 200, 200, 4, 0, number=3, cue=BOW),
    row_of("part", "rest", "2", 78, 3725, 26.25, 3700.0, 200, 200, 2, -2, number=4, throws=(TWO,)),
)
ORDER = RunningOrder("The walk", ENTRIES, (), 3727.5, 3803, ())


def routine_file(*places: str) -> RoutineFile:
    parts = tuple(
        RestPart(length=Length(beats=30), name="bow")
        if number == 2
        else PatternPart(pattern=read("3"), length=Length(cycles=8))
        for number in range(len(places))
    )
    return RoutineFile(
        path=Path("walk.toml"),
        routine=Routine(title="The walk", parts=parts),
        places=places,
        props="lanterns",
    )


FILE = routine_file("1", "2.1", "2.2", "2.1")


def page(order: RunningOrder, room: Room | None = None, *notes: str, width: int = 100) -> list[str]:
    shown = StringIO()
    for part in plan_page(FILE, order, room or Room(), notes):
        Console(file=shown, width=width, markup=False).print(part)
    return [line.rstrip() for line in shown.getvalue().splitlines()]


def metres(value: int, tempo: float, dwell: float = 2 / 3) -> float:
    """Return a height by Shannon's theorem: F = (n - 2r) tau, h = g F^2 / 8."""
    return float(GRAVITY * ((value - 2 * dwell) * 60 / tempo) ** 2 / 8)


def test_rows_are_in_order_of_time_with_their_cue_calls() -> None:
    lines = page(ORDER)
    assert lines[0] == "The walk: 3 patterns and 1 rest, 1:02:08 long, lanterns."
    assert [line.split() for line in lines[2:12]] == [
        "part at what cycles beats tempo objects height (m)".split(),
        "hold right 2, left 1".split(),
        ["1", "0:02", "3", "24", "24", "180", "3", "3:", f"{1 + metres(3, 180):.2f}"],
        "0:10 cue: next the well".split(),
        ["0:10", *"bridge 4 4 4 4 4 180 4 (+1) 4:".split(), f"{1 + metres(4, 180):.2f}"],
        "cue, not said: next the well".split(),  # at no time, then
        [
            *("2", "(2.1)", "0:11", "the", "well:", "534,", "under", "the", "leg"),
            *("6", "+", "2", "20", "180-210", "4", "5:", f"{1 + metres(5, 180):.2f}"),
        ],
        "0:16 cue: bow".split(),
        "3 (2.2) 0:17 bow (rest) 30 200 4".split(),
        "4 (2.1) 0:26 rest: 2 3725 3725 200 2 (-2) -".split(),
    ]
    assert lines[-2] == "Beats after a + come after the last whole cycle."
    assert "Heights are those of the highest throw above the floor" in lines[-1]
    assert "whole cycle" not in page(replace(ORDER, entries=ENTRIES[:2]))[-2]
    assert max(map(len, page(ORDER, width=80))) <= 80


def test_a_column_for_the_bars_of_the_music() -> None:
    entries = [replace(entry, bar=1 + entry.beat / 8) for entry in ENTRIES]
    entries[0] = replace(entries[0], bar=3.0000000001)
    lines = page(replace(ORDER, entries=tuple(entries)))
    assert lines[2].split()[:4] == ["part", "at", "bar", "what"]
    assert lines[4].split()[:4] == ["1", "0:02", "3", "3"]
    assert lines[8].split()[:4] == ["2", "(2.1)", "0:11", "4.5"]


def test_what_is_too_high_is_marked() -> None:
    ceiling = 1 + metres(5, 180) - 0.01
    lines = page(ORDER, Room(ceiling))
    marked = [line for line in lines if line.endswith("!")]
    assert len(marked) == 1
    assert "534" in marked[0]
    told = " ".join(lines)
    assert f"the ceiling is at {ceiling:g} m" in told
    assert "leave room above for the object itself" in told
    assert not [line for line in page(ORDER, Room(ceiling + 0.02)) if line.endswith("!")]


def test_concerns_that_are_the_same_are_told_once_and_notes_follow() -> None:
    high = "The 5 is too high."
    concerns = [Concern(1, "cue", "It is late."), *(Concern(n, "ceiling", high) for n in (2, 2, 4))]
    lines = page(replace(ORDER, concerns=tuple(concerns)), None, "The music is missing.")
    assert [line for line in lines if line][-5:-2] == [
        "Part 1: It is late.",
        f"Parts 2 and 4: {high}",
        "The music is missing.",
    ]


def test_the_caution_for_high_throws_comes_once() -> None:
    high = [f"The {throw} is high. {HIGH_CAUTION}" for throw in "57"]
    concerns = tuple(Concern(number, "height", high[number % 2]) for number in (1, 2, 3))
    assert list(concern_sentences(replace(ORDER, concerns=concerns))) == [
        f"Parts 1 and 3: The 7 is high. {HIGH_CAUTION}",
        "Part 2: The 5 is high.",
    ]


@pytest.mark.parametrize(
    ("throws", "tempos", "room", "expected"),
    [
        ((FIVE, THREE), (180, 210), Room(), (FIVE, 1 + metres(5, 180))),
        ((FIVE, THREE), (210, 150), Room(hands=1.2), (FIVE, 1.2 + metres(5, 150))),
        ((FIVE,), (200, 200), Room(dwell=0.75), (FIVE, 1 + metres(5, 200, 0.75))),
        ((Throw(2, crossed=True), TWO), (120, 120), Room(), (Throw(2, crossed=True), None)),
        ((TWO, Throw(1)), (120, 120), Room(), None),
        ((), (120, 120), Room(), None),
    ],
)
def test_the_highest_throw_at_the_slowest_tempo(
    throws: tuple[Throw, ...],
    tempos: tuple[float, float],
    room: Room,
    expected: tuple[Throw, float | None] | None,
) -> None:
    entry = replace(ENTRIES[0], throws=throws, slowest=min(tempos), fastest=max(tempos))
    found = highest(entry, room)
    if expected is None:
        assert found is None
        return
    assert found is not None
    assert found[0] == expected[0]
    assert found[1] == pytest.approx(expected[1] or 1 + metres(2, 120), rel=1e-12)


def test_json_holds_all_of_it() -> None:
    concern = Concern(2, "ceiling", "The 5 is too high.")
    document = plan_document(FILE, replace(ORDER, concerns=(concern,)), Room(2.6), ["A note."])
    assert list(document)[:6] == ["file", "valid", "title", "props", "seconds", "beats"]
    assert (document["file"], document["title"], document["props"]) == (
        "walk.toml",
        "The walk",
        "lanterns",
    )
    assert (document["seconds"], document["beats"], document["ceiling"]) == (3727.5, 3803, 2.6)
    first, bridge, well, rest, last = document["entries"]
    assert first == {
        "kind": "part",
        "number": 1,
        "place": "1",
        "title": "3",
        "throws": "3",
        "how": "",
        "manners": [],
        "beat": 0,
        "beats": 24,
        "time": 2.0,
        "seconds": 8.0,
        "tempo": 180,
        "to": 180,
        "objects": 3,
        "change": 0,
        "start": {"right": 2, "left": 1},
        "highest": {"throw": "3", "floor_m": round(1 + metres(3, 180), 6), "fits": True},
        "highest_m": round(metres(3, 180), 6),
        "bar": None,
        "cue": None,
    }
    assert (bridge["kind"], bridge["change"], bridge["cue"]["text"]) == (
        "bridge",
        1,
        "next the well",
    )
    assert (well["place"], well["highest"]["fits"], well["how"]) == ("2.1", False, "under the leg")
    assert well["cue"]["said"] is False
    assert well["cue"]["reason"] == "It does not fit."
    assert (rest["kind"], rest["throws"], rest["highest"]) == ("rest", "", None)
    assert [entry["start"] for entry in (bridge, well, rest, last)] == [None] * 4
    assert last["highest"] is None
    assert document["concerns"] == [
        {"number": 2, "place": "2.1", "kind": "ceiling", "message": "The 5 is too high."}
    ]
    assert document["warnings"] == ["Part 2: The 5 is too high."]
    assert document["highest_m"] == round(metres(5, 180), 6) == well["highest_m"]
    assert rest["highest_m"] is None
    assert document["notes"] == ["A note."]
    assert plan_document(FILE, ORDER, Room())["entries"][0]["highest"]["fits"] is None
