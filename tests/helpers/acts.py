"""Acts as a timeline with chapters, short enough for a test, with all that a timeline may hold."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise

from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import Chapter, schedule
from throwcount.engine.timing.run import Part, Rest, Run, clock_of
from throwcount.engine.timing.tempo import TempoMap, ramp, steady
from throwcount.engine.timing.timeline import Cue, Timeline


@dataclass(frozen=True, slots=True)
class Act:
    """What is exported."""

    timeline: Timeline
    chapters: tuple[Chapter, ...]
    title: str


def one_pattern(text: str, beats: int, tempo: TempoMap, ready: float = 1.0) -> Timeline:
    return schedule(Run((Part(read(text), beats),), tempo, ready=ready))


def act(
    titles: Sequence[str] = ("531", "531 to 51", "bow", "pairs", "[33]33"),
    cues: Sequence[str] = ("next bow", "ten seconds", "next pairs"),
    title: str = "Evening act",
) -> Act:
    """Return an act: a pattern, a bridge, a rest, pairs as the tempo rises, a rest, a multiplex.

    Parameters
    ----------
    titles
        Of its parts but for the second rest.
    cues
        What announces the rest, what is said in it, and what announces the pairs.
    title
        Of the whole.
    """
    first, bridge, rest, pairs, last = titles
    parts = (
        Part(read("531"), 30, first, how="under the leg"),
        Part(read("3"), 1, bridge),
        Rest(80, rest),
        Part(read("(4,2x)*"), 24, pairs),
        Rest(20, "pause"),
        Part(read("[33]33"), 31, last),
    )
    run = Run(
        parts,
        steady(260, 111) + ramp(200, 260, 40, "linear-time"),
        announcement="five three one",
        announcement_seconds=2.0,
    )
    time = clock_of(run).time_at
    names = [part.title for part in parts]
    edges = list(accumulate([part.beats or 0 for part in parts], initial=0))
    timeline = schedule(run)
    said = (
        Cue(time(20), cues[0], change=31, seconds=1.0),
        Cue(time(45), cues[1], seconds=1.0),
        Cue(time(95), cues[2], change=111, seconds=1.0),
    )
    kinds = ("part", "bridge", "rest", "part", "rest", "part")
    between = (
        Chapter(time(start), time(end), name, kind)
        for (start, end), name, kind in zip(pairwise(edges), names, kinds, strict=True)
    )
    ends = timeline.seconds or 0.0
    chapters = (
        Chapter(0.0, time(0), "getting ready", "ready"),
        *between,
        Chapter(time(edges[-1]), ends, "the last catches", "run-out"),
    )
    return Act(replace(timeline, cues=(*timeline.cues, *said)), chapters, title)
