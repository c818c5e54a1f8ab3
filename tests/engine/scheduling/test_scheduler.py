"""The timeline of a run: beats, hands, objects, clicks and what surrounds them.

Going on at another tempo, and beginning in the middle: nothing but time changes.
"""

from dataclasses import replace
from itertools import dropwhile, islice, pairwise
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from throwcount.engine.errors import RunError, TempoError
from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.scheduler import first_beat_from, last_beat, nudged, schedule
from throwcount.engine.timing.objects import object_name
from throwcount.engine.timing.run import SAY_MODES, Fading, Part, Run, SayMode, clock_of
from throwcount.engine.timing.tempo import TempoMap, ramp, steady, steps
from throwcount.engine.timing.timeline import COUNT_IN, RUN_OUT, Beat, Cue

PAUSE_AFTER_ANNOUNCEMENT = 0.5
"""Seconds between the announcement and the count-in."""

SHORTEST_LEAD_IN = 0.25
"""Seconds: the first word begins before its beat."""

TAIL = 1.0
"""Seconds in which the last word rings out."""


TEMPO = 120
PERIOD = 0.5


def run_of(text: str, beats: int | None = 12, **changes: object) -> Run:
    run = Run((Part(read(text), beats),), steady(TEMPO))
    return replace(run, **changes)


def thrown(run: Run) -> list[Beat]:
    return [beat for beat in schedule(run) if beat.cycle is not None]


def test_order_of_a_run() -> None:
    beats = list(schedule(run_of("3", 6)))
    assert [beat.beat for beat in beats] == list(range(-4, 8))
    assert [beat.part for beat in beats] == [COUNT_IN] * 4 + ["3"] * 6 + [RUN_OUT] * 2


def test_times_come_from_each_beat_itself() -> None:
    run = run_of("531", 12, ready=2.0, tempo=ramp(60, 120, 12, "linear-beats"))
    timeline = schedule(run)
    beats = {beat.beat: beat for beat in timeline}
    assert beats[-4].time == 2.0
    assert beats[0].time == 2.0 + 4
    assert all(beats[beat].time == beats[0].time + run.tempo.time_at(beat) for beat in range(12))
    assert [beats[beat].tempo for beat in (-1, 0, 12, 13)] == [60, 60, 120, 120]
    assert timeline.seconds == max(beat.time for beat in timeline) + TAIL


@pytest.mark.parametrize(
    ("changes", "first_throw"),
    [
        ({"ready": 0.0, "count_in": 0}, SHORTEST_LEAD_IN),
        ({"ready": 0.0, "count_in": 4}, SHORTEST_LEAD_IN + 4 * PERIOD),
        ({"ready": 8.0, "count_in": 2}, 8 + 2 * PERIOD),
        (
            {"ready": 1.0, "announcement": "five three one", "announcement_seconds": 1.25},
            1 + 1.25 + PAUSE_AFTER_ANNOUNCEMENT + 4 * PERIOD,
        ),
    ],
)
def test_what_comes_before_the_first_throw(changes: dict[str, object], first_throw: float) -> None:
    timeline = schedule(run_of("531", **changes))
    assert next(beat.time for beat in timeline if beat.beat == 0) == first_throw
    spoken = [(cue.time, cue.text) for cue in timeline.cues]
    assert spoken == ([(1.0, "five three one")] if "announcement" in changes else [])


@pytest.mark.parametrize(("first", "hands"), [("right", "rlrlrl"), ("left", "lrlrlr")])
def test_hands_alternate(first: str, hands: str) -> None:
    beats = thrown(run_of("51", 6, first=first))
    assert "".join("r" if beat.throws.right else "l" for beat in beats) == hands
    assert [(*beat.throws.right, *beat.throws.left) for beat in beats] == [("5",), ("1",)] * 3


def test_synchronous_pairs_take_two_beats() -> None:
    beats = thrown(run_of("(4,2x)*", 8))
    assert [beat.throws.left for beat in beats] == [("4",), (), ("2x",), ()] * 2
    assert [beat.throws.right for beat in beats] == [("2x",), (), ("4",), ()] * 2
    assert [beat.click is None for beat in beats] == [False, True] * 4
    assert {beat.click.hands for beat in beats if beat.click} == {"both"}


