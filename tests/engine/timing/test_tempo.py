"""Tempo curves against their published closed forms, quadrature and long decimals."""

import math
from decimal import Decimal, getcontext
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from throwcount.engine.errors import TempoError
from throwcount.engine.timing.tempo import Curve, Segment, TempoMap, ramp, ramp_beats, steady, steps

CURVES: list[Curve] = ["linear-beats", "linear-time", "ratio"]
SIX_DECIMALS = 5e-7
HOUR = 3600
SAMPLE = 1 / 48_000

tempos = st.floats(10, 1000)
lengths = st.integers(1, 20_000)
curves = st.sampled_from(CURVES)


# Recomputed from the closed forms: t(n) = (60/k) ln(1 + k n / b0) for a slope of k beats a minute
# a beat; (sqrt(b0^2 + 120 a n) - b0) / a for a beats a minute a second; (60/b0)(1 - r^-n) / ln r
# for a ratio r a beat. 60 to 120 beats a minute.
@pytest.mark.parametrize(
    ("curve", "beats", "beat", "time"),
    [
        ("linear-beats", 16, 1, 0.969994),
        ("linear-beats", 16, 16, 11.090355),
        ("linear-time", 24, 1, 0.970563),
        ("linear-time", 24, 24, 16.0),
        ("ratio", 16, 1, 0.978649),
        ("ratio", 16, 16, 11.541560),
    ],
)
def test_closed_forms(curve: Curve, beats: int, beat: int, time: float) -> None:
    assert ramp(60, 120, beats, curve).time_at(beat) == pytest.approx(time, abs=SIX_DECIMALS)


@pytest.mark.parametrize(("exponent", "cubed"), [(3, 0.5 * (60**3 + 120**3))])
def test_cubic_slowing(exponent: float, cubed: float) -> None:
    """The curve that Friberg & Sundberg (1999), q = 3, found to be among the best rated."""
    assert Segment(120, 60, 8, exponent).tempo_at(4) ** 3 == pytest.approx(cubed)


@pytest.mark.parametrize("exponent", [0, 0.5, 1, 2, 3])
@pytest.mark.parametrize(("start", "end"), [(60, 120), (260, 40), (150, 150), (120, 120.001)])
def test_time_is_the_integral_of_the_beat_length(exponent: float, start: float, end: float) -> None:
    segment = Segment(start, end, 100, exponent)
    for beat in (1, 17, 50.5, 100):
        expected, _ = quad(lambda at: 60 / segment.tempo_at(at), 0, beat, epsabs=1e-12)
        assert segment.time_at(beat) == pytest.approx(expected, rel=1e-10)


@pytest.mark.parametrize("rise", ["1e-6", "1e-9", "1e-12"])
def test_nearly_flat_ramps_keep_their_digits(rise: str) -> None:
    getcontext().prec = 50
    start, beats, beat = Decimal(120), Decimal(7200), Decimal(7199)
    end = Decimal(float(start + Decimal(rise)))
    slope = (end - start) / beats
    linear_beats = 60 / slope * (1 + slope * beat / start).ln()
    ratio = (end / start).ln() / beats
    constant_ratio = 60 / start * (1 - (-ratio * beat).exp()) / ratio
    acceleration = (end**2 - start**2) / (120 * beats)
    linear_time = ((start**2 + 120 * acceleration * beat).sqrt() - start) / acceleration
    for curve, exact in zip(CURVES, (linear_beats, linear_time, constant_ratio), strict=True):
        time = ramp(120, float(end), 7200, curve).time_at(7199)
        assert abs(Decimal(time) - exact) < Decimal("1e-9")


@given(tempos, tempos, lengths, curves, st.floats(0, 1))
def test_beats_and_seconds_invert_each_other(
    start: float, end: float, beats: int, curve: Curve, share: float
) -> None:
    tempo = steady(start, 3) + ramp(start, end, beats, curve) + steady(end)
    beat = share * (beats + 10)
    assert tempo.beat_at(tempo.time_at(beat)) == pytest.approx(beat, rel=1e-9, abs=1e-9)


@given(tempos, tempos, lengths, curves)
def test_ramps_reach_their_end_and_hold_it(
    start: float, end: float, beats: int, curve: Curve
) -> None:
    tempo = ramp(start, end, beats, curve)
    assert tempo.tempo_at(0) == pytest.approx(start)
    assert tempo.tempo_at(beats - 1e-9) == pytest.approx(end, rel=1e-6)
    assert tempo.tempo_at(beats) == end
    assert tempo.time_at(beats + 2) - tempo.time_at(beats + 1) == pytest.approx(60 / end)


@given(st.lists(st.tuples(tempos, tempos, lengths, curves), min_size=1, max_size=8))
def test_time_only_moves_forward(parts: list[tuple[float, float, int, Curve]]) -> None:
    tempo = TempoMap(tuple(s for part in parts for s in ramp(*part).segments))
    beats = [-4.0, -1.0, 0.0]
    for part in parts:
        beats += [beats[-1] + 0.5, beats[-1] + part[2]]
    times = [tempo.time_at(beat) for beat in beats]
    assert all(earlier < later for earlier, later in pairwise(times))


def test_a_thousand_parts_lose_nothing() -> None:
    """A thousand stretches of 7 beats at 133 are as exact as one of 7,000."""
    tempo = TempoMap(tuple(Segment(133, 133, 7) for _ in range(1000)))
    assert tempo.time_at(7000) == pytest.approx(60 * 7000 / 133, abs=1e-9)


