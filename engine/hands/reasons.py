"""Reasons: what makes a pattern hard or easy, in sentences that a coach could say."""

from collections.abc import Iterator

from throwcount.engine.hands.work import Work
from throwcount.engine.patterns.flight import height


def reasons(work: Work, tempo: float) -> tuple[str, ...]:
    """Return the sentences for what hands do at a tempo, in beats a minute."""
    return tuple(_reasons(work, tempo))


def _reasons(work: Work, tempo: float) -> Iterator[str]:
    yield f"{_counted(work.objects, 'object')}."
    if work.highest:
        metres = height(work.highest.value, tempo, crossed=work.highest.crossed)
        yield f"The highest throw, {work.highest}, rises {metres:.1f} m."


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"
