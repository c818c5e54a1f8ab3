"""How a set counts, from its marks."""

import pytest

from engine.marks import Mark, outcome


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