@pytest.mark.parametrize(
    ("text", "right", "left"),
    [
        ("3", ["A", "C", "B"], ["B", "A", "C"]),  # a cascade: each object in each hand in turn
        ("4", ["A", "C", "A"], ["B", "D", "B"]),  # a fountain: each object keeps to its hand
        ("51", ["A", "B", "C"], ["B", "C", "A"]),  # a shower: fed across, then thrown high
    ],
)
def test_objects(text: str, right: list[str], left: list[str]) -> None:
    beats = thrown(run_of(text, 6))
    assert [name for beat in beats for name in beat.objects.right] == right
    assert [name for beat in beats for name in beat.objects.left] == left


@st.composite
def jugglable_texts(draw: st.DrawFn) -> str:
    """Any alternating pattern: throws that permute the beats of a period (Chung & Graham 2008)."""
    period = draw(st.integers(1, 8))
    landings = draw(st.permutations(range(period)))
    values = [
        landing - beat + period * draw(st.integers(landing < beat, 2))
        for beat, landing in enumerate(landings)
    ]
    return "".join("0123456789abcdefghijklmnopqrstuvwxyz"[value] for value in values)


@given(jugglable_texts(), st.sampled_from(["right", "left"]))
def test_every_object_is_thrown_again_when_its_throw_says(text: str, first: str) -> None:
    beats = thrown(run_of(text, 60, first=first))
    assert len({name for beat in beats for name in beat.objects.right + beat.objects.left}) <= (
        read(text).objects
    )
    for beat in beats:
        throws = beat.throws.right + beat.throws.left
        for throw, name in zip(throws, beat.objects.right + beat.objects.left, strict=False):
            again = beat.beat + int(throw, 36)
            if again < len(beats):
                later = beats[again]
                hand = "right" if (again % 2 == 0) == (first == "right") else "left"
                assert name in getattr(later.objects, hand)


@pytest.mark.parametrize(
    ("text", "right"),
    [
        ("[33]33", [("3", "3"), (), ("3",), (), ("3",), ()]),
        ("([44x],2)*", [("2",), (), ("4", "4x"), (), ("2",), ()]),
    ],
)
def test_multiplex(text: str, right: list[tuple[str, ...]]) -> None:
    played = thrown(run_of(text, 6))
    assert [beat.throws.right for beat in played] == right
    assert [len(beat.objects.right) for beat in played] == list(map(len, right))


@pytest.mark.parametrize(
    ("lead", "said"),
    [
        (0, [None, None, "five", "three", "one", "five", "three", "stop"]),
        (1, [None, "five", "three", "one", "five", "three", None, "stop"]),
        (2, ["five", "three", "one", "five", "three", None, None, "stop"]),
        (3, ["three", "one", "five", "three", None, None, None, "stop"]),  # no beat for the first
    ],
)
def test_calls_can_come_before_their_throws(lead: int, said: list[str | None]) -> None:
    beats = [beat for beat in schedule(run_of("531", 6, lead=lead, count_in=2)) if beat.beat < 6]
    assert [beat.call for beat in beats] == said
    assert [beat.call_time for beat in beats] == [
        beat.time if beat.call else None for beat in beats
    ]


def test_a_run_shorter_than_the_lead_is_stopped_once() -> None:
    beats = list(schedule(run_of("5", 1, lead=3)))
    assert [beat.beat for beat in beats if beat.call == "stop"] == [0]


def test_what_is_said_while_the_hands_are_filled() -> None:
    said = (Cue(0.0, "rest"), Cue(10.0, "ten seconds"))
    run = run_of("3", ready=20.0, prelude=said, announcement="go", announcement_seconds=0.5)
    assert schedule(run).cues == (*said, Cue(20.0, "go", seconds=0.5))


def test_an_empty_hand_has_a_turn_and_throws_nothing() -> None:
    beats = thrown(run_of("420", 6))
    assert (beats[2].throws.right, beats[2].objects.right) == (("0",), ())
    assert beats[2].click is not None


# A throw of n on beat i is caught 4/3 beats before beat i + n, at the usual dwell ratio of 2/3.
@pytest.mark.parametrize(
    ("text", "beats", "run_out"),
    [
        ("3", 6, [6, 7]),  # thrown on 5, due on 8, caught at 6.67
        ("531", 6, [6, 7]),  # the 5 of beat 3 is due on 8, caught at 6.67
        ("2", 6, []),  # held
        ("1", 6, []),
        ("0", 6, []),
        ("(4,4)", 6, [6, 7, 8]),  # thrown on 4, due on 8, caught at 6.67: the pair on 8
    ],
)
def test_the_run_out_lasts_until_the_last_catch(text: str, beats: int, run_out: list[int]) -> None:
    played = [beat for beat in schedule(run_of(text, beats)) if beat.part == RUN_OUT]
    assert [beat.beat for beat in played] == run_out
    assert all(beat.call is None for beat in played)


