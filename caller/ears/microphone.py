"""The microphone that a person asked for."""

from collections.abc import Callable
from contextlib import suppress
from typing import Final

from caller.console.near import near
from caller.errors import OutsideError
from sounds.errors import DeviceError
from sounds.listening.microphones.microphone import Microphone
from sounds.listening.microphones.microphone_messages import TakeWish
from sounds.playing.devices import inputs

WITHOUT_LISTENING: Final = "`throwcount play` plays without listening."

Opener = Callable[[str | None, TakeWish | None, int | None], Microphone]


def opened_microphone(
    device: str | None, take: TakeWish | None, call_rate: int | None, opener: Opener = Microphone
) -> Microphone:
    """Open a microphone.

    Parameters
    ----------
    device
        The name of an input or an unmistakable part of it; the default one if None.
    take
        The file that is to hold all that is heard; None for none.
    call_rate
        Frames a second of a deck whose sound is to be taken out; None for none.
    opener
        Opens it.

    Raises
    ------
    OutsideError
        If there is none, or it cannot be opened so.
    FileError
        If the take cannot be put there.
    """
    try:
        return opener(device, take, call_rate)
    except DeviceError as error:
        raise OutsideError(f"{error}{_others(device)} {WITHOUT_LISTENING}") from error


def _others(device: str | None) -> str:
    """Return what there is to listen with, in a sentence, where a name was given."""
    names: list[str] = []
    with suppress(DeviceError):
        names = list(dict.fromkeys(each.name for each in inputs()))
    if device is None or not names:
        return ""
    return f" The inputs here: {', '.join(names)}.{near(device, names)}"
