"""Routines laid out: bridges, rests, changes of the number of objects, cue calls, and music."""

from collections import Counter
from dataclasses import replace
from fractions import Fraction

import pytest
from laid_out import paces, part, rest, routine, run_of, throwing_hands

from throwcount.engine.errors import RoutineError
from throwcount.engine.patterns.flight import Room
from throwcount.engine.patterns.rules import read
from throwcount.engine.routines.layout import LaidOut, lay_out
from throwcount.engine.routines.routine import (
    Length,
    MusicBeats,
    PatternPart,
    RoutinePart,
)
from throwcount.engine.routines.routine_run import (
    cue_words,
    laid_from,
    music_begins,
)
from throwcount.engine.routines.running_order import running_order
from throwcount.engine.scheduling.cues import cue_calls
from throwcount.engine.scheduling.scheduler import schedule
from throwcount.engine.timing.run import SayMode, Wording


@pytest.mark.parametrize(
    ("before", "after", "throws"),
    [
        ("3", "531", ""),
        ("531", "51", "4"),
        ("441", "3", ""),
        ("(4,2x)*", "(2,4)", None),
        # An object more is held until the hand's next turn; one fewer is put down, not thrown.
        ("3", "4", "4 5 5 2"),
        ("4", "3", "0"),
        ("5", "3", None),
        ("3", "5", None),
        ("[33]", "4", None),
        ("([44],[44])", "(4,4)", None),
        # The plain pattern of four stands between.
        ("3", "(4,4)", "4 5 5x 2 3 4 3"),
        ("(4,4)", "3", "(0,4x) (3x,1)"),
        # One hand waits or hurries.
        ("3", "(4x,2x)", "4 1"),
        ("4", "(4,4)", "3 4 3"),
        ("(4,4)", "4", "(3,4) (3,4)"),
        ("(4x,2x)", "51", "(1,4)"),
        ("40", "(0,4)", ""),
        ("(0,4)", "40", ""),
    ],
)
def test_bridges_are_worked_out(before: str, after: str, throws: str | None) -> None:
    change = read(after).objects - read(before).objects
    first = part(before)
    laid = lay_out(routine(first, part(after, change=change or None)))
    joining = laid.parts[1].joining
    assert joining is not None
    assert throws is None or joining.text == throws
    assert laid.parts[1].change == change
    list(schedule(run_of(laid)))  # which fails where an object is not where it is thrown


def test_a_bridge_may_be_written_by_hand() -> None:
    bridge = (read("4"),)
    laid = lay_out(routine(part("531"), part("51", bridge=bridge)))
    assert laid.parts[1].joining is not None
    assert laid.parts[1].joining.text == "4"


@pytest.mark.parametrize(
    ("parts", "fragments"),
    [
        ((part("3"), part("4")), ["pick-up = 1"]),
        ((part("4"), part("3")), ["put-down = 1"]),
        ((part("3"), rest(), part("4", change=2)), ["says pick-up = 2", "4 objects"]),
        (
            (part("3"), part("(4,4)", change=1, bridge=(read("4"),))),
            ["more objects", "alternate in only one", "leave out the bridge"],
        ),
        ((part("531"), part("51", bridge=(read("3"),))), ["does not lead", "“4” does"]),
        (
            (part("5", 9), rest(2), part("5"), part("4")),
            ["lasts 2 beats", "4 beats", "put-down = 1"],
        ),
        ((rest(), part("3")), ["between two patterns"]),
        ((part("3"), rest(), rest(), part("3")), ["make them one"]),
        ((PatternPart(pattern=read("3"), length=Length()), part("531")), ["has no length"]),
        ((part("3"), part("4"), part("5")), ["part before 3", "part before 4"]),
    ],
)
def test_what_does_not_add_up_is_told_at_once(
    parts: tuple[RoutinePart, ...], fragments: list[str]
) -> None:
    with pytest.raises(RoutineError) as caught:
        lay_out(routine(*parts))
    for fragment in fragments:
        assert fragment in str(caught.value)


