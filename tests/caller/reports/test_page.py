"""The page of a take answers what a juggler asks of it, on any terminal."""

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from told_takes import told_take

from throwcount.caller.reports.answers import answers
from throwcount.caller.reports.page import headline, listen_page
from throwcount.caller.reports.take import ONLY_SOUNDS, HeardTake
from throwcount.caller.terminal.printing import show
from throwcount.engine.takes.catches import Catch

Late = Callable[[Catch], float | None]


def late_sevens(catch: Catch) -> float:
    return 0.030 if catch.value == 7 else 0.0


def stopping(catch: Catch) -> float | None:
    return None if catch.beat >= 60 else 0.0


def shaky_later(catch: Catch) -> float:
    return 0.0 if catch.beat < 70 else 0.05 * math.sin(7.3 * catch.beat)


def swaying(catch: Catch) -> float:
    return 0.040 * math.sin(catch.time / 6)


def slumping(catch: Catch) -> float:
    return 0.050 if 25 < catch.time < 31 else 0.0


def page(heard: HeardTake, capsys: pytest.CaptureFixture[str]) -> str:
    show(*listen_page(heard))
    return capsys.readouterr().out


@pytest.mark.parametrize(
    ("late", "question", "told"),
    [
        (lambda _: 0.0, "on the beat", "two catches in three within"),
        (lambda _: 0.0, "tempo", " beats a minute, of 180.0 asked for"),
        (lambda _: 0.0, "drift", "none beyond chance"),
        (lambda _: 0.0, "late throws", "none beyond chance"),
        (lambda _: 0.0, "hands", "together, as far as can be told"),
        (lambda _: 0.0, "fell apart", "not as far as could be heard, and no drop"),
        (lambda _: 0.0, "all of this", "is almost surely right"),
        (lambda _: 0.025, "on the beat", "25 ms late on the whole, which is no fault"),
        (late_sevens, "late throws", "the 7 by 2"),
        (stopping, "fell apart", "a drop at "),
        (shaky_later, "fell apart", "on: sd "),
        (slumping, "drift", "latest around 0:2"),
        (swaying, "drift", "earliest around "),
        (lambda catch: 0.012 if catch.hand == "right" else 0.0, "hands", "later than the left"),
    ],
)
def test_each_question_is_answered(late: Late, question: str, told: str) -> None:
    assert told in dict(answers(told_take("744", 150, late).report))[question]


def test_without_a_pattern_the_cadence_answers() -> None:
    told = dict(answers(told_take("3", 120, known=False).report))
    assert "their own cadence" in told["on the beat"]
    assert "catches a minute" in told["tempo"]
    assert {"late throws", "hands"}.isdisjoint(told)


def test_nothing_is_answered_where_nothing_was_heard(capsys: pytest.CaptureFixture[str]) -> None:
    heard = told_take("3", 60, lambda _: None)
    assert not dict(answers(heard.report))
    told = page(heard, capsys)
    assert "No catch was heard" in told
    assert "right (" not in told


def test_the_drop_is_shown_with_the_throw_before_it(capsys: pytest.CaptureFixture[str]) -> None:
    told = page(told_take("744", 120, stopping), capsys)
    assert "\nDrops\n" in told
    drop = told.split("\nDrops\n")[1].splitlines()[1]
    assert "to the " in drop
    assert "everything" in drop


@pytest.mark.parametrize(
    ("within_beat", "answer", "cell"),
    [(0.5, "a drop near 0:2", " about 61 "), (0.9, "a drop at 0:2", "   61 ")],
)
def test_a_drop_of_which_the_beat_is_not_sure_is_told_so(
    within_beat: float, answer: str, cell: str, capsys: pytest.CaptureFixture[str]
) -> None:
    heard = told_take("744", 120, stopping)
    drop = replace(heard.report.drops[0], within_beat=within_beat)
    report = replace(heard.report, drops=(drop,))
    told = dict(answers(report))["fell apart"]
    assert answer in told
    assert (", perhaps after a " in told) == (within_beat == 0.5)
    assert cell in page(replace(heard, report=report), capsys).split("\nDrops\n")[1]


def test_late_and_early_can_be_seen_without_reading(capsys: pytest.CaptureFixture[str]) -> None:
    rows = page(told_take("744", 150, late_sevens), capsys).split("Throw by throw\n")[1]
    heading, seven, *fours = rows.splitlines()[:4]
    middle = heading.rindex("|")
    assert seven.rindex("o") > middle
    assert all(abs(row.rindex("o") - middle) <= 1 for row in fours)
    assert " * " in seven


def test_limits_are_said_once_and_leave_is_not_asked_for_again(
    capsys: pytest.CaptureFixture[str],
) -> None:
    told = " ".join(page(told_take(), capsys).split())
    assert told.count(ONLY_SOUNDS) == 1
    assert "ask them" not in told


@pytest.mark.parametrize("columns", [40, 60, 80, 120])
@pytest.mark.parametrize("late", [late_sevens, stopping, swaying])
def test_a_page_fits_its_terminal(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], columns: int, late: Late
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    told = page(told_take("744", 150, late), capsys)
    assert max(map(len, told.splitlines())) <= columns
    assert "…" not in told
    assert not any(line.strip() in {"*", "ms"} for line in told.splitlines())


def test_the_headline_cannot_be_moved_by_a_name() -> None:
    heard = told_take()
    named = HeardTake(heard.path.with_name("a\x1b[2Jb.wav"), heard.asked, heard.report, None, ())
    assert headline(named).startswith("a [2Jb.wav, ")
