"""The demonstration: an evening's practice in an old boathouse, before a village lantern walk."""

from dataclasses import dataclass
from typing import Final

from caller.options.request import Request


@dataclass(frozen=True, slots=True)
class DemoSet:
    """One set: what is told about it, and what is asked for."""

    story: str
    request: Request


TITLE: Final = "An evening in the boathouse, a week before the lantern walk"

SETS: Final = (
    DemoSet(
        "Warming up. Three lanterns, and every throw is named on its beat.",
        Request(subject="441", tempo=150, cycles=8, ready=0.5),
    ),
    DemoSet(
        "The turn by the well: the tempo climbs with every throw, and the lanterns stay low.",
        Request(subject="531", tempo=150, to=210, cycles=8, ready=1.5),
    ),
    DemoSet(
        "Crossing the bridge, both hands at once; the left begins each cycle.",
        Request(subject="(4,2x)*", tempo=180, cycles=5, ready=1.5),
    ),
    DemoSet(
        "The finish on the green: five lanterns, two hundred and forty throws a minute.",
        Request(subject="744", tempo=240, cycles=10, ready=1.5),
    ),
)
