"""The request: all that a person asked for, as one value from the command line to the run."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Literal, TypeAlias, get_args

import click

from throwcount.caller.options.arguments import NOT_COUNTED, ClickChoice, chosen, is_typed
from throwcount.caller.terminal.controls import Control, key_map, with_one_pedal
from throwcount.engine.errors import PatternError
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.flight import DWELL_RATIO, HANDS_HEIGHT, Room
from throwcount.engine.patterns.pattern import Hand
from throwcount.engine.patterns.rules import read
from throwcount.engine.practice.goals import Goal
from throwcount.engine.practice.tempo_rules import CLEAN_SETS, Mark
from throwcount.engine.timing.run import LetterWords, SayMode

READY_IN_A_FILE: Final = 1.0
READY_LIVE: Final = 8.0
"""Seconds to fill the hands, where neither a person nor a routine says how many."""

OnDrop: TypeAlias = Literal["stop", "go-on"]
"""Whether a drop ends the set, or only marks it."""

ON_DROPS: Final[tuple[OnDrop, ...]] = get_args(OnDrop)

REST_OF_SETS: Final = 20.0
REST_OF_ATTEMPTS: Final = 8.0
"""Seconds of a rest, unless a person says how many; after a drop, what it takes to pick up."""

STEPS: Final = "steps"
"""A change of tempo in steps and not along a curve."""

DEFAULT_STEP: Final = 5.0
"""Beats a minute."""

DEFAULT_EVERY: Final = 4
"""Cycles."""

USUAL_KEYS: Final = key_map()


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What a person asked for; None where they left the choice to the program.

    What a command has no option for keeps its default.
    """

    subject: str = ""
    """The pattern or the routine file, as it was written."""

    # Tempo and length.
    tempo: float | None = None
    """Beats a minute at the first throw."""
    to: float | None = None
    """Beats a minute at the end, where the tempo changes."""
    curve: str | None = None
    """How the tempo changes: a curve, or steps."""
    step: float | None = None
    """Beats a minute that a step adds."""
    every: int | None = None
    """Cycles between two steps."""
    cycles: int | None = None
    """Repetitions of the pattern; at most one of `cycles`, `beats` and `seconds` is given."""
    beats: int | None = None
    """Beats to throw for."""
    seconds: float | None = None
    """Seconds to throw for."""

    # Calls.
    say: SayMode = "values"
    """What is called on the beats."""
    letters: LetterWords | None = None
    """How values from 10 up are called by their letter; by their number if None."""
    word: Mapping[str, str] = field(default_factory=dict)
    """The person's own words for throws, by how they are written."""
    names: tuple[str, ...] = ()
    """The person's own names for the objects."""
    lead: int = 0
    """Beats by which each call comes before its throw."""
    fade: int = 0
    """The most cycles for which the count drops out."""
    fade_clicks: int = 0
    """The most cycles for which the clicks drop out."""
    announce: bool = True
    """Whether pattern, tempo and first hand are said before the count-in."""
    cues: bool = True
    """Whether the changes of a routine are announced."""
    milestones: bool | None = None
    """Whether "flash" and "qualified" are called; with a tally alone if None."""
    stop_word: bool = True
    """Whether "stop" is called on the last throw, and "last one" before it in sets."""
    language: str | None = None
    """The language of the calls, by its tag; English if None."""
    phrase: Mapping[str, str] = field(default_factory=dict)
    """The person's own words for what else is said, by the names of the stock phrases."""

    # Start.
    first: Hand = "right"
    """The hand that begins, where the hands alternate."""
    ready: float = READY_IN_A_FILE
    """Seconds before the announcement, to fill the hands."""
    count_in: int = 4
    """Beats counted before the first throw."""

    # Sound.
    clicks: ClickChoice = "both"
    """Which throws click."""
    tune: bool = True
    """Whether a click's pitch follows the throw's value."""
    voice_level: float = 0.0
    """In dB against the usual level."""
    click_level: float = 0.0
    """In dB against the usual level."""
    voice: str | None = None
    """Whose voice: a name, or a folder of recorded words."""
    hall: bool = False
    """Whether voice and clicks are made ready for a loud room."""
    output: str | None = None
    """The name of an output, or a part of it that no other has; the default output if None."""
    rate: int | None = None
    """Sample rate in Hz; if None, that of the device, or the usual one of a file."""

    # Of a routine.
    begin: str | None = None
    """The part to begin with: its number or its name."""
    until: str | None = None
    """The part to end with: its number or its name."""
    until_clean: int | None = None
    """Clean times in a row after which a routine is no longer repeated; None to go by `sets`."""
    percent: float | None = None
    """The tempo of the routine, in percent of its own."""

    # The room.
    ceiling: float | None = None
    """Height of the room in metres; None where it does not matter."""
    hands: float = HANDS_HEIGHT
    """Height of the hands above the floor, in metres."""
    dwell: float = DWELL_RATIO
    """The share of the time that a hand holds an object, between 0 and 1."""

    # Practice.
    sets: int | None = None
    """Sets in a round; None for a single set, or with a staircase for sets without end."""
    rounds: int = 1
    """How often the sets are repeated."""
    rest: float | None = None
    """Seconds between two sets; the usual if None."""
    round_rest: float = 60.0
    """Seconds between two rounds."""
    speak_rests: bool = True
    """Whether the rests, the time left of them, the catches of a run, and the tempo or best run at
    the end are said."""
    raise_by: float = 0.0
    """Beats a minute from each set to the next; less than 0 slows down."""
    back: bool = False
    """Whether the tempo comes back in the second half of the sets."""
    staircase: bool = False
    """Whether the tempo follows the marks."""
    clean_sets: int = CLEAN_SETS
    """Clean sets in a row that raise the staircase."""
    unmarked: Mark | None = None
    """How a set without a mark counts; None where it does not count."""
    attempts: int | None = None
    """Attempts, each until the drop; None for sets, or for attempts without end."""
    goal: Goal | None = None
    """What an attempt is to reach; None for nothing."""
    goal_times: int | None = None
    """How often the goal is to be met, after which the attempts end; None to go on."""
    on_drop: OnDrop | None = None
    """What a drop does; if None, it stops, but a routine without `until_clean` goes on."""
    wait: bool = False
    """Whether the first set and those after a rest wait for a press."""
    resume: bool = False
    """Whether to begin at the tempo last held clean."""
    props: str = ""
    """What is juggled, for the log."""
    keep: bool = True
    """Whether the practice is kept in the log."""
    log_file: Path = Path()
    """The practice log."""

    # Live.
    keys: Mapping[str, Control] = field(default_factory=lambda: USUAL_KEYS)
    """What each key asks for."""
    latency: float = 0.05
    """Seconds of sound kept ready."""
    speaker_delay: float = 0.0
    """Seconds from the device to the ear, beyond the latency that the device tells."""

    # Live listening.
    microphone: str | None = None
    """The name of an input, or a part of it that no other has; the default input if None."""
    take: Path | None = None
    """The file for the recording; None where it is not kept."""
    headphones: bool = False
    """Whether the call is heard on headphones, and so not by the microphone."""
    mark_drops: bool = False
    """Whether a drop that is heard marks the set."""
    typed: frozenset[str] = frozenset()
    """The options that were typed and not taken from defaults, by the names of their parameters."""

    @property
    def of_attempts(self) -> bool:
        """Whether a pattern is thrown in attempts, each until the drop, and not in sets."""
        return self.attempts is not None or (self.sets is None and not self.staircase)

    @property
    def rest_seconds(self) -> float:
        """Seconds between two sets or attempts."""
        if self.rest is not None:
            return self.rest
        return REST_OF_ATTEMPTS if self.of_attempts else REST_OF_SETS

    @property
    def total_sets(self) -> int | None:
        """The sets of all rounds, or the attempts; None without end."""
        if self.attempts is not None:
            return self.attempts
        if self.sets is not None:
            return self.sets * self.rounds
        return None if self.staircase else 1

    @property
    def single(self) -> bool:
        """Whether there is only one set."""
        return self.total_sets == 1

    @property
    def room(self) -> Room:
        """The room, for heights; raises `FlightError` if the ceiling is not above the hands."""
        return Room(self.ceiling, self.hands, self.dwell)

    @classmethod
    def of(cls, ctx: click.Context, *, live: bool = False) -> "Request":
        """Return what the arguments of a command ask for; those that have no field are ignored.

        `live` tells whether it is played at once, so that a person needs time to fill the hands.

        Raises
        ------
        click.UsageError
            If two options contradict each other.
        """
        given = chosen(ctx.params, cls)
        if given.get("unmarked") == NOT_COUNTED:
            given["unmarked"] = None
        if "key" in ctx.params:
            keys = ctx.params["key"]
            given["keys"] = with_one_pedal(keys) if ctx.params.get("one_pedal") else keys
        if "speaker_delay" in given:
            given["speaker_delay"] /= 1000
        if given.get("ready") is None:
            given["ready"] = READY_LIVE if live else READY_IN_A_FILE
        typed = frozenset(name for name in ctx.params if is_typed(ctx, name))
        request = cls(**given, typed=typed)
        _check_run(request)
        _check_practice(request)
        return request


