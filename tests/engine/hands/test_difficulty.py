"""The difficulty: each part by hand, the scale, the tempo that is easiest, and what never changes.

Flights are those of Shannon's theorem, F = (n - 2r) tau, with a dwell ratio r of 2/3 (Kalvan 1997).
"""

import math
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from throwcount.engine.errors import TempoError
from throwcount.engine.hands.difficulty import Difficulty, difficulty, difficulty_of_throws
from throwcount.engine.hands.work import TurnOfHand, hand_turns
from throwcount.engine.patterns.flight import default_tempo
from throwcount.engine.patterns.pattern import Pattern, Throw, rotations, swapped
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.rules import read
from throwcount.engine.search.find import PatternQuery, find

TEMPO = 240
BEAT = 1 / 4
"""Seconds."""
FIVE, FOUR, THREE, TWO = (value - 4 / 3 for value in (5, 4, 3, 2))
"""Beats in the air."""


def of(text: str, tempo: float | None = None) -> Difficulty:
    return difficulty(read(text), tempo)


def weighed(hardest: float, whole: float) -> float:
    return 2 / 3 * hardest + 1 / 3 * whole


def deviation(*flights: float) -> float:
    mean = math.fsum(flights) / len(flights)
    return math.sqrt(math.fsum((flight - mean) ** 2 for flight in flights) / len(flights))


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("3", {"flight": 2.5 * BEAT * THREE, "pace": 1.3 * 2, "objects": 3}),
        (
            "531",
            {
                "objects": 3,
                "flight": 2.5 * BEAT * weighed(FIVE, math.sqrt((FIVE**2 + THREE**2) / 3)),
                "pace": 1.3 * 2,
                "mixture": BEAT * deviation(FIVE, THREE, 0),
                "acts": 0.08 * 4,
            },
        ),
        (
            # A hold is no flight, and a turn on which nothing is thrown.
            "423",
            {
                "objects": 3,
                "flight": 2.5 * BEAT * weighed(FOUR, math.sqrt((FOUR**2 + THREE**2) / 3)),
                "pace": 1.3 * weighed(2, 4 / 3),
                "mixture": BEAT * deviation(FOUR, 0, THREE),
                "acts": 0.08 * 4,
            },
        ),
        (
            # One object stays in a hand, and each hand knows one thing.
            "42",
            {
                "objects": 2 + 0.25,
                "flight": 2.5 * BEAT * weighed(FOUR, math.sqrt(FOUR**2 / 2)),
                "pace": 1.3 * 2,
                "mixture": BEAT * FOUR / 2,
            },
        ),
        (
            # An empty hand is a rest, and no height of its own.
            "55500",
            {
                "objects": 3,
                "flight": 2.5 * BEAT * weighed(FIVE, math.sqrt(3 * FIVE**2 / 5)),
                "pace": 1.3 * weighed(2, 6 / 5),
                "rows": 0.15 * 2,
            },
        ),
        (
            "51",
            {
                "objects": 3,
                "flight": 2.5 * BEAT * weighed(FIVE, math.sqrt(FIVE**2 / 2)),
                "pace": 1.3 * 2,
                "mixture": BEAT * FIVE / 2,
                "entry": 0.25,
            },
        ),
        (
            "5511",
            {
                "objects": 3,
                "flight": 2.5 * BEAT * weighed(FIVE, math.sqrt(FIVE**2 / 2)),
                "pace": 1.3 * 2,
                "mixture": BEAT * FIVE / 2,
                "acts": 0.08 * 2,
                "rows": 0.15 + 1,
            },
        ),
        (
            "[33]33",
            {
                "objects": 4,
                "flight": 2.5 * BEAT * weighed(THREE, math.sqrt(4 * THREE**2 / 3)),
                "pace": 1.3 * 2,
                "acts": 0.08 * 2,
                "at_once": weighed(1, 1 / 3),
            },
        ),
        (
            "(4,2x)*",
            {
                "objects": 3,
                "flight": 2.5 * BEAT * weighed(FOUR, math.sqrt((FOUR**2 + TWO**2) / 2)),
                "pace": 1.3 * 2,
                "mixture": BEAT * (FOUR - TWO) / 2,
                "acts": 0.08 * 2,
                "rows": 0.15,
                "together": 0.15 + 0.25,
            },
        ),
        (
            "(4x,4x)",
            {
                "objects": 4,
                "flight": 2.5 * BEAT * FOUR,
                "pace": 1.3 * 2,
                "together": 0.15 + 0.5,
            },
        ),
        ("2", {"objects": 0.5}),
        ("0", {}),
    ],
)
def test_each_part(text: str, parts: dict[str, float]) -> None:
    found = of(text, TEMPO)
    names = "objects flight pace mixture acts rows entry at_once together limits".split()
    for name in names:
        assert getattr(found, name) == pytest.approx(parts.get(name, 0)), name
    assert found.points == pytest.approx(math.fsum(parts.values()))


