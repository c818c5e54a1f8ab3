"""`throwcount listen`: a recording, and how steady the catches on it are."""

from pathlib import Path
from typing import Any, Final

import click

from caller.arguments import FiniteRange, json_option
from caller.listen_asked import asked_for, subject_from
from caller.listen_document import listen_document
from caller.listen_page import listen_page
from caller.listen_picture import can_be_drawn, draw_take
from caller.options import shared_options
from caller.picture_file import force_option, picture_option
from caller.settings.file import settings_option
from caller.take import listen, seconds_of
from caller.terminal import show, show_json, tell
from engine.flight import DWELL_RATIO
from sounds.listening.take import open_take
from sounds.whole_file import check_free

EPILOG: Final = """\
\b
Examples:
  throwcount listen take.m4a
  throwcount listen take.wav --pattern 531 --tempo 180 --cycles 40
  throwcount listen take.wav --routine walk.toml
  throwcount listen take.wav --against e.json --call 531.wav
"""

FILE: Final = click.Path(path_type=Path)


@click.command("listen", epilog=EPILOG)
@click.argument("take", type=FILE)
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
@click.option(
    "--dwell",
    type=FiniteRange(0, 1, min_open=True, max_open=True),
    metavar="R",
    default=DWELL_RATIO,
    help="The share of the time that a hand holds an object.  [default: 2/3]",
)
@picture_option
@force_option
@json_option
@shared_options
@settings_option
def command(
    take: Path,
    picture: Path | None,
    force: bool,
    as_json: bool,
    **given: Any,  # noqa: ANN401 - the options, checked when they become dataclasses
) -> None:
    """Listen to a take, and tell how steady it was.

    TAKE is a recording of somebody who juggles: WAV, FLAC, OGG or MP3, or what a phone records.
    The thuds of the catches are found and held against a pattern, a routine or a file of beats;
    without any of them, against the cadence they keep themselves. Where the call is on the take
    it is found and left out; give the same options as to `throwcount play` or `render`.
    """
    subject, options = subject_from(given)
    if picture is not None:
        check_free(picture, overwrite=force)
    with open_take(take) as opened:
        seconds = seconds_of(opened)
        with asked_for(subject, options, seconds, as_json=as_json) as asked:
            heard = listen(opened, take, asked)
    drawn = picture if can_be_drawn(heard.report) else None
    if drawn is not None:
        draw_take(heard, drawn, overwrite=force)
    if as_json:
        show_json({**listen_document(heard), "picture": None if drawn is None else str(drawn)})
        return
    show(*listen_page(heard))
    if picture != drawn:
        tell(f"{picture} was not drawn, as no catch was heard.")


# Nothing is played.
command.params = [param for param in command.params if param.name != "output"]
