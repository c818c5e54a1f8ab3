"""What keys are called."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caller.keys.names import NAMED, key_name


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("space", "space"),
        (" ", "space"),
        ("Page Down", "page-down"),
        ("PAGE_UP", "page-up"),
        ("pgdn", "page-down"),
        ("Return", "enter"),
        ("esc", "escape"),
        ("F5", "f5"),
        ("x", "x"),
        ("X", "x"),
        ("-", "-"),
        ("_", "_"),
        ("+", "+"),
        ("plus", "+"),
        ("\u00c9", "\u00e9"),
        ("ctrl-x", "ctrl-x"),
        ("Ctrl+X", "ctrl-x"),
        ("shift up", "shift-up"),
        ("shift-alt-left", "alt-shift-left"),
        ("alt--", "alt--"),
        # A terminal sends the same for both.
        ("ctrl-i", "tab"),
        ("ctrl-m", "enter"),
        ("alt-return", "alt-enter"),
    ],
)
def test_names_as_people_write_them(written: str, name: str) -> None:
    assert key_name(written) == name


@pytest.mark.parametrize(
    "written",
    ["", "  ", "spaec", "pedal", "shift-x", "ctrl-", "ctrl-shift", "f21", "\t", "\x1b", "ab"],
)
def test_what_is_no_key(written: str) -> None:
    assert key_name(written) is None


@pytest.mark.parametrize("name", NAMED)
def test_names_stand_for_themselves(name: str) -> None:
    assert key_name(name) == name


@given(st.text(max_size=20))
def test_a_name_is_the_name_of_itself(text: str) -> None:
    name = key_name(text)
    assert name is None or key_name(name) == name
