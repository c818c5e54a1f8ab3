"""How a set counts, from its marks."""

import pytest

from engine.practising.marks import Given, Mark, outcome, standing


@pytest.mark.parametrize(
    ("marks", "unmarked", "counts"),
    [
        ([], None, None),
        ([], "clean", "clean"),
        ([], "drop", "drop"),
        (["clean"], None, "clean"),
        (["clean"], "drop", "clean"),
        (["drop"], "clean", "drop"),
        (["clean", "drop"], None, "drop"),
        (["drop", "clean", "clean"], None, "drop"),
    ],
)
def test_a_drop_outweighs_and_silence_counts_as_agreed(
    marks: list[Mark], unmarked: Mark | None, counts: Mark | None
) -> None:
    assert outcome(marks, unmarked) == counts


@pytest.mark.parametrize(
    ("given", "stand"),
    [
        ("heard", "heard"),
        ("heard clean", "clean"),
        ("clean heard", "clean heard"),
        ("drop heard clean", "drop clean"),
        ("heard heard clean heard", "clean heard"),
        ("heard drop", "heard drop"),
    ],
)
def test_a_clean_mark_takes_back_the_drops_heard_before(given: str, stand: str) -> None:
    marks = {"heard": Given("drop", heard=True), "drop": Given("drop"), "clean": Given("clean")}
    left = standing(marks[each] for each in given.split())
    assert left == [marks[each] for each in stand.split()]
