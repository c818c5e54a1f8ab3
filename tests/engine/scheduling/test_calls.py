"""What is said on each beat.

The count and the clicks drop out and come back.
"""

from dataclasses import replace

import pytest

from throwcount.engine.numbers import spoken
from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.calls import calls, is_heard, shorter_calls
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.timing.objects import Juggle
from throwcount.engine.timing.run import Fading, Part, Run, SayMode, Wording
from throwcount.engine.timing.tempo import steady


def called(text: str, beats: int, say: SayMode, wording: Wording | None = None) -> list[str | None]:
    run = Run((Part(read(text), beats),), steady(120), say=say, wording=wording or Wording())
    return [each.call for each in calls(Juggle(run.throwing, run.first), run)]


@pytest.mark.parametrize(
    ("text", "beats", "expected"),
    [
        ("531", 4, ["five", "three", "one", "stop"]),
        ("420", 4, ["four", "two", "zero", "stop"]),
        ("b1", 3, ["eleven", "one", "stop"]),
        ("[33]33", 4, ["double three", "three", "three", "stop"]),
        ("[333]", 3, ["triple three", "triple three", "stop"]),
        ("24[54]", 4, ["two", "four", "five four", "stop"]),
        ("(4,4)", 6, ["four", None, "four", None, "stop", None]),
        ("(4x,4x)", 6, ["four cross", None, "four cross", None, "stop", None]),
        ("(6x,4)*", 6, ["six cross", "four", "four", "six cross", "stop", None]),
        ("(4,2x)*", 6, ["four", "two cross", "two cross", "four", "stop", None]),
        ("([44x],2)*", 6, ["double four", "two", "two", "double four", "stop", None]),
        ("3", 1, ["stop"]),
    ],
)
def test_values(text: str, beats: int, expected: list[str | None]) -> None:
    assert called(text, beats, "values") == expected


@pytest.mark.parametrize(
    ("wording", "expected"),
    [
        (Wording(), ["eleven", "two", "two", "stop"]),
        (Wording(letters="plain"), ["b", "two", "two", "stop"]),
        (Wording(letters="spelled"), ["bravo", "two", "two", "stop"]),
        (Wording({"2": "hold"}), ["eleven", "hold", "hold", "stop"]),
        (Wording({"b": "way up", "2x": "over"}), ["way up", "two", "two", "stop"]),
    ],
)
def test_wording(wording: Wording, expected: list[str]) -> None:
    assert called("b22", 4, "values", wording) == expected


@pytest.mark.parametrize(
    ("own", "expected"),
    [
        ({"6x": "over"}, ["over", "four", "stop", None]),
        ({"6": "high"}, ["high cross", "four", "stop", None]),
        ({"6": "high", "6x": "over"}, ["over", "four", "stop", None]),
    ],
)
def test_a_crossing_throw_may_have_words_of_its_own(
    own: dict[str, str], expected: list[str | None]
) -> None:
    assert called("(6x,4)*", 4, "values", Wording(own)) == expected


def test_fewer_words_keep_how_many_or_the_value() -> None:
    run = Run((Part(read("24[54]"), 12), Part(read("(4,2x)*"), None)), steady(120))
    assert shorter_calls(run) == {"five four": "double", "two cross": "two"}
    assert shorter_calls(replace(run, say="position")) == {}


@pytest.mark.parametrize(
    ("text", "say", "expected"),
    [
        ("531", "position", ["one", "two", "three", "one", "two", "stop"]),
        ("(4,2x)*", "position", ["one", None, "two", None, "stop", None]),
        ("420", "hands", ["right", "left", None, "left", "right", "stop"]),
        ("(4,4)", "hands", ["both", None, "both", None, "stop", None]),
        ("3", "objects", ["A", "B", "C", "A", "B", "stop"]),
        ("(4,4)", "objects", ["A B", None, "C D", None, "stop", None]),
        ("531", "nothing", [*[None] * 5, "stop"]),
        ("(4,4)", "nothing", [*[None] * 4, "stop", None]),
    ],
)
def test_other_calls(text: str, say: SayMode, expected: list[str | None]) -> None:
    assert called(text, 6, say) == expected


# Every object thrown and caught once is a flash, twice a qualifying run (common practice).
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        # The throw of beat i is caught by beat i + 2: catch k + 1 on beat k + 2.
        ("3", {4: "flash", 7: "qualified", 11: "ten", 21: "twenty"}),
        ("5", {8: "flash", 13: "qualified", 23: "twenty"}),
        # Held twos are no catches: the throw of beat 2k is caught by beat 2k + 3.
        ("42", {7: "flash", 13: "qualified", 21: "ten"}),
        ("2", {}),
    ],
)
def test_tally(text: str, expected: dict[int, str]) -> None:
    said = called(text, 25, "tally")[:-1]
    assert {beat: call for beat, call in enumerate(said) if call} == expected


