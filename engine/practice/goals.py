"""Goals of an attempt, in catches: a flash, a qualifying run, or a number.

A *flash* is every object thrown and caught once, a *qualifying* run every object twice (common
practice).
"""

from typing import Final, Literal, TypeAlias, get_args

NamedGoal: TypeAlias = Literal["flash", "qualify"]
Goal: TypeAlias = NamedGoal | int
"""A goal by its name, or a number of catches."""

NAMED_GOALS: Final[tuple[NamedGoal, ...]] = get_args(NamedGoal)
USUAL_RUNS: Final = (50, 100)
"""Runs, in catches, that jugglers keep count of (common practice)."""


def goal_catches(goal: Goal, objects: int) -> int:
    """Return the catches that meet a goal with so many objects."""
    if isinstance(goal, int):
        return goal
    return objects if goal == "flash" else 2 * objects


def usual_goals(objects: int) -> tuple[Goal, ...]:
    """Return the goals that jugglers keep count of, the fewest catches first."""
    every: tuple[Goal, ...] = (*NAMED_GOALS, *USUAL_RUNS)
    return tuple(sorted(every, key=lambda goal: goal_catches(goal, objects)))


def goal_text(goal: Goal) -> str:
    """Return a goal in words, such as "50 catches"."""
    if isinstance(goal, int):
        return "1 catch" if goal == 1 else f"{goal} catches"
    return goal
