"""Reasons: what makes a pattern hard or easy, in sentences that a coach could say."""

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Final

from throwcount.engine.hands.work import MOST_RATE, Work
from throwcount.engine.patterns.flight import HIGH, HIGH_CAUTION, height
from throwcount.engine.patterns.pattern import Throw, Throws

LOW: Final = 0.05
"""Metres below which a throw hardly rises."""


def reasons(work: Work, tempo: float) -> tuple[str, ...]:
    """Return the sentences for what hands do at a tempo, in beats a minute."""
    return (
        *_heights(work, tempo),
        *_pace(work, tempo),
        *_rests(work),
        *_acts(work),
        *_rows(work),
        *_at_once(work),
    )


def _heights(work: Work, tempo: float) -> Iterator[str]:
    objects = _counted(work.objects, "object")
    if work.highest is None:
        yield f"{objects}; no throw is high enough to fly."
        return
    lowest = min(_thrown(work), key=lambda throw: _metres(throw, tempo))
    high, low = _metres(work.highest, tempo), _metres(lowest, tempo)
    text = f"{objects}; the highest throw, {work.highest}, rises {high:.1f} m"
    if not low:
        text += f", and the lowest, {lowest}, goes straight across"
    elif low < LOW:
        text += f", and the lowest, {lowest}, hardly rises"
    elif low < high:
        text += f", and the lowest, {lowest}, {low:.1f} m"
    yield f"{text}."
    if high > HIGH:
        yield HIGH_CAUTION


def _pace(work: Work, tempo: float) -> Iterator[str]:
    closest = work.closest_rate(tempo)
    if closest > MOST_RATE:
        yield (
            f"A hand is hurried: it throws {closest:.1f} times a second where it is busiest, and "
            f"{MOST_RATE:g} are about the most that it can keep up."
        )
    elif closest:
        yield f"A hand throws up to {closest:.1f} times a second."


def _rests(work: Work) -> Iterator[str]:
    turns = sum(hand.turns for hand in work.hands)
    for rests, what in (
        (sum(hand.empty for hand in work.hands), "is empty"),
        (sum(hand.holds for hand in work.hands), "just holds"),
    ):
        if 0 < rests < turns:
            share = Fraction(rests, turns)
            yield (
                f"On {share.numerator} of {share.denominator} turns a hand {what}, which is rest."
            )


def _acts(work: Work) -> Iterator[str]:
    right, left = (hand.acts for hand in work.hands)
    if right == left:
        if len(right) > 1:
            yield f"Both hands must know {_listed(right)}."
    elif right and left:
        yield (
            f"It is one-sided: one hand makes {_listed(right)}, the other {_listed(left)}. Begin "
            "with one side, and learn both."
        )


def _rows(work: Work) -> Iterator[str]:
    if work.high_in_a_row > 1:
        yield f"{work.high_in_a_row} high throws follow one another."
    if work.ones_in_a_row > 1:
        yield f"{work.ones_in_a_row} 1s follow one another, from hand to hand."
    if work.entry:
        throws = _counted(work.entry, "other throw")
        yield f"From the plain pattern it takes {throws} to get in."


def _at_once(work: Work) -> Iterator[str]:
    if work.at_once > 1:
        yield f"A hand that throws has up to {work.at_once} objects in it."
    if work.together:
        yield f"Both hands throw at once{', and not the same' if work.unlike else ''}."
    if work.meeting:
        yield "Objects cross at the same height, and must not meet."


def _thrown(work: Work) -> Iterator[Throw]:
    for hand in work.hands:
        for act in hand.acts:
            yield from (throw for throw in act if not throw.held)


def _metres(throw: Throw, tempo: float) -> float:
    return height(throw.value, tempo, crossed=throw.crossed) or 0.0


def _listed(acts: Iterable[Throws]) -> str:
    texts = [_written(act) for act in sorted(acts, key=_highest_first)]
    return " and ".join([", ".join(texts[:-1]), texts[-1]]) if len(texts) > 1 else texts[0]


def _highest_first(act: Throws) -> list[tuple[int, bool]]:
    return [(-throw.value, throw.crossed) for throw in reversed(act)]


def _written(act: Throws) -> str:
    text = "".join(str(throw) for throw in reversed(act))
    return text if len(act) == 1 else f"[{text}]"


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"
