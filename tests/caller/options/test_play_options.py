"""The options that `play` and `render` share, and the run they make."""

from typing import Any

import click
import pytest

from throwcount.caller.options.request import Request
from throwcount.caller.pieces.pattern import pattern_piece
from throwcount.caller.pieces.piece import about_calls
from throwcount.engine.patterns.rules import read
from throwcount.sounds.voices.stand_ins import ToneVoice

RATE = 8_000


def requested(given: dict[str, Any]) -> Request:
    ctx = click.Context(click.Command("play"))
    ctx.params = given
    return Request.of(ctx)


def beats_of(text: str, request: Request) -> int | None:
    run = pattern_piece(read(text), request, ToneVoice(RATE), cycles=16).run
    return run.parts[0].beats


@pytest.mark.parametrize(
    ("text", "chosen", "beats"),
    [
        ("531", {}, 48),
        ("531", {"cycles": 5}, 15),
        ("531", {"beats": 5}, 5),
        ("(4,2x)*", {"cycles": 2}, 8),
        ("(4,4)", {"beats": 5}, 6),  # a pair takes two beats
        ("531", {"tempo": 120, "seconds": 60}, 120),
        ("(4,4)", {"tempo": 110, "seconds": 60.3}, 112),
        ("531", {"tempo": 120, "seconds": 0.01}, 1),
        # From 60 to 120 beats a minute at a rate rising by the second: 90 on average.
        ("531", {"tempo": 60, "to": 120, "curve": "linear-time", "seconds": 60}, 90),
        # 10 beats at 60, 10 at 70, and the rest of a minute at 80.
        (
            "51",
            {"tempo": 60, "to": 80, "curve": "steps", "step": 10, "every": 5, "seconds": 60},
            20 + round((50 - 600 / 70) * 80 / 60),
        ),
    ],
)
def test_length(text: str, chosen: dict[str, Any], beats: int) -> None:
    assert beats_of(text, Request(**chosen)) == beats


@pytest.mark.parametrize(
    ("chosen", "tempos"),
    [
        ({"tempo": 100}, [100, 100, 100]),
        ({"tempo": 100, "to": 200}, [100, 150, 200]),
        ({"tempo": 100, "to": 200, "curve": "ratio"}, [100, 100 * 2**0.5, 200]),
        ({"tempo": 200, "to": 100}, [200, 150, 100]),
        ({"tempo": 100, "to": 110, "curve": "steps"}, [100, 105, 110]),
        ({"tempo": 100, "to": 104, "curve": "steps", "step": 2, "every": 4}, [100, 102, 104]),
    ],
)
def test_tempo(chosen: dict[str, Any], tempos: list[float]) -> None:
    run = pattern_piece(read("531"), Request(cycles=8, **chosen), ToneVoice(RATE), None).run
    assert [run.tempo.tempo_at(beat) for beat in (0, 12, 24)] == pytest.approx(tempos)


@pytest.mark.parametrize(
    ("chosen", "fragment"),
    [
        ({"tempo": 150, "raise_by": -5.0, "sets": 3}, "141 beats a minute would do"),
        ({"tempo": 150, "raise_by": -5.0, "sets": 2}, ""),
        ({"tempo": 150, "raise_by": -5.0, "sets": 4, "back": True}, "at 140 beats a minute"),
        ({"tempo": 340, "raise_by": 10.0, "sets": 3}, ""),
        ({"tempo": 340, "raise_by": 10.0, "sets": 2, "rounds": 2}, "At 370 beats a minute"),
        ({"tempo": 340, "raise_by": 10.0, "sets": 4, "rounds": 1, "back": True}, ""),
        ({"tempo": 300, "to": 340, "raise_by": 10.0, "sets": 4}, "At 370 beats a minute"),
        ({"tempo": 140, "staircase": True}, "The 5 rises 3.03 m"),
    ],
)
def test_all_sets_are_judged(chosen: dict[str, Any], fragment: str) -> None:
    request = Request(cycles=4, **chosen)
    warnings = pattern_piece(read("531"), request, ToneVoice(RATE), None).warnings
    assert len(warnings) == bool(fragment)
    assert fragment in "".join(warnings)


def test_default_tempo_has_a_reason() -> None:
    voice = ToneVoice(RATE)
    assert pattern_piece(read("3"), Request(), voice, 16).run.tempo.start == 185
    assert "185" in pattern_piece(read("3"), Request(), voice, 16).tempo_reason
    assert pattern_piece(read("3"), Request(tempo=99), voice, 16).tempo_reason == ""


@pytest.mark.parametrize(
    ("given", "fragment"),
    [
        ({"cycles": 1, "beats": 2}, "--cycles and --beats"),
        ({"beats": 2, "seconds": 2.0}, "--beats and --seconds"),
        ({"curve": "ratio"}, "--to BPM"),
        ({"lead": 5}, "5 beats before them with a count-in of 4"),
        ({"lead": 1, "count_in": 0}, "1 beat before them with a count-in of 0"),
        ({"to": 200.0, "step": 5.0}, "--step belongs"),
        ({"to": 200.0, "curve": "ratio", "every": 5}, "--every belongs"),
    ],
)
def test_options_that_contradict_each_other(given: dict[str, Any], fragment: str) -> None:
    with pytest.raises(click.UsageError, match=fragment):
        requested(given)


def test_a_change_of_tempo_needs_a_length() -> None:
    with pytest.raises(click.UsageError, match="--to changes the tempo over a length"):
        pattern_piece(read("3"), Request(tempo=100, to=200), ToneVoice(RATE), None)


def test_an_endless_run_climbs_in_steps() -> None:
    chosen = Request(tempo=100, to=200, curve="steps")
    run = pattern_piece(read("3"), chosen, ToneVoice(RATE), None).run
    assert run.parts[0].beats is None
    assert run.tempo.tempo_at(10_000) == 200


def test_the_announcement_takes_its_time() -> None:
    voice = ToneVoice(RATE)
    said = pattern_piece(read("531"), Request(), voice, 16).run
    assert said.announcement == "five three one, tempo two hundred thirty, right hand first"
    assert said.announcement_seconds == voice.clips(said.announcement)[0].seconds
    silent = pattern_piece(read("531"), Request(announce=False), voice, 16).run
    assert (silent.announcement, silent.announcement_seconds) == ("", 0.0)
    throws_alone = pattern_piece(read("531"), Request(say="nothing"), voice, 16).run
    assert throws_alone.announcement == "five three one, tempo two hundred thirty, right hand first"


def test_calls_that_do_not_fit_are_thinned_and_told() -> None:
    voice = ToneVoice(RATE)  # a tone of 0.14 s
    assert pattern_piece(read("4444"), Request(tempo=400), voice, 16).thinned == ()
    thinned = pattern_piece(read("4444"), Request(tempo=500), voice, 16)
    assert [spacing.every for spacing in thinned.thinned] == [2]
    assert any("about one call in 2 is made" in sentence for sentence in about_calls(thinned))
    called = [beat.beat for beat in thinned.timeline if beat.call]
    assert called == [*range(0, 62, 2), 63]  # 62 would run into "stop"


@pytest.mark.parametrize("cycles", [6500, None])
def test_calls_that_thin_out_late_are_told(cycles: int | None) -> None:
    """Where the tempo has climbed for long, in a run that ends and in one that does not."""
    steps = Request(tempo=400, to=500, curve="steps", step=0.1, every=6)
    (thinned,) = pattern_piece(read("4444"), steps, ToneVoice(RATE), cycles).thinned
    assert thinned.every == 2
    assert thinned.beat.tempo > 60 / 0.14
