"""What sound can be played on and heard with, and the library that reaches it.

The library is loaded where it is first needed.
"""

import importlib
import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Any, Final, Literal, TextIO, TypeAlias, TypeGuard

from sounds.errors import DeviceError

SoundLibrary: TypeAlias = Any
"""The module sounddevice (it has no types), or what stands in for it."""

Kind: TypeAlias = Literal["input", "output"]

STDERR: Final = 2
"""File descriptor of standard error."""

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
    """As the system has it."""
    host: str
    """The sound system that it belongs to."""
    channels: int
    """How many it has."""
    rate: int
    """The rate it likes best, in frames a second."""
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
    """Return everything that can be played on; nothing where there is no device.

    The `library` is the module sounddevice, loaded if not given.

    Raises
    ------
    DeviceError
        If PortAudio is not there.
    """
    return _devices("output", library)


def inputs(library: SoundLibrary | None = None) -> list[Device]:
    """Return everything that can be listened with; parameters and errors as those of `outputs`."""
    return _devices("input", library)


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
        raise DeviceError(
            f"No {kind}, or more than one, has {device!r} in its name; write the name in full."
        ) from error
    return found


def close_stream(stream: Any) -> None:  # noqa: ANN401 - sounddevice has no types
    """Close a stream of the library, but do not wait for one that hangs."""
    closing = threading.Thread(target=stream.close, daemon=True)
    closing.start()
    closing.join(CLOSING)


@contextmanager
def native_chatter_discarded() -> Iterator[None]:
    """Keep off the screen what libraries write to standard error from C.

    ALSA and PortAudio report every device that they try and every gap, hundreds of lines of it.
    While this lasts, file descriptor 2 leads nowhere; what Python itself writes to `sys.stderr`
    is still seen.
    """
    try:
        kept = os.dup(STDERR)
    except OSError:  # There is no standard error at all.
        yield
        return
    python_stderr = sys.stderr
    seen = None
    if _writes_to_stderr(python_stderr):
        python_stderr.flush()
        encoding, errors = python_stderr.encoding, python_stderr.errors
        seen = os.fdopen(os.dup(kept), "w", buffering=1, encoding=encoding, errors=errors)
        sys.stderr = seen
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, STDERR)
    os.close(nowhere)
    try:
        yield
    finally:
        os.dup2(kept, STDERR)
        os.close(kept)
        if seen is not None:
            sys.stderr = python_stderr
            seen.close()


def _writes_to_stderr(stream: TextIO | None) -> TypeGuard[TextIO]:
    """Tell whether a Python stream ends at file descriptor 2."""
    if stream is None:
        return False
    try:
        return stream.fileno() == STDERR
    except OSError:  # A stream in memory.
        return False
