"""How well times that were found agree with those that are there.

The measure is that of the field for onsets, by mir_eval (Raffel et al., mir_eval: a transparent
implementation of common MIR metrics, ISMIR 2014): a time that was found is right when it can be
matched, one to one, with one that is there, at most 50 ms from it. It is asked for one question
of fact only, so that no figure of ours depends on code of ours.
"""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np
from mir_eval.onset import f_measure
from mir_eval.util import match_events

WINDOW_SECONDS = 0.05
LONGEST = 200.0
"""Seconds that no take lasts."""


class Agreement(NamedTuple):
    """F-measure, precision and recall, each from 0 to 1."""

    f: float
    precision: float
    recall: float


def agreement(there: Sequence[float], found: Sequence[float]) -> Agreement:
    """Return how well times agree, in seconds and in order; some must be on both sides."""
    assert there, "nothing is there to be found"
    assert found, "nothing was found"
    return Agreement(*f_measure(np.array(there), np.array(found), window=WINDOW_SECONDS))


def pooled(takes: Iterable[tuple[Sequence[float], Sequence[float]]]) -> Agreement:
    """Return how well times agree on all takes together, laid end to end.

    Parameters
    ----------
    takes
        Of each take, the times that are there and those that were found.
    """
    there: list[float] = []
    found: list[float] = []
    for index, take in enumerate(takes):
        for times, more in zip((there, found), take, strict=True):
            times.extend(index * LONGEST + time for time in more)
    return agreement(there, found)


def errors(there: Sequence[float], found: Sequence[float]) -> list[float]:
    """Return by how much each time that was rightly found is late, in seconds."""
    pairs = match_events(np.array(there), np.array(found), WINDOW_SECONDS)
    return [found[later] - there[first] for first, later in pairs]
