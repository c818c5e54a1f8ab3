"""The ground state of any number of objects, and how far from it a state is."""

from engine.patterns.pattern import Kind
from engine.patterns.states import State


def ground_states(kind: Kind, objects: int) -> tuple[State, ...]:
    """Return the ground state, or both where the hands throw together an odd number of objects.

    One object is due on each of the next turns, in each hand as evenly as can be; of an odd
    number either hand may have one more.
    """
    if kind == "async":
        return (((1,) * objects,),)
    fewer = (1,) * (objects // 2)
    more = (1,) * (objects - len(fewer))
    return ((more, fewer), (fewer, more)) if len(more) > len(fewer) else ((fewer, fewer),)


def turns_from_ground(state: State, objects: int) -> int:
    """Return the fewest turns that lead from the ground state to `state`, whatever their height.

    After r of them the objects not yet thrown are due without a gap on the first turns, so that
    the state has to have them there. In plain patterns no throw of such a way is higher than the
    state itself asks for.

    Parameters
    ----------
    state
        Of a pattern.
    """
    kind: Kind = "async" if len(state) == 1 else "sync"
    gapless = [_gapless(due) for due in state]
    return min(
        max(0, *(len(due) - free for due, free in zip(ground, gapless, strict=True)))
        for ground in ground_states(kind, objects)
    )


def _gapless(due: tuple[int, ...]) -> int:
    """Return on how many of the next turns some object is due, up to the first with none."""
    return next((turn for turn, count in enumerate(due) if not count), len(due))
