"""The errors of this room; each one's text is one or two plain sentences."""


class SoundError(Exception):
    """Something outside the program failed: a device, a file, a speech engine."""


class UnknownWordError(SoundError):
    """A voice cannot say a text."""


class VoiceError(SoundError):
    """A voice cannot be opened, or its engine failed."""


class DeviceError(SoundError):
    """There is no device to play or listen with, or it failed."""


class FileError(SoundError):
    """A file cannot be read or written."""


class TakeError(SoundError):
    """A take, or the call that was played to it, cannot be read."""


class MusicError(SoundError):
    """Music cannot be read, or its beats cannot be estimated."""
