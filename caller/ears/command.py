"""`throwcount listen --live`: a practice that is listened to while it goes on."""

import sys
from contextlib import redirect_stdout
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from caller.commands import HELP_OPTIONS
from caller.console.picture_file import check_picture
from caller.ears.options import EarsOptions, ears_from, ears_options
from caller.options.arguments import PatternCommand, typed_or
from caller.options.live_options import live_options
from caller.options.routine_options import refuse_without_routine
from caller.options.shared_options import options_from, shared_options
from caller.practice.options import PracticeOptions, practice_from, practice_options
from caller.settings.file import settings_option
from caller.takes.leave import LEAVE
from engine.patterns.flight import DWELL_RATIO

if TYPE_CHECKING:
    from collections.abc import Callable

    from caller.ears.ears import Ears
    from caller.ears.listening import Listening
    from caller.ears.overall import Practised
    from caller.takes.take import HeardTake


EPILOG: Final = f"""\
Through loudspeakers the microphone hears the call, too. It is taken out while you throw as far as
it can be, and better afterwards, from a recording that is deleted at the end; on headphones there
is nothing to take out, which is surest. {LEAVE}

\b
Examples:
  throwcount listen --live 531 --headphones
  throwcount listen --live 531 --sets 12 --staircase --mark-drops
  throwcount listen --live 744 --cycles 20 --take 744.flac --picture 744.svg
  throwcount listen --live walk.toml --input "USB"
"""

ONCE_MORE: Final = "Listening to all of it once more; Ctrl-C leaves that out."
LEFT: Final = (
    "was not made, as the process that listens ended too soon. What it had recorded is not lost: "
    "it can be listened to under another name, and is now in"
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
@ears_options
@shared_options
@practice_options
@live_options
@settings_option
def live(
    subject: str,
    **given: Any,  # noqa: ANN401 - the options, checked when they become dataclasses
) -> None:
    """Play a pattern or a routine, and listen to your catches meanwhile.

    The microphone hears the thuds of your catches. After each set you are told how steady it was,
    and at the end you get the page that `throwcount listen` makes of a recording. All else is as
    with `throwcount play`: sets, rests, keys, the practice log.

    With --mark-drops a drop that is heard marks the set, so that the staircase follows without
    any key. Some drops are missed, and some sounds are taken for a drop; the key for a clean set
    takes back those heard before it.
    """
    from caller.console.terminal import tell
    from caller.ears.listening import Listening
    from caller.ears.overall import heard_practice

    options, practice = ears_from(given), practice_from(given)
    if options.picture is not None:
        check_picture(options.picture, overwrite=options.force)
    practised, play = _asked(subject, options, practice, given)
    with Listening(options, practised.dwell) as listening:
        with redirect_stdout(sys.stderr if options.as_json else sys.stdout):
            play(listening)
            listening.finish()
        if listening.ears is not None:
            tell(ONCE_MORE, errors=True)
            heard = heard_practice(listening.ears, listening.recording, practised)
            heard = heard if options.take is not None else replace(heard, path=None)
            _tell(heard, listening.ears, options, practice)
        if listening.left is not None:
            tell(f"{options.take} {LEFT} {listening.left}.", errors=True)


def _asked(
    subject: str, options: EarsOptions, practice: PracticeOptions, given: dict[str, Any]
) -> "tuple[Practised, Callable[[Listening], None]]":
    """Return what is practised, and what plays it."""
    from caller.console.terminal import shortened
    from caller.ears.overall import Practised
    from caller.patterns.wrong_pattern import wrong_input_told
    from caller.plans.wrong_routine import wrong_routine_told
    from caller.practice.playing import Wishes, play_pattern, play_routine
    from caller.practice.routine_session import check_practice
    from caller.rehearsals.asked_routine import asked_routine
    from caller.routine_file.reading import is_routine_file
    from engine.patterns.jugglable import read

    wished = options_from(given)
    if is_routine_file(subject):
        check_practice(practice)
        with wrong_routine_told(options.as_json):
            asked = asked_routine(Path(subject), wished)
        file = asked.file
        dwell = typed_or("dwell", file.dwell) or DWELL_RATIO

        def rehearse(listening: "Listening") -> None:
            wishes = Wishes.of(asked.options, practice, given, listening.join)
            play_routine(file, asked.laid, wishes)

        return Practised(file.title, dwell, practice.props or file.props or ""), rehearse

    refuse_without_routine(wished)
    with wrong_input_told(subject, options.as_json):
        pattern = read(subject)

    def practise(listening: "Listening") -> None:
        play_pattern(pattern, Wishes.of(wished, practice, given, listening.join))

    title = shortened(pattern.text)
    return Practised(title, options.dwell, practice.props, pattern), practise


def _tell(
    heard: "HeardTake", ears: "Ears", options: EarsOptions, practice: PracticeOptions
) -> None:
    """Show what was heard, and keep it."""
    from caller.console.terminal import tell
    from caller.ears.document import practice_document
    from caller.takes.listen_told import Beside, drawn_take, tell_take

    drawn = drawn_take(heard, options.picture, overwrite=options.force)
    beside = Beside(options.picture, drawn, _kept(heard, practice))
    if len(ears.sets) > 1 and not options.as_json:
        tell(*(each.told for each in ears.sets))
    tell_take(heard, practice_document(heard, ears), beside, as_json=options.as_json)


def _kept(heard: "HeardTake", practice: PracticeOptions) -> int | None:
    """Keep what was heard in the practice log; return its number there, None if it is not kept."""
    from caller.practice.session import opened_log
    from caller.takes.listen_keeping import take_told

    if heard.report.steadiness is None:
        return None
    with opened_log(practice) as log:
        return None if log is None else log.keep_take(take_told(heard, practice.props))
