"""Takes without sound, for what is told of them: thuds where they are said to be."""

from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from random import Random

from thud_times import Heard, catches_of

from throwcount.caller.reports.take import Expectation, HeardTake
from throwcount.engine.takes.catches import Catch
from throwcount.engine.takes.report import listen_report
from throwcount.sounds.echo.find_call import CallOnTake

BPM = 180.0
SD = 0.010


def on_time(_catch: Catch) -> float | None:
    """Be late by nothing but the juggler's spread."""
    return 0.0


@lru_cache
def told_take(  # noqa: PLR0913 - a take is made of that much
    pattern: str = "744",
    beats: int = 120,
    late: Callable[[Catch], float | None] = on_time,
    *,
    known: bool = True,
    bpm: float = BPM,
    sd: float = SD,
) -> HeardTake:
    """Return a take of which everything is heard: `late` in seconds, None for what is not."""
    random, catches = Random(1), catches_of(pattern, bpm, beats)
    times = [
        catch.time + off + random.gauss(0, sd)
        for catch in catches
        if (off := late(catch)) is not None
    ]
    seconds = catches[-1].time + 2
    thuds = [Heard(time) for time in sorted(times)]
    report = listen_report(thuds, seconds, catches if known else (), placed=known)
    asked = Expectation(title=f"{pattern} at {bpm:g} beats a minute" if known else "")
    call = CallOnTake(delay=0.0, drift=0.0, confidence=1.0) if known else None
    return HeardTake(Path("barn.wav"), asked, report, call, ())
