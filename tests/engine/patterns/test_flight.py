"""Heights and the tempos that follow from them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shannon import HEIGHTS

from throwcount.engine.errors import FlightError, TempoError
from throwcount.engine.patterns.flight import (
    FASTEST_DEFAULT,
    HIGH_CAUTION,
    TEMPO_STEP,
    Room,
    cautioned_once,
    default_tempo,
    default_tempo_reason,
    flight_beats,
    flight_seconds,
    hand_rate,
    height,
    tempo_for_height,
    tempo_warnings,
)
from throwcount.engine.patterns.pattern import Throw
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
    throw, room = Throw(value, crossed), Room(3, 1, dwell)
    assert (room.slowest_tempo(throw) is None) == (beats is None)
    assert (room.height(throw, 120) is None) == (beats is None)


@given(value=st.integers(3, 35), metres=st.floats(0.05, 20), dwell=st.floats(0.05, 0.95))
def test_tempo_for_a_height(value: int, metres: float, dwell: float) -> None:
    tempo = tempo_for_height(value, metres, dwell)
    assert tempo is not None
    assert height(value, tempo, dwell) == pytest.approx(metres, rel=RELATIVE)


def test_slowest_tempo_under_a_ceiling() -> None:
    assert Room().slowest_tempo(Throw(5)) is None
    tempo = Room(ceiling=2.5, hands=1.0).slowest_tempo(Throw(5))
    assert tempo is not None
    assert height(5, tempo) == pytest.approx(1.5, rel=RELATIVE)
    higher = height(5, tempo - 1)
    assert higher is not None
    assert higher > 1.5


@pytest.mark.parametrize(
    ("value", "tempos", "metres"),
    [
        # What jugglers keep, and how high their throws then rise above the hands: common practice.
        (3, (150, 200), (0.3, 0.7)),
        (4, (150, 240), (0.5, 1.0)),
        (5, (200, 240), (0.9, 1.5)),
        (7, (250, 310), (1.4, 2.2)),
        (9, (295, 345), (2.1, 3.0)),
    ],
)
def test_the_default_tempo_is_one_that_jugglers_keep(
    value: int, tempos: tuple[int, int], metres: tuple[float, float]
) -> None:
    tempo = default_tempo(read(str(value)))
    assert tempos[0] <= tempo <= tempos[1]
    assert metres[0] <= (height(value, tempo) or 0) <= metres[1]


def test_the_default_is_near_the_one_tempo_measured() -> None:
    """A skilled run of five objects had 0.229 s a beat, 262 a minute (Voss 2012).

    One run says nothing of others, so only the order of magnitude is asked for: within a fifth.
    """
    assert default_tempo(read("5")) == pytest.approx(60 / 0.229, rel=0.2)


@given(value=st.integers(3, 35), dwell=st.floats(0.05, 0.95))
def test_the_default_tempo_is_the_slowest_multiple_low_enough(value: int, dwell: float) -> None:
    room = Room(dwell=dwell)
    tempo = default_tempo(read(f"{Throw(value)}"), room=room)
    assert tempo % TEMPO_STEP == 0
    assert 150 <= tempo <= FASTEST_DEFAULT
    allowed = (value - 2) * 3 / 8
    if tempo < FASTEST_DEFAULT:
        assert (room.height(Throw(value), tempo) or 0) <= allowed * (1 + RELATIVE)
    if tempo > 150:
        assert (room.height(Throw(value), tempo - TEMPO_STEP) or 0) > allowed * (1 - RELATIVE)


@pytest.mark.parametrize(
    ("text", "tempo", "fragment"),
    [
        # (n - 2) 3/8 m take 60 (n - 4/3) / sqrt(3 (n - 2) / 9.80665) beats a minute: 180.8, 204.5,
        # 229.7, 253.1, 274.9, 295.3, 314.4, 332.4, 349.6, 366.1; the next multiple of 5 is taken.
        ("3", 185, "minute: the highest throw, 3, then rises 0.36 m"),
        ("4", 205, "minute: the highest throw, 4, then rises 0.75 m"),
        ("441", 205, "the highest throw, 4"),
        ("5", 230, "minute: the highest throw, 5, then rises 1.12 m"),
        ("6", 255, "rises 1.48 m"),
        ("7", 275, "rises 1.87 m"),
        ("8", 300, "rises 2.18 m"),
        ("9", 315, "rises 2.61 m"),
        ("a", 335, "rises 2.95 m"),
        ("b97531", 350, "the highest throw, b, then rises 3.37 m"),
        ("d", 360, "the fastest by default: the highest throw, d, then rises 4.63 m"),
        ("(4x,2x)", 205, "the highest throw, 4x"),
        ("(2x,2x)", 150, "the slowest by default: the highest throw, 2x"),
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


def test_patterns_that_share_a_tempo_get_that_of_the_highest_throw() -> None:
    patterns = [read(text) for text in ("3", "97531", "2")]
    assert default_tempo(*patterns) == default_tempo(read("97531")) == 315
    assert "the highest throw, 9," in default_tempo_reason(*patterns)
    assert default_tempo() == 150


@given(
    value=st.integers(1, 20),
    ceiling=st.floats(1.3, 6),
    hands=st.floats(0.5, 1.25),
    dwell=st.floats(0.05, 0.95),
)
def test_a_ceiling_wins_over_the_default(
    value: int, ceiling: float, hands: float, dwell: float
) -> None:
    room, throw, pattern = Room(ceiling, hands, dwell), Throw(value), read(f"{Throw(value)}")
    tempo, usual = default_tempo(pattern, room=room), default_tempo(pattern, room=Room(dwell=dwell))
    assert tempo >= usual
    if tempo < FASTEST_DEFAULT:
        assert hands + (room.height(throw, tempo) or 0) <= ceiling * (1 + RELATIVE)
    if tempo > usual:
        assert hands + (room.height(throw, tempo - TEMPO_STEP) or 0) > ceiling * (1 - RELATIVE)


@pytest.mark.parametrize(
    ("ceiling", "start"),
    [
        (2.2, "230 beats a minute: the highest throw"),
        (2.0, "245 beats a minute, for the ceiling at 2 m: the highest throw, 5, then rises 0.99"),
        # 775 beats a minute would do, and nobody keeps that up.
        (1.1, "360 beats a minute, the fastest by default: the highest throw, 5, then rises 0.46"),
    ],
)
def test_the_reason_names_a_ceiling_that_counts(ceiling: float, start: str) -> None:
    assert default_tempo_reason(read("531"), room=Room(ceiling)).startswith(start)


FIVE = [Throw(5), Throw(3), Throw(1)]


@pytest.mark.parametrize(
    ("throws", "tempos", "room", "told"),
    [
        (FIVE, (230, 230), Room(), {}),
        (FIVE, (230, 360), Room(), {}),
        (FIVE, (230, 230), Room(ceiling=2.2), {}),
        ([Throw(0), Throw(2)], (30, 900), Room(ceiling=1.1), {}),
        # (60 * 11/3 / 60)^2 g / 8 = 16.48 m; 220 / sqrt(24 / g) = 140.6 beats a minute.
        (FIVE, (60, 240), Room(), {"height": "The 5 rises 16.48 m above the hands at 60 beats a "
         "minute: 141 beats a minute would do."}),
        (FIVE, (120, 120), Room(ceiling=7), {"height": "4.12 m"}),
        # 3 m above the hands are less than this ceiling leaves.
        (FIVE, (60, 60), Room(ceiling=9), {"ceiling": "17.48 m above the floor, and the ceiling is "
         "at 9 m: 141 beats a minute would do."}),
        # 220 / sqrt(8 / g) = 243.6.
        (FIVE, (200, 200), Room(ceiling=2), {"ceiling": "The 5 rises 1.48 m above the hands at 200 "
         "beats a minute, 2.48 m above the floor, and the ceiling is at 2 m: 244 beats"}),
        (FIVE, (230, 400), Room(), {"hands": "At 400 beats a minute each hand's turn comes "
         "3.3 times a second; about 3 throws a second are the most that a hand keeps up (common "
         "practice): 360 would do, with the highest throw, 5, at 0.46 m."}),
        ([Throw(1)], (500, 500), Room(), {"hands": "(common practice): 360 would do."}),
        # An 11 takes 580 / sqrt(24 / g) = 370.8 to stay under 3 m.
        ([Throw(11)], (350, 350), Room(), {"height": "3.37 m above the hands at 350 beats a minute:"
         " only 371 beats a minute would do, more than hands keep up (common practice)."}),
        ([Throw(9)], (400, 400), Room(ceiling=2.5), {
            # 2 m for a 9 at 360, from the formula: (60 / 360 * 23/3)^2 g / 8 = 2.001 m.
            "ceiling": "only 416 beats a minute would do, more than hands keep up (common "
            "practice), or at 360 a ceiling at 3.01 m.",
            "hands": "At 360 the highest throw, 9, rises 2.00 m and reaches the ceiling at 2.5 m"}),
        ([Throw(2, crossed=True)], (20, 20), Room(), {"height": "The 2x rises 4.90 m"}),
    ],
)  # fmt: skip
def test_warnings(
    throws: list[Throw], tempos: tuple[float, float], room: Room, told: dict[str, str]
) -> None:
    found = {each.kind: each.sentence for each in tempo_warnings(throws, *tempos, room)}
    assert found.keys() == told.keys()
    for kind, fragment in told.items():
        assert fragment in found[kind]


@given(value=st.integers(3, 35), tempo=st.floats(30, 1000), ceiling=st.none() | st.floats(1.2, 9))
def test_the_tempo_that_would_do_does(value: int, tempo: float, ceiling: float | None) -> None:
    room, throws = Room(ceiling), [Throw(value)]
    for warning in tempo_warnings(throws, tempo, tempo, room):
        if warning.kind == "hands":
            continue
        enough = int(warning.sentence.partition(" would do")[0].split()[-4])
        assert enough > tempo
        assert {each.kind for each in tempo_warnings(throws, enough, enough, room)} <= {"hands"}
        kinds = {each.kind for each in tempo_warnings(throws, enough - 1, enough - 1, room)}
        assert kinds & {"ceiling", "height"}


def test_the_caution_is_in_the_first_of_several_sentences() -> None:
    high, low = ([Throw(9)], 200, 200), ([Throw(5)], 200, 200, Room(2))
    sentences = [each.sentence for given in (low, high, high) for each in tempo_warnings(*given)]
    assert [HIGH_CAUTION in each for each in sentences] == [False, True, True]
    assert [HIGH_CAUTION in each for each in cautioned_once(sentences)] == [False, True, False]


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
        Room(ceiling, hands)
