"""How well thuds are found beside the call and without it, and better than by a general detector.

The takes are none of those that anything was set on. Precision and recall count every thud that is
on the take, whether it is a catch or not.
"""

from collections.abc import Sequence
from functools import lru_cache

import pytest
from agreement import agreement, pooled
from heard_takes import times_in, usual_take
from other_detector import best_on

from throwcount.sounds.samples import Mono

SEEDS = range(402, 405)
PROMISED = {20: 0.95, 10: 0.85}
"""Least precision and recall, by how far thuds are above the noise, in dB."""

MEASURED = {20: 0.985, 10: 0.97}
"""What all takes together reach, if nothing has become worse."""

Take = tuple[Sequence[float], Mono]
"""When thuds are there, and the samples."""


def takes(above_noise: int, kind: str) -> list[Take]:
    """Return takes without the call (quiet), with it (called), or with it taken out (cleared)."""
    heard = [usual_take(seed, above_noise) for seed in SEEDS]
    if kind == "cleared":
        return [(each.take.called.thuds, each.cleared) for each in heard]
    there = [each.take.quiet if kind == "quiet" else each.take.called for each in heard]
    return [(each.thuds, each.samples) for each in there]


@lru_cache
def found(above_noise: int, kind: str) -> list[tuple[Sequence[float], list[float]]]:
    return [(there, times_in(samples)) for there, samples in takes(above_noise, kind)]


@pytest.mark.parametrize("kind", ["quiet", "cleared"])
@pytest.mark.parametrize("above_noise", PROMISED)
def test_thuds_are_found_as_promised_on_every_take(above_noise: int, kind: str) -> None:
    for there, times in found(above_noise, kind):
        agreed = agreement(there, times)
        assert min(agreed.precision, agreed.recall) >= PROMISED[above_noise], agreed


@pytest.mark.parametrize("kind", ["quiet", "cleared"])
@pytest.mark.parametrize("above_noise", MEASURED)
def test_and_better_on_all_takes_together(above_noise: int, kind: str) -> None:
    agreed = pooled(found(above_noise, kind))
    assert min(agreed.precision, agreed.recall) >= MEASURED[above_noise], agreed


@pytest.mark.parametrize(
    ("ours", "theirs"), [("quiet", "quiet"), ("cleared", "called"), ("cleared", "cleared")]
)
def test_a_general_detector_finds_less(ours: str, theirs: str) -> None:
    """Its settings are those that are best on these very takes; see `other_detector`.

    It gets takes with the call as they are, where what it finds of the call counts against it, as
    it knows nothing of calls; and those that the call has been taken out of for it.
    """
    settings, best = best_on(take for level in PROMISED for take in takes(level, theirs))
    agreed = pooled(pair for level in PROMISED for pair in found(level, ours))
    assert agreed.f > best.f, settings
