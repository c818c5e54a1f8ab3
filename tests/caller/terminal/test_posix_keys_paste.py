"""Text pasted into a terminal that does not say so."""

import pytest

from throwcount.caller.terminal.posix_keys import PasteGuard

BURST_SECONDS = 0.05
"""Seconds: quick fingers press a key or two in it."""

MOST_AT_ONCE = 4
"""Keys that may be pressed together, as with both hands."""

QUIET_SECONDS = 0.2
"""Seconds: what is pasted does not pause for so long."""


@pytest.mark.parametrize(
    ("keys", "through"),
    [
        (["q"], True),
        (["page-down", "space"], True),
        (["n"] * 40, True),  # held down while the computer was busy
        (["n"] * 40 + ["space"], True),
        (list("note"), True),
        (list("notes"), False),
        (list("sudo rm -r\n"), False),
        (["space", *"qqqqqq", "x"], True),  # three kinds, but never among the last few
        (["x", "y", "z", "u", "v", *"qqqqqq"], False),
    ],
)
def test_at_once(keys: list[str], through: bool) -> None:
    assert PasteGuard().let_through(keys, 1.0) == (keys if through else [])


def test_a_person_is_not_so_quick() -> None:
    guard = PasteGuard()
    for index in range(100):
        key = "abcdefghij"[index % 10]
        assert guard.let_through([key], index * BURST_SECONDS / (MOST_AT_ONCE - 1)) == [key]


def test_a_paste_that_trickles_in_ends_with_silence() -> None:
    guard = PasteGuard()
    let_through = [key for i in range(500) for key in guard.let_through([f"{i}"], i * 0.001)]
    assert let_through == [f"{i}" for i in range(MOST_AT_ONCE)]
    assert guard.let_through(["q"], 0.5 + QUIET_SECONDS / 2) == []
    assert guard.let_through([], 0.5 + QUIET_SECONDS * 3) == []
    assert guard.let_through(["q"], 0.5 + QUIET_SECONDS * 3) == ["q"]