def _check_run(request: Request) -> None:
    lengths = [
        f"--{name}" for name in ("cycles", "beats", "seconds") if getattr(request, name) is not None
    ]
    if len(lengths) > 1:
        raise click.UsageError(f"{' and '.join(lengths)} both give the length; keep one of them.")
    if request.curve is not None and request.to is None:
        raise click.UsageError("--curve says how the tempo changes; say where to with --to BPM.")
    if request.lead > request.count_in:
        raise click.UsageError(
            f"The first throws cannot be called {counted(request.lead, 'beat')} before them with "
            f"a count-in of {request.count_in}; raise --count-in or lower --lead."
        )
    for name in ("step", "every"):
        if getattr(request, name) is not None and request.curve != STEPS:
            raise click.UsageError(f"--{name} belongs to --curve {STEPS}.")


def _check_practice(request: Request) -> None:
    if request.staircase and (request.raise_by or request.back):
        raise click.UsageError(
            "--staircase lets the marks move the tempo, so --raise and --back have no place in it."
        )
    if request.back and not request.raise_by:
        raise click.UsageError("--back comes back from a tempo that was raised; add --raise BPM.")
    total = (request.sets or 1) * request.rounds
    if request.back and total < 3:  # noqa: PLR2004 - there, the turn, and back
        raise click.UsageError("--back needs at least 3 sets: there, the turn, and back.")
    _check_attempts(request)
    if request.rounds > 1 and request.sets is None:
        raise click.UsageError("--rounds repeats a number of sets; say how many with --sets N.")


