"""The errors of this room; each one's text is one or two plain sentences."""


class SoundError(Exception):
    """Something outside the program failed: a device, a file, a speech engine."""


class UnknownWordError(SoundError):
    """A voice cannot say a text."""


class VoiceError(SoundError):
    """A voice cannot be opened, or its engine failed."""


class UnknownVoiceError(VoiceError):
    """There is no voice of that name, or there are several."""


class DeviceError(SoundError):
    """There is no device to play or listen with, or it failed."""


class FileError(SoundError):
    """A file cannot be read or written."""


class ClashError(FileError):
    """A file is both read and written, or written twice, by one command."""


class InputError(SoundError):
    """What is to be read is no file, or a file too large.

    `kind` says what it is, such as "a pipe, not a file". The text, a sentence, does not name it.
    """

    def __init__(self, kind: str) -> None:
        super().__init__(f"It is {kind}.")
        self.kind = kind


class UnknownDeviceError(DeviceError):
    """There is no device of that name, or there are several."""


class TakeError(SoundError):
    """A take, or the call that was played to it, cannot be read."""


class MusicError(SoundError):
    """Music cannot be read, or its beats cannot be estimated."""
