"""The engine: what is thrown, by which hand, and when.

Conventions: a *beat* is the unit of musical time and is counted from zero at the first
throw; a *tempo* is in beats a minute; times are in seconds, heights in metres. An
alternating pattern has one throw a beat, the hands in turn; a synchronous pattern has a
pair of throws on every even beat. Nothing here touches sound, files, the terminal or the
clock.

The names in `HOMES` are for scripts:

>>> from throwcount.engine import default_tempo, height, read, state
>>> pattern = read("531")
>>> pattern.objects, default_tempo(pattern)
(3, 230)
>>> state(pattern)
((1, 1, 1),)
>>> round(height(5, 240, dwell=2 / 3), 2)
1.03

>>> from throwcount.engine import bridge, orbits
>>> [orbit.objects for orbit in orbits(read("51"))]
[3]
>>> len(bridge(read("3"), read("51")).throws)
1

>>> from throwcount.engine import HandLimits, PatternQuery, find
>>> query = PatternQuery(4, HandLimits("async", highest=6), periods=(3,))
>>> [pattern.text for pattern in find(query)]
['534', '552', '633', '642', '561', '660']

>>> from throwcount.engine import Part, Run, schedule, steady
>>> run = Run((Part(read("744"), beats=3),), steady(200))
>>> [round(beat.time, 2) for beat in schedule(run) if beat.throws.right or beat.throws.left]
[2.2, 2.5, 2.8]
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from throwcount.engine.patterns.flight import default_tempo as default_tempo
    from throwcount.engine.patterns.flight import height as height
    from throwcount.engine.patterns.pattern import Pattern as Pattern
    from throwcount.engine.patterns.rows import HandLimits as HandLimits
    from throwcount.engine.patterns.rules import read as read
    from throwcount.engine.patterns.states import orbits as orbits
    from throwcount.engine.patterns.states import state as state
    from throwcount.engine.scheduling.scheduler import schedule as schedule
    from throwcount.engine.search.bridges import bridge as bridge
    from throwcount.engine.search.find import PatternQuery as PatternQuery
    from throwcount.engine.search.find import find as find
    from throwcount.engine.timing.run import Part as Part
    from throwcount.engine.timing.run import Run as Run
    from throwcount.engine.timing.tempo import ramp as ramp
    from throwcount.engine.timing.tempo import steady as steady

HOMES = {
    "HandLimits": "patterns.rows",
    "Part": "timing.run",
    "Pattern": "patterns.pattern",
    "PatternQuery": "search.find",
    "Run": "timing.run",
    "bridge": "search.bridges",
    "default_tempo": "patterns.flight",
    "find": "search.find",
    "height": "patterns.flight",
    "orbits": "patterns.states",
    "ramp": "timing.tempo",
    "read": "patterns.rules",
    "schedule": "scheduling.scheduler",
    "state": "patterns.states",
    "steady": "timing.tempo",
}
"""The module of each name for scripts, below `throwcount.engine`."""


def __getattr__(name: str) -> object:
    """Return a name of `HOMES`; its module loads when it is first used."""
    if name not in HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{HOMES[name]}"), name)
