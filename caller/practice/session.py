"""A session in the hall: the log that keeps it, and what is told at its end."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace

from caller.console.terminal import tell
from caller.keys.reading import can_read_keys
from caller.options.shared_options import Options
from caller.playing.controls import STOP, Control, keys_of
from caller.playing.live import device_told, tell_gaps
from caller.practice.conductor import Conductor
from caller.practice.hall import Companion, Hall, Watching
from caller.practice.keeper import Keeper, LogKeeper, NoKeeper
from caller.practice.options import PracticeOptions
from caller.practice_log.errors import LogError
from caller.practice_log.log import PracticeLog
from sounds.playing.live import LivePlayer


@dataclass(frozen=True, slots=True)
class Setting:
    """What every session needs.

    Parameters
    ----------
    options, practice
        What the person asked for.
    player
        What plays.
    watching
        What is shown and pressed, and who speaks.
    keeper
        What is told how it went.
    companion
        What goes along with it; None for nothing.
    """

    options: Options
    practice: PracticeOptions
    player: LivePlayer
    watching: Watching
    keeper: Keeper
    companion: Companion | None = None


def led(setting: Setting, conductor: Conductor, notice: str) -> None:
    """Go through a session, to its end or until Ctrl-C ends it.

    Parameters
    ----------
    setting
        What it needs.
    conductor
        Who leads through it.
    notice
        What is to be known on the screen before the first key is pressed.
    """
    watching = replace(setting.watching, notice=notice)
    hall = Hall(setting.player, conductor, watching, setting.companion)
    with device_told():
        hall.practise()
    if hall.interrupted:
        tell("Stopped.")
    tell_gaps(setting.player)


def stopping(keys: Mapping[str, Control]) -> str:
    """Return how to stop, in a sentence."""
    own = keys_of(STOP, keys) if can_read_keys() else ()
    return f"{own[0]} or Ctrl-C stops." if own else "Ctrl-C stops."


@contextmanager
def opened_log(practice: PracticeOptions) -> Iterator[PracticeLog | None]:
    """Open the practice log; where that fails, say so, and practise without."""
    if not practice.keep:
        yield None
        return
    try:
        log = PracticeLog.open(practice.log_file)
    except LogError as error:
        tell(f"{error} This practice is not kept.", errors=True)
        yield None
        return
    with log:
        yield log


@contextmanager
def kept_session(props: str, device: str, log: PracticeLog | None) -> Iterator[Keeper]:
    """Begin a session in the log, and end it at the end."""
    if log is None:
        yield NoKeeper()
        return
    keeper = LogKeeper(log, props, device, _tell_failure)
    try:
        yield keeper
    finally:
        keeper.close()


def _tell_failure(sentence: str) -> None:
    tell(f"{sentence} What follows may not be kept.", errors=True)
