"""What `check` says of a pattern, as plain data for JSON."""

from typing import Any, TypeAlias

from engine.errors import PatternError
from engine.patterns.orbits import orbits, start, swaps_hands, true_period
from engine.patterns.pattern import Hand, Pattern
from engine.patterns.states import due_by_beat, ground, is_prime, visits_ground

Document: TypeAlias = dict[str, Any]


def pattern_document(pattern: Pattern, first: Hand = "right") -> Document:
    """Return everything about a pattern that can be thrown, as JSON has it."""
    return {
        "pattern": pattern.text,
        "valid": True,
        "kind": pattern.kind,
        "multiplex": pattern.multiplex,
        "objects": pattern.objects,
        "period": pattern.period,
        "true_period": true_period(pattern),
        "highest": pattern.highest,
        "ground": ground(pattern),
        "visits_ground": visits_ground(pattern),
        "prime": is_prime(pattern),
        "state": due_by_beat(pattern),
        "start": start(pattern, first),
        "orbits": [
            {"objects": orbit.objects, "beats": orbit.beats, "throws": orbit.throws}
            for orbit in orbits(pattern, first)
        ],
        "swaps_hands": swaps_hands(pattern),
    }


def wrong_document(text: str, error: PatternError) -> Document:
    """Return why a text cannot be thrown, as JSON has it."""
    return {
        "pattern": text,
        "valid": False,
        "problem": error.problem,
        "at": error.at,
        "message": error.message,
    }
