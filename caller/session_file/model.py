"""What the tables of a session file may hold, key by key.

The ranges are those of the options of the same name. What keys require of one another is checked
by `throwcount.caller.session_file.rules`.
"""

from collections.abc import Mapping
from typing import Annotated, Final, Literal, TypeAlias, get_args

from pydantic import BaseModel, Field
from pydantic.fields import FieldInfo

from throwcount.caller.options.arguments import (
    CLEAN_IN_A_ROW,
    COUNT_INS,
    LANGUAGE,
    LEVELS,
    LONGEST_REST,
    NOT_COUNTED,
    READY_SECONDS,
    ClickChoice,
)
from throwcount.caller.options.practice_options import LARGEST_RAISE
from throwcount.caller.options.request import OnDrop
from throwcount.caller.options.settings_model import (
    NAMES,
    STRICT,
    YES_OR_NO,
    Level,
    as_written,
    described,
    within,
)
from throwcount.caller.routine_file.model import (
    A_LINE,
    A_NAME,
    BLOCKS,
    COUNTS,
    LONGEST_SECONDS,
    TEMPOS,
    WHOLE,
    Count,
    CountIn,
    FullLine,
    Line,
    Seconds,
    Tempo,
    fields_of,
)
from throwcount.caller.terminal.text import near
from throwcount.engine.patterns.pattern import Hand
from throwcount.engine.practice.goals import NamedGoal
from throwcount.engine.practice.tempo_rules import MARKS, Mark
from throwcount.engine.timing.run import SAY_MODES, SayMode
from throwcount.engine.timing.tempo import EXPONENTS, Curve

SETS: Final = (1, 1_000)
ATTEMPTS: Final = (1, 1_000)
GOAL_CATCHES: Final = (1, 1_000_000)
RESTS: Final = (0.0, LONGEST_REST)
RAISES: Final = (-LARGEST_RAISE, LARGEST_RAISE)
MOST_BLOCKS: Final = 1_000

A_GOAL: Final = '"flash", "qualify", or a number of catches such as 50'

Raise: TypeAlias = Annotated[float, Field(ge=RAISES[0], le=RAISES[1])]
Times: TypeAlias = Annotated[int, Field(ge=ATTEMPTS[0], le=ATTEMPTS[1])]
RestSeconds: TypeAlias = Annotated[float, Field(ge=RESTS[0], le=RESTS[1])]
ReadySeconds: TypeAlias = Annotated[float, Field(ge=READY_SECONDS[0], le=READY_SECONDS[1])]
GoalCatches: TypeAlias = Annotated[int, Field(ge=GOAL_CATCHES[0], le=GOAL_CATCHES[1])]
CleanSets: TypeAlias = Annotated[int, Field(ge=CLEAN_IN_A_ROW[0], le=CLEAN_IN_A_ROW[1])]


class EitherTable(BaseModel):
    """The keys that may stand in a block, and at the top for every block without its own."""

    model_config = STRICT

    props: Line | None = described("What is juggled, for the log", A_LINE, "beanbags")
    say: SayMode | None = described("What is called on the beats", SAY_MODES, "values")
    clicks: ClickChoice | None = described("Which throws click", get_args(ClickChoice), "both")
    first: Hand | None = described(
        "The hand that begins, where the hands alternate", get_args(Hand), "left"
    )
    ready: ReadySeconds | None = described(
        "Seconds to fill the hands before a block", within(READY_SECONDS), 10
    )
    count_in: CountIn | None = described(
        "Beats counted before the first throw", within(COUNT_INS, WHOLE), 6
    )
    rest: RestSeconds | None = described(
        "Seconds of rest between two sets, and after an attempt", within(RESTS), 30
    )
    rest_after: RestSeconds | None = described(
        "Seconds of rest after a block, before the next one", within(RESTS), 60
    )
    wait: bool | None = described(
        "Wait for a press of a key or pedal instead, before the first set and after each rest",
        YES_OR_NO,
        True,
    )
    unmarked: Mark | Literal["nothing"] | None = described(
        "How a set without a mark counts", (*MARKS, NOT_COUNTED), "clean"
    )
    on_drop: OnDrop | None = described(
        "Whether a drop ends the set, or only marks it", get_args(OnDrop), "go-on"
    )
    resume: bool | None = described(
        "Begin at the tempo last held clean, as far as the log has one", YES_OR_NO, True
    )