def test_limits_of_hands_and_rooms() -> None:
    # At 420 beats a minute a hand throws 3.5 times a second, half a throw more than is kept up.
    assert of("3", 420).limits == pytest.approx(4 * 0.5)
    assert of("3", 360).limits == 0
    # h = g F^2 / 8: at 120 beats a minute a 5 flies 11/6 s and rises 4.12 m.
    assert of("5", 120).limits == pytest.approx(9.80665 * (11 / 6) ** 2 / 8 - 3)


@pytest.mark.parametrize("objects", [0, *range(3, 36)])
def test_a_plain_pattern_has_its_number_of_objects(objects: int) -> None:
    assert of("0123456789abcdefghijklmnopqrstuvwxyz"[objects]).number == pytest.approx(objects)


def test_between_and_beyond_plain_patterns() -> None:
    three, four = (of(text).points for text in "34")
    assert of("441").number == pytest.approx(3 + (of("441").points - three) / (four - three))
    # No points are 0, and half of those of the plain 3 are half of 3.
    assert of("2").number == pytest.approx(3 * of("2").points / three)
    assert of("z", 10).number > 35


USUAL_TEMPOS = {"3": (150, 200), "5": (200, 240), "7": (250, 310), "9": (295, 345)}
"""Beats a minute at which these patterns are usually thrown (common practice)."""


@pytest.mark.parametrize("text", USUAL_TEMPOS)
def test_the_easiest_tempo_is_a_usual_one(text: str) -> None:
    slowest, fastest = USUAL_TEMPOS[text]
    assert slowest <= min(range(60, 500), key=lambda tempo: of(text, tempo).points) <= fastest


def test_a_run_measured_on_film_was_at_a_tempo_nearly_as_easy_as_any() -> None:
    # 262 throws a minute in a skilled run of five objects (Voss 2012).
    easiest = min(of("5", tempo).number for tempo in range(60, 500))
    assert of("5", 262).number - easiest < 0.1


@pytest.mark.parametrize("text", "3 531 51 (4,4) [33]33 97531".split())
def test_the_usual_tempo_unless_one_is_given(text: str) -> None:
    assert of(text).tempo == default_tempo(read(text))
    assert of(text) == of(text, default_tempo(read(text)))


@pytest.mark.parametrize("tempo", [0, -1, math.inf, math.nan])
def test_an_impossible_tempo(tempo: float) -> None:
    with pytest.raises(TempoError, match="impossible"):
        of("3", tempo)


# ---- What never changes


@st.composite
def plain_patterns(draw: st.DrawFn) -> Pattern:
    """Draw a pattern of hands in turn: beat i leads to the beat of a permutation, later or not."""
    length = draw(st.integers(1, 7))
    landings = draw(st.permutations(range(length)))
    values = [
        (landing - beat) % length + length * draw(st.integers(0, 1))
        for beat, landing in enumerate(landings)
    ]
    return Pattern.of("async", tuple(((Throw(value),) if value else (),) for value in values))


