"""A run as stretches without a stop: what is thrown between two rests."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from engine.errors import RunError
from engine.timing.run import Part, Rest, Run


@dataclass(frozen=True, slots=True)
class Section:
    """Parts that follow each other without a stop."""

    run: Run
    """These parts as a run of their own, whose beat 0 is their first throw. Its count-in is the
    one at the end of the rest before them. Its tempo is that of the whole, from the whole's
    beat 0 on."""
    first: int
    """The beat of the whole run on which they begin."""
    rest: Rest | None = None
    """The rest that follows; None after the last stretch."""

    @property
    def beats(self) -> int | None:
        """How long its throws go on; None without end."""
        last = self.run.closing
        return None if last.beats is None else sum(part.beats or 0 for part in self.run.throwing)


def sections(run: Run) -> Iterator[Section]:
    """Yield the stretches of a run in order.

    Raises
    ------
    RunError
        If a rest does not stand between two parts, or a part before the last never ends, or a
        part has no beats.
    """
    first, count_in = 0, run.count_in
    parts: list[Part] = []
    for part in run.parts:
        if part.beats is not None and part.beats < 1:
            raise RunError(f"{part.title} has {part.beats} beats; it needs at least one.")
        if isinstance(part, Part):
            parts.append(part)
            continue
        stretch = _section(run, parts, first, count_in, part)
        if stretch.beats is None:
            raise RunError(f"{run.closing.title} never ends, so that nothing can follow it.")
        yield stretch
        first += stretch.beats + part.beats
        parts, count_in = [], part.count_in
    yield _section(run, parts, first, count_in, None)


def _section(run: Run, parts: list[Part], first: int, count_in: int, rest: Rest | None) -> Section:
    if not parts:
        raise RunError("A rest stands between two parts, and neither opens nor closes a run.")
    for part in parts[:-1]:
        if part.beats is None:
            raise RunError(f"{part.title} never ends, so that nothing can follow it.")
    hand = parts[0].first or run.first
    alone = replace(run, parts=tuple(parts), first=hand, count_in=count_in, cues=())
    return Section(alone, first, rest)
