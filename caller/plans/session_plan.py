"""A session laid out: when each block begins, how long it takes, and what may go wrong.

Times are those of a practice without a pause or a press. What depends on the juggler is a guess,
told with "about" or `ABOUT`: all attempts are taken to be made and to go on until their goal, or
else to qualify; a staircase to stay where it begins; and a rest that waits for a press to last as
long as one that does not.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from rich.console import RenderableType
from rich.text import Text

from throwcount.caller.options.request import Request
from throwcount.caller.pieces.pattern import CYCLES_A_SET, pattern_piece, tempo_map
from throwcount.caller.pieces.piece import Piece
from throwcount.caller.routine_file.parts import judged
from throwcount.caller.session_file.reading import Block, SessionFile
from throwcount.caller.terminal.printing import (
    ROOM_CAUTION,
    Document,
    in_words,
    length_text,
    shortened,
    table,
)
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.flight import cautioned_once
from throwcount.engine.patterns.pattern import Pattern
from throwcount.engine.practice.goals import Goal, goal_catches, goal_text
from throwcount.engine.practice.tempo_rules import Climb
from throwcount.engine.scheduling.scheduler import seconds_of
from throwcount.engine.timing.tempo import held_tempo
from throwcount.sounds.voices.voice import CallingVoice, natural_seconds

USUAL_GOAL: Final[Goal] = "qualify"
"""How long an attempt without a goal is taken to go on."""

DIGITS: Final = 3
"""Decimals of seconds and metres in JSON."""

ABOUT: Final = "~"
GUESSED: Final = (
    f"{ABOUT} means about: all attempts are taken to be made, each as long as its goal or else a "
    "qualifying run; staircases to keep their first tempo; and rests that wait for you to last as "
    "long as others."
)


@dataclass(frozen=True, slots=True)
class PlannedBlock:
    """A block with its place in the session."""

    number: int
    """Its place in the file, from 1."""
    block: Block
    """What is practised."""
    request: Request
    """How it is practised."""
    piece: Piece
    """Its first set or attempt."""
    begins: float
    """Seconds from the start of the session."""
    seconds: float
    """How long it takes, with what is said before it and the rests within it."""
    about: bool
    """Whether that is a guess."""
    tempos: tuple[float, float]
    """The tempo of its first throw, and the one that is farthest from it, in beats a minute."""


@dataclass(frozen=True, slots=True)
class SessionPlan:
    """A session laid out."""

    file: SessionFile
    """The session."""
    blocks: tuple[PlannedBlock, ...]
    """Its blocks in order."""
    seconds: float
    """How long it takes."""
    warnings: tuple[str, ...]
    """What may go wrong with heights and tempos, in sentences."""

    @property
    def about(self) -> bool:
        """Whether its length is a guess."""
        return any(planned.about for planned in self.blocks)


def session_plan(file: SessionFile, request: Request, voice: CallingVoice) -> SessionPlan:
    """Return a session laid out as it is practised from start to end.

    `request` is what was typed, with time to fill the hands. `voice` says what is said.
    """
    said = natural_seconds(voice)
    planned: list[PlannedBlock] = []
    clock = 0.0
    for number, block in enumerate(file.blocks, 1):
        own = block.request(request)
        if number > 1 and "ready" not in block.options:
            own = replace(own, ready=0.0)  # the rest was time enough
        piece = pattern_piece(block.pattern, own, voice, CYCLES_A_SET if _of_sets(own) else None)
        spoken = said(block.before) if block.before else 0.0
        lengths = list(_lengths(block.pattern, own, piece))
        seconds = spoken + math.fsum(lengths) + (len(lengths) - 1) * own.rest_seconds
        about = own.attempts is not None or own.staircase or own.wait or own.resume
        planned.append(
            PlannedBlock(number, block, own, piece, clock, seconds, about, _tempos(own, piece))
        )
        clock += seconds + (block.rest_after if number < len(file.blocks) else 0.0)
    clock += said(file.end) if file.end else 0.0
    return SessionPlan(file, tuple(planned), clock, tuple(_warnings(planned)))


def _of_sets(request: Request) -> bool:
    return request.sets is not None or request.staircase


def _lengths(pattern: Pattern, request: Request, piece: Piece) -> Iterator[float]:
    """Yield the seconds of each set or attempt; those after the first need no time to get ready."""
    run = piece.run
    if request.attempts is not None:
        wanted = goal_catches(request.goal or USUAL_GOAL, pattern.objects)
        caught = pattern.caught_in(pattern.period)
        beats = -(-wanted // max(caught, 1)) * pattern.period
        if run.opening.beats is not None:
            beats = min(beats, run.opening.beats)
        run = replace(run, parts=(replace(run.opening, beats=beats),))
    known: dict[tuple[float, float], float] = {}  # most sets are like the one before
    for number, (tempo, to) in enumerate(_set_tempos(request, run.tempo.start)):
        ready = 0.0 if number else run.ready
        if (tempo, ready) not in known:
            moved = request if request.to is None else replace(request, to=to)
            tempos = tempo_map(pattern, tempo, run.opening.beats, moved)
            known[tempo, ready] = seconds_of(replace(run, tempo=tempos, ready=ready)) or 0.0
        yield known[tempo, ready]


def _set_tempos(request: Request, start: float) -> Iterator[tuple[float, float]]:
    """Yield the tempos at which each set or attempt begins and ends, as far as they are known."""
    number = request.attempts or request.total_sets or 1
    rule = Climb(start, request.raise_by, number // 2 if request.back else None)
    change = 0.0 if request.to is None else request.to - start
    for _ in range(number):
        yield rule.tempo, held_tempo(rule.tempo + change)
        rule = rule.after(None)


def _tempos(request: Request, piece: Piece) -> tuple[float, float]:
    """Return the tempo of the first throw, and the one that is farthest from it."""
    start = piece.run.tempo.start
    reached = [tempo for both in _set_tempos(request, start) for tempo in both]
    return start, max(reached, key=lambda tempo: abs(tempo - start))


def _warnings(planned: Sequence[PlannedBlock]) -> Iterator[str]:
    """Yield what may go wrong; what is the same in several blocks is said once."""
    blocks: dict[str, list[str]] = {}
    for each in planned:
        for sentence in each.piece.warnings:
            blocks.setdefault(sentence, []).append(str(each.number))
    for sentence, numbers in zip(cautioned_once(blocks), blocks.values(), strict=True):
        yield f"Block{'s' if len(numbers) > 1 else ''} {in_words(numbers)}: {sentence}"


def session_document(plan: SessionPlan, notes: Sequence[str] = ()) -> Document:
    """Return a session as JSON has it; `notes` are sentences to add."""
    return {
        "file": str(plan.file.path),
        "valid": True,
        "kind": "session",
        "title": plan.file.title,
        "seconds": round(plan.seconds, DIGITS),
        "about": plan.about,
        "end": plan.file.end,
        "blocks": [_block_document(each) for each in plan.blocks],
        "warnings": list(plan.warnings),
        "notes": list(notes),
    }


def _block_document(planned: PlannedBlock) -> dict[str, Any]:
    request, block = planned.request, planned.block
    objects, goal = block.pattern.objects, request.goal
    start, reached = planned.tempos
    metres = planned.piece.highest_m
    return {
        "number": planned.number,
        "title": block.title,
        "pattern": block.pattern.text,
        "objects": objects,
        "props": request.props or None,
        "before": block.before,
        "tempo": start,
        "to": reached,
        "sets": None if request.attempts is not None else request.total_sets,
        "staircase": request.staircase,
        "attempts": request.attempts,
        "goal": goal,
        "goal_catches": None if goal is None else goal_catches(goal, objects),
        "goal_times": request.goal_times,
        "time": round(planned.begins, DIGITS),
        "seconds": round(planned.seconds, DIGITS),
        "about": planned.about,
        "rest_after": block.rest_after,
        "highest_m": None if metres is None else round(metres, DIGITS),
    }


NUMBERS: Final = ("block", "at", "objects", "height (m)", "takes")
HOW: Final = 4
"""The number of the column that may be cut within a word."""

GAP: Final = 2
"""Blanks between two columns."""


def session_page(plan: SessionPlan, notes: Sequence[str] = ()) -> Iterator[RenderableType]:
    """Yield the parts of the page, from top to bottom; `notes` are sentences to add."""
    about = "about " if plan.about else ""
    blocks = counted(len(plan.blocks), "block")
    yield Text(f"{plan.file.title}: {blocks}, {about}{length_text(plan.seconds)} long.", "bold")
    yield Text()
    shown = table(
        "block", "at", "what", "objects", "how", "tempo", "height (m)", "takes", numbers=NUMBERS
    )
    shown.padding = (0, GAP, 0, 0)
    shown.columns[HOW].overflow = "fold"
    guessed = False
    for each in plan.blocks:
        shown.add_row(
            str(each.number),
            f"{ABOUT if guessed else ''}{length_text(each.begins)}",
            _what(each.block),
            str(each.block.pattern.objects),
            _how(each),
            _tempo(each),
            "-" if each.piece.highest_m is None else f"{each.piece.highest_m:.2f}",
            f"{ABOUT if each.about else ''}{length_text(each.seconds)}",
        )
        guessed = guessed or each.about
    yield shown
    for text in [*plan.warnings, *notes]:
        yield Text()
        yield Text(text)
    yield Text()
    if plan.about:
        yield Text(GUESSED, "dim")
    yield Text(f"Heights are above the hands, of the highest throw. {ROOM_CAUTION}", "dim")


def _what(block: Block) -> str:
    """Return the name of a block and its pattern, or the pattern alone, as it is written."""
    title = shortened(block.title)
    unnamed = judged(block.title)[0] == block.pattern
    return title if unnamed else f"{title}: {shortened(block.pattern.text)}"


def _how(planned: PlannedBlock) -> str:
    """Return in words how a block is practised, such as "10 attempts, qualify 3 times"."""
    request = planned.request
    if request.attempts is not None:
        text = counted(request.attempts, "attempt")
        if request.goal is None:
            return text
        text += f", {goal_text(request.goal)}"
        times = request.goal_times
        return text if times is None else f"{text} {counted(times, 'time')}"
    beats = planned.piece.run.opening.beats or 0
    cycles, rest = divmod(beats, planned.block.pattern.period)
    length = counted(beats, "beat") if rest else counted(cycles, "cycle")
    if request.seconds is not None:
        length = f"{request.seconds:g} s"
    if not _of_sets(request):
        return length
    sets = f"{counted(request.total_sets or 1, 'set')} of {length}"
    return f"{sets}, staircase" if request.staircase else sets


def _tempo(planned: PlannedBlock) -> str:
    start, reached = planned.tempos
    if planned.request.resume:
        return "as last held"
    if planned.request.staircase:
        return f"from {start:.0f}"
    return f"{start:.0f}" if start == reached else f"{start:.0f}-{reached:.0f}"
