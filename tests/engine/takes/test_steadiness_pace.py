"""The tempo over time, on takes whose tempo is known."""

from random import Random

import numpy as np
import pytest
from thud_times import Manner, catches_of, take_of

from throwcount.engine.takes.alignment import Aligned, align, align_to_grid
from throwcount.engine.takes.catches import thuds_of
from throwcount.engine.takes.steadiness import KeptTempo, kept_tempos
from throwcount.engine.timing.tempo import TempoMap, ramp, steady

NOTICED = 0.015
"""The change of tempo that people notice at best, as a share (Drake & Botte 1993)."""


def paces_in(aligned: Aligned) -> tuple[KeptTempo, ...]:
    return kept_tempos(aligned)


def paces(tempo: TempoMap, slower: float = 0.0, *, placed: bool = True) -> tuple[KeptTempo, ...]:
    catches = catches_of("3", tempo, 300)
    random = Random(2)
    late = [random.gauss(0, 0.012) + slower * (catch.time - catches[0].time) for catch in catches]
    take = take_of(catches, random, Manner(), asynchronies=late)
    aligned = align(catches, thuds_of(take.thuds), take.seconds, placed=placed)
    assert aligned is not None
    return paces_in(aligned)


def test_a_steady_tempo() -> None:
    found = paces(steady(200))
    assert len(found) > 15
    for each in found:
        assert each.tempo == pytest.approx(200, rel=NOTICED)
        assert each.asked == pytest.approx(200)
        assert each.heard > 10
    off = [(each.tempo - 200) / each.uncertainty for each in found]
    assert 0.5 < np.std(off) < 1.6


def test_a_ramp() -> None:
    found = paces(ramp(140, 240, 300, "linear-time"))
    tempos = [each.tempo for each in found]
    assert tempos[0] == pytest.approx(145, abs=5)
    assert tempos[-1] == pytest.approx(236, abs=6)
    for each in found:
        assert each.tempo == pytest.approx(each.asked, rel=NOTICED)


def test_a_pace_of_their_own_against_the_tempo_that_was_asked_for() -> None:
    for each in paces(steady(200), slower=0.04, placed=False):
        assert each.tempo == pytest.approx(200 / 1.04, rel=NOTICED)
        assert each.asked == pytest.approx(200)


def test_catches_a_minute_where_no_pattern_is_known() -> None:
    places = [index * 0.3 for index in range(200)]
    take = take_of(catches_of("3", 200, 10), Random(0))
    heard = [type(take.thuds[0])(place + 0.01) for place in places]
    for each in paces_in(align_to_grid(places, thuds_of(heard))):
        assert each.tempo == pytest.approx(200, rel=1e-3)
        assert each.asked is None


def test_windows_grow_with_the_take() -> None:
    places = [index * 0.3 for index in range(6000)]
    thud = type(take_of(catches_of("3", 200, 10), Random(0)).thuds[0])
    found = paces_in(align_to_grid(places, thuds_of([thud(place) for place in places])))
    assert 55 <= len(found) <= 61


def test_too_few_catches() -> None:
    catches = catches_of("3", 200, 4)
    take = take_of(catches, Random(0), Manner(missing=0, extra=0))
    aligned = align(catches, thuds_of(take.thuds), take.seconds, placed=True)
    assert aligned is not None
    assert paces_in(aligned) == ()
