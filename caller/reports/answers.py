"""Answers to what a juggler asks of a take, and sentences about a set or a drop.

Each question has a line: on the beat, tempo, drift, late throws, hands, falling apart.
"""

from collections.abc import Iterator, Sequence
from typing import Final

from throwcount.caller.reports.figures import (
    FEWEST_OF_A_KIND,
    TakeWindow,
    after_throw,
    beyond_chance,
    confidence_text,
    drop_moment,
    give_or_take,
    lead_text,
    moment_text,
    ms,
    percent,
    take_windows,
    with_error,
    without_controls,
)
from throwcount.caller.terminal.printing import in_words
from throwcount.engine.numbers import counted
from throwcount.engine.takes.drops import Drop
from throwcount.engine.takes.report import TakeReport
from throwcount.engine.takes.steadiness import DRIFT_FREEDOM, Steadiness
from throwcount.engine.takes.throw_bias import HandBias, Position

MOST_NAMED: Final = 3
"""How many throws are named as late, and how many as early."""

DRIFT_TESTS: Final = 2
"""Drift is tested in two ways, over time and on the whole, so each counts as one of two tests."""

LONGEST_PART: Final = 30
"""Characters of a part's name that are shown."""

NONE_CLEAR: Final = "none beyond chance"


def answers(report: TakeReport) -> Iterator[tuple[str, str]]:
    """Yield each question in a word or two, and its answer; nothing if too little was heard."""
    steady = report.steadiness
    if steady is None:
        return
    over_time = take_windows(report)
    yield "on the beat", _on_the_beat(report, steady)
    if report.tempo is not None:
        yield "tempo", _tempo(report, over_time)
    yield "drift", _drift(steady, over_time, known=report.known)
    if len(report.positions) > 1:
        yield "late throws", _late_throws(report.positions)
    if report.hands is not None:
        yield "hands", _hands(report.hands)
    yield "fell apart", _split(report)
    yield "all of this", f"is {confidence_text(report.confidence)}"


def _on_the_beat(report: TakeReport, steady: Steadiness) -> str:
    sd = steady.asynchrony_sd
    beat = "the beat" if report.known else "their own cadence"
    share = "" if not report.tempo else f", {sd * report.tempo / 60:.0%} of "
    of = "" if not share else "a beat" if report.known else "an interval"
    text = f"two catches in three within {ms(sd)} of {beat} (sd{share}{of})"
    if steady.lead is not None:
        text += f"; {lead_text(steady.lead)}, which is no fault and left out"
    if steady.interval_sd is not None:
        text += f"; sd of {steady.intervals:,} intervals {ms(steady.interval_sd)}"
    return text


def _tempo(report: TakeReport, over_time: Sequence[TakeWindow]) -> str:
    if report.known:
        asked = [each for each in over_time if each.asked is not None]
        heard = sum(each.heard for each in asked)
        mean = sum((each.asked or 0.0) * each.heard for each in asked) / heard
        return f"{report.tempo:.1f} beats a minute, of {mean:.1f} asked for"
    meant = ", ".join(f"{each.tempo:.0f} ({each.share:.0%})" for each in report.readings)
    return f"{report.tempo:.1f} catches a minute; in beats a minute this may be {meant}"


def _drift(steady: Steadiness, over_time: Sequence[TakeWindow], *, known: bool) -> str:
    text = _furthest(over_time) if known else _fastest(over_time)
    if known and beyond_chance(steady.drift, steady.drift_uncertainty, DRIFT_TESTS, DRIFT_FREEDOM):
        way = "later" if steady.drift > 0 else "earlier"
        slope = with_error(1000 * abs(steady.drift), 1000 * steady.drift_uncertainty)
        text = f"{text}; " if text else ""
        text += f"{slope} ms a minute {way} on the whole"
    return text or NONE_CLEAR


def _furthest(over_time: Sequence[TakeWindow]) -> str:
    """Return when the catches were latest and earliest, where that is beyond chance."""
    clear = [
        (each.late, _middle(each))
        for each in over_time
        if each.late is not None and is_off(each, len(over_time))
    ]
    texts = []
    if clear and max(clear)[0] > 0:
        late, moment = max(clear)
        texts.append(f"latest around {moment_text(moment)}, by {ms(late)}")
    if clear and min(clear)[0] < 0:
        late, moment = min(clear)
        texts.append(f"earliest around {moment_text(moment)}, by {ms(-late)}")
    return ", ".join(texts)


def _fastest(over_time: Sequence[TakeWindow]) -> str:
    """Return when the cadence was quickest and slowest, if the difference is beyond chance."""
    if not over_time:
        return ""
    quick = max(over_time, key=lambda each: each.tempo)
    slow = min(over_time, key=lambda each: each.tempo)
    error = max(quick.uncertainty, slow.uncertainty) * 2**0.5
    pairs = len(over_time) * (len(over_time) - 1) // 2
    if not beyond_chance(quick.tempo - slow.tempo, error, pairs):
        return ""
    return (
        f"quickest around {moment_text(_middle(quick))} with {quick.tempo:.1f} catches a minute, "
        f"slowest around {moment_text(_middle(slow))} with {slow.tempo:.1f}"
    )


