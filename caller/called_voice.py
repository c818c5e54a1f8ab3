"""The voice that a person asked for."""

from sounds.fallback_voice import FallbackVoice
from sounds.open_voice import open_voice


def called_voice(name: str | None, rate: int) -> FallbackVoice:
    """Return the voice of a name or folder, the built-in one if None.

    Parameters
    ----------
    name
        As given to ``--voice``.
    rate
        Frames a second.

    Raises
    ------
    VoiceError
        If there is no such voice.
    """
    from platformdirs import user_cache_path  # noqa: PLC0415 - only where a voice is opened

    return open_voice(name, rate, user_cache_path("throwcount") / "words")
