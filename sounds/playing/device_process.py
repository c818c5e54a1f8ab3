"""A process of its own that opens a device, as seen from the one that conducts."""

import queue
import subprocess
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Final

from sounds.child_process import started_child
from sounds.errors import DeviceError
from sounds.message_pipes import read_message, write_message
from sounds.playing.messages import Opened, Refused

OPENING_SECONDS: Final = 15.0
"""Time to start and to open a device; takes half a second as a rule."""

KILLING_SECONDS: Final = 1.0


class DeviceProcess:
    """A process with a device, which is told and which tells; nothing here waits for it.

    `opening` is what it is told first; it answers with `Opened` or `Refused`. `take` is called with
    every other message, in a thread of its own that holds `news`; may begin before this is made.
    `name` and `device` are what the process and the device are called in a sentence that says what
    failed.

    Attributes
    ----------
    news
        Held while a message is taken in, and notified of each, and of the end.
    rate
        Frames a second of the device.
    ended
        Whether the process has ended.

    Raises
    ------
    DeviceError
        If there is no such device, or it cannot be opened so.
    """

    def __init__(
        self,
        command: Sequence[str],
        opening: object,
        take: Callable[[object], None],
        name: str,
        device: str,
    ) -> None:
        self.news = threading.Condition()
        self.ended = False
        self._take = take
        self._orders: queue.SimpleQueue[object] = queue.SimpleQueue()
        self._queued = self._sent = 0
        self._answer: Opened | Refused | None = None
        try:
            self._process = started_child(command)
        except OSError as error:
            raise DeviceError(f"{name} cannot be started: {error}.") from error
        for work in (self._write, self._read):
            threading.Thread(target=work, daemon=True).start()
        self.tell(opening)
        self.rate = self._opened(device)

    @property
    def all_sent(self) -> bool:
        """Whether the process has been sent all that it was told."""
        return self._sent == self._queued

    def tell(self, message: object) -> None:
        """Tell something, as soon as the process takes it."""
        self._queued += 1
        self._orders.put(message)

    def finish(self, patience: float) -> None:
        """Tell nothing more, and let it end within so many seconds; else end it."""
        self._orders.put(None)
        with self.news:
            self.news.wait_for(lambda: self.ended, patience)
        self._process.kill()
        with suppress(subprocess.TimeoutExpired):
            self._process.wait(KILLING_SECONDS)

    def _opened(self, device: str) -> int:
        with self.news:
            self.news.wait_for(lambda: self._answer is not None or self.ended, OPENING_SECONDS)
        if isinstance(self._answer, Opened):
            return self._answer.rate
        self.finish(0.0)
        no_answer = f"{device} could not be opened: it does not answer."
        raise DeviceError(no_answer if self._answer is None else self._answer.reason)

    def _write(self) -> None:
        stream = self._process.stdin
        assert stream is not None  # noqa: S101 - it was started with a pipe
        with suppress(OSError):
            while (message := self._orders.get()) is not None:
                write_message(stream, message)
                with self.news:
                    self._sent += 1
                    self.news.notify_all()
        with suppress(OSError):
            stream.close()

    def _read(self) -> None:
        stream = self._process.stdout
        assert stream is not None  # noqa: S101 - it was started with a pipe
        with suppress(EOFError), stream:
            while True:
                message = read_message(stream)
                with self.news:
                    if isinstance(message, Opened | Refused):
                        self._answer = message
                    else:
                        self._take(message)
                    self.news.notify_all()
        with self.news:
            self.ended = True
            self.news.notify_all()
