"""Goals in catches; that a flash is N and to qualify 2 N is common practice."""

import pytest

from throwcount.engine.practice.goals import Goal, goal_catches, goal_text


@pytest.mark.parametrize(
    ("goal", "objects", "catches", "text"),
    [
        ("flash", 5, 5, "flash"),
        ("qualify", 5, 10, "qualify"),
        ("flash", 3, 3, "flash"),
        (50, 3, 50, "50 catches"),
        (1, 7, 1, "1 catch"),
    ],
)
def test_goals(goal: Goal, objects: int, catches: int, text: str) -> None:
    assert goal_catches(goal, objects) == catches
    assert goal_text(goal) == text
