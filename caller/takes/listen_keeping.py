"""What is kept of a take in the practice log."""

from typing import Final

from caller.practice_log.records import TakeTold
from caller.takes.listen_document import report_document
from caller.takes.take import HeardTake
from engine.patterns.canonical import canonical

LIVE: Final = "live"
"""Stands for the file of a practice that was listened to, and whose recording was not kept."""

NOT_KEPT: Final = frozenset({"sounds", "strays"})
"""Of a report: every single catch, which is in the recording as well."""


def take_told(heard: HeardTake, props: str) -> TakeTold:
    """Return what is kept of a take.

    Parameters
    ----------
    heard
        It was listened to.
    props
        What was juggled, if a person told; else what the routine tells.
    """
    report, asked = heard.report, heard.asked
    document = report_document(report)
    steady, hands = report.steadiness, report.hands
    return TakeTold(
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
        sureness=report.confidence,
        report={name: told for name, told in document.items() if name not in NOT_KEPT},
    )
