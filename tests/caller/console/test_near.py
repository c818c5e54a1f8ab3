"""What is suggested for a name that was mistyped."""

import pytest

from caller.console.near import near


@pytest.mark.parametrize(
    ("text", "known", "told"),
    [
        ("tempi", ("tempo", "props"), " Did you mean 'tempo'?"),
        ("TEMPO", ("tempo", "props"), " Did you mean 'tempo'?"),
        ("the wel", ("The Well", "The Green"), " Did you mean 'The Well'?"),
        ("usb microfone", ("Built-in Audio", "USB Microphone"), " Did you mean 'USB Microphone'?"),
        ("rhythm", ("tempo", "props"), ""),
        ("", ("tempo",), ""),
        ("tempo", (), ""),
    ],
)
def test_a_near_miss(text: str, known: tuple[str, ...], told: str) -> None:
    assert near(text, known) == told
