"""The demonstration: an evening's practice in an old boathouse, before a village lantern walk."""

from dataclasses import dataclass
from typing import Final

from caller.options.shared_options import Options


@dataclass(frozen=True, slots=True)
class DemoSet:
    """One set: what is told about it, the pattern, how it is called, and the rest before it."""

    story: str
    pattern: str
    options: Options
    ready: float


TITLE: Final = "An evening in the boathouse, a week before the lantern walk"

SETS: Final = (
    DemoSet(
        "Warming up. Three lanterns, and every throw is named on its beat.",
        "441",
        Options(tempo=150, cycles=8),
        ready=0.5,
    ),
    DemoSet(
        "The turn by the well: the tempo climbs with every throw, and the lanterns stay low.",
        "531",
        Options(tempo=150, to=210, cycles=8),
        ready=1.5,
    ),
    DemoSet(
        "Crossing the bridge, both hands at once; the left begins each cycle.",
        "(4,2x)*",
        Options(tempo=180, cycles=5),
        ready=1.5,
    ),
    DemoSet(
        "The finish on the green: five lanterns, two hundred and forty throws a minute.",
        "744",
        Options(tempo=240, cycles=10),
        ready=1.5,
    ),
)
