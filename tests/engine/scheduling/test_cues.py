"""Cue calls at ease: never too quick to be followed, else in fewer words, and told."""

from collections.abc import Mapping
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from throwcount.engine.patterns.rules import read
from throwcount.engine.scheduling.cues import BEFORE_THE_CHANGE, CueCall, at_ease, cue_calls
from throwcount.engine.timing.run import CueText, Part, Run, clock_of
from throwcount.engine.timing.tempo import steady

SPEEDED_WORDS_A_MINUTE = 275
"""Beyond this, ever less of quickened speech is understood (Foulke & Sticht, Psychol. Bull. 72
(1969) 50-62; from memory)."""

EIGHTEEN = "now we walk round the old well and look into it while the lantern swings over the water"
PACES = (8.0, 6.0, 4.0, 2.6)
"""Seconds; the last is 7 words of the above a second."""

WELL = "next the well"
SIXTEEN = (
    f"“{EIGHTEEN}” takes 4.0 s without haste, and between the change before and its own there are "
    "3.7 s, enough for about 16 words of it: “now we walk round the old well and look into it "
    "while the lantern swings over”. “next the well” is said instead."
)
SHORTER = {WELL: (1.2, 0.9), "next five": (0.7,)}


def run_with(*cues: CueText) -> Run:
    """Return a run at a beat a second."""
    parts = (Part(read("3"), 30), Part(read("531"), 30))
    return Run(parts=parts, tempo=steady(60), cues=cues)


def placed(text: CueText) -> tuple[CueCall, float]:
    """Return a cue call, and how many beats after `since` it begins."""
    run = run_with(text)
    (call,) = cue_calls(run)
    return call, call.time - clock_of(run).time_at(text.since)


@pytest.mark.parametrize(
    ("text", "paces", "eased"),
    [
        (EIGHTEEN, PACES, (8.0, 6.0, 4.0)),
        (EIGHTEEN, (3.9,), (3.9,)),  # the voice has no slower pace
        (EIGHTEEN, (3.9, 2.6), (3.9,)),
        ("rest", (0.5, 0.23, 0.2), (0.5, 0.23)),
        (WELL, (1.2, 0.7, 0.6), (1.2, 0.7)),
    ],
)
def test_paces_that_can_be_followed(
    text: str, paces: tuple[float, ...], eased: tuple[float, ...]
) -> None:
    assert tuple(at_ease(text, paces)) == eased
    for seconds in eased[1:]:
        assert len(text.split()) / seconds * 60 <= SPEEDED_WORDS_A_MINUTE


@pytest.mark.parametrize(
    ("beats", "shorter", "said", "fragment"),
    [
        (12, SHORTER, (EIGHTEEN, 3, 8.0), ""),
        (7, SHORTER, (EIGHTEEN, 0, 6.0), ""),  # it begins earlier
        (5, SHORTER, (EIGHTEEN, 0, 4.0), ""),
        (4, SHORTER, (WELL, 2, 1.2), SIXTEEN),
        (2, SHORTER, (WELL, 0, 1.2), "enough for about 7 words of it: “now we walk round the old"),
        (1, SHORTER, ("next five", 0, 0.7), "“next five” is said instead"),
        (4, {}, None, "It is not said."),
        (
            1,
            {"a b c d e f g": (2.0,)},
            None,
            "for about 3 words of it: “now we walk”. It is not said.",
        ),
    ],
)
def test_what_has_no_time_is_said_in_fewer_words(
    beats: int,
    shorter: Mapping[str, tuple[float, ...]],
    said: tuple[str, int, float] | None,
    fragment: str,
) -> None:
    text = CueText(10 + beats, EIGHTEEN, PACES, 10, 10 + beats, shorter=shorter)
    call, after = placed(text)
    assert call.said == (said is not None)
    if said is not None:
        assert (call.text, after, call.seconds) == (said[0], pytest.approx(said[1]), said[2])
    shortened = said is not None and said[0] != EIGHTEEN
    assert call.instead_of == (EIGHTEEN if shortened else "")
    assert fragment in call.reason
    assert bool(call.reason) == bool(fragment)


def test_fewer_words_come_before_the_count_in_is_talked_over() -> None:
    text = CueText(20, EIGHTEEN, (9.0,), 0, 5, shorter={WELL: (1.2,)})
    call, _ = placed(text)
    assert (call.text, call.beat) == (WELL, 3)
    assert "“next the well” is said instead" in call.reason
    over, _ = placed(replace(text, shorter={}))
    assert (over.text, over.said) == (EIGHTEEN, True)
    assert over.reason == f"“{EIGHTEEN}” is said over the count-in, as there is no room before it."


def test_words_that_no_voice_can_say_are_told() -> None:
    text = CueText(20, WELL, (1.2,), 0, 20, unsayable="xyzzy", shorter={"next five": (0.7,)})
    call, _ = placed(text)
    assert (call.text, call.instead_of) == (WELL, "xyzzy")
    assert call.reason == "No voice here can say “xyzzy”: “next the well” is said instead."


words = st.lists(st.sampled_from("a walk round lanterns".split()), min_size=1, max_size=20)
paces = st.lists(st.floats(0.2, 9.0), min_size=1, max_size=4).map(
    lambda seconds: tuple(sorted(seconds, reverse=True))
)


@given(words.map(" ".join), paces, paces, st.integers(0, 9), st.integers(1, 12))
def test_the_fullest_words_that_fit_at_ease(
    text: str,
    full: tuple[float, ...],
    short: tuple[float, ...],
    since: int,
    beats: int,
) -> None:
    change = since + beats
    call, after = placed(CueText(change, text, full, since, change, shorter={WELL: short}))
    forms = {text: full, WELL: short}
    longest = beats - BEFORE_THE_CHANGE  # a beat lasts a second, and it may begin on the first
    fitting = [
        (each, seconds)
        for each, lengths in forms.items()
        for number, seconds in enumerate(lengths)
        if seconds <= longest and (number == 0 or len(each.split()) / seconds <= 4.5)
    ]
    assert call.said == bool(fitting)
    if fitting:
        assert (call.text, call.seconds) == fitting[0]
        assert after >= 0
        assert after + call.seconds <= longest + 1e-6