def test_whole_number_trap() -> None:
    """Beats that fall exactly on a sample stay there: none is a sample early."""
    rate = 44_100
    checked = 0
    for tempo in range(40, 241):
        beats = steady(tempo)
        for beat in range(tempo * 5):
            samples, remainder = divmod(beat * 60 * rate, tempo)
            if remainder == 0:
                checked += 1
                assert round(beats.time_at(beat) * rate) == samples
    assert checked > 10_000


def test_an_hour_is_exact_to_far_less_than_a_sample() -> None:
    tempo = steady(133)
    for beat in range(0, 133 * 60, 7):
        exact = Decimal(60 * beat) / Decimal(133)
        assert abs(Decimal(tempo.time_at(beat)) - exact) < Decimal(SAMPLE) / 10_000


def test_before_the_first_beat_the_first_tempo_is_kept() -> None:
    tempo = ramp(60, 120, 8, "linear-beats")
    assert tempo.time_at(-4) == -4
    assert tempo.beat_at(-4) == -4
    assert tempo.tempo_at(-1) == 60


@pytest.mark.parametrize(
    ("start", "end", "step", "expected"),
    [
        (120, 135, 5, [120, 120, 125, 125, 130, 130, 135, 135, 135]),
        (120, 112, 5, [120, 120, 115, 115, 112, 112]),
        (120, 120, 5, [120, 120, 120]),
    ],
)
def test_steps(start: float, end: float, step: float, expected: list[float]) -> None:
    tempo = steps(start, end, step, every=2)
    assert [tempo.tempo_at(beat) for beat in range(len(expected))] == expected


@pytest.mark.parametrize("curve", CURVES)
def test_a_ramp_of_seconds_has_whole_beats(curve: Curve) -> None:
    beats = ramp_beats(60, 120, 60, curve)
    assert ramp(60, 120, beats, curve).seconds == pytest.approx(60, abs=0.5)
    assert ramp_beats(60, 120, 0.001, curve) == 1


@pytest.mark.parametrize(
    ("tempo", "fragment"),
    [(0, "0 beats a minute"), (-5, "-5"), (5000, "10 to 1000"), (math.nan, "nan")],
)
def test_tempos_out_of_range(tempo: float, fragment: str) -> None:
    with pytest.raises(TempoError, match=fragment):
        steady(tempo)


@pytest.mark.parametrize(("step", "every"), [(0, 4), (-5, 4), (5, 0)])
def test_steps_that_lead_nowhere(step: float, every: float) -> None:
    with pytest.raises(TempoError, match="lead nowhere"):
        steps(60, 120, step, every)


def test_a_segment_needs_a_length() -> None:
    with pytest.raises(TempoError, match="more than 0 beats"):
        Segment(60, 60, 0)


def test_maps_know_their_length() -> None:
    tempo = steady(60, 4) + steady(120, 4)
    assert (tempo.beats, tempo.seconds, tempo.end) == (8, 6, 120)
    assert tempo.time_at(10) == 7
    assert tempo.beat_at(7) == 10


@pytest.mark.parametrize(
    ("first", "last", "extremes"),
    [
        (0, 4, (60, 60)),
        (0, 5, (60, 120)),
        (4, 8, (120, 120)),
        (3, 9, (60, 120)),
        (8, 12, (100, 140)),
        (8, 10, (100, 120)),
        (9, 11, (110, 130)),
        (10, 14, (80, 140)),
        (13, 20, (80, 80)),
        (0, math.inf, (60, 140)),
    ],
)
def test_the_slowest_and_the_fastest_tempo_between_two_beats(
    first: float, last: float, extremes: tuple[float, float]
) -> None:
    tempo = steady(60, 4) + steady(120, 4) + ramp(100, 140, 4, "linear-beats") + steady(80, 1)
    assert tempo.extremes(first, last) == pytest.approx(extremes)


@given(st.lists(st.tuples(tempos, tempos, st.integers(1, 9)), min_size=1, max_size=5), st.data())
def test_no_beat_is_beyond_the_extremes(
    given_segments: list[tuple[float, float, int]], data: st.DataObject
) -> None:
    tempo = TempoMap(tuple(Segment(*each) for each in given_segments))
    beats = sum(each[2] for each in given_segments) + 3
    first = data.draw(st.integers(0, beats - 1))
    last = data.draw(st.integers(first + 1, beats))
    inside = [tempo.tempo_at(first + step / 8) for step in range(8 * (last - first))]
    slowest, fastest = tempo.extremes(first, last)
    assert slowest <= min(inside) * (1 + 1e-9)
    assert fastest >= max(inside) * (1 - 1e-9)
    ends = {each for segment in given_segments for each in segment[:2]}
    ends |= {inside[0], tempo.tempo_before(last)}
    assert {slowest, fastest} <= ends


@pytest.mark.parametrize("exponent", [0, 1, 2])
def test_an_hour_long_ramp_against_quadrature(exponent: float) -> None:
    segment = Segment(60, 260, 9600, exponent)
    expected, _ = quad(lambda at: 60 / segment.tempo_at(at), 0, 9600, epsabs=1e-9, limit=500)
    assert segment.seconds == pytest.approx(expected, abs=SAMPLE / 100)
    assert segment.seconds > HOUR / 4


@given(tempos, tempos, lengths, curves, st.floats(0, 1))
def test_what_follows_a_beat_goes_on_as_before(
    start: float, end: float, beats: int, curve: Curve, share: float
) -> None:
    tempo = steady(start, 3) + ramp(start, end, beats, curve).until(beats) + steady(end, 2)
    beat = share * (beats + 6)
    later = tempo.since(beat)
    for ahead in (0.0, 1.0, 2.5, beats / 2):
        passed = tempo.time_at(beat + ahead) - tempo.time_at(beat)
        assert later.time_at(ahead) == pytest.approx(passed, rel=1e-6, abs=1e-6)
