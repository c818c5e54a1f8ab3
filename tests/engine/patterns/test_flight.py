"""Heights and the tempos that follow from them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shannon import HEIGHTS

from throwcount.engine.errors import FlightError, TempoError
from throwcount.engine.patterns.flight import (
    default_tempo,
    default_tempo_reason,
    flight_beats,
    flight_seconds,
    hand_rate,
    height,
    slowest_tempo,
    tempo_for_height,
)
from throwcount.engine.patterns.rules import read

FOURTH_DECIMAL = 5e-5
RELATIVE = 1e-12


@pytest.mark.parametrize(("dwell", "value", "metres"), HEIGHTS)
def test_heights_at_four_beats_a_second(dwell: float, value: int, metres: float) -> None:
    assert height(value, 240, dwell, gravity=9.81) == pytest.approx(metres, abs=FOURTH_DECIMAL)


@given(
    objects=st.integers(2, 35),
    tempo=st.floats(30, 500),
    dwell=st.floats(0.05, 0.95),
)
def test_shannons_theorem(objects: int, tempo: float, dwell: float) -> None:
    """(F + D) H = (V + D) N, for N objects that are all thrown as N (Shannon)."""
    hands = 2
    flight = flight_seconds(objects, tempo, dwell, crossed=True)
    assert flight is not None
    hand_cycle = 60 / hand_rate(tempo)
    held = dwell * hand_cycle
    vacant = hand_cycle - held
    assert (flight + held) * hands == pytest.approx((vacant + held) * objects, rel=RELATIVE)


@given(
    value=st.integers(3, 35),
    tempo=st.floats(30, 500),
    dwell=st.floats(0.05, 0.95),
    steps=st.integers(10, 50),
)
def test_height_is_that_of_a_fall(value: int, tempo: float, dwell: float, steps: int) -> None:
    """Half the flight is a fall from rest: speed summed over equal steps, at their middles."""
    flight, metres = flight_seconds(value, tempo, dwell), height(value, tempo, dwell)
    assert flight is not None
    step = flight / 2 / steps
    fallen = math.fsum(9.80665 * (index + 0.5) * step * step for index in range(steps))
    assert metres == pytest.approx(fallen, rel=RELATIVE)


@pytest.mark.parametrize(
    ("value", "crossed", "dwell", "beats"),
    [
        (0, False, 2 / 3, None),
        (1, False, 2 / 3, None),
        (1, False, 1 / 2, None),
        (1, False, 1 / 4, 1 / 2),
        (2, False, 2 / 3, None),
        (2, False, 1 / 4, None),
        (2, True, 2 / 3, 2 / 3),
        (3, False, 1 / 2, 2.0),
        (4, True, 1 / 2, 3.0),
    ],
)
def test_what_flies(value: int, crossed: bool, dwell: float, beats: float | None) -> None:
    found = flight_beats(value, dwell, crossed=crossed)
    assert found == (None if beats is None else pytest.approx(beats, rel=RELATIVE))
    seconds = flight_seconds(value, 120, dwell, crossed=crossed)
    assert seconds == (None if beats is None else pytest.approx(beats / 2, rel=RELATIVE))
    assert (height(value, 120, dwell, crossed=crossed) is None) == (beats is None)
    assert (tempo_for_height(value, 1, dwell, crossed=crossed) is None) == (beats is None)
    assert (slowest_tempo(value, 3, 1, dwell, crossed=crossed) is None) == (beats is None)


@given(value=st.integers(3, 35), metres=st.floats(0.05, 20), dwell=st.floats(0.05, 0.95))
def test_tempo_for_a_height(value: int, metres: float, dwell: float) -> None:
    tempo = tempo_for_height(value, metres, dwell)
    assert tempo is not None
    assert height(value, tempo, dwell) == pytest.approx(metres, rel=RELATIVE)


def test_slowest_tempo_under_a_ceiling() -> None:
    tempo = slowest_tempo(5, ceiling=2.5, hands=1.0)
    assert tempo is not None
    assert height(5, tempo) == pytest.approx(1.5, rel=RELATIVE)
    higher = height(5, tempo - 1)
    assert higher is not None
    assert higher > 1.5


@pytest.mark.parametrize(
    ("text", "tempo", "fragment"),
    [
        # A metre takes 60 (n - 4/3) / sqrt(8 / 9.80665) beats a minute: 111, 177, 244 ...
        ("3", 150, "the slowest by default: the highest throw, 3, then rises 0.54 m"),
        ("4", 177, "minute: the highest throw, 4, then rises 1.00 m"),
        ("441", 177, "the highest throw, 4"),
        ("5", 240, "the fastest by default: the highest throw, 5, then rises 1.03 m"),
        ("b97531", 240, "the highest throw, b"),
        ("(4x,2x)", 177, "the highest throw, 4x"),
        ("(2x,2x)", 150, "the highest throw, 2x"),
        ("2", 150, "nothing leaves the hands"),
        ("1", 150, "nothing leaves the hands"),
        ("0", 150, "nothing leaves the hands"),
        ("(2,2)", 150, "nothing leaves the hands"),
    ],
)
def test_default_tempo(text: str, tempo: int, fragment: str) -> None:
    pattern = read(text)
    assert default_tempo(pattern) == tempo
    reason = default_tempo_reason(pattern)
    assert reason.startswith(f"{tempo} beats a minute")
    assert fragment in reason


@pytest.mark.parametrize("dwell", [0, 1, -0.1, 1.5, math.nan])
def test_dwell_out_of_range(dwell: float) -> None:
    with pytest.raises(FlightError, match="between 0 and 1"):
        height(5, 120, dwell)


@pytest.mark.parametrize("tempo", [0, -120, math.inf, math.nan])
def test_tempo_out_of_range(tempo: float) -> None:
    with pytest.raises(TempoError, match="over 0"):
        height(5, tempo)
    with pytest.raises(TempoError, match="over 0"):
        hand_rate(tempo)


@pytest.mark.parametrize("metres", [0, -1, math.inf, math.nan])
def test_height_out_of_range(metres: float) -> None:
    with pytest.raises(FlightError, match="more than 0 m"):
        tempo_for_height(5, metres)


@pytest.mark.parametrize(
    ("ceiling", "hands"), [(1.0, 1.0), (0.9, 1.0), (math.nan, 1), (math.inf, 1), (2.5, -1)]
)
def test_ceiling_out_of_range(ceiling: float, hands: float) -> None:
    with pytest.raises(FlightError, match="no room above hands"):
        slowest_tempo(5, ceiling, hands)