def test_a_rest_gathers_counts_in_and_begins_with_the_first_hand_again() -> None:
    laid = lay_out(routine(part("3", 9), rest(12), part("441", 2, change=None)))
    beats = [beat for beat in schedule(run_of(laid)) if beat.beat >= 9]
    assert [beat.part for beat in beats[:12]] == ["run-out"] * 2 + ["rest"] * 6 + ["count-in"] * 4
    assert beats[12].throws.right == ("4",)
    # "stop" falls on the last throw before the rest as well as on the last of all.
    calls = {beat.beat: beat.call for beat in schedule(run_of(laid))}
    assert calls[8] == calls[26] == "stop"


def test_a_part_lasts_up_to_the_bar_on_which_the_next_begins() -> None:
    music = MusicBeats((0.5, 1.0), a_bar=4, throws=Fraction(2))
    opening = PatternPart(pattern=read("531"), length=Length())
    laid = lay_out(routine(opening, part("51", bar=5), music=music))
    assert laid.parts[1].beat == 4 * 4 * 2
    assert laid.parts[1].change_beat == laid.parts[0].beats
    assert running_order(laid, run_of(laid)).entries[-1].bar == pytest.approx(5.0)


def test_a_part_that_misses_its_bar_is_told_by_how_much() -> None:
    music = MusicBeats((0.5, 1.0), a_bar=4, throws=Fraction(2))
    with pytest.raises(RoutineError, match=r"3\.5 beats of the music early"):
        lay_out(routine(part("3", 9), part("3", 4, bar=3), music=music))


@pytest.mark.parametrize(
    ("parts", "tempo"),
    [
        ((part("3"), part("97531", change=2)), 315),
        ((part("97531"), part("3", change=-2)), 315),
        ((part("3"), rest(8), part("531")), 230),
        ((part("3"), part("531", tempo=200.0)), 230),  # a bridge may hold a 5
        ((part("3"), rest(8), part("531", tempo=200.0), part("744", change=2)), 185),
        ((part("3", to=200.0), part("531")), 185),
        # The fourth object is taken up under a 5, and then the fifth under a 6: 4 5 5 2 5, and
        # 6 3 5 2 5 6 6 6 2 6.
        ((part("3"), part("4", change=1)), 230),
        ((part("3"), part("5", change=2)), 255),
        ((part("3"), part("4", change=1, tempo=160.0)), 230),
        ((part("3"), rest(8), part("4", tempo=160.0), part("5", change=1)), 185),
        ((part("3", tempo=160.0), part("531")), 160),
    ],
)
def test_a_routine_without_tempo_suits_its_highest_throw(
    parts: tuple[RoutinePart, ...], tempo: float
) -> None:
    assert lay_out(routine(*parts, tempo=None)).tempo.start == tempo


def test_a_ceiling_wins_over_the_tempo_that_a_routine_begins_with() -> None:
    act = routine(part("3"), part("97531", change=2), tempo=None)
    # 460 / sqrt(8 * 2.2 / g) is 343.4, and 460 / sqrt(8 * 2 / g) is 360.1.
    assert lay_out(act, Room(ceiling=3.2)).tempo.start == 345
    assert lay_out(act, Room(ceiling=3.0)).tempo.start == 360
    assert lay_out(replace(act, tempo=180.0), Room(ceiling=3.0)).tempo.start == 180


def test_what_goes_too_high_is_told_once_for_each_throw_and_height() -> None:
    acts = [part("3"), part("531"), part("3"), part("531"), part("97531", 2, change=2)]
    laid = lay_out(routine(*acts, tempo=None))
    order = running_order(laid, run_of(laid), Room(ceiling=1.3))
    told = {concern.sentence[:6] for concern in order.concerns if concern.kind == "ceiling"}
    high = {each.sentence for each in order.concerns if each.kind == "ceiling"}
    assert len(high) == len(told) == 3
    # Too fast a tempo is told once, with the highest throw of all.
    fast = lay_out(routine(*acts, tempo=400.0))
    concerns = running_order(fast, run_of(fast)).concerns
    (sentence,) = {each.sentence for each in concerns if each.kind == "hands"}
    assert "the highest throw, 9, at 2.00 m" in sentence


