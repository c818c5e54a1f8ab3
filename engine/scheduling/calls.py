"""What is called on each beat of a run, and all else that the program says.

The values of a synchronous pair are called one after the other: the left one on the beat of the
pair, the right one on the odd beat after it. If both are the same, the value is called once.

The count can drop out and come back, cycle by cycle. After each cycle with the count come some
without it: one, then two, and so on up to the longest stretch, then fewer again, so that the
juggler carries the time alone for longer and longer. That help should fade as skill grows is
reasonable, not proven for pacing (see the README).
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from functools import cache, lru_cache
from itertools import takewhile
from typing import Final, NamedTuple

from throwcount.engine.numbers import spoken
from throwcount.engine.patterns.pattern import (
    HIGHEST_VALUE,
    VALUE_DIGITS,
    Hand,
    Pattern,
    Throw,
    Throws,
)
from throwcount.engine.timing.manners import Manner, manners_at
from throwcount.engine.timing.objects import BeatTurn, HandTurn, Juggle, object_index
from throwcount.engine.timing.run import Part, Run, Wording
from throwcount.engine.timing.timeline import CallKind


def is_heard(cycle: int, longest: int) -> bool:
    """Return whether the count is heard in a cycle, counted from zero.

    `longest` is how many cycles the longest silent stretch has; 0 for a count that never fades.
    """
    if longest == 0:
        return True
    row = _row(longest)
    return row[cycle % len(row)]


@lru_cache
def _row(longest: int) -> tuple[bool, ...]:
    """Return whether each cycle is heard, until the stretches begin again."""
    stretches = [*range(1, longest + 1), *range(longest - 1, 1, -1)]
    return tuple(heard for silent in stretches for heard in (True, *[False] * silent))


class Called(NamedTuple):
    """A beat and its call."""

    turn: BeatTurn
    """The beat."""
    call: str | None
    """What is called; None for nothing."""
    kind: CallKind = "count"
    """What kind of call that is."""


STOP: Final = "stop"
SPELLING_ALPHABET: Final = {
    word[0]: word
    for word in (
        *("alfa", "bravo", "charlie", "delta", "echo", "foxtrot", "golf", "hotel", "india"),
        *("juliett", "kilo", "lima", "mike", "november", "oscar", "papa", "quebec", "romeo"),
        *("sierra", "tango", "uniform", "victor", "whiskey", "x ray", "yankee", "zulu"),
    )
}
"""The word for each letter (ITU Radio Regulations, appendix 14; ICAO Annex 10, volume II), with a
space for the hyphen of "x-ray"."""

SEVERAL: Final = {2: "double", 3: "triple"}
CROSS: Final = "cross"
FLASH: Final = "flash"
QUALIFIED: Final = "qualified"
TALLY_STEP: Final = 10


def value_word(value: int, wording: Wording) -> str:
    """Return the word for a throw value."""
    letter = VALUE_DIGITS[value]
    if letter in wording.own_words:
        return wording.own_words[letter]
    if wording.letters and letter.isalpha():
        return SPELLING_ALPHABET[letter] if wording.letters == "spelled" else letter
    return spoken(value)


def throws_words(throws: Throws, wording: Wording) -> str:
    """Return the words for what one hand throws at once.

    Equal throws are "double three"; throws that differ are their values in turn. Throws that all
    cross end with "cross", as in "four cross", unless the juggler has words for them.
    """
    throws = throws or (Throw(0),)
    own = [wording.own_words.get(str(throw)) for throw in throws]
    words = [
        word or value_word(throw.value, wording) for word, throw in zip(own, throws, strict=True)
    ]
    if len(words) in SEVERAL and len(set(words)) == 1:
        words = [SEVERAL[len(words)], words[0]]
    crossing = all(throw.crossed for throw in throws) and not any(own)
    return " ".join([*words, CROSS] if crossing else words)


def _fewer_words(throws: Throws, wording: Wording) -> str:
    """Return the one word for what a hand throws that matters most: how many, or the value."""
    if len(throws) in SEVERAL:
        return SEVERAL[len(throws)]
    return throws_words(tuple(Throw(throw.value) for throw in throws), wording)


def shorter_calls(run: Run) -> dict[str, str]:
    """Return fewer words for the calls of a run that have several."""
    manners = {each.call: each.shorter for each in called_manners(run) if each.shorter}
    if run.say != "values":
        return manners
    every = {throws for part in run.throwing for turn in part.pattern.turns for throws in turn}
    words = {
        throws_words(throws, run.wording): _fewer_words(throws, run.wording)
        for throws in every
        if throws
    }
    return {call: fewer for call, fewer in words.items() if fewer != call} | manners


def called_manners(run: Run) -> Iterator[Manner]:
    """Yield the manners of single throws that are called in a run."""
    return (manner for part in run.throwing for manner in part.manners if manner.call)


def calls(turns: Iterable[BeatTurn], run: Run) -> Iterator[Called]:
    """Yield each beat of a run without rests with its call.

    Throws that a part makes in a manner of their own are called by it, whatever else is called. The
    last cycle of a part opens with the part's own words for it, "wait"
    or "hurry" is called on the beat before a hand does so where the timing changes, and, as far as
    the run asks for them, "flash" and "qualified" where catches complete them, and "stop" on the
    last beat with throws. Of all this, only the manners fade.
    """
    called = _CALLERS[run.say](turns, run)
    if any(called_manners(run)):
        called = _with_manners(called)
    if run.fading.calls or any(part.last_cycle for part in run.throwing):
        called = _faded(called, run)
    if has_milestones(run):
        called = _with_milestones(called, run)
    called = _with_changes(called, run)
    return _with_stop(called) if run.stop_word else called


def has_milestones(run: Run) -> bool:
    """Return whether the milestones of a run are called."""
    return run.say == "tally" if run.milestones is None else run.milestones


def _with_manners(called: Iterable[Called]) -> Iterator[Called]:
    """Call the manner of a throw in place of its value.

    Of a pair it is called on the beat of both throws, even that of the hand that is told second;
    what the other hand throws is then only called if its turn is after it.
    """
    after: str | None = ""  # what is called on the beat after a pair; empty to leave that as it is
    for each in called:
        hands = [
            next((manner.call for manner in throws if manner and manner.call), "")
            for throws in manners_at(each.turn)
        ]
        told = [call for call in hands if call]
        if told:
            yield Called(each.turn, told[0], "manner")
            after = "" if not hands[-1] else told[1] if len(set(told)) > 1 else None
        elif each.turn.hands or after == "":
            yield each
            after = ""
        else:
            yield Called(each.turn, after, "manner")
            after = ""


def _faded(called: Iterable[Called], run: Run) -> Iterator[Called]:
    """Leave out the calls of the cycles in which the count has dropped out.

    The last of several cycles of a part opens with the part's own words all the same.
    """
    for each in called:
        turn, part = each.turn, each.turn.part
        cycle = turn.since // part.pattern.period
        last = part.beats is not None and turn.since == part.beats - part.pattern.period
        if part.last_cycle and last and turn.since > 0:
            yield Called(turn, part.last_cycle, "last cycle")
        else:
            yield each if is_heard(cycle, run.fading.calls) else Called(turn, None)


def _with_changes(called: Iterable[Called], run: Run) -> Iterator[Called]:
    """Call "wait" or "hurry" on the beat before a hand does."""
    words = {}
    first = 0
    for part in run.throwing:
        if part.hand_change is not None:
            words[first + part.hand_change.told] = part.hand_change.how
        first += part.beats or 0
    if not words:
        return iter(called)
    return (
        Called(each.turn, words[each.turn.beat], "hand change") if each.turn.beat in words else each
        for each in called
    )


def _with_stop(called: Iterable[Called]) -> Iterator[Called]:
    """Call "stop" on the last beat with throws, and nothing after it."""
    waiting: list[Called] = []
    for each in called:
        if each.turn.hands:
            yield from waiting
            waiting = []
        waiting.append(each)
    for turn, *_ in waiting:
        yield Called(turn, STOP, "stop") if turn.hands else Called(turn, None)


def _values(turns: Iterable[BeatTurn], run: Run) -> Iterator[Called]:
    @cache
    def pair(hands: tuple[HandTurn, ...]) -> tuple[str, str | None]:
        """Return the call of a beat, and that of the beat after it for the other hand."""
        first = throws_words(hands[0].throws, run.wording)
        last = throws_words(hands[-1].throws, run.wording)
        return first, None if last == first else last

    second = None
    for turn in turns:
        if turn.hands:
            first, second = pair(turn.throwing) if turn.throwing else (None, None)
        else:
            first, second = second, None
        yield Called(turn, first)


def _nothing(turns: Iterable[BeatTurn], _run: Run) -> Iterator[Called]:
    for turn in turns:
        yield Called(turn, None)


def _position(turns: Iterable[BeatTurn], _run: Run) -> Iterator[Called]:
    for turn in turns:
        pattern = turn.part.pattern
        position = turn.since % pattern.period // pattern.beats_per_turn + 1
        yield Called(turn, spoken(position) if turn.hands else None)


def _hands(turns: Iterable[BeatTurn], _run: Run) -> Iterator[Called]:
    for turn in turns:
        busy = [hand.hand for hand in turn.throwing if hand.throws]
        yield Called(turn, "both" if len(busy) > 1 else busy[0] if busy else None)


def _objects(turns: Iterable[BeatTurn], run: Run) -> Iterator[Called]:
    for turn in turns:
        names = (name for thrown in turn.objects for name in thrown)
        words = " ".join(_object_word(name, run.wording) for name in names)
        yield Called(turn, words or None)


def _object_word(name: str, wording: Wording) -> str:
    index = object_index(name)
    return wording.object_names[index] if index < len(wording.object_names) else name


def _tally(turns: Iterable[BeatTurn], run: Run) -> Iterator[Called]:
    """Call every tenth catch."""
    for each, caught in _counted(_nothing(turns, run), run):
        tens = [number for number in caught if number % TALLY_STEP == 0]
        yield Called(each.turn, spoken(tens[-1]) if tens else None)


def _with_milestones(called: Iterable[Called], run: Run) -> Iterator[Called]:
    """Call the catches that complete a flash, a qualifying run, and the goal.

    What opens the last cycle is called all the same.
    """
    objects = run.opening.pattern.objects
    milestones = {} if run.goal is None else {run.goal: spoken(run.goal)}
    milestones |= {objects: FLASH, 2 * objects: QUALIFIED}
    for each, caught in _counted(called, run):
        named = [milestones[number] for number in caught if number in milestones]
        if named and each.kind != "last cycle":
            yield Called(each.turn, named[-1], "milestone")
        else:
            yield each


def _counted(called: Iterable[Called], run: Run) -> Iterator[tuple[Called, range]]:
    """Yield each beat with its call, and which catches are made by then, counted from one."""
    catches: int | None = None
    coming: Counter[int] = Counter()
    for each in called:
        turn = each.turn
        if catches is None:
            catches, coming = _caught_before(turn.beat, run)
        coming.update(_catches(turn))
        caught = range(catches + 1, catches + coming.pop(turn.beat, 0) + 1)
        catches += len(caught)
        yield each, caught


def _caught_before(beat: int, run: Run) -> tuple[int, Counter[int]]:
    """Return how many catches come before a beat, and how many of earlier throws on later beats."""
    thrown = first = 0
    for part in run.throwing:
        beats = max(0, beat - first if part.beats is None else min(beat - first, part.beats))
        cycles, rest = divmod(beats, part.pattern.period)
        thrown += cycles * _thrown_to_be_caught(part, part.pattern.period)
        thrown += _thrown_to_be_caught(part, rest)
        first += part.beats or 0
    lately = takewhile(
        lambda turn: turn.beat < beat, Juggle(run.throwing, run.first, max(0, beat - HIGHEST_VALUE))
    )
    coming = Counter(catch for turn in lately for catch in _catches(turn) if catch >= beat)
    return thrown - coming.total(), coming


def _thrown_to_be_caught(part: Part, beats: int) -> int:
    """Return how many throws of the first `beats` beats of a part's pattern will be caught."""
    step = part.pattern.beats_per_turn
    return sum(
        not throw.held and site not in part.kept
        for site, throw in part.pattern.throws()
        if site[0] * step < beats
    )


