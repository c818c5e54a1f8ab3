"""`throwcount plan`: a routine laid out part by part, and the beats of its music."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.options.arguments import (
    FILE,
    chosen,
    flag,
    in_order,
    json_option,
    option,
)
from throwcount.caller.options.play_options import output_option, shared_options
from throwcount.caller.options.request import NOT_OF_A_ROUTINE, Request
from throwcount.caller.options.sections import SectionedCommand
from throwcount.caller.options.settings import settings_option
from throwcount.caller.pictures.sheet import force_option, picture_option
from throwcount.caller.plans.music_beats import BeatsAsked, beats_options, found_beats, tell_beats
from throwcount.caller.plans.part_lines import COLUMNS, part_lines, spreadsheet
from throwcount.engine.errors import RunError
from throwcount.engine.timing.run import Run
from throwcount.sounds.files.whole_files import check_free, write_text

if TYPE_CHECKING:
    from throwcount.caller.pieces.routine import RoutineSource
    from throwcount.caller.routine_file.reading import RoutineFile
    from throwcount.engine.routines.running_order import RunningOrder

EPILOG: Final = (
    """\
\b
Examples:
  throwcount plan walk.toml
  throwcount plan walk.toml --percent 80 --ceiling 2.6 --picture walk.svg
  throwcount plan walk.toml --sheet walk.html
  throwcount plan walk.toml --csv > walk.csv
  throwcount plan --new walk.toml
  throwcount plan --new-session tuesday.toml
  throwcount plan --estimate walk.ogg --beats-file walk.txt