@pytest.mark.parametrize(
    ("throws", "tempo"), [(Fraction(2), 240), (Fraction(3, 2), 180), (Fraction(1), 120)]
)
def test_the_count_is_locked_to_the_music(throws: Fraction, tempo: float) -> None:
    """Music at 120 means throwing at 240, 180 or 120: so many throws a beat (common practice)."""
    music = MusicBeats((0.25, 0.75), throws=throws)
    laid = lay_out(routine(part("3", 10 * tempo), music=music))
    run = run_of(laid)
    begins = music_begins(laid, run)
    assert begins is not None
    for beat in schedule(run):
        if beat.cycle is not None:
            assert beat.tempo == tempo
            assert beat.time - begins == pytest.approx(0.25 + 60 / tempo * beat.beat, abs=1e-9)


def test_music_that_breathes_is_followed_beat_by_beat() -> None:
    listed = (1.0, 1.5, 2.1, 2.5, 3.2, 3.7)
    music = MusicBeats(listed, throws=Fraction(2))
    laid = lay_out(routine(part("3", 12), music=music))
    run = run_of(laid)
    begins = music_begins(laid, run) or 0.0
    times = [beat.time - begins for beat in schedule(run) if beat.cycle is not None]
    assert times[: 2 * len(listed) : 2] == pytest.approx(listed, abs=1e-9)
    assert times[1] == pytest.approx(1.25, abs=1e-9)


def test_a_breath_in_the_music_is_judged_where_it_is_slowest() -> None:
    music = MusicBeats((0.0, 0.25, 0.5, 1.5, 1.75, 2.0), throws=Fraction(1))
    laid = lay_out(routine(part("5", 8), music=music))
    order = running_order(laid, run_of(laid))
    assert (order.entries[0].tempo, order.entries[0].to) == (240, 240)
    assert (order.entries[0].slowest, order.entries[0].fastest) == (60, 240)
    (concern,) = order.concerns
    assert concern.kind == "height"
    assert concern.sentence.startswith("The 5 rises 16.48 m above the hands at 60 beats")


def test_a_routine_from_a_part_on_is_the_rest_of_the_whole() -> None:
    whole = lay_out(
        routine(
            *(part("531", 3), part("51", 2), part("3", 5, how="high"), rest(), part("4")),
            *(part("(4,4)", 3), part("53", 3)),
        )
    )
    for number in (2, 3, 5, 6, 7):
        laid = laid_from(whole, number)
        opening = next(each for each in whole.parts if each.number == number)
        left = [beat for beat in schedule(run_of(laid)) if beat.cycle is not None]
        all_beats = [beat for beat in schedule(run_of(whole)) if beat.cycle is not None]
        kept = [beat for beat in all_beats if beat.beat >= opening.beat]
        assert [beat.throws for beat in left] == [beat.throws for beat in kept]
        start = kept[0].time - left[0].time
        assert [beat.time + start for beat in left] == pytest.approx([b.time for b in kept])
        hands = [hand for hand, _, _ in throwing_hands(left[0])]
        assert len(hands) == 2 or hands == [opening.first]


@pytest.mark.parametrize("say", ["values", "tally", "hands", "nothing"])
def test_a_change_of_timing_is_the_same_from_whatever_beat_one_joins(say: SayMode) -> None:
    laid = lay_out(routine(part("3", 90), part("(4x,2x)", 40), part("51", 3), part("(4x,2x)", 3)))
    run = replace(run_of(laid), say=say)
    whole = list(schedule(run))
    for since in (1, 89, 90, 91, 92, 93, 171, 172, 173, 174, 178, 180):
        assert list(schedule(run, since)) == [beat for beat in whole if beat.beat >= since]


