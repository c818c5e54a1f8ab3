"""`throwcount plan`: a routine laid out part by part, and the beats of its music."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.options.arguments import (
    FILE,
    chosen,
    flag,
    json_option,
)
from throwcount.caller.options.play_options import output_option, shared_options
from throwcount.caller.options.request import NOT_OF_A_ROUTINE, Request
from throwcount.caller.options.sections import SectionedCommand
from throwcount.caller.options.settings import settings_option
from throwcount.caller.pictures.sheet import force_option, picture_option
from throwcount.caller.plans.music_beats import BeatsAsked, beats_options, found_beats, tell_beats
from throwcount.engine.errors import RunError
from throwcount.engine.timing.run import Run
from throwcount.sounds.files.whole_files import check_free, write_text

if TYPE_CHECKING:
    from throwcount.caller.pieces.routine import RoutineSource
    from throwcount.caller.routine_file.reading import RoutineFile
    from throwcount.engine.routines.running_order import RunningOrder

EPILOG: Final = """\
\b
Examples:
  throwcount plan walk.toml
  throwcount plan walk.toml --percent 80 --ceiling 2.6 --picture walk.svg
  throwcount plan --new walk.toml
  throwcount plan --new-session tuesday.toml
  throwcount plan --estimate walk.ogg
"""

NOT_PLANNED: Final = frozenset(
    {*NOT_OF_A_ROUTINE, "clicks", "tune", "hall", "voice_level", "click_level", "rate"}
)
"""Shared options that a plan has no use for."""

BATCH: Final = 1_000
"""Beats between two steps of the progress bar."""


EVERYDAY: Final = (
    *(
        "--new",
        "--new-session",
        "--picture",
        "--json",
        "--force",
        "--tap",
        "--estimate",
        "--beats-file",
    ),
    *("--percent", "--from", "--voice", "--ceiling", "--hands"),
)


@click.command(
    "plan", cls=SectionedCommand, everyday=EVERYDAY, epilog=EPILOG, context_settings=HELP_OPTIONS
)
@click.argument("file", type=FILE)
@flag("--new", "Write a routine file in which every key is explained.")
@flag("--new-session", "Write a session file in which every key is explained.")
@beats_options
@picture_option
@force_option
@json_option
@shared_options
@output_option
@settings_option
@click.pass_context
def plan_command(  # noqa: PLR0913, PLR0917 - click gives every option as an argument of its own
    ctx: click.Context,
    /,
    file: Path,
    new: bool,
    new_session: bool,
    picture: Path | None,
    force: bool,
    as_json: bool,
    **_options: object,
) -> None:
    """Lay out a routine, part by part, or a session, block by block.

    FILE is a routine file or a session file. The parts of a routine are listed with the throws that
    lead from one to the next, with tempo, heights and cue calls; the blocks of a session with how
    long they take. Both come with warnings of what may go wrong.

    Start times are those of the file that `throwcount render` writes with the same options, and
    options such as --ceiling win over the file's own keys. With --tap or --estimate, FILE may also
    be the music itself. You are then told where its beats are, in lines for the [music] table of a
    routine file.
    """
    from throwcount.caller.commands.shared import reporting_wrong_file, reporting_wrong_input
    from throwcount.caller.pieces.routine import routine_source
    from throwcount.caller.plans.page import plan_document, plan_page
    from throwcount.caller.plans.picture import draw_plan
    from throwcount.caller.session_file.reading import is_session_file
    from throwcount.caller.terminal.printing import show, show_json

    asked, request = BeatsAsked(**chosen(ctx.params, BeatsAsked)), Request.of(ctx)
    if asked.any(others=new or new_session or picture is not None):
        if asked.beats_file is not None:
            check_free(asked.beats_file, overwrite=force)  # before anybody taps for minutes
        tell_beats(found_beats(file, asked, request), file, asked, as_json=as_json)
        return
    if new or new_session:
        alone = picture is None and not as_json and not (new and new_session)
        _write_new(file, session=new_session, force=force, alone=alone)
        return
    if is_session_file(file):
        _lay_out_session(file, request, picture, as_json=as_json)
        return
    if picture is not None:
        check_free(picture, overwrite=force)
    with reporting_wrong_file(as_json):
        source = routine_source(file, request)
        run, order, notes, speakers = _planned(source)
    if picture is not None:
        with reporting_wrong_input(str(file), as_json):
            draw_plan(order, run, source.request.room, picture, overwrite=force)
    if as_json:
        show_json(plan_document(source.file, order, source.request.room, notes, speakers))
    else:
        show(*plan_page(source.file, order, source.request.room, notes))


# Each part sets some of them for itself; others change what is heard, but not when.
plan_command.params = [param for param in plan_command.params if param.name not in NOT_PLANNED]


def _write_new(file: Path, *, session: bool, force: bool, alone: bool) -> None:
    """Write a new file; raise `click.UsageError` if it is not the only thing asked for."""
    from throwcount.caller.routine_file.starter import starter_lines
    from throwcount.caller.session_file.starter import session_starter_lines
    from throwcount.caller.terminal.printing import tell

    if not alone:
        option = "--new-session" if session else "--new"
        raise click.UsageError(f"{option} writes a file to begin with; plan it afterwards.")
    write_text(file, session_starter_lines() if session else starter_lines(), overwrite=force)
    inner = "blocks" if session else "parts"
    tell(f"Wrote {file}: change its {inner}, then see `throwcount plan {file}`.")


def _lay_out_session(file: Path, request: Request, picture: Path | None, *, as_json: bool) -> None:
    """Show a session, block by block; raise `click.UsageError` if a picture is asked for."""
    from throwcount.caller.commands.shared import checked_session
    from throwcount.caller.options.request import READY_LIVE
    from throwcount.caller.pieces.piece import DEFAULT_RATE, about_voice, called_voice
    from throwcount.caller.plans.session_plan import session_document, session_page, session_plan
    from throwcount.caller.terminal.printing import show, show_json

    if picture is not None:
        raise click.UsageError("--picture draws a routine; a session has a table only.")
    session = checked_session(file, request, as_json=as_json)
    if "ready" not in request.typed:
        request = replace(request, ready=READY_LIVE)
    voice = called_voice(session.request(request), DEFAULT_RATE)
    plan = session_plan(session, request, voice)
    notes = tuple(about_voice(voice))
    if as_json:
        show_json(session_document(plan, notes))
    else:
        show(*session_page(plan, notes))


def _planned(
    source: "RoutineSource",
) -> tuple[Run, "RunningOrder", tuple[str, ...], Mapping[str, str]]:
    """Return the run of a routine, its parts in order, notes on music and voice, and who speaks."""
    from throwcount.caller.pieces.piece import DEFAULT_RATE, about_voice
    from throwcount.caller.plans.page import music_notes
    from throwcount.engine.scheduling.scheduler import schedule

    file, voice = source.file, source.voice(DEFAULT_RATE)
    run = source.piece(voice).run
    _go_through(file, run)
    order = source.order(run)
    notes = (*music_notes(source, run, order), *about_voice(voice, schedule(run)))
    return run, order, notes, voice.speakers


def _go_through(file: "RoutineFile", run: Run) -> None:
    """Follow every object from the first beat to the last, as when it is heard.

    Raises
    ------
    RoutineFileError
        If one cannot be followed, such as through a rest that ends before all are caught.
    """
    from throwcount.caller.routine_file.model import FileFault
    from throwcount.caller.routine_file.reading import RoutineFileError
    from throwcount.caller.terminal.printing import progress
    from throwcount.engine.scheduling.scheduler import schedule

    beats = sum(part.beats or 0 for part in run.parts)
    try:
        with progress(f"Planning {file.title}", beats) as done:
            for number, _ in enumerate(schedule(run), 1):
                if number % BATCH == 0:
                    done(BATCH)
    except RunError as error:
        raise RoutineFileError(file.path, [FileFault("", "", str(error))]) from error