\b
Columns of --csv, a line a part:
"""
    + "\n".join(f"  {name:13}{what}" for name, (what, _) in COLUMNS.items())
    + "\n"
)

NOT_PLANNED: Final = frozenset(
    {*NOT_OF_A_ROUTINE, "clicks", "tune", "hall", "voice_level", "click_level", "rate"}
)
"""Shared options that a plan has no use for."""

BATCH: Final = 1_000
"""Beats between two steps of the progress bar."""

SHEET_ENDINGS: Final = {".html", ".htm"}


EVERYDAY: Final = (
    "--new --new-session --picture --sheet --csv --json --force --tap --estimate --beats-file "
    "--percent --from --ceiling"
).split()


@dataclass(frozen=True, slots=True)
class PlanForms:
    """The forms in which a plan is wanted, besides its page."""

    picture: Path | None = None
    sheet: Path | None = None
    as_csv: bool = False
    as_json: bool = False

    def check(self) -> None:
        """Raise `click.UsageError` if they do not go together, or the sheet has a wrong ending."""
        if self.as_json and self.as_csv:
            raise click.UsageError("--json and --csv both fill the output; keep one of them.")
        if self.sheet is not None and self.sheet.suffix.lower() not in SHEET_ENDINGS:
            raise click.UsageError(
                f"--sheet {self.sheet}: a sheet has the ending .html, to print from a browser."
            )

    def for_a_routine(self) -> str:
        """Return the first option given that only a routine has a use for; empty if none is."""
        given = {"--picture": self.picture, "--sheet": self.sheet, "--csv": self.as_csv}
        return next((option for option, value in given.items() if value), "")


forms_options = in_order(
    picture_option,
    option("--sheet FILE", FILE, "Write a cue sheet to print on A4 too: one .html file."),
    force_option,
    flag("--csv", "Print the parts as comma-separated values: see below.", name="as_csv"),
    json_option,
)


@click.command(
    "plan", cls=SectionedCommand, everyday=EVERYDAY, epilog=EPILOG, context_settings=HELP_OPTIONS
)
@click.argument("file", type=FILE)
@flag("--new", "Write a routine file in which every key is explained.")
@flag("--new-session", "Write a session file in which every key is explained.")
@beats_options
@forms_options
@shared_options
@output_option
@settings_option
@click.pass_context
def plan_command(
    ctx: click.Context,
    /,
    file: Path,
    new: bool,
    new_session: bool,
    force: bool,
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
    from throwcount.caller.session_file.reading import is_session_file

    asked, request = BeatsAsked(**chosen(ctx.params, BeatsAsked)), Request.of(ctx)
    forms = PlanForms(**chosen(ctx.params, PlanForms))
    forms.check()
    if asked.any(others=new or new_session or bool(forms.for_a_routine())):
        asked.check_free(overwrite=force)
        tell_beats(found_beats(file, asked, request), file, asked, as_json=forms.as_json)
    elif new or new_session:
        alone = forms == PlanForms() and not (new and new_session)
        _write_new(file, session=new_session, force=force, alone=alone)
    elif is_session_file(file):
        _lay_out_session(file, request, forms)
    else:
        _lay_out_routine(file, request, forms, force=force)


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


def _lay_out_routine(file: Path, request: Request, forms: PlanForms, *, force: bool) -> None:
    """Show a routine, part by part, and write what else is asked for."""
    from throwcount.caller.pieces.routine import routine_source
    from throwcount.caller.plans.page import plan_document, plan_page
    from throwcount.caller.plans.picture import draw_plan
    from throwcount.caller.plans.sheet import sheet
    from throwcount.caller.terminal.printing import show, show_json
    from throwcount.caller.terminal.text import visible

    for path in (forms.picture, forms.sheet):
        if path is not None:
            check_free(path, overwrite=force)
    source = routine_source(file, request)
    run, order, notes, speakers = _planned(source)
    room = source.request.room
    if forms.picture is not None:
        draw_plan(order, run, room, forms.picture, overwrite=force)
    if forms.sheet is not None:
        write_text(forms.sheet, sheet(source.file, order, room, request.percent), overwrite=force)
    if forms.as_json:
        show_json(plan_document(source.file, order, room, notes, speakers))
    elif forms.as_csv:
        lines = spreadsheet(part_lines(order.entries, source.file.places, room))
        shown = (visible(line.removesuffix("\r\n")) + "\r\n" for line in lines)
        click.echo("".join(shown).encode("utf-8", "replace"), nl=False)  # its line ends as they are
    else:
        show(*plan_page(source.file, order, room, notes))


def _lay_out_session(file: Path, request: Request, forms: PlanForms) -> None:
    """Show a session, block by block; raise `click.UsageError` if more is asked for than it has."""
    from throwcount.caller.commands.shared import checked_session
    from throwcount.caller.options.request import READY_LIVE
    from throwcount.caller.pieces.piece import DEFAULT_RATE, about_voice, called_voice
    from throwcount.caller.plans.session_plan import session_document, session_page, session_plan
    from throwcount.caller.terminal.printing import show, show_json

    if option := forms.for_a_routine():
        raise click.UsageError(f"{option} is for a routine; a session has a table only.")
    session = checked_session(file, request)
    if "ready" not in request.typed:
        request = replace(request, ready=READY_LIVE)
    voice = called_voice(session.request(request), DEFAULT_RATE)
    plan = session_plan(session, request, voice)
    notes = tuple(about_voice(voice))
    if forms.as_json:
        show_json(session_document(plan, notes))
    else:
        show(*session_page(plan, notes))


def _planned(
    source: "RoutineSource",
) -> tuple[Run, "RunningOrder", tuple[str, ...], Mapping[str, str]]:
    """Return the run of a routine, its parts in order, notes on music and voice, and who speaks."""
    from throwcount.caller.pieces.piece import DEFAULT_RATE, about_manners, about_voice
    from throwcount.caller.plans.page import music_notes

    file, voice = source.file, source.voice(DEFAULT_RATE)
    piece = source.piece(voice)
    run = piece.run
    _go_through(file, run)
    order = source.order(run)
    said = (*about_manners(piece), *about_voice(voice, piece.said))
    notes = (*music_notes(source, run, order), *said)
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