@pytest.mark.parametrize(
    ("asked", "expected"),
    [
        # As in the tally above: a flash on beat 4, a qualifying run on beat 7, ten on beat 11.
        ({"say": "tally"}, {4: "flash", 7: "qualified", 11: "ten", 12: "stop"}),
        ({"say": "tally", "milestones": False}, {11: "ten", 12: "stop"}),
        ({"say": "nothing"}, {12: "stop"}),
        ({"say": "nothing", "stop_word": False}, {}),
        ({"say": "nothing", "milestones": True}, {4: "flash", 7: "qualified", 12: "stop"}),
        ({"say": "tally", "stop_word": False}, {4: "flash", 7: "qualified", 11: "ten"}),
        # The count alone fades: ten falls into a cycle without it.
        (
            {"say": "tally", "fading": Fading(calls=2)},
            {4: "flash", 7: "qualified", 12: "stop"},
        ),
    ],
)
def test_what_else_is_called_has_options_of_its_own(
    asked: dict[str, object], expected: dict[int, str]
) -> None:
    run = Run((Part(read("3"), 13),), steady(120), **asked)
    said = [each.call for each in calls(Juggle(run.throwing, run.first), run)]
    assert {beat: call for beat, call in enumerate(said) if call} == expected


def test_milestones_take_the_place_of_values() -> None:
    run = Run((Part(read("3"), 9),), steady(120), milestones=True)
    said = [each.call for each in calls(Juggle(run.throwing, run.first), run)]
    assert said == [*["three"] * 4, "flash", "three", "three", "qualified", "stop"]


@pytest.mark.parametrize(
    ("beats", "expected"),
    [
        (9, ["five", "three", "one", "five", "three", "one", "last one", "three", "stop"]),
        (3, ["five", "three", "stop"]),  # the only cycle is not told to be the last one
        (7, ["five", "three", "one", "five", "last one", "one", "stop"]),
    ],
)
def test_the_last_cycle(beats: int, expected: list[str]) -> None:
    run = Run((Part(read("531"), beats, last_cycle="last one"),), steady(120))
    assert [each.call for each in calls(Juggle(run.throwing, run.first), run)] == expected


def test_names_of_objects() -> None:
    wording = Wording(object_names=("plum", "slate"))
    assert called("3", 5, "objects", wording) == ["plum", "slate", "C", "plum", "stop"]


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (0, "zero"),
        (13, "thirteen"),
        (20, "twenty"),
        (35, "thirty five"),
        (150, "one hundred fifty"),
        (215, "two hundred fifteen"),
        (1000, "one thousand"),
        (12_345, "twelve thousand three hundred forty five"),
    ],
)
def test_numbers(number: int, words: str) -> None:
    assert spoken(number) == words


@pytest.mark.parametrize("number", [-1, 1_000_000])
def test_numbers_out_of_range(number: int) -> None:
    with pytest.raises(ValueError, match=str(number)):
        spoken(number)


@pytest.mark.parametrize(
    ("text", "beats", "thrown", "caught"),
    [
        ("531", 7, 7, 7),
        ("420", 6, 4, 2),  # the 2 is held
        ("[33]33", 4, 6, 6),
        ("(4,2x)*", 6, 6, 6),
        ("(4,2)", 8, 8, 4),
        ("(4,4)", 3, 4, 4),
    ],
)
def test_objects_thrown(text: str, beats: int, thrown: int, caught: int) -> None:
    assert read(text).thrown_in(beats) == thrown
    assert read(text).caught_in(beats) == caught


@pytest.mark.parametrize(
    ("longest", "row"),
    [
        (0, "######"),
        (1, "#.#.#.#."),
        (2, "#.#..#.#..#."),
        (3, "#.#..#...#..#.#..#...#..#."),
    ],
)
def test_cycles_heard(longest: int, row: str) -> None:
    assert "".join("#" if is_heard(cycle, longest) else "." for cycle in range(len(row))) == row


def test_calls_and_clicks_fade_apart() -> None:
    run = Run((Part(read("51"), 12),), steady(120), fading=Fading(calls=1, clicks=2), count_in=2)
    beats = [beat for beat in schedule(run) if beat.cycle is not None]
    said = ["five", "one", None, None, "five", "one", None, None, "five", "one", None, "stop"]
    assert [beat.call for beat in beats] == said
    clicks = [beat.click is not None for beat in beats]
    assert clicks == [True] * 2 + [False] * 2 + [True] * 2 + [False] * 4 + [True] * 2


def test_stop_and_the_last_cycle_do_not_fade() -> None:
    run = Run((Part(read("51"), 8, last_cycle="last one"),), steady(120), fading=Fading(calls=5))
    said = [each.call for each in calls(Juggle(run.throwing, run.first), run)]
    assert said == ["five", "one", None, None, "five", "one", "last one", "stop"]
