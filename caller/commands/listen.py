"""`throwcount listen`: a recording, and how steady the catches on it are."""

from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from caller.commands import HELP_OPTIONS
from caller.console.picture_file import check_picture, force_option, picture_option
from caller.options.arguments import dwell_option, json_option
from caller.options.request import Request
from caller.options.sections import SectionedCommand
from caller.options.shared_options import shared_options
from caller.practice_log.place import log_option
from caller.settings.file import settings_option
from caller.takes.leave import LEAVE
from caller.takes.listen_asked import Subject, asked_for, subject_from

if TYPE_CHECKING:
    from caller.takes.take import HeardTake


EPILOG: Final = f"""\
{LEAVE}

\b
Examples:
  throwcount listen take.m4a
  throwcount listen take.wav --pattern 531 --tempo 180 --cycles 40
  throwcount listen take.wav --routine walk.toml
  throwcount listen take.wav --against e.json --call 531.wav
  throwcount listen --live 531 --sets 5
"""

EVERYDAY: Final = (
    *("--pattern", "--routine", "--call", "--live", "--headphones", "--picture", "--json"),
    *("--force", "--tempo", "--cycles", "--seconds", "--keep", "--props"),
)

LIVE: Final = "--live"
FILE: Final = click.Path(path_type=Path)


class TakeOrLive(SectionedCommand):
    """Two commands of one name: with --live a practice is listened to, else a take."""

    def make_context(
        self,
        info_name: str | None,
        args: list[str],
        parent: click.Context | None = None,
        **extra: Any,  # noqa: ANN401 - as in click
    ) -> click.Context:
        """Make the context of the one that is asked for."""
        words = args[: args.index("--")] if "--" in args else args
        if LIVE not in words:
            return super().make_context(info_name, args, parent, **extra)
        from caller.ears.command import live  # much that a take does without

        others = [*(word for word in words if word != LIVE), *args[len(words) :]]
        return live.make_context(f"{info_name} {LIVE}", others, parent, **extra)


@click.command(
    "listen", cls=TakeOrLive, everyday=EVERYDAY, epilog=EPILOG, context_settings=HELP_OPTIONS
)
@click.argument("take", type=FILE)
@click.option(
    LIVE,
    is_flag=True,
    expose_value=False,
    help="Play a pattern or a routine, and listen meanwhile: see listen --live --help.",
)
@click.option("--pattern", metavar="PATTERN", help="The pattern that was thrown.")
@click.option("--routine", type=FILE, metavar="FILE", help="The routine that was gone through.")
@click.option(
    "--against",
    type=FILE,
    metavar="FILE",
    help="The beats, as `throwcount render --events` wrote them.",
)
@click.option(
    "--call",
    type=FILE,
    metavar="FILE",
    help="The file that was played, where no pattern and no routine is given.",
)
@click.option(
    "--headphones",
    is_flag=True,
    help="The call was heard on headphones: do not look for it on the take.",
)
@dwell_option
@click.option(
    "--keep", "keep_report", is_flag=True, help="Keep what the take told in the practice log."
)
@click.option("--props", default="", metavar="NAME", help="What was juggled, for the log.")
@log_option
@picture_option
@force_option
@json_option
@shared_options
@settings_option
@click.pass_context
def listen_command(  # noqa: PLR0913, PLR0917 - click gives every option as an argument of its own
    ctx: click.Context,
    /,
    take: Path,
    keep_report: bool,
    picture: Path | None,
    force: bool,
    as_json: bool,
    **_options: object,
) -> None:
    """Listen to a take, and tell how steady it was.

    TAKE is a recording of somebody who juggles. The thuds of the catches are found and held
    against a pattern, a routine or a file of beats; without any of them, against the tempo that
    they keep themselves.

    The recording may be WAV, FLAC, OGG or MP3, or what a phone records. Where the call is on the
    take it is found and left out; give the same options as to `throwcount play` or `render`.
    """
    from caller.practice_log.log import PracticeLog
    from caller.takes.listen_document import listen_document
    from caller.takes.listen_keeping import take_told
    from caller.takes.listen_told import Beside, drawn_take, tell_take

    subject, request = subject_from(ctx), Request.of(ctx)
    if picture is not None:
        check_picture(picture, overwrite=force)
    with ExitStack() as stack:
        log = stack.enter_context(PracticeLog.open(request.log_file)) if keep_report else None
        heard = _heard(take, subject, request, as_json=as_json)
        drawn = drawn_take(heard, picture, overwrite=force)
        number = None if log is None else log.keep_take(take_told(heard, request.props))
    tell_take(heard, listen_document(heard), Beside(picture, drawn, number), as_json=as_json)


def _heard(take: Path, subject: Subject, request: Request, *, as_json: bool) -> "HeardTake":
    from caller.takes.take import listen, seconds_of
    from sounds.listening.recordings.take import open_take

    with open_take(take) as opened:
        seconds = seconds_of(opened)
        with asked_for(subject, request, seconds, as_json=as_json) as asked:
            return listen(opened, take, asked)
