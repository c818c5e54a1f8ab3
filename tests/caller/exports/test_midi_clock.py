import math
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caller.exports.midi_clock import tempos

SLACK = 10.0
"""Microseconds: half a sample at 48 kHz is 10.4."""


def misses(times: list[float]) -> list[float]:
    """Return by how many microseconds each quarter note misses its time, added up exactly."""
    found = list(tempos(times))
    assert (found[0].quarter, found[0].start) == (0, 0)
    assert all(0 < tempo.length < 2**24 for tempo in found)  # FF 51 has three bytes
    assert all(before.quarter < after.quarter for before, after in pairwise(found))
    assert all(before.length != after.length for before, after in pairwise(found))
    missed, now = [], 0
    for quarter, time in enumerate(times):
        missed.append(abs(float(now - Fraction(time) * 1_000_000)))
        now += [tempo.length for tempo in found if tempo.quarter <= quarter][-1]
    return missed


@pytest.mark.parametrize("tempo", [120, 150, 140, 260, 137.3, 10, 1000, 60.00001])
def test_a_steady_tempo_takes_few_events(tempo: float) -> None:
    # Where a beat is not a whole number of microseconds, two lengths take turns, of which one is
    # too short by the fraction and the other too long by the rest of it; each may go on from one
    # end of the slack to the other.
    times = [60 * beat / tempo for beat in range(1000)]
    assert max(misses(times)) <= SLACK
    fraction = 60_000_000 / tempo % 1
    wanted = 1000 * fraction * (1 - fraction) / SLACK
    assert len(list(tempos(times))) <= wanted + 3


@given(st.lists(st.floats(0.06, 6.0), max_size=200))
def test_errors_never_add_up(gaps: list[float]) -> None:
    times = [math.fsum(gaps[:count]) for count in range(len(gaps) + 1)]
    assert max(misses(times)) <= SLACK + 1e-6
