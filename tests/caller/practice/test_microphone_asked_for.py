"""The microphone that a person asked for, and what is told where it is not there."""

import pytest

from throwcount.caller.practice import listened_practice as microphone
from throwcount.caller.terminal.text import OutsideError
from throwcount.sounds.errors import DeviceError
from throwcount.sounds.listening.microphone import Microphone
from throwcount.sounds.output.devices import Device

NAMES = ("Built-in Audio", "USB Microphone", "USB Microphone")


def refused(_device: object, _take: object, _rate: object) -> Microphone:
    raise DeviceError("It is not to be had.")


@pytest.mark.parametrize(
    ("device", "names", "told"),
    [
        (None, NAMES, "It is not to be had. `throwcount play` plays without listening."),
        ("usb mic", NAMES, "The inputs here: Built-in Audio, USB Microphone."),
        ("USB Microfone", NAMES, "Did you mean 'USB Microphone'?"),
        ("USB", (), "It is not to be had. `throwcount play`"),
    ],
)
def test_what_there_is_instead_is_told(
    monkeypatch: pytest.MonkeyPatch, device: str | None, names: tuple[str, ...], told: str
) -> None:
    there = [Device(name, "host", 1, 48_000, is_default=False) for name in names]
    monkeypatch.setattr(microphone, "listed", lambda _kind: there)
    with pytest.raises(OutsideError) as failure:
        microphone.opened_microphone(device, None, None, refused)
    assert told in failure.value.message
