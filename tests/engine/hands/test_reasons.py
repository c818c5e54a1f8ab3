"""The reasons: sentences with the numbers in them, and none that does not apply.

Heights are h = g F^2 / 8 with F = (n - 4/3) tau, by Shannon's theorem with a dwell ratio of 2/3.
"""

import pytest

from throwcount.engine.hands.difficulty import difficulty
from throwcount.engine.patterns.rules import read


@pytest.mark.parametrize(
    ("text", "tempo", "expected"),
    [
        (
            "531",
            240,
            (
                "3 objects; the highest throw, 5, rises 1.0 m, and the lowest, 1, goes straight "
                "across. A hand throws up to 2.0 times a second. Both hands must know 5, 3 and 1."
            ),
        ),
        (
            "51",
            240,
            (
                "3 objects; the highest throw, 5, rises 1.0 m, and the lowest, 1, goes straight "
                "across. A hand throws up to 2.0 times a second. It is one-sided: one hand makes "
                "5, the other 1. Begin with one side, and learn both. From the plain pattern it "
                "takes 1 other throw to get in."
            ),
        ),
        (
            "552",
            240,
            (
                "4 objects; the highest throw, 5, rises 1.0 m. A hand throws up to 2.0 times a "
                "second. On 1 of 3 turns a hand just holds, which is rest. Both hands must know 5 "
                "and 2. 2 high throws follow one another."
            ),
        ),
        (
            "5511",
            240,
            (
                "3 objects; the highest throw, 5, rises 1.0 m, and the lowest, 1, goes straight "
                "across. A hand throws up to 2.0 times a second. Both hands must know 5 and 1. 2 "
                "high throws follow one another. 2 1s follow one another, from hand to hand."
            ),
        ),
        (
            "40",
            240,
            (
                "2 objects; the highest throw, 4, rises 0.5 m. A hand throws up to 2.0 times a "
                "second. On 1 of 2 turns a hand is empty, which is rest."
            ),
        ),
        (
            "5",
            120,
            (
                "5 objects; the highest throw, 5, rises 4.1 m. A throw that high takes a hall, "
                "nothing overhead, nobody near, and a good reason. A hand throws up to 1.0 times a "
                "second."
            ),
        ),
        (
            "3",
            420,
            (
                "3 objects; the highest throw, 3, rises 0.1 m. A hand is hurried: it throws 3.5 "
                "times a second where it is busiest, and 3 are about the most that it can keep "
                "up."
            ),
        ),
        (
            "2",
            150,
            "2 objects; no throw is high enough to fly.",
        ),
        (
            "(4,2x)*",
            240,
            (
                "3 objects; the highest throw, 4, rises 0.5 m, and the lowest, 2x, hardly rises. A "
                "hand throws up to 2.0 times a second. Both hands must know 4 and 2x. 2 high "
                "throws follow one another. Both hands throw at once, and not the same."
            ),
        ),
        (
            "(4x,4x)",
            240,
            (
                "4 objects; the highest throw, 4x, rises 0.5 m. A hand throws up to 2.0 times a "
                "second. Both hands throw at once. Objects cross at the same height, and must not "
                "meet."
            ),
        ),
        (
            "[43]23",
            240,
            (
                "4 objects; the highest throw, 4, rises 0.5 m, and the lowest, 3, 0.2 m. A hand "
                "throws up to 2.0 times a second. On 1 of 3 turns a hand just holds, which is "
                "rest. Both hands must know [43], 3 and 2. A hand that throws has up to 2 objects "
                "in it."
            ),
        ),
    ],
)
def test_what_a_coach_could_say(text: str, tempo: float, expected: str) -> None:
    assert " ".join(difficulty(read(text), tempo).reasons) == expected
