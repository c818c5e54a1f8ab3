"""What a practice told that was listened to, as plain data for JSON."""

from typing import Any

from caller.ears.ears import LiveListener, SetHeard
from caller.practice.tally import Tally
from caller.takes.listen_document import listen_document, rounded
from caller.takes.take import HeardTake


def practice_document(heard: HeardTake, listener: LiveListener) -> dict[str, Any]:
    """Return what JSON has of a practice: as of a take, and set by set as it was told."""
    return {
        **listen_document(heard),
        "sets": [_set(each) for each in listener.sets],
        "marks": None if listener.tally is None else _marks(listener.tally),
        "microphone": {"lost": bool(listener.fault), "message": listener.fault or None},
    }


def _set(told: SetHeard) -> dict[str, Any]:
    report, steady = told.report, told.report.steadiness
    return {
        "place": told.place,
        "heard": 0 if steady is None else steady.heard,
        "expected": told.expected if steady is None else steady.expected,
        "asynchrony_sd": None if steady is None else rounded(steady.asynchrony_sd),
        "lead": None if steady is None else rounded(steady.lead),
        "drops": len(report.drops),
        "sureness": rounded(report.confidence),
    }


def _marks(tally: Tally) -> dict[str, int]:
    return {
        "clean": tally.clean,
        "drops": tally.drops,
        "drops_heard": tally.heard,
        "taken_back": tally.taken_back,
    }
