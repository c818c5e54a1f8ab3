"""Sound devices: the library that reaches them, devices by name, and processes that hold one.

The library, sounddevice, is loaded where it is first needed.
"""

import importlib
import pickle
import queue
import subprocess
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from io import BytesIO
from typing import Any, Final, Literal, TypeAlias

from throwcount.sounds.child_process import (
    Child,
    child_command,
    native_chatter_discarded,
    read_message,
    started_child,
    write_message,
)
from throwcount.sounds.errors import DeviceError, UnknownDeviceError
from throwcount.sounds.output.messages import Opened, Refused

SoundLibrary: TypeAlias = Any
"""The module sounddevice (it has no types), or what stands in for it."""

Kind: TypeAlias = Literal["input", "output"]

CLOSING: Final = 0.5
"""Seconds that a device may take to close; some hang."""

NOTHING: Final[dict[Kind, str]] = {
    "input": "There is no microphone, nor any other sound input, to listen with.",
    "output": "There is no sound device to play on.",
}


@dataclass(frozen=True, slots=True)
class Device:
    """Something to play on, or to listen with."""

    name: str
    """What the system calls it."""
    host: str
    """The sound system that it belongs to."""
    channels: int
    """The number of its channels."""
    rate: int
    """Its preferred sample rate in Hz."""
    is_default: bool
    """Whether it is used when no other is asked for."""


def sound_library() -> SoundLibrary:
    """Load sounddevice and, with it, PortAudio.

    Raises
    ------
    DeviceError
        If PortAudio is not there.
    """
    try:
        with native_chatter_discarded():
            return importlib.import_module("sounddevice")
    except OSError as error:
        raise DeviceError(
            "Sound can be neither played nor heard because the PortAudio library was not found; "
            "on Linux it comes with the package libportaudio2."
        ) from error


def outputs(library: SoundLibrary | None = None) -> list[Device]:
    """Return every device that can be played on.

    `library` is the module sounddevice; it is loaded if None.

    Raises
    ------
    DeviceError
        If PortAudio is not there.
    """
    return _devices("output", library)


def inputs(library: SoundLibrary | None = None) -> list[Device]:
    """Return every device that can be listened with; parameter and errors as those of `outputs`."""
    return _devices("input", library)


BROKEN: Final = (
    "The sound system of this computer cannot be asked for its devices: it brought down the "
    "process that asked. Its configuration may be damaged."
)
LISTING: Final = child_command("throwcount.sounds.output.listing_child")


def listed(kind: Kind, command: Sequence[str] = LISTING) -> list[Device]:
    """Return every device of a kind, asked for in a process of its own, which `command` starts.

    Raises
    ------
    DeviceError
        If PortAudio is not there, or the sound system is broken.
    """
    try:
        with started_child(command) as process:
            told, _ = process.communicate(pickle.dumps(kind), OPENING_SECONDS)
            answer = read_message(BytesIO(told))
    except subprocess.TimeoutExpired as error:
        raise DeviceError("The sound system does not tell which devices there are.") from error
    except (EOFError, OSError) as error:
        raise DeviceError(BROKEN) from error
    if isinstance(answer, Refused):
        raise DeviceError(answer.reason)
    assert isinstance(answer, list)  # noqa: S101 - nothing else is sent
    return answer


def _devices(kind: Kind, library: SoundLibrary | None) -> list[Device]:
    library = library or sound_library()
    channels = f"max_{kind}_channels"
    with native_chatter_discarded():
        hosts = library.query_hostapis()
        default = _default_index(library, kind)
        return [
            Device(
                name=device["name"],
                host=hosts[device["hostapi"]]["name"],
                channels=device[channels],
                rate=round(device["default_samplerate"]),
                is_default=device["index"] == default,
            )
            for device in library.query_devices()
            if device[channels] > 0
        ]


def _default_index(library: SoundLibrary, kind: Kind) -> int | None:
    with suppress(library.PortAudioError):
        return int(library.query_devices(kind=kind)["index"])
    return None


def find_output(library: SoundLibrary, device: str | None) -> dict[str, Any]:
    """Return what PortAudio knows of an output, or of the default one.

    Raises
    ------
    DeviceError
        If there is no such device, or several, or none at all.
    """
    return _found(library, device, "output")


def find_input(library: SoundLibrary, device: str | None) -> dict[str, Any]:
    """Return what PortAudio knows of an input, or of the default one; errors as `find_output`."""
    return _found(library, device, "input")


def _found(library: SoundLibrary, device: str | None, kind: Kind) -> dict[str, Any]:
    try:
        with native_chatter_discarded():
            found: dict[str, Any] = library.query_devices(device, kind=kind)
    except library.PortAudioError as error:
        raise DeviceError(NOTHING[kind]) from error
    except ValueError as error:
        raise UnknownDeviceError(
            f"No {kind}, or more than one, has {device!r} in its name; write the name in full."
        ) from error
    return found


def close_stream(stream: Any) -> None:  # noqa: ANN401 - sounddevice has no types
    """Close a stream of the library without waiting for one that hangs."""
    closing = threading.Thread(target=stream.close, daemon=True)
    closing.start()
    closing.join(CLOSING)


OPENING_SECONDS: Final = 15.0
"""How long a process may take to start and open its device; it takes half a second as a rule."""

KILLING_SECONDS: Final = 1.0


class DeviceProcess:
    """A process that holds a device, as seen from the one that leads.

    Once the device is open, nothing here waits for the process.

    Parameters
    ----------
    child
        The process, if it was started and sent `opening` already; else the command that starts it.
    opening
        The first message to it, which it answers with `Opened` or `Refused`.
    take
        Called with every other message, in a thread of its own that holds `news`; it may be called
        before this is made.
    name, device
        What the process and the device are called in a sentence that says what failed.

    Attributes
    ----------
    news
        A condition, held while a message is taken in, and notified of each, and of the end.
    rate
        Sample rate of the device, in Hz.
    ended
        Whether the process has ended.

    Raises
    ------
    DeviceError
        If there is no such device, or it cannot be opened so.
    """

    def __init__(
        self,
        child: Sequence[str] | Child,
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
        if isinstance(child, subprocess.Popen):
            self._process = child
        else:
            try:
                self._process = started_child(child)
            except OSError as error:
                raise DeviceError(f"{name} cannot be started: {error}.") from error
            self.tell(opening)
        for work in (self._write, self._read):
            threading.Thread(target=work, daemon=True).start()
        self.rate = self._opened(device)

    @property
    def all_sent(self) -> bool:
        """Whether everything that was told has been sent to the process."""
        return self._sent == self._queued

    def tell(self, message: object) -> None:
        """Send a message as soon as the process takes it."""
        self._queued += 1
        self._orders.put(message)

    def finish(self, patience: float) -> None:
        """Send nothing more, and end the process if it has not ended within `patience` seconds."""
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
        if self._answer is None:
            raise DeviceError(no_answer)
        raise (UnknownDeviceError if self._answer.unknown else DeviceError)(self._answer.reason)

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
