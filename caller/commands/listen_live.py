"""`throwcount listen --live`: a practice that is listened to while it goes on, and its report."""

import sys
from contextlib import redirect_stdout
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.options.arguments import PatternCommand
from throwcount.caller.options.play_options import live_options, shared_options
from throwcount.caller.options.practice_options import listening_options, practice_options
from throwcount.caller.options.request import Request
from throwcount.caller.options.settings import settings_option
from throwcount.caller.pictures.sheet import check_picture
from throwcount.caller.terminal.text import ASK_FIRST

if TYPE_CHECKING:
    from throwcount.caller.pieces.routine import RoutineSource
    from throwcount.caller.practice.listening import LiveListener, SetHeard
    from throwcount.caller.practice.recorder import Tally
    from throwcount.caller.reports.picture import TakeOutputs
    from throwcount.caller.reports.take import Expectation, HeardTake
    from throwcount.engine.patterns.pattern import Pattern

EPILOG: Final = f"""\
Through loudspeakers the microphone hears the call too. It is removed while you throw as far as
possible, and better afterwards, from a recording that is deleted at the end. With headphones
there is nothing to remove, which is surest. {ASK_FIRST}

\b
Examples:
  throwcount listen --live 531 --headphones
  throwcount listen --live 531 --sets 24 --staircase --mark-drops
  throwcount listen --live 744 --cycles 20 --take 744.flac --picture 744.svg
  throwcount listen --live walk.toml --input "USB"
"""

ONCE_MORE: Final = "Listening to all of it once more; Ctrl-C leaves that out."
LEFT: Final = (
    "was not made, as it could not be finished. What was recorded is not lost: it can be listened "
    "to under another name, and is in"
)

EVERYDAY: Final = (
    *("--input", "--headphones", "--mark-drops", "--take", "--picture", "--tempo", "--cycles"),
    *("--ready", "--say", "--voice", "--sets", "--rest", "--output"),
)


@click.command(
    "listen --live",
    cls=PatternCommand,
    everyday=EVERYDAY,
    epilog=EPILOG,
    context_settings=HELP_OPTIONS,
)
@click.argument("subject")
@listening_options
@shared_options
@practice_options
@live_options
@settings_option
@click.pass_context
def live(
    ctx: click.Context, /, picture: Path | None, force: bool, as_json: bool, **_options: object
) -> None:
    """Play a pattern or a routine, and listen to your catches meanwhile.

    The microphone hears the thuds of your catches. After each set you are told how steady it was,
    and at the end you get the page that `throwcount listen` makes of a recording. Sets, rests,
    keys and the practice log are as in `throwcount play`.

    With --mark-drops a drop that is heard ends the set, as the key does, and catches count up to
    the one that failed; so attempts and the staircase need no key. Some
    drops are missed, and some sounds are taken for a drop; the key for a clean set takes back the
    drops heard before it.
    """
    from throwcount.caller.commands.shared import read_single
    from throwcount.caller.practice.listened_practice import Listening, heard_practice
    from throwcount.caller.practice.sessions import play
    from throwcount.caller.reports.picture import TakeOutputs, drawn_take
    from throwcount.caller.terminal.printing import tell
    from throwcount.engine.patterns.pattern import Pattern

    request = Request.of(ctx, live=True)
    if picture is not None:
        check_picture(picture, overwrite=force)
    subject = read_single(request)
    if not isinstance(subject, Pattern):
        request = subject.request
    with Listening(request, force=force) as listening:
        with redirect_stdout(sys.stderr if as_json else sys.stdout):
            play(subject, request, listening.join)
            listening.finish()
        if listening.listener is not None:
            tell(ONCE_MORE, errors=True)
            heard = heard_practice(
                listening.listener, listening.recording, _asked(subject, request)
            )
            heard = heard if request.take is not None else replace(heard, path=None)
            drawn = drawn_take(heard, picture, overwrite=force)
            outputs = TakeOutputs(picture, drawn, _kept(heard, request))
            _tell(heard, listening.listener, outputs, as_json=as_json)
        if listening.left is not None:
            tell(f"{request.take} {LEFT} {listening.left}.", errors=True)


def _asked(subject: "Pattern | RoutineSource", request: Request) -> "Expectation":
    """Return what a practice is compared with."""
    from throwcount.caller.reports.take import Expectation
    from throwcount.caller.terminal.printing import shortened
    from throwcount.engine.patterns.pattern import Pattern

    if isinstance(subject, Pattern):
        title = shortened(subject.text)
        return Expectation(title, dwell=request.dwell, props=request.props, pattern=subject)
    return Expectation(subject.file.title, dwell=request.dwell, props=request.props)


def _tell(
    heard: "HeardTake", listener: "LiveListener", outputs: "TakeOutputs", *, as_json: bool
) -> None:
    """Show what was heard, set by set and as a whole."""
    from throwcount.caller.reports.picture import tell_take
    from throwcount.caller.terminal.printing import tell

    if len(listener.sets) > 1 and not as_json:
        tell(*(each.text for each in listener.sets))
    tell_take(heard, practice_document(heard, listener), outputs, as_json=as_json)


def _kept(heard: "HeardTake", request: Request) -> int | None:
    """Keep what was heard in the practice log; return its number there, or None if not kept."""
    from throwcount.caller.practice.live import opened_log
    from throwcount.caller.reports.document import take_summary

    if heard.report.steadiness is None:
        return None
    with opened_log(request) as log:
        return None if log is None else log.keep_take(take_summary(heard, request.props))


def practice_document(heard: "HeardTake", listener: "LiveListener") -> dict[str, Any]:
    """Return a practice for JSON: as a take, with the sets as they were told."""
    from throwcount.caller.reports.document import listen_document

    return {
        **listen_document(heard),
        "sets": [_set(each) for each in listener.sets],
        "marks": None if listener.tally is None else _marks(listener.tally),
        "microphone": {"lost": bool(listener.fault), "message": listener.fault or None},
    }


def _set(heard: "SetHeard") -> dict[str, Any]:
    from throwcount.caller.reports.document import rounded

    report, steady = heard.report, heard.report.steadiness
    return {
        "place": heard.place,
        "heard": 0 if steady is None else steady.heard,
        "expected": heard.expected if steady is None else steady.expected,
        "asynchrony_sd": None if steady is None else rounded(steady.asynchrony_sd),
        "lead": None if steady is None else rounded(steady.lead),
        "drops": len(report.drops),
        "sureness": rounded(report.confidence),
    }


def _marks(tally: "Tally") -> dict[str, int]:
    return {
        "clean": tally.clean,
        "drops": tally.drops,
        "drops_heard": tally.heard,
        "taken_back": tally.taken_back,
    }