def _catches(turn: BeatTurn) -> Iterator[int]:
    """Yield the beat by which each throw of this beat is caught.

    A hand holds an object for more than one beat before it throws it again (dwell), so a throw
    of n is caught by the beat n - 1 later. A held 2 is not caught.
    """
    for hand in turn.throwing:
        for throw in hand.throws:
            if not throw.held:
                yield turn.beat + throw.value - 1


_CALLERS: Final = {
    "values": _values,
    "position": _position,
    "hands": _hands,
    "objects": _objects,
    "tally": _tally,
    "nothing": _nothing,
}

LONGEST_READ_OUT: Final = 8
"""Most turns of a pattern that is read out; of a longer one only the length is said."""


def announcement(
    pattern: Pattern,
    tempo: float,
    first: Hand,
    wording: Wording,
    held: Mapping[Hand, int] | None = None,
) -> str:
    """Return what is said before a run: "five three one, tempo one hundred fifty ...".

    `tempo` is in beats a minute. `first` is the hand that begins, which is said where the hands
    alternate. `held` is how many objects each hand holds at the start; not told if None.
    """
    words = [pattern_words(pattern, wording), f"tempo {spoken(round(tempo))}"]
    if held is not None:
        words.append(f"right {spoken(held['right'])}, left {spoken(held['left'])}")
    if pattern.kind == "async":
        words.append(f"{first} hand first")
    return ", ".join(words)