def test_the_ceiling_and_jumps_of_tempo_are_told() -> None:
    laid = lay_out(routine(part("3"), part("531", tempo=130.0), part("97531", 1, change=2)))
    order = running_order(laid, run_of(laid), Room(ceiling=3.0))
    kinds = Counter(concern.kind for concern in order.concerns)
    assert kinds["ceiling"] >= 2  # the 5 of 531 and the 9 of 97531
    assert kinds["tempo jump"] == 1


@pytest.mark.parametrize(
    ("parts", "told"),
    [
        (
            (part("3"), part("4", change=1, bridge=(read("4444"),))),
            "1 object has to be taken up on the way into 4, and no hand has time for that",
        ),
        ((part("3"), part("4", change=1)), None),
        ((part("4"), part("3", change=-1)), None),
        (
            (part("5"), part("3", change=-2, bridge=(read("00"),))),
            "2 objects have to be put down on the way into 3, and no hand has time for that",
        ),
    ],
)
def test_a_hand_without_time_to_take_up_or_put_down_is_told(
    parts: tuple[RoutinePart, ...], told: str | None
) -> None:
    laid = lay_out(routine(*parts))
    sentences = no_time(laid)
    assert len(sentences) == (told is not None)
    assert all(sentence.startswith(told or "") for sentence in sentences)


def no_time(laid: LaidOut) -> list[str]:
    concerns = running_order(laid, run_of(laid)).concerns
    return [each.sentence for each in concerns if each.kind == "no time"]


def test_a_bridge_that_has_time_is_told() -> None:
    laid = lay_out(routine(part("3"), part("4", change=1, bridge=(read("4444"),))))
    assert no_time(laid)[0].endswith("The bridge “4 5 5 2” has one.")


def test_where_there_is_time_is_told() -> None:
    """Six beats before the bar are too few for two objects with a second between."""
    music = MusicBeats((0.5, 0.8), a_bar=6)
    opening = PatternPart(pattern=read("423"), length=Length())
    laid = lay_out(routine(opening, part("5", bar=2, change=2), music=music))
    assert "There is one in part 1, 423, on beat 1 of its cycle." in no_time(laid)[0]


@pytest.mark.parametrize(
    ("beats", "said"), [(9, "over the bridge and home again"), (4, "next three"), (1, None)]
)
def test_a_cue_that_does_not_fit_is_shorter_or_not_said_and_told(
    beats: int, said: str | None
) -> None:
    before = replace(part("531"), length=Length(beats=beats))
    laid = lay_out(
        routine(part("3", 8), before, part("3", 1, cue="over the bridge and home again"))
    )
    order = running_order(laid, run_of(laid))
    *_, cue = (entry.cue for entry in order.entries if entry.cue is not None)
    assert cue.said == (said is not None)
    if said is not None:
        assert cue.text == said
    told = [concern for concern in order.concerns if concern.kind == "cue"]
    assert bool(told) == (said != "over the bridge and home again")


def test_words_that_no_voice_can_say_are_put_in_others() -> None:
    laid = lay_out(routine(part("3", 8), part("531", cue="xyzzy"), part("3", cue="plugh")))
    every = cue_words(laid, Wording(), paces, lambda text: text != "xyzzy")
    assert [(cue.text, cue.unsayable, *cue.shorter) for cue in every] == [
        ("next five three one", "xyzzy"),
        ("plugh", "", "next three"),
    ]


def test_a_cue_begins_as_many_beats_ahead_as_is_wanted() -> None:
    laid = lay_out(routine(part("3", 30), part("531", cue="now", cue_ahead=12)))
    (call,) = cue_calls(run_of(laid))
    assert call.beat == call.change - 12