def is_off(window: TakeWindow, among: int) -> bool:
    """Return whether a window's catches are late or early beyond chance, `among` all windows."""
    if window.late is None or window.late_uncertainty is None:
        return False
    return beyond_chance(window.late, window.late_uncertainty, DRIFT_TESTS * among)


def _middle(window: TakeWindow) -> float:
    return (window.start + window.end) / 2


def is_uneven(position: Position, among: int) -> bool:
    """Return whether a throw is late or early beyond chance, `among` all throws."""
    spread = position.spread
    return (
        position.comparable
        and spread.heard >= FEWEST_OF_A_KIND
        and beyond_chance(spread.mean, spread.uncertainty, among, spread.heard - 1)
    )


def _late_throws(positions: Sequence[Position]) -> str:
    clear = [each for each in positions if is_uneven(each, len(positions))]
    late = sorted((each for each in clear if each.spread.mean > 0), key=lambda p: -p.spread.mean)
    early = sorted((each for each in clear if each.spread.mean < 0), key=lambda p: p.spread.mean)
    text = _by_how_much(late, positions) or "none"
    if early:
        text += f"; early {_by_how_much(early, positions)}"
    return text if clear else NONE_CLEAR


def _by_how_much(chosen: Sequence[Position], among: Sequence[Position]) -> str:
    named = [
        f"the {position_text(each, among)} by {ms(abs(each.spread.mean))}"
        for each in chosen[:MOST_NAMED]
    ]
    if len(chosen) > MOST_NAMED:
        named.append(f"{len(chosen) - MOST_NAMED} more")
    return in_words(named) if named else ""


def position_text(position: Position, among: Sequence[Position]) -> str:
    """Return a throw, with its place in the cycle if others are written alike."""
    throw = " and ".join(position.throws)
    if sum(each.throws == position.throws for each in among) > 1:
        throw += f" on beat {cycle_places(position)}"
    if len({each.part for each in among}) > 1:
        throw += f" of {part_name(position.part)}"
    return throw


def cycle_places(position: Position) -> str:
    """Return the beats of the cycle on which a position's throws are, counted from one."""
    places = ["-" if beat is None else str(beat + 1) for beat in position.cycle_beats]
    return " and ".join(dict.fromkeys(places))


def part_name(part: str) -> str:
    """Return the name of a part, printable and cut to `LONGEST_PART` characters."""
    shown = without_controls(part)
    return shown if len(shown) <= LONGEST_PART else f"{shown[:LONGEST_PART]}..."


def _hands(hands: HandBias) -> str:
    spreads = f"sd right {ms(hands.right.sd)}, left {ms(hands.left.sd)}"
    fewest = min(hands.right.heard, hands.left.heard)
    if not beyond_chance(hands.difference, hands.uncertainty, freedom=fewest - 1):
        return f"together, as far as can be told ({give_or_take(hands.uncertainty)}); {spreads}"
    later = "later" if hands.difference > 0 else "earlier"
    difference = with_error(1000 * abs(hands.difference), 1000 * hands.uncertainty)
    return f"the right {difference} ms {later} than the left; {spreads}"


def _split(report: TakeReport) -> str:
    texts = []
    if report.split is not None:
        change = report.split
        texts.append(
            f"from {moment_text(change.time)} on: sd {ms(change.before)} before, "
            f"{ms(change.after)} after"
        )
    if report.drops:
        first, count = report.drops[0], len(report.drops)
        drops = "a drop" if count == 1 else f"{counted(count, 'drop')}, the first"
        after = after_throw(first, "a")
        texts.append(f"{drops} {drop_moment(first)}{after}, {percent(first.confidence)} sure")
    return "; ".join(texts) or "not as far as could be heard, and no drop"


FEWEST_IN_A_SET: Final = 8
"""A set with fewer catches is not reported on."""


def set_text(place: str, report: TakeReport, expected: int) -> str:
    """Return what was heard in a set; empty if next to nothing was thrown.

    `place` says in words which set it was; empty if there is only one. `expected` is the number
    of catches of everything thrown.
    """
    if expected < FEWEST_IN_A_SET:
        return ""
    name = place[:1].upper() + place[1:] if place else "This set"
    steady = report.steadiness
    if steady is None:
        return f"{name}: no catch of {expected:,} heard, or hardly any."
    heard = f"{steady.heard:,} of {steady.expected:,}"
    text = f"{name}: {heard} catches heard, sd {ms(steady.asynchrony_sd)}"
    if steady.lead is not None:
        text += f", {lead_text(steady.lead)}"
    drops = counted(len(report.drops), "drop") if report.drops else "no drop"
    return f"{text}; {drops} seen. This is {confidence_text(report.confidence)}."


def drop_text(drop: Drop, key: str) -> str:
    """Return that a drop was heard and marked; `key` takes the mark back, empty if none does."""
    after = after_throw(drop, "the")
    back = f" {key} takes it back." if key else ""
    return f"A drop was heard{after}, and is marked.{back}"