@pytest.mark.parametrize(
    ("text", "accents"),
    [("531", [True, False, False]), ("3", [True, True]), ("(4,2x)*", [True, False])],
)
def test_the_first_beat_of_a_cycle_is_accented(text: str, accents: list[bool]) -> None:
    clicks = [beat.click for beat in thrown(run_of(text)) if beat.click]
    assert [click.accent for click in clicks[: len(accents)]] == accents


def test_clicks_carry_the_highest_value() -> None:
    clicks = [beat.click for beat in thrown(run_of("[54]24", 3)) if beat.click]
    assert [click.value for click in clicks] == [5, 2, 4]


def test_an_endless_run_costs_no_memory_and_repeats_itself() -> None:
    timeline = schedule(run_of("531", None))
    assert timeline.seconds is None
    beats = list(islice(timeline, 4 + 30_000))
    assert beats[-1].beat == 29_999
    assert beats[-1].cycle_beat == 2
    assert list(islice(timeline, 20)) == beats[:20]


def test_parts_follow_without_a_stop() -> None:
    run = Run((Part(read("3"), 6), Part(read("531"), 6, "the middle")), steady(TEMPO))
    beats = thrown(run)
    assert [beat.part for beat in beats] == ["3"] * 6 + ["the middle"] * 6
    assert beats[6].cycle_beat == 0
    assert beats[6].time - beats[5].time == pytest.approx(PERIOD)


@pytest.mark.parametrize(
    ("run", "fragment"),
    [
        (Run((Part(read("3"), 6), Part(read("4"), 6)), steady(TEMPO)), "leaves them elsewhere"),
        (Run((Part(read("3"), None), Part(read("3"), 6)), steady(TEMPO)), "never ends"),
        (run_of("3", 0), "at least one"),
        (run_of("3", count_in=-1), "cannot be negative"),
        (run_of("3", ready=-1.0), "cannot be negative"),
    ],
)
def test_runs_that_do_not_add_up(run: Run, fragment: str) -> None:
    with pytest.raises(RunError, match=fragment):
        list(schedule(run))


def test_words_hold_every_call() -> None:
    for say in ("values", "position", "hands", "objects", "tally", "nothing"):
        timeline = schedule(run_of("([44x],2)*", 40, say=say))
        called = {beat.call for beat in timeline} - {None}
        assert called | set(timeline.shorter.values()) == timeline.words


@pytest.mark.parametrize("fading", [Fading(), Fading(calls=3)])
@pytest.mark.parametrize("say", SAY_MODES)
@pytest.mark.parametrize("text", ["3", "531", "2", "(4,2x)*", "([44x],2)*", "97531"])
def test_words_of_an_endless_run_hold_every_call(text: str, say: SayMode, fading: Fading) -> None:
    timeline = schedule(run_of(text, None, say=say, fading=fading))
    gathered = islice(timeline, 4 + 5_000)  # the count-in, and what a usual practice comes to
    called = {beat.call for beat in gathered} - {None}
    assert called | set(timeline.shorter.values()) == timeline.words


@pytest.mark.parametrize(
    ("index", "name"), [(0, "A"), (25, "Z"), (26, "AA"), (51, "AZ"), (52, "BA"), (701, "ZZ")]
)
def test_object_names(index: int, name: str) -> None:
    assert object_name(index) == name


RUNS = {
    "alternating": Run((Part(read("531"), None),), steady(200)),
    "odd period": Run((Part(read("97531"), 700),), ramp(120, 240, 700, "linear-beats"), "left"),
    "pairs": Run((Part(read("(6x,4)*"), 500),), steps(150, 200, 10, 24), count_in=6, lead=2),
    "several at once": Run((Part(read("[54]24"), 333),), ramp(240, 120, 99, "ratio")),
    "parts": Run(
        (Part(read("3"), 101), Part(read("441"), 303), Part(read("3"), 50, last_cycle="last one")),
        steady(173, 150) + ramp(173, 190, 40, "linear-time"),
        fading=Fading(2, 3),
    ),
}
ROUNDING = 1e-9
"""Seconds; a sample at 48 kHz takes 2e-5."""