def pattern_words(pattern: Pattern, wording: Wording) -> str:
    """Return the throws of a pattern in words, or only its length if it is long."""
    if len(pattern.turns) > LONGEST_READ_OUT:
        return f"pattern {spoken(pattern.period)} beats"
    return " ".join(throws_words(throws, wording) for turn in pattern.turns for throws in turn)


WAIT: Final = "wait"
HURRY: Final = "hurry"

SLOT: Final = "n"
"""Stands for any number in the name of a phrase."""

NUMBER: Final = "N"
"""Stands for that number in the words of the phrase."""

NEXT: Final = "next"
"""Opens the cue call of a pattern, so that its values are not taken for the count. This is the only
phrase that any words may follow, such as "next the long way round"."""

STOCK_PHRASES: Final[Mapping[str, str]] = {
    "stop": "on the last throw",
    "last-one": "where the last cycle begins",
    "both": "for both hands",
    "right": "for the right hand, and before what it holds",
    "left": "for the left hand, and before what it holds",
    "double": "before the value of two objects from one hand, or instead of it",
    "triple": "before the value of three objects from one hand, or instead of it",
    "cross": "after the value of a throw of a pair that crosses to the other hand",
    FLASH: "when every object has been caught once",
    QUALIFIED: "when every object has been caught twice",
    WAIT: "before a hand throws a beat late, where the timing changes",
    HURRY: "before a hand throws a beat early, where the timing changes",
    "tempo-n": "the tempo, announced or reached",
    "right-hand-first": "the hand that begins",
    "left-hand-first": "the hand that begins",
    "pattern-n-beats": "a pattern that is too long to be read out",
    "set-n": "before a set",
    "attempt-n": "before an attempt",
    "of-n": "how many sets or attempts there are, after the number of one",
    "n-catches": "the catches of a run that has ended",
    "one-catch": "likewise, if it is one",
    "personal-best": "after them, if there were never so many",
    "best": "before the catches of the best attempt, at the end",
    "rest": "where a rest begins",
    "n-seconds": "what is left of a rest",
    NEXT: "before the name or the values of what comes next",
    "pick-up-n": "objects that come in",
    "n-down": "objects that are put down",
}
"""All that is said besides numbers: the name of each phrase, and when it is said.

The names are the English words with dashes between them. The phrases are made here, in
`engine/routines/routine_run` and in `caller/practice`; voices of other languages translate them.
"""

IN_ENGLISH: Final[Mapping[str, str]] = {
    name: " ".join(NUMBER if word == SLOT else word for word in name.split("-"))
    for name in STOCK_PHRASES
}
"""The English words of each phrase."""