def begun(known: Pattern, turns: Sequence[object]) -> Pattern:
    return Pattern(known.text, known.kind, tuple(turns))  # type: ignore[arg-type]


@given(plain_patterns())
def test_it_is_the_same_from_every_beat_on(pattern: Pattern) -> None:
    numbers = {
        round(difficulty(begun(pattern, each)).number, 9) for each in rotations(pattern.turns)
    }
    assert len(numbers) == 1


@given(plain_patterns(), st.integers(2, 3))
def test_it_is_the_same_written_several_times(pattern: Pattern, times: int) -> None:
    repeated = begun(pattern, pattern.turns * times)
    assert difficulty(repeated).number == pytest.approx(difficulty(pattern).number)


def test_the_mirror_image_of_pairs_is_as_hard() -> None:
    limits = [HandLimits("sync", 8), HandLimits("sync", 4, 2)]
    every = [one for hands in limits for one in find(PatternQuery(4, hands, (2, 4)))]
    assert len(every) > 100
    for one in every:
        mirrored = begun(one, swapped(one.turns))
        assert difficulty(mirrored).number == pytest.approx(difficulty(one).number)


def test_the_order_inside_a_hand_means_nothing() -> None:
    assert of("[54]24").number == pytest.approx(of("[45]24").number)


@given(plain_patterns())
def test_no_part_is_below_nothing_and_all_add_up(pattern: Pattern) -> None:
    found = difficulty(pattern)
    names = "objects flight pace mixture acts rows entry at_once together limits".split()
    parts = [getattr(found, name) for name in names]
    assert min(parts) >= 0
    assert found.points == pytest.approx(math.fsum(parts))
    assert found.number >= 0
    assert found.reasons


def test_one_object_less_and_the_same_beats_are_easier() -> None:
    # A throw of the period or more may land one period earlier: one object less. Only a new row of
    # 1s can make up for that.
    limits = HandLimits(highest=8, without=frozenset({2}))
    for known in find(PatternQuery(4, limits, (3, 4, 5))):
        for beat, (throws,) in enumerate(known.turns):
            value = throws[0].value if throws else 0
            if value >= known.period:
                lower = ((Throw(value - known.period),) if value > known.period else (),)
                fewer = difficulty(
                    begun(known, (*known.turns[:beat], lower, *known.turns[beat + 1 :]))
                )
                if fewer.work.ones_in_a_row < 2:
                    assert fewer.number < difficulty(known).number


# ---- Throws that are made once


def of_throws(text: str, objects: int, tempo: float | None = None) -> float:
    turns = Pattern.of("async", tuple(((Throw(int(value)),),) for value in text)).turns
    return difficulty_of_throws(hand_turns("async", turns), objects, tempo).number


@pytest.mark.parametrize(
    ("easier", "harder", "why"),
    [
        ("4", "5", "lower"),
        ("44", "45", "lower"),
        ("42", "51", "lower, and a hold"),
        ("41", "411", "no two 1s in a row"),
        ("441", "531", "lower, and fewer kinds"),
    ],
)
def test_of_several_ways_the_lower_and_calmer_one_is_easier(
    easier: str, harder: str, why: str
) -> None:
    assert of_throws(easier, 3, 230) < of_throws(harder, 3, 230), why


def test_a_hand_that_hurries_is_harder_than_one_that_waits() -> None:
    in_turn = hand_turns("async", read("3").turns * 2)
    hurried = [TurnOfHand(0, "right", (Throw(3),)), TurnOfHand(1, "right", (Throw(3),))]
    calm, quick = (difficulty_of_throws(turns, 3, 200) for turns in (in_turn, hurried))
    # 200 throws a minute from one hand are a third of a throw a second more than it keeps up.
    assert quick.limits == pytest.approx(4 / 3)
    assert quick.number > calm.number


def test_no_throws_are_as_hard_as_their_objects() -> None:
    assert difficulty_of_throws([], 3, 200).points == 3
    assert difficulty_of_throws([], 0).number == 0
