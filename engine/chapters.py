"""The chapters of a piece: what comes when, for whoever reads a file and does not hear it."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

ChapterKind: TypeAlias = Literal["ready", "part", "bridge", "rest", "run-out"]


@dataclass(frozen=True, slots=True)
class Chapter:
    """A stretch of a piece with a name.

    Parameters
    ----------
    start, end
        In seconds from the first sample; a chapter ends where the next one starts.
    title
        What it is called.
    kind
        Filling the hands and the count-in, a pattern, the throws between two, a stop, or the
        catches after the last throw.
    """

    start: float
    end: float
    title: str
    kind: ChapterKind = "part"
