"""A microphone that goes along with a practice, its recording, and the report on all of it.

The report is made from the recording, or from the thuds heard meanwhile where there is none.
"""

from collections.abc import Callable
from contextlib import ExitStack, suppress
from dataclasses import replace
from itertools import chain
from pathlib import Path
from typing import Final, Self

from throwcount.caller.options.request import Request
from throwcount.caller.practice.listening import LiveListener
from throwcount.caller.reports.take import Expectation, HeardTake, listen
from throwcount.caller.terminal.controls import CLEAN, keys_of
from throwcount.caller.terminal.printing import device_error, tell
from throwcount.caller.terminal.screen import can_read_keys
from throwcount.caller.terminal.text import ASK_FIRST, near
from throwcount.engine.takes.report import listen_report
from throwcount.sounds.echo.clocks import Clocks
from throwcount.sounds.echo.played_call import PlayedCall
from throwcount.sounds.errors import DeviceError, TakeError
from throwcount.sounds.files.whole_files import temporary_folder
from throwcount.sounds.listening.microphone import Microphone
from throwcount.sounds.listening.take import TakeDestination, open_take
from throwcount.sounds.output.deck import Replay
from throwcount.sounds.output.devices import listed
from throwcount.sounds.output.player import LivePlayer
from throwcount.sounds.voices.voice import Voice

TAIL: Final = 2.0
"""Seconds after the last stretch in which the call is still looked for."""

FROM_THUDS: Final = "There is no recording of all of it: this is from what was heard meanwhile."
BY_DEVICES: Final = (
    "How early or late the catches are on the whole is as right as what the devices tell of their "
    "delays."
)


def heard_practice(listener: LiveListener, take: Path | None, asked: Expectation) -> HeardTake:
    """Return what `listener` heard in a practice that is over.

    `take` is the recording; None without one. It is listened to again; Ctrl-C leaves that out.
    `asked` is what was practised; its beats and their tempo become those that were played.
    """
    if asked.pattern is not None:
        asked = replace(asked, tempo=_first_tempo(listener))
    if take is not None and listener.whole and listener.stretches:
        # The recording may be cut off, and a person may not want to wait for a long one.
        with suppress(TakeError, KeyboardInterrupt):
            return _from_recording(listener, take, asked)
    return _from_thuds(listener, asked)


def _first_tempo(listener: LiveListener) -> float | None:
    return listener.stretches[0].scheduled.run.tempo.start if listener.stretches else None


def _from_recording(listener: LiveListener, take: Path, asked: Expectation) -> HeardTake:
    beats = chain.from_iterable(stretch.beats() for stretch in listener.stretches)
    seconds = max(stretch.end or stretch.start for stretch in listener.stretches) + TAIL
    by_devices = Clocks(listener.offset - listener.begun, 0.0)

    def played() -> Replay:
        replay = Replay(listener.rate, seconds)
        for sent in listener.sent:
            replay.note(sent)
        return replay

    call = PlayedCall(played, listener.rate) if listener.call_is_heard else None
    asked = replace(asked, beats=beats, call=call, clocks=by_devices)
    with open_take(take) as opened:
        heard = listen(opened, take, asked)
    if heard.call is None:
        return replace(heard, notes=(*heard.notes, BY_DEVICES))
    return heard


def _from_thuds(listener: LiveListener, asked: Expectation) -> HeardTake:
    begun = listener.begun
    thuds = [replace(thud, time=thud.time - begun) for thud in listener.thuds]
    seconds = max(listener.until - begun, 0.0)
    due = chain.from_iterable(stretch.catches() for stretch in listener.stretches)
    catches = [replace(catch, time=catch.time + listener.offset - begun) for catch in due]
    report = listen_report(thuds, seconds, catches, placed=True)
    return HeardTake(None, asked, report, None, (FROM_THUDS, BY_DEVICES))


WITHOUT_LISTENING: Final = "`throwcount play` plays without listening."

Opener = Callable[[str | None, TakeDestination | None, int | None], Microphone]


def opened_microphone(
    device: str | None,
    take: TakeDestination | None,
    call_rate: int | None,
    opener: Opener = Microphone,
) -> Microphone:
    """Open a microphone with `opener`.

    `device` is the name of an input or an unmistakable part of it; the default one if None. `take`
    is the file for all that is heard; None for none. `call_rate` is the sample rate in Hz of a deck
    whose sound is taken out of what is heard; None for none.

    Raises
    ------
    PlainError
        If there is no such microphone, or it cannot be opened so.
    FileError
        If the take cannot be written there.
    """
    try:
        return opener(device, take, call_rate)
    except DeviceError as error:
        text = f"{error}{_others(device)} {WITHOUT_LISTENING}"
        raise device_error(error, text, "microphone") from error


def _others(device: str | None) -> str:
    """Return a sentence with the inputs there are, if a name was given."""
    names: list[str] = []
    with suppress(DeviceError):
        names = list(dict.fromkeys(each.name for each in listed("input")))
    if device is None or not names:
        return ""
    return f" The inputs here: {', '.join(names)}.{near(device, names)}"


class Listening:
    """A microphone and its recording; used as a context.

    A recording that nobody asked for is deleted at the end. `force` says whether an existing file
    is replaced.

    Attributes
    ----------
    listener
        Listens to the practice; None before it has joined.
    """

    def __init__(self, request: Request, *, force: bool) -> None:
        self.listener: LiveListener | None = None
        self._microphone: Microphone | None = None
        self._request = request
        self._force = force
        self._cleaning = ExitStack()
        folder = self._cleaning.enter_context(temporary_folder())
        self._place = request.take or folder / "take.wav"

    @property
    def recording(self) -> Path | None:
        """The file with what was heard, when all is over; None if there is none.

        Another file that was in its place does not count, and stays if the recording fails.
        """
        return self._place if self._microphone is not None and self._microphone.kept else None

    @property
    def left(self) -> Path | None:
        """What is left of a recording that was to be kept and could not be put in its place."""
        if self._microphone is None or self._request.take is None:
            return None
        return self._microphone.left

    def join(self, player: LivePlayer, voice: Voice) -> LiveListener:
        """Begin to listen; errors as those of `opened_microphone`."""
        request = self._request
        temporary = request.take is None
        destination = TakeDestination(self._place, overwrite=self._force, temporary=temporary)
        rate = None if request.headphones else player.rate
        microphone = self._microphone = opened_microphone(request.microphone, destination, rate)
        tell(ASK_FIRST)
        keys = keys_of(CLEAN, request.keys) if can_read_keys() else ()
        self.listener = LiveListener(request, player, microphone, voice, keys[0] if keys else "")
        return self.listener

    def finish(self) -> None:
        """Stop listening."""
        if self.listener is not None:
            self.listener.finish()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self.finish()
        self._cleaning.close()
