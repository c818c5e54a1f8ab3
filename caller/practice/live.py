"""A live session: the player, the voice, the recorder, and an observer."""

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager, nullcontext, suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol, TypeAlias

from throwcount.caller.log.database import LogError
from throwcount.caller.log.history import History
from throwcount.caller.log.log import PracticeLog
from throwcount.caller.log.session_writer import SessionWriter
from throwcount.caller.options.request import Request
from throwcount.caller.practice.recorder import LogRecorder, Recorder, SessionFacts
from throwcount.caller.terminal.printing import suggesting_render, tell
from throwcount.sounds.child_process import Child
from throwcount.sounds.output.player import LivePlayer
from throwcount.sounds.voices.voice import CallingVoice

if TYPE_CHECKING:
    from throwcount.caller.practice.situation import Practice


def tell_gaps(player: LivePlayer) -> None:
    """Tell how often the device ran out of sound, if it ever did."""
    if player.gaps:
        tell(
            f"Gaps in what was heard: {player.gaps}. The computer was too busy for the device; a "
            "longer --latency helps, and `throwcount outputs --try` tells how long.",
            errors=True,
        )


class PracticeObserver(Protocol):
    """Something that follows a practice, such as a microphone that listens to it."""

    def step(self, controller: "Practice") -> str:
        """Do what is to be done now; return a sentence to show, or an empty text."""

    def note_restart(self) -> None:
        """Take note that the player and its clock have restarted."""


@dataclass(frozen=True, slots=True)
class LiveSession:
    """What a session works with."""

    player: LivePlayer
    """Plays the sound."""
    voice: CallingVoice
    """Speaks; the screen counts as it does."""
    recorder: Recorder
    """Keeps how it went."""
    observer: PracticeObserver | None = None
    """Follows the practice; None for nothing."""


Join: TypeAlias = Callable[[LivePlayer, CallingVoice], PracticeObserver]
"""Opens the observer of a session, given its player and its voice."""


@contextmanager
def opened_session(
    request: Request,
    voice_at: Callable[[int], CallingVoice],
    join: Join | None = None,
    child: Child | None = None,
    facts: SessionFacts | None = None,
) -> Iterator[LiveSession]:
    """Open a player, the log and an observer, for as long as the context lasts.

    `voice_at` returns the voice at a sample rate. `join` opens the observer; None for none. `child`
    is the process that plays, if it was started for this request already. `facts` tell what
    file the session follows.

    Raises
    ------
    OutsideError
        If there is nothing to play on, or not any more.
    """
    with (
        suggesting_render(),
        LivePlayer(request.output, request.rate, request.latency, started=child) as player,
        opened_recorder(request, facts) as recorder,
    ):
        voice = voice_at(player.rate)
        player.speak_with(voice)
        observer = None if join is None else join(player, voice)
        yield LiveSession(player, voice, recorder, observer)


@contextmanager
def opened_recorder(request: Request, facts: SessionFacts | None) -> Iterator[Recorder]:
    """Open the recorder; one that keeps nothing knows what was kept before, where that is read."""
    facts = facts or SessionFacts()
    facts = replace(facts, props=request.props, device=request.output or "")
    with ExitStack() as opened:
        history: History | None = None
        with suppress(LogError):
            history = opened.enter_context(History.open(request.log_file))
        if not request.keep:
            yield Recorder(history, facts)
            return
        recorder = LogRecorder(SessionWriter(request.log_file), history, _warn, facts)
        try:
            yield recorder
        finally:
            recorder.close()


def opened_log(request: Request) -> AbstractContextManager[PracticeLog | None]:
    """Return the practice log, opened; None if none is kept, or it fails, which is reported."""
    if request.keep:
        try:
            return PracticeLog.open(request.log_file)
        except LogError as error:
            tell(f"{error} This practice is not kept.", errors=True)
    return nullcontext()


def _warn(sentence: str) -> None:
    tell(sentence, errors=True)
