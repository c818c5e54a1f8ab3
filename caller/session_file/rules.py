"""What the keys of a session file require of one another."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from throwcount.caller.options.settings_model import printed
from throwcount.caller.routine_file.model import FileFault, room_faults
from throwcount.caller.routine_file.parts import LONGEST_NAME
from throwcount.caller.session_file.model import BLOCK, LENGTHS, BlockTable, SessionTable
from throwcount.caller.terminal.printing import in_words, shortened
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.pattern import Pattern

OF_SETS: Final = ("sets", "staircase", "clean-sets", "raise", "back", "unmarked", "on-drop")
OF_ATTEMPTS: Final = ("goal", "goal-times")
FEWEST_FOR_BACK: Final = 3
"""Sets: there, the turn, and back."""


@dataclass(frozen=True, slots=True)
class CheckedBlock:
    """A block as far as it is right."""

    number: int
    """Its place in the file, from 1."""
    given: frozenset[str]
    """The keys that it has, whatever their values, except those that are false."""
    table: BlockTable
    """Its values, as far as they are right."""
    pattern: Pattern | None
    """What is thrown; None if that is wrong or left out."""

    @property
    def place(self) -> str:
        """Its place and name, such as "Block 3, “warm-up”"."""
        return block_place(self.number, self.table.name)

    @property
    def whole(self) -> bool:
        """Whether all of its keys are known, so that none is missing only because of its name."""
        return self.given <= frozenset(BLOCK)

    def fault(self, key: str, sentence: str) -> FileFault:
        """Return a fault of this block."""
        return FileFault(self.place, key, sentence)


def block_place(number: int, name: str | None = None) -> str:
    """Return the place and the name of a block, as in `CheckedBlock.place`."""
    text = f"Block {number}"
    return f"{text}, “{printed(name[:LONGEST_NAME])}”" if name else text


def top_rules(top: SessionTable) -> Iterator[FileFault]:
    """Yield what is wrong with the top of the file apart from its single values."""
    yield from room_faults(top.ceiling, top.hands)


def block_rules(block: CheckedBlock) -> Iterator[FileFault]:
    """Yield what is wrong with a block apart from its single values."""
    if "pattern" not in block.given and block.whole:
        yield block.fault("", 'it has no pattern, as in pattern = "531".')
    lengths = [key for key in LENGTHS if key in block.given]
    if len(lengths) > 1:
        yield block.fault(
            lengths[1], f"{in_words(lengths)}: each gives the length; keep one of them."
        )
    if "attempts" in block.given:
        yield from _attempts(block)
    else:
        yield from _sets(block)
        for key in OF_ATTEMPTS:
            if key in block.given and block.whole:
                text = f"{key} is for attempts; say how many at most, as in attempts = 10."
                yield block.fault(key, text)
    yield from _end(block, has_length=bool(lengths))


def _attempts(block: CheckedBlock) -> Iterator[FileFault]:
    pattern = block.pattern
    if pattern is not None and all(throw.held for _, throw in pattern.throws()):
        text = f"attempts count catches, and nothing is thrown in {shortened(pattern.text)}."
        yield block.fault("attempts", text)
    for key in OF_SETS:
        if key in block.given:
            yield block.fault(
                key,
                f"{key} is for sets, and this block has attempts, each until the drop; keep one "
                "of the two.",
            )
    times, attempts = block.table.goal_times, block.table.attempts
    if "goal-times" in block.given and "goal" not in block.given:
        text = 'goal-times counts how often a goal is met; say which one, as in goal = "qualify".'
        yield block.fault("goal-times", text)
    elif times is not None and attempts is not None and times > attempts:
        text = f"the goal cannot be met {times} times in {counted(attempts, 'attempt')}."
        yield block.fault("goal-times", text)


def _sets(block: CheckedBlock) -> Iterator[FileFault]:
    given = block.given
    if "staircase" in given:
        for key in sorted({"raise", "back"} & given):
            text = f"staircase lets the marks move the tempo, so {key} has no place in it."
            yield block.fault(key, text)
        if "sets" not in given:
            text = "a staircase has no end of its own; say how many sets, as in sets = 12."
            yield block.fault("staircase", text)
        return
    if "clean-sets" in given:
        yield block.fault("clean-sets", "clean-sets belongs to a staircase; add staircase = true.")
    if "back" in given and "raise" not in given:
        text = "back comes back from a tempo that was raised; add raise, as in raise = 5."
        yield block.fault("back", text)
    if "raise" in given and "sets" not in given:
        text = "raise moves the tempo from set to set; say how many, as in sets = 5."
        yield block.fault("raise", text)
    sets = block.table.sets
    if "back" in given and sets is not None and sets < FEWEST_FOR_BACK:
        yield block.fault("back", "back needs at least 3 sets: there, the turn, and back.")


def _end(block: CheckedBlock, *, has_length: bool) -> Iterator[FileFault]:
    """Yield what is wrong with how long a block goes on, and with what depends on it."""
    given, repeated = block.given, not block.given.isdisjoint({"sets", "attempts"})
    if not (repeated or has_length or "staircase" in given or not block.whole):
        text = "it has no end: give sets, attempts, or a length in cycles, beats or seconds."
        yield block.fault("", text)
    elif "to" in given and not has_length and "sets" not in given:
        text = "to changes the tempo over a length; give it in cycles, beats or seconds."
        yield block.fault("to", text)
    if "curve" in given and "to" not in given:
        text = "curve says how the tempo changes; say where it ends with to."
        yield block.fault("curve", text)
    if "rest" in given and not repeated:
        text = (
            "rest stands between sets, and this block has only one; the rest before the next "
            "block is rest-after."
        )
        yield block.fault("rest", text)
