"""Plays what a person asked for, a pattern or a routine, live and hands-free."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Final

from throwcount.caller.log.records import local_day
from throwcount.caller.options.request import Request
from throwcount.caller.pieces.pattern import CYCLES_A_SET, pattern_piece
from throwcount.caller.pieces.piece import (
    Piece,
    about_calls,
    about_tempo,
    about_voice,
    called_voice,
    hands_text,
)
from throwcount.caller.practice.attempt_controller import AttemptController, attempt_request
from throwcount.caller.practice.live import Join, LiveSession, opened_session, tell_gaps
from throwcount.caller.practice.pattern_controller import SETTLED, BlockPlace, PatternController
from throwcount.caller.practice.recorder import Recorder, SessionFacts, Tally
from throwcount.caller.practice.situation import Practice
from throwcount.caller.terminal.controls import STOP, keys_of
from throwcount.caller.terminal.printing import length_text, shortened, tell, warn
from throwcount.engine.numbers import counted
from throwcount.engine.patterns.pattern import Pattern
from throwcount.sounds.child_process import Child

if TYPE_CHECKING:
    from throwcount.caller.pieces.routine import RoutineSource
    from throwcount.caller.practice.routine_controller import RoutineController
    from throwcount.caller.session_file.reading import SessionFile

MOST_LISTED: Final = 20
"""Attempts whose catches are listed at the end, at most."""


def play(
    subject: "Pattern | RoutineSource | SessionFile",
    request: Request,
    join: Join | None = None,
    child: Child | None = None,
) -> None:
    """Play a pattern, a routine or a session.

    A routine has a request of its own. `join` opens an observer; None for none. `child` is the
    process that plays, if it was started for this request already.

    Raises
    ------
    click.UsageError
        If the options contradict each other.
    MusicError
        If the music of a routine cannot be read.
    OutsideError
        If there is nothing to play on, or not any more.
    """
    if isinstance(subject, Pattern):
        _play_pattern(subject, request, join, child)
        return
    from throwcount.caller.session_file.reading import SessionFile

    if isinstance(subject, SessionFile):
        _play_session(subject, request, child)
    else:
        _play_routine(subject, join, child)


def _play_pattern(
    pattern: Pattern, request: Request, join: Join | None, child: Child | None
) -> None:
    """Practise a pattern."""
    voice_at = partial(called_voice, request)
    with opened_session(request, voice_at, join, child) as session:
        controller, piece = led_pattern(pattern, request, session)

        def introduce() -> str:
            heard_so = [*piece.warnings, *about_calls(piece), *about_voice(session.voice)]
            endless = request.total_sets is None or piece.run.opening.beats is None
            ending = f" {_stopping(request)}" if endless else ""
            hands = hands_text(pattern, piece.run.first)
            if controller.answer:
                tell(controller.answer)
            tell(f"{shortened(pattern.text)}: fill your hands, {hands}.{ending}")
            tell(*about_tempo(piece), *heard_so[len(piece.warnings) :])
            if controller.likely_sets:
                needed = counted(controller.likely_sets, "set")
                tell(f"The staircase is likely to need about {needed} until it settles.")
            warn(*piece.warnings)
            return " ".join(heard_so)

        lead_through(request, session, controller, introduce)
        tell(*practice_summary(controller))


def led_pattern(
    pattern: Pattern, request: Request, session: LiveSession, block: BlockPlace | None = None
) -> tuple[PatternController, Piece]:
    """Return the controller of a pattern's sets or attempts, and the first of them.

    Its answer is what there is to say of the tempo it goes on from. `block` is its place in a
    session file; None without one.
    """
    request, told = _resumed(pattern, request, session.recorder)
    controller: PatternController
    if request.of_attempts:
        request = attempt_request(pattern, request)
        piece = pattern_piece(pattern, request, session.voice, None)
        controller = AttemptController(request, piece, session, block=block)
    else:
        piece = pattern_piece(pattern, request, session.voice, CYCLES_A_SET)
        controller = PatternController(request, piece, session, block=block)
    controller.answer = told
    return controller, piece


def _play_session(file: "SessionFile", request: Request, child: Child | None) -> None:
    """Practise what a session file asks for, block after block."""
    from throwcount.caller.practice.session_controller import (
        SessionController,
        is_finished,
        requests_of,
    )

    resume, request = request.resume, file.request(request)
    requests = requests_of(file, request)
    is_over = partial(is_finished, requests)
    facts = SessionFacts(file=str(file.path.resolve()), resume=resume, is_over=is_over)
    with opened_session(request, partial(called_voice, request), None, child, facts) as session:
        controller = SessionController(file, requests, session, session.recorder.reached)
        piece = controller.piece

        def introduce() -> str:
            if resume:
                tell(_resumed_at(controller.place, session.recorder))
            if controller.answer:
                tell(controller.answer)
            heard_so = [*piece.warnings, *about_calls(piece), *about_voice(session.voice)]
            hands = hands_text(piece.run.opening.pattern, piece.run.first)
            blocks = counted(len(file.blocks), "block")
            tell(f"{file.title}: {blocks}. Fill your hands, {hands}. {_stopping(request)}")
            tell(*about_tempo(piece), *heard_so[len(piece.warnings) :])
            warn(*piece.warnings)
            return " ".join(heard_so)

        lead_through(request, session, controller, introduce)
        for each in controller.controllers:
            tell(f"{shortened(each.title)}: {' '.join(practice_summary(each))}")
        tell(*_marks_summary(controller.tally))


def _resumed_at(place: str, recorder: Recorder) -> str:
    if recorder.finished:
        return "The last session of this file was finished; it begins anew."
    if not recorder.reached:
        return "The practice log has no session of this file to go on from; it begins anew."
    return f"Going on with {place}, where the last session of this file ended."


def _play_routine(source: "RoutineSource", join: Join | None, child: Child | None) -> None:
    """Rehearse a routine."""
    from throwcount.caller.plans.page import concern_sentences
    from throwcount.caller.practice.routine_controller import RoutineController

    request = source.request
    facts = SessionFacts(file=str(source.file.path.resolve()))
    with opened_session(request, source.voice, join, child, facts) as session:
        piece = source.piece(session.voice)

        def introduce() -> str:
            heard_so = [*about_calls(piece), *about_voice(session.voice, piece.said)]
            opening = piece.run.opening
            hands = hands_text(opening.pattern, opening.first or piece.run.first)
            parts = counted(len(source.left().parts), "part")
            tell(
                f"{piece.title}: {parts}, {length_text(piece.seconds)}. Fill your hands, {hands}. "
                + _stopping(request)
            )
            tell(*heard_so)
            warnings = list(concern_sentences(source.order(piece.run)))
            warn(*warnings)
            return " ".join([*warnings, *heard_so])

        with source.music(session.voice.rate) as music:
            controller = RoutineController(source, session, music)
            lead_through(request, session, controller, introduce)
            tell(*routine_summary(controller))


def lead_through(
    request: Request,
    session: LiveSession,
    controller: Practice,
    introduce: Callable[[], str] = str,
) -> None:
    """Lead through a session, to its end or until Ctrl-C ends it.

    `introduce` is called when the sound has begun. It tells what there is to know, and returns what
    the screen shows of it until a key is pressed.
    """
    from throwcount.caller.terminal.screen import ending_in_order

    with ending_in_order():
        try:
            controller.begin()
            notice = introduce()
            from throwcount.caller.practice.loop import (
                PracticeLoop,  # slow, so the sound comes first
            )

            PracticeLoop(request, session, controller, notice).practise()
        except KeyboardInterrupt:
            controller.stop()
            tell("Stopped.")
        except BaseException:
            controller.keep()  # Whatever has happened, what was thrown is kept.
            raise
    tell_gaps(session.player)


def _stopping(request: Request) -> str:
    """Return how to stop, in a sentence."""
    from throwcount.caller.terminal.screen import can_read_keys

    own = keys_of(STOP, request.keys) if can_read_keys() else ()
    return f"{own[0]} or Ctrl-C stops." if own else "Ctrl-C stops."


def _resumed(pattern: Pattern, request: Request, recorder: Recorder) -> tuple[Request, str]:
    """Return the request, at the tempo last held if it asks for that, and a sentence about it."""
    if not request.resume:
        return request, ""
    held = recorder.last_held(pattern, request.props)
    if held is None:
        return request, "The practice log has no clean set of this pattern to go on from."
    run = "" if held.catches is None else f", for {counted(held.catches, 'catch')}"
    day = local_day(held.when)
    told = f"Going on from {held.tempo:g} beats a minute, last held clean on {day}{run}."
    return replace(request, tempo=held.tempo), told


def practice_summary(controller: PatternController) -> Iterator[str]:
    """Yield sentences about how a practice went."""
    runs = controller.runs if isinstance(controller, AttemptController) else []
    thing = "attempt" if runs else "set"
    several = f" in {counted(controller.sets, thing)}" if controller.sets > 1 else ""
    yield f"{counted(controller.throws, 'throw')}{several}."
    if runs:
        yield _runs_summary(runs, controller.best_before)
    if not controller.in_session:
        yield from _marks_summary(controller.tally)
    if controller.settled is not None:
        yield SETTLED.format(controller.settled)
    elif controller.likely_sets:
        more = counted(controller.likely_sets, "set")
        yield f"The staircase has not settled yet; it is likely to need about {more} more."
    if controller.sets > 1 and not runs:
        yield f"The next set would be at {controller.tempo:g} beats a minute."


def _runs_summary(runs: Sequence[int], before: int | None) -> str:
    """Return the catches of attempts, and the best of them against the best of all before."""
    shown = ", ".join(map(str, runs[-MOST_LISTED:]))
    text = f"Catches: {'... ' if len(runs) > MOST_LISTED else ''}{shown}."
    if len(runs) > 1:
        text += f" Best: {max(runs)}."
    if before is not None:
        beaten = "A personal best: until now it was" if max(runs) > before else "Your best is"
        text += f" {beaten} {before}."
    return text


def routine_summary(controller: "RoutineController") -> Iterator[str]:
    """Yield sentences about how a routine went."""
    yield f"{counted(controller.throws, 'throw')} in {counted(controller.sets, 'part')}."
    yield from _marks_summary(controller.tally)
    if controller.progress:
        yield controller.progress


def _marks_summary(tally: Tally) -> Iterator[str]:
    if tally.clean or tally.drops:
        heard = f", {tally.heard} of them heard by the microphone" if tally.heard else ""
        yield f"Marks: {tally.clean} clean, {tally.drops} dropped{heard}."
    if tally.taken_back:
        yield f"{counted(tally.taken_back, 'drop')} taken back by a clean mark."