@pytest.mark.parametrize("say", SAY_MODES)
@pytest.mark.parametrize("name", RUNS)
@pytest.mark.parametrize("since", [-2, 1, 211, 455])
def test_a_late_start_is_the_rest_of_the_whole(name: str, since: int, say: str) -> None:
    run = replace(RUNS[name], say=say)
    rest = dropwhile(lambda beat: beat.beat < since, schedule(run))
    late = schedule(run, since)
    assert list(islice(late, 60)) == list(islice(rest, 60))
    assert not late.cues
    assert late.seconds == schedule(run).seconds


def test_a_start_after_a_day_is_there_at_once() -> None:
    run = RUNS["alternating"]
    day = 24 * 60 * 200
    beat = next(iter(schedule(run, day)))
    assert (beat.beat, beat.time) == (day, clock_of(run).time_at(day))
    assert beat.cycle == day // 3


@pytest.mark.parametrize("name", RUNS)
@pytest.mark.parametrize("pivot", [-3, 0, 1, 99, 260])
def test_a_nudge_changes_nothing_but_the_time(name: str, pivot: int) -> None:
    run = RUNS[name]
    nudge = nudged(run, pivot, 133)
    before, after = list(islice(schedule(run), 330)), list(islice(schedule(nudge.run), 330))
    for old, new in zip(before, after, strict=True):
        timeless = new._replace(time=old.time, call_time=old.call_time, tempo=old.tempo)
        assert timeless == old
        if pivot > 0 and old.beat < pivot:
            assert new == old
        if new.beat >= pivot:
            expected = clock_of(run).time_at(pivot) + 60 / 133 * (new.beat - pivot)
            if len(run.parts) > 1:  # all intervals change alike
                share = run.tempo.tempo_at(pivot) / 133
                expected = clock_of(run).time_at(pivot)
                expected += (old.time - expected) * share
            assert nudge.later + new.time == pytest.approx(expected, abs=ROUNDING)
    assert nudge.later == 0 or pivot <= 0


def test_hundreds_of_nudges_do_not_drift() -> None:
    random = Random(7)
    run, pivot, expected = RUNS["alternating"], 0, clock_of(RUNS["alternating"]).time_at(0)
    tempo = 200.0
    for _ in range(500):
        beats = random.randrange(1, 40)
        pivot += beats
        expected += 60 / tempo * beats
        tempo = random.uniform(100, 250)
        run = nudged(run, pivot, tempo).run
        assert clock_of(run).time_at(pivot) == pytest.approx(expected, abs=ROUNDING)
    beats = list(islice(schedule(run), pivot))
    assert all(earlier.time < later.time for earlier, later in pairwise(beats))


@pytest.mark.parametrize("name", RUNS)
def test_the_first_beat_from_a_time(name: str) -> None:
    run = RUNS[name]
    for beat in islice(schedule(run), 0, 300, 7):
        assert first_beat_from(run, beat.time) == beat.beat
        assert first_beat_from(run, beat.time + 0.01) == beat.beat + 1
    assert first_beat_from(run, -5.0) == -run.count_in
    last = last_beat(run)
    if last is not None:
        assert first_beat_from(run, clock_of(run).time_at(last)) == last
        assert first_beat_from(run, clock_of(run).time_at(last) + 0.01) is None


def test_a_tempo_that_cannot_be_kept_is_told() -> None:
    with pytest.raises(TempoError, match="outside what can be kept"):
        nudged(RUNS["pairs"], 12, 5000)


MAPS = [
    steady(120, 8),
    steps(100, 130, 10, 4),
    ramp(90, 200, 12, "ratio"),
    ramp(80, 60, 5, "linear-time"),
]


@pytest.mark.parametrize("tempo", MAPS)
@pytest.mark.parametrize("beats", [1, 3, 4, 7.5, 30])
def test_a_map_that_is_cut_keeps_its_beats(tempo: TempoMap, beats: float) -> None:
    cut = tempo.until(beats)
    assert cut.beats == beats
    for part in range(9):
        beat = beats * part / 8
        assert cut.time_at(beat) == pytest.approx(tempo.time_at(beat), abs=ROUNDING)
        if beat < beats:
            assert cut.time_at(beat) == tempo.time_at(beat)
    # What was in force till then is held.
    assert cut.end == pytest.approx(tempo.tempo_at(beats - ROUNDING))
    assert cut.tempo_at(beats + 5) == cut.end


@pytest.mark.parametrize("beats", [0, -1])
def test_nothing_cannot_be_kept_of_a_map(beats: float) -> None:
    with pytest.raises(TempoError, match="more than 0"):
        MAPS[0].until(beats)
