"""What `listen` tells of a take as plain data: for JSON, and for the practice log.

Times are in seconds of the take.
"""

import math
from dataclasses import asdict
from typing import Final, TypeAlias

from throwcount.caller.log.records import TakeSummary
from throwcount.caller.reports.figures import TakeWindow, take_windows
from throwcount.caller.reports.take import ONLY_SOUNDS, Expectation, HeardTake
from throwcount.caller.terminal.printing import Document
from throwcount.engine.patterns.rows import canonical
from throwcount.engine.takes.catches import Catch
from throwcount.engine.takes.drops import Drop
from throwcount.engine.takes.report import Sound, TakeReport
from throwcount.engine.takes.steadiness import Change, Steadiness
from throwcount.engine.takes.throw_bias import HandBias, Position, Spread
from throwcount.sounds.echo.find_call import CallOnTake

Figures: TypeAlias = Spread | TakeWindow | Steadiness | Change

CATCH_KEYS: Final = ("throw", "beat", "cycle_beat", "part", "hand", "object")
DIGITS: Final = 6
"""Decimals of a number: microseconds."""


def listen_document(heard: HeardTake) -> Document:
    """Return the report on a take, and what belongs to it, as JSON has it."""
    return {
        "take": None if heard.path is None else str(heard.path),
        "against": _against(heard.asked),
        "call": None if heard.call is None else _call(heard.call),
        "notes": [*heard.asked.notes, *heard.notes],
        **report_document(heard.report),
    }


def report_document(report: TakeReport) -> Document:
    """Return a report as JSON has it."""
    return {
        "seconds": rounded(report.seconds),
        "thuds": report.thuds,
        "known": report.known,
        "sureness": rounded(report.confidence),
        "remarks": list(report.remarks),
        "verdict": _verdict(report),
        "rests_on": _rests_on(report),
        "tempo": rounded(report.tempo),
        "readings": [
            {"tempo": rounded(each.tempo), "share": rounded(each.share)} for each in report.readings
        ],
        "pace": [_figures(each) for each in take_windows(report)],
        "steadiness": None if report.steadiness is None else _figures(report.steadiness),
        "hands": None if report.hands is None else _hands(report.hands),
        "positions": [_position(each) for each in report.positions],
        "fell_apart": None if report.split is None else _figures(report.split),
        "drops": [_drop(each) for each in report.drops],
        "sounds": [_sound(each) for each in report.sounds],
        "strays": [rounded(each) for each in report.extra_times],
    }


def _against(asked: Expectation) -> Document | None:
    if not asked.title:
        return None
    return {
        "title": asked.title,
        "pattern": None if asked.pattern is None else asked.pattern.text,
        "tempo": asked.tempo,
        "dwell": asked.dwell,
    }


def _verdict(report: TakeReport) -> Document:
    """Return whether a take tells of a juggler, and what was heard that hinders it, if anything."""
    return {
        "tells": report.steadiness is not None,
        "heard": [each.kind for each in report.hindrances],
        "why": " ".join(each.text for each in report.hindrances),
    }


def _rests_on(report: TakeReport) -> Document:
    """Return what each figure rests on, in words; None for what is not told."""
    steady, hands = report.steadiness, report.hands
    sounds = steady and f"{steady.heard:,} of {steady.expected:,} sounds that were due"
    return {
        "steadiness": sounds,
        "hands": hands and f"{hands.right.heard:,} catches right, {hands.left.heard:,} left",
        "drops": sounds and f"gaps among {report.thuds:,} thuds",
        "sureness": ONLY_SOUNDS,
    }


def _call(call: CallOnTake) -> Document:
    return {
        "delay": rounded(call.delay),
        "drift_ppm": rounded(call.drift),
        "sureness": rounded(call.confidence),
    }


def _figures(figures: Figures) -> Document:
    """Return the fields of a dataclass of numbers."""
    return {name: rounded(number) for name, number in asdict(figures).items()}


def _hands(hands: HandBias) -> Document:
    return {
        "right": _figures(hands.right),
        "left": _figures(hands.left),
        "difference": rounded(hands.difference),
        "uncertainty": rounded(hands.uncertainty),
    }


def _position(position: Position) -> Document:
    return {
        "part": position.part,
        "cycle_beats": list(position.cycle_beats),
        "throws": list(position.throws),
        "comparable": position.comparable,
        **_figures(position.spread),
    }


def _drop(drop: Drop) -> Document:
    return {
        "time": rounded(drop.time),
        "catch": None if drop.catch is None else _catch(drop.catch),
        "kind": drop.kind,
        "missing": drop.missing,
        "resumed": rounded(drop.resumed),
        "sureness": rounded(drop.confidence),
        "within_beat": rounded(drop.within_beat),
    }


def _sound(sound: Sound) -> Document:
    return {
        "time": rounded(sound.time),
        "late": rounded(sound.late),
        "catches": [_catch(each) for each in sound.catches],
    }


def _catch(catch: Catch) -> Document:
    return {key: getattr(catch, key) for key in CATCH_KEYS}


def rounded(value: float | None) -> float | None:
    """Return a number rounded for JSON; None for None and for what JSON cannot write."""
    if value is None or not math.isfinite(value):
        return None
    return value if isinstance(value, int) else round(value, DIGITS)


LIVE: Final = "live"
"""The name in the log of a practice whose recording was not kept."""

NOT_KEPT: Final = frozenset({"sounds", "strays"})
"""The parts of a report with every single catch, which the recording has too."""


def take_summary(heard: HeardTake, props: str) -> TakeSummary:
    """Return what the log keeps of a take; empty `props` are those that the routine tells."""
    report, asked = heard.report, heard.asked
    document = report_document(report)
    steady, hands = report.steadiness, report.hands
    return TakeSummary(
        file=LIVE if heard.path is None else heard.path.name,
        title=asked.title,
        pattern="" if asked.pattern is None else canonical(asked.pattern).text,
        props=props or asked.props,
        seconds=report.seconds,
        heard=0 if steady is None else steady.heard,
        expected=len(report.sounds),
        tempo_asked=asked.tempo,
        tempo=report.tempo,
        asynchrony_sd=None if steady is None else steady.asynchrony_sd,
        interval_sd=None if steady is None else steady.interval_sd,
        right_later=None if hands is None else hands.difference,
        drops=len(report.drops),
        confidence=report.confidence,
        report={name: value for name, value in document.items() if name not in NOT_KEPT},
    )
