"""How well and how quickly thuds are found on synthesised takes, beside a general onset detector.

Run it with ``python tests/benchmarks/bench_thuds.py``, or give how many takes of each level
after it; 12 take some minutes. None of the takes is one that anything was set on. It prints:

- precision, recall and F-measure over all thuds of all takes, within 50 ms, without the call's
  sound and with it: ours, and librosa's with the settings that are best on these very takes. With
  the call, librosa gets the take as it is, where the call's onsets count against it, since it knows
  nothing of calls; and also the take that the call has been taken out of for it;
- the same for us on takes where the call is harder to find or to take out;
- seconds of work for a minute of a take.
"""

import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from time import perf_counter
from typing import Final

ROOT: Final = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "helpers")]

import numpy as np  # noqa: E402 - what follows is found on the path above
from agreement import Agreement, pooled  # noqa: E402
from called_takes import called_take  # noqa: E402
from hard_takes import HARD_TAKES  # noqa: E402
from heard_takes import BLOCK, heard_take, times_in  # noqa: E402
from other_detector import USUAL, best_on, onsets_with  # noqa: E402
from played import Recorded, played  # noqa: E402

from throwcount.sounds.echo.find_call import find_call  # noqa: E402
from throwcount.sounds.echo.removal import without_call  # noqa: E402
from throwcount.sounds.samples import RATE, Mono  # noqa: E402

TAKES: Final = 12
HARD: Final = 4
"""How many takes of each level: of the usual ones, and of each harder kind."""

FIRST: Final = 500
SECONDS: Final = 28.0
LEVELS: Final = (20, 10)

Take = tuple[Sequence[float], Mono]
"""When thuds are there, and the samples."""


@dataclass
class Takes:
    """The same takes without the call, with it, and with it taken out."""

    quiet: list[Take] = field(default_factory=list)
    called: list[Take] = field(default_factory=list)
    cleared: list[Take] = field(default_factory=list)


def usual(count: int, level: int) -> Takes:
    """Make takes."""
    takes = Takes()
    for seed in range(FIRST, FIRST + count):
        heard = heard_take(seed, level, SECONDS)
        quiet, called = heard.take.quiet, heard.take.called
        takes.quiet.append((quiet.thuds, quiet.samples))
        takes.called.append((called.thuds, called.samples))
        takes.cleared.append((called.thuds, heard.cleared))
    return takes


def ours(takes: Sequence[Take]) -> Agreement:
    """Return how well we do."""
    return pooled((there, times_in(samples)) for there, samples in takes)


def compared(takes: Takes) -> Iterator[str]:
    """Yield the lines of a table."""
    rows = (
        ("without the call", takes.quiet, (("librosa", takes.quiet),)),
        (
            "with the call",
            takes.cleared,
            (("librosa, as it is", takes.called), ("librosa, call taken out", takes.cleared)),
        ),
    )
    for title, cleared, others in rows:
        yield line(f"{title}: ours", ours(cleared))
        for name, given in others:
            settings, best = best_on(given)
            yield line(f"{title}: {name}", best) + f"   {settings}"


def line(title: str, agreed: Agreement) -> str:
    """Return a line of a table."""
    return f"  {title:42}{agreed.precision:10.3f}{agreed.recall:8.3f}{agreed.f:8.3f}"


def harder(name: str, level: int) -> str:
    """Return how well we do on takes of a harder kind."""
    takes = []
    for seed in range(FIRST, FIRST + HARD):
        heard = heard_take(seed, level, SECONDS, HARD_TAKES[name])
        takes.append((heard.take.called.thuds, heard.cleared))
    return line(f"{name}, {level} dB", ours(takes))


def work(count: int) -> Counter[str]:
    """Return the seconds of work that each step needs for a minute of a take."""
    spent: Counter[str] = Counter()
    for seed in range(FIRST, FIRST + count):
        take = called_take(seed, LEVELS[0], SECONDS)
        recorded, call = Recorded(take.called.samples), played(take.call)
        share = 60 * RATE / len(recorded.samples) / count
        moments = [perf_counter()]
        found = find_call(recorded, call)
        moments.append(perf_counter())
        assert found is not None
        cleared = np.concatenate(list(without_call(recorded.blocks(BLOCK), call, found)))
        moments.append(perf_counter())
        times_in(cleared)
        moments.append(perf_counter())
        onsets_with(USUAL, recorded.samples, RATE)
        moments.append(perf_counter())
        steps = ("find the call", "take it out", "find thuds", "librosa's onsets, once")
        spent.update(dict(zip(steps, share * np.diff(moments), strict=True)))
    return spent


def report(count: int) -> Iterator[str]:
    """Measure, and yield line after line."""
    yield f"{count} takes of {SECONDS:.0f} s a level{'precision':>27}{'recall':>8}{'F':>8}"
    both = Takes()
    for level in LEVELS:
        takes = usual(count, level)
        for mine, more in zip(vars(both).values(), vars(takes).values(), strict=True):
            mine.extend(more)
        yield f"{level} dB above the noise"
        yield from compared(takes)
    yield "both together, with one setting for librosa"
    yield from compared(both)
    yield f"harder takes with the call, {HARD} of each level: ours"
    yield from (harder(name, level) for name in HARD_TAKES for level in LEVELS)
    yield "seconds of work for a minute of a take"
    for step, seconds in work(min(count, HARD)).items():
        yield f"  {step:42}{seconds:10.2f}"


def main() -> None:
    """Print what was measured."""
    for told in report(int(sys.argv[1]) if len(sys.argv) > 1 else TAKES):
        sys.stdout.write(f"{told}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
