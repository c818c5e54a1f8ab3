"""What can go wrong with sound; each error's text is one or two plain sentences."""


class SoundError(Exception):
    """Something outside the program failed: a device, a file, a speech engine."""


class UnknownWordError(SoundError):
    """A voice has no way to say a text."""


class VoiceError(SoundError):
    """A voice cannot be opened, or its engine failed."""


class DeviceError(SoundError):
    """There is no device to play on, or it failed."""


class FileError(SoundError):
    """A file cannot be read or written."""


class TakeError(SoundError):
    """A recording of a person who juggles cannot be listened to."""


class MusicError(SoundError):
    """Music cannot be read, or its beats cannot be estimated."""