class SessionTable(EitherTable):
    """The top of the file: what holds for the whole session."""

    title: Line | None = described("What the session is called", A_LINE, "Tuesday")
    end: Line | None = described("What is said at the end", A_LINE, "well done")
    ceiling: Annotated[float, Field(ge=0)] | None = described(
        "Height of the room, in metres", "a number, 0 or more", 4
    )
    hands: Annotated[float, Field(ge=0)] | None = described(
        "Height of the hands above the floor, in metres", "a number, 0 or more", 1.1
    )
    dwell: Annotated[float, Field(gt=0, lt=1)] | None = described(
        "The share of the time that a hand holds an object",
        "a number more than 0 and less than 1",
        0.7,
    )
    voice: FullLine | None = described(
        "Whose voice: see `throwcount voices`, or a folder of recorded words", A_NAME, "recordings"
    )
    language: Annotated[str, Field(pattern=f"^{LANGUAGE}$")] | None = described(
        "The language of the calls", 'its letters in quotes, as in "en" or "de"', "en"
    )
    hall: bool | None = described("Make voice and clicks ready for a loud room", YES_OR_NO, True)
    voice_level: Level | None = described("Louder or softer voice, in dB", within(LEVELS), 3)
    click_level: Level | None = described("Louder or softer clicks, in dB", within(LEVELS), -6)
    announce: bool | None = described(
        "Say each pattern, its tempo and the first hand beforehand", YES_OR_NO, False
    )
    speak_rests: bool | None = described(
        "Say the rests and the time left of them", YES_OR_NO, False
    )
    milestones: bool | None = described('Call "flash" and "qualified"', YES_OR_NO, True)
    stop_word: bool | None = described('Call "stop" on the last throw', YES_OR_NO, False)
    names: Annotated[Line, Field(pattern=NAMES)] | None = described(
        'Your own names for objects A, B, C ..., called with say = "objects"',
        "a text in quotes, the names with commas between",
        "corn,plum,slate",
    )
    words: dict[str, Line] | None = described(
        "Your own words for throws, each by its digit or letter, with an x if it crosses",
        "a table of texts",
        {"2": "hold"},
    )
    phrases: dict[str, Line] | None = described(
        "Your own words for what else is said, such as last-one or rest",
        "a table of texts",
        {"last-one": "once more"},
    )


class BlockTable(EitherTable):
    """A table [[block]]: a pattern, and how it is practised."""

    pattern: str | None = described(
        "What is thrown", 'a pattern in quotes, or its name, as in "5 cascade"', "531"
    )
    name: Line | None = described("What the block is called", A_LINE, "warm-up")
    before: Line | None = described("What is said before the block", A_LINE, "slow and steady")
    cycles: Count | None = described("How long, in cycles", within(COUNTS, WHOLE), 16)
    beats: Count | None = described("How long, in beats", within(COUNTS, WHOLE), 60)
    seconds: Seconds | None = described(
        "How long, in seconds", f"a number more than 0, up to {LONGEST_SECONDS:g}", 60
    )
    tempo: Tempo | None = described(
        "Beats a minute at the first throw; suits the highest throw if left out",
        within(TEMPOS),
        180,
    )
    to: Tempo | None = described("Beats a minute at the end of the set", within(TEMPOS), 210)
    curve: Curve | None = described("How the tempo gets there", tuple(EXPONENTS), "linear-beats")
    sets: Annotated[int, Field(ge=SETS[0], le=SETS[1])] | None = described(
        "How many sets, each of 16 cycles unless a length is given", within(SETS, WHOLE), 5
    )
    raise_by: Annotated[Raise | None, Field(alias="raise")] = described(
        "Beats a minute from each set to the next; less than 0 slows down", within(RAISES), 5
    )
    back: bool | None = described(
        "Come back to the first tempo in the second half of the sets", YES_OR_NO, True
    )
    staircase: bool | None = described(
        "Let the tempo follow the marks, up after clean sets and down after a drop",
        YES_OR_NO,
        True,
    )
    clean_sets: CleanSets | None = described(
        "Clean sets in a row that raise the staircase", within(CLEAN_IN_A_ROW, WHOLE), 2
    )
    attempts: Times | None = described(
        "How many attempts, each until the drop", within(ATTEMPTS, WHOLE), 10
    )
    goal: NamedGoal | GoalCatches | None = described(
        "What an attempt is to reach", A_GOAL, "qualify"
    )
    goal_times: Times | None = described(
        "How often the goal is to be met, after which the attempts end", within(ATTEMPTS, WHOLE), 3
    )


TOP: Final = fields_of(SessionTable)
BLOCK: Final = fields_of(BlockTable)
"""Every key by the name it has in the file."""

EITHER: Final = frozenset(fields_of(EitherTable))
LENGTHS: Final = ("cycles", "beats", "seconds")
OF_ROUTINES: Final = frozenset({"part", "music"})


def unknown_key(key: str, known: Mapping[str, FieldInfo]) -> str:
    """Return a sentence about a key that one of the tables `TOP` and `BLOCK` does not have."""
    shown = as_written(key)
    if known is TOP and key in OF_ROUTINES:
        return (
            f"{shown} belongs in a routine file. A file has [[part]]s, which follow each other "
            "without a stop, or [[block]]s, which are practised; keep one of them."
        )
    if known is TOP and key in BLOCK:
        return f"{shown} belongs in a [[block]]."
    if known is BLOCK and key in TOP:
        return f"{shown} belongs at the top of the file, before the first [[block]]."
    owner, others = ("a session file", [BLOCKS]) if known is TOP else ("a block", [])
    return f"{shown} is no key of {owner}.{near(key, [*known, *others])}"
