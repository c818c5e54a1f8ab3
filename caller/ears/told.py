"""What was heard in a set, in a sentence or two."""

from typing import Final

from caller.console.terminal import counted
from caller.takes.listen_figures import after_throw, confidence_told, lead_told, ms
from engine.catching.drops import Drop
from engine.catching.report import TakeReport

FEWEST_IN_A_SET: Final = 8
"""Catches of which something is told."""


def set_told(place: str, report: TakeReport, expected: int) -> str:
    """Return what was heard in a set; empty where next to nothing was thrown.

    `place` says which set it was, in words; empty where there is one. `expected` is how many
    catches all that was thrown has.
    """
    if expected < FEWEST_IN_A_SET:
        return ""
    name = place[:1].upper() + place[1:] if place else "This set"
    steady = report.steadiness
    if steady is None:
        return f"{name}: no catch of {expected:,} heard, or hardly any."
    heard = f"{steady.heard:,} of {steady.expected:,}"
    told = f"{name}: {heard} catches heard, sd {ms(steady.asynchrony_sd)}"
    if steady.lead is not None:
        told += f", {lead_told(steady.lead)}"
    drops = counted(len(report.drops), "drop") if report.drops else "no drop"
    return f"{told}; {drops} seen. This is {confidence_told(report.confidence)}."


def drop_told(drop: Drop, key: str) -> str:
    """Return that a drop was heard and marked.

    `key` is the key that takes the mark back; empty where there is none.
    """
    after = after_throw(drop, "the")
    back = f" {key} takes it back." if key else ""
    return f"A drop was heard{after}, and is marked.{back}"
