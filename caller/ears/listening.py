"""A microphone that goes along with a practice, and the place of its recording."""

import tempfile
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from caller.console.terminal import tell
from caller.ears.ears import LiveListener
from caller.ears.microphone import opened_microphone
from caller.keys.reading import can_read_keys
from caller.options.request import Request
from caller.playing.controls import CLEAN, keys_of
from caller.takes.leave import LEAVE
from sounds.listening.microphones.microphone_messages import TakeWish
from sounds.playing.live import LivePlayer
from sounds.voices.voice import Voice

if TYPE_CHECKING:
    from sounds.listening.microphones.microphone import Microphone


class Listening:
    """To be used as a context: at its end a recording that nobody asked for is deleted.

    `force` says whether a recording that is there already is replaced.

    Attributes
    ----------
    listener
        That listen; None before they have joined.
    """

    def __init__(self, request: Request, *, force: bool) -> None:
        self.listener: LiveListener | None = None
        self._microphone: Microphone | None = None
        self._request = request
        self._force = force
        self._folder = tempfile.TemporaryDirectory(prefix="throwcount-")
        self._place = request.take or Path(self._folder.name) / "take.wav"

    @property
    def recording(self) -> Path | None:
        """The file with what was heard, when all is over; None where there is none.

        What was in its place before is none, and stays there if the recording fails.
        """
        return self._place if self._microphone is not None and self._microphone.kept else None

    @property
    def left(self) -> Path | None:
        """What is left of a recording that was to be kept and is not in its place, if anything."""
        return (
            None
            if self._microphone is None or self._request.take is None
            else self._microphone.left
        )

    def join(self, player: LivePlayer, voice: Voice) -> LiveListener:
        """Begin to listen.

        Raises
        ------
        OutsideError
            If there is nothing to listen with.
        FileError
            If the recording cannot be put there.
        """
        request = self._request
        wish = TakeWish(self._place, overwrite=self._force)
        rate = None if request.headphones else player.rate
        microphone = self._microphone = opened_microphone(request.microphone, wish, rate)
        tell(LEAVE)
        keys = keys_of(CLEAN, request.keys) if can_read_keys() else ()
        self.listener = LiveListener(request, player, microphone, voice, keys[0] if keys else "")
        return self.listener

    def finish(self) -> None:
        """Stop listening."""
        if self.listener is not None:
            self.listener.finish()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.finish()
        self._folder.cleanup()