def _check_attempts(request: Request) -> None:
    for option, given in {"--sets": request.sets, "--staircase": request.staircase}.items():
        if given and request.attempts is not None:
            raise click.UsageError(
                f"--attempts and {option} are two ways to practise; keep one of them."
            )
        if given and request.goal is not None:
            raise click.UsageError(f"--goal is for attempts, and has no place with {option}.")
    if request.goal_times is not None and request.goal is None:
        raise click.UsageError("--goal-times counts how often a goal is met; add --goal.")


ENDING: Final = ".toml"


def is_routine_file(subject: str) -> bool:
    """Return whether a subject on the command line is a routine file and not a pattern.

    A name that ends in ``.toml`` is one even where there is no such file, so that it is reported
    as missing. Any other file is one unless its name can be thrown; a folder is not.
    """
    if subject.lower().endswith(ENDING):
        return True
    path = Path(subject)
    try:
        if not path.exists() or path.is_dir():
            return False
    except (OSError, ValueError):  # A name that no file can have.
        return False
    try:
        read(subject)
    except PatternError:
        return True
    return False


NOT_OF_A_ROUTINE: Final = ("tempo", "to", "curve", "step", "every", "cycles", "beats", "seconds")
"""Options that a routine file sets for each of its parts."""


def refuse_without_routine(request: Request, subject: str = "a single pattern") -> None:
    """Raise `click.UsageError` if something is asked of another subject that a routine has."""
    asked = {"--from": request.begin, "--until": request.until, "--percent": request.percent}
    asked["--until-clean"] = request.until_clean
    for option, given in asked.items():
        if given is not None:
            raise click.UsageError(f"{option} is for a routine file; this is {subject}.")


def refuse_with_routine(request: Request) -> None:
    """Raise `click.UsageError` if the tempo of a routine is to move from set to set."""
    moved = {"--raise": request.raise_by, "--staircase": request.staircase}
    moved |= {"--attempts": request.attempts is not None, "--goal": request.goal is not None}
    moved |= {"--resume": request.resume, "--rounds": request.rounds > 1}
    for option, given in moved.items():
        if given:
            raise click.UsageError(
                f"{option} is for a single pattern; a routine is slowed down or sped up with "
                "--percent, and repeated with --sets."
            )
