"""Bytes from a terminal become names of keys."""

import shutil
import subprocess
from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from throwcount.caller.terminal.controls import key_name
from throwcount.caller.terminal.key_decoder import PASTE_BEGINS, PASTE_ENDS, KeyDecoder

ESCAPE_SECONDS = 0.05
"""Seconds: the rest of a key's bytes come sooner, and a person does not wait for Escape."""

PASTE_SECONDS = 1.0
"""Seconds: no paste pauses for so long, and keys that stay dead longer would seem broken."""


TERMINALS = (
    *("xterm", "xterm-256color", "linux", "screen", "screen-256color", "tmux", "tmux-256color"),
    *("rxvt", "rxvt-unicode", "vt100", "vt220", "cygwin", "wsvt25"),
)
CAPABILITIES = {
    "kcuu1": "up",
    "kcud1": "down",
    "kcub1": "left",
    "kcuf1": "right",
    "kpp": "page-up",
    "knp": "page-down",
    "khome": "home",
    "kend": "end",
    "kich1": "insert",
    "kdch1": "delete",
    "kent": "enter",
    "kcbt": "shift-tab",
    "kLFT": "shift-left",
    "kRIT": "shift-right",
    "kPRV": "shift-page-up",
    "kNXT": "shift-page-down",
    "kHOM": "shift-home",
    "kEND": "shift-end",
    "kDC": "shift-delete",
    **{f"kf{number}": f"f{number}" for number in range(1, 13)},
}
"""Names of keys in terminfo (its manual page), and here."""

ELSEWHERE_ANOTHER_KEY = {
    *(("vt100", f"kf{number}") for number in range(5, 11)),  # its number pad
    ("linux", "kcbt"),  # what alt and tab send on others
}


def keys(*pieces: bytes, moments: list[float] | None = None) -> list[str]:
    decoder = KeyDecoder()
    moments = moments or [0.0] * len(pieces)
    found = [
        key for piece, at in zip(pieces, moments, strict=True) for key in decoder.feed(piece, at)
    ]
    return found + decoder.expire(moments[-1] + 2 * PASTE_SECONDS)


@pytest.mark.parametrize("terminal", TERMINALS)
def test_every_key_of_the_terminals_that_ncurses_describes(
    terminal: str, require: Callable[[object, str], None]
) -> None:
    """An independent source: the terminfo data base."""
    require(shutil.which("infocmp"), "no infocmp on this machine")
    done = subprocess.run(
        ("infocmp", "-1", "-x", terminal), capture_output=True, text=True, check=False
    )
    require(done.returncode == 0, f"this machine does not know {terminal}")
    checked = 0
    for line in done.stdout.splitlines():
        name, _, sent = line.strip().rstrip(",").partition("=")
        if name in CAPABILITIES and (terminal, name) not in ELSEWHERE_ANOTHER_KEY:
            data = sent.replace("\\E", "\x1b").replace("^M", "\r").replace("^?", "\x7f")
            assert keys(data.encode()) == [CAPABILITIES[name]], (name, sent)
            checked += 1
    assert checked >= 8


@pytest.mark.parametrize(
    ("data", "names"),
    [
        (b"a", ["a"]),
        (b"A", ["a"]),
        (b" ", ["space"]),
        (b"\r", ["enter"]),
        (b"\n", ["enter"]),
        (b"\t", ["tab"]),
        (b"\x7f", ["backspace"]),
        (b"\x08", ["backspace"]),
        (b"\x13", ["ctrl-s"]),
        (b"\x00", ["ctrl-space"]),
        ("\u00e9\u00c9\u0416\u20ac".encode(), ["\u00e9", "\u00e9", "\u0436", "\u20ac"]),
        (b"\x1b", ["escape"]),
        (b"\x1b\x1b", ["escape", "escape"]),
        (b"\x1bx", ["alt-x"]),
        (b"\x1b\x01", ["ctrl-alt-a"]),
        (b"\x1b\r", ["alt-enter"]),
        (b"\x1b[", ["alt-["]),
        (b"\x1bO", ["alt-o"]),
        # The cursor keys, normal and in application mode; ctrl, shift and alt held down (xterm).
        (b"\x1b[A\x1b[B\x1b[C\x1b[D", ["up", "down", "right", "left"]),
        (b"\x1bOA\x1bOB\x1bOC\x1bOD", ["up", "down", "right", "left"]),
        (b"\x1b[1;2A\x1b[1;3B", ["shift-up", "alt-down"]),
        (b"\x1b[1;5C\x1b[1;8D", ["ctrl-right", "ctrl-alt-shift-left"]),
        (b"\x1b[5;5~\x1b[6;2~", ["ctrl-page-up", "shift-page-down"]),
        (b"\x1b[5^\x1b[6$\x1b[5@", ["ctrl-page-up", "shift-page-down", "ctrl-shift-page-up"]),
        (b"\x1b[a\x1bOa", ["shift-up", "ctrl-up"]),
        (b"\x1b[1~\x1b[4~\x1b[7~\x1b[8~", ["home", "end", "home", "end"]),
        (b"\x1b[H\x1b[F\x1bOH\x1bOF", ["home", "end", "home", "end"]),
        (b"\x1b[[A\x1b[[E\x1b[15~\x1b[24~", ["f1", "f5", "f5", "f12"]),
        (b"\x1b[Z", ["shift-tab"]),
        (b"\x1bOM\x1bOk\x1bOm\x1bOp", ["enter", "+", "-", "0"]),
        # What means nothing is taken whole.
        (b"\x1b[<0;12;7M\x1b[<0;12;7ma", ["a"]),
        (b"\x1b[?2004;1$y\x1b[?1;2ca", ["a"]),
        (b"\x1b[12;40Ra", ["a"]),
        (b"\x1b[Ia\x1b[Ob", ["a", "b"]),
        (b"\x1b[99~\x1b[1;99Aa", ["a"]),
        (b"\x1b]0;q\x07a\x1b]11;rgb:0/0/0\x1b\\b", ["a", "b"]),
        (b"\x1bP1$r0q\x1b\\a", ["a"]),
        (b"\x1b[1\x1b[5~", ["page-up"]),
        (b"\x1b[" + b"1" * 1000 + b"~", ["1"] * (1000 - 64) + ["~"]),
        (b"\xff\xfe\xc3(\xe2\x82", ["("]),
        (b"\xed\xa0\x80\xf4\x90\x80\x80", []),  # no signs in UTF-8 (RFC 3629)
        ("\u200b\u0085".encode(), []),
        # Pasted text (xterm's bracketed paste) is no keys, whatever is in it.
        (PASTE_BEGINS + b"qpn\x1b[5~\r" + PASTE_ENDS + b"a", ["a"]),
        (PASTE_BEGINS + PASTE_BEGINS + b"q" + PASTE_ENDS + b"a", ["a"]),
        (PASTE_ENDS + b"a", ["a"]),
    ],
)
def test_bytes_and_keys(data: bytes, names: list[str]) -> None:
    assert keys(data) == names


SEQUENCES = st.sampled_from(
    [
        *(
            b"\x1b",
            b"\x1b[",
            b"\x1bO",
            b"\x1b[[",
            b"\x1b]",
            b"\x1b\\",
            b"\x07",
            b"$",
            b";",
            b"5",
            b"~",
        ),
        *(
            b"\x1b[5~",
            b"\x1b[1;5A",
            b"\x1bOA",
            b"\x1b[5$",
            b"\xe2\x82\xac",
            PASTE_BEGINS,
            PASTE_ENDS,
        ),
    ]
)
ANY_BYTES = st.lists(SEQUENCES | st.binary(max_size=4), max_size=12).map(b"".join)


@given(ANY_BYTES, st.lists(st.integers(0, 60)))
@example(PASTE_BEGINS + b"q" + PASTE_ENDS, list(range(60)))
@example(b"\x1b[[A", [3])
@example(b"\x1b[[\x1b", [3])
@example(b"\x1b[[\x1b[A", [3])
def test_how_bytes_are_cut_makes_no_difference(data: bytes, cuts: list[int]) -> None:
    places = sorted({0, *(cut for cut in cuts if cut < len(data)), len(data)})
    pieces = [data[start:end] for start, end in pairwise(places)]
    assert keys(*pieces or [b""]) == keys(data)


@given(ANY_BYTES)
def test_every_key_can_be_written_in_the_settings(data: bytes) -> None:
    for name in keys(data):
        assert key_name(name) == name


def test_escape_alone_is_known_by_the_silence_after_it() -> None:
    decoder = KeyDecoder()
    assert decoder.deadline is None
    assert decoder.feed(b"\x1b", 10.0) == []
    assert decoder.deadline == 10.0 + ESCAPE_SECONDS
    assert decoder.expire(10.0 + ESCAPE_SECONDS / 2) == []
    assert decoder.expire(10.0 + ESCAPE_SECONDS) == ["escape"]
    assert decoder.deadline is None
    assert keys(b"\x1b", b"[A", moments=[0.0, ESCAPE_SECONDS * 0.9]) == ["up"]
    assert keys(b"\x1b", b"[A", moments=[0.0, ESCAPE_SECONDS * 1.1]) == ["escape", "[", "a"]


@pytest.mark.parametrize(
    "begun", [b"\x1b[5", b"\x1b]", b"\x1bP", b"\xe2\x82", b"\x1b[[", b"\x1bO5"]
)
def test_what_is_begun_and_not_ended_does_not_hold_up_the_next_key(begun: bytes) -> None:
    assert keys(begun, b"q", moments=[0.0, ESCAPE_SECONDS * 1.1]) == ["q"]


def test_a_paste_may_come_slowly_and_may_never_end() -> None:
    slow = [0.0, PASTE_SECONDS * 0.9, PASTE_SECONDS * 1.8]
    assert keys(PASTE_BEGINS + b"a", b"b", PASTE_ENDS + b"q", moments=slow) == ["q"]
    assert keys(PASTE_BEGINS + b"a", b"q", moments=[0.0, PASTE_SECONDS * 1.1]) == ["q"]


def test_a_long_paste_is_not_kept() -> None:
    decoder = KeyDecoder()
    decoder.feed(PASTE_BEGINS, 0.0)
    for _ in range(1000):
        assert decoder.feed(b"x" * 10_000, 0.0) == []
    assert decoder.feed(PASTE_ENDS + b"q", 0.0) == ["q"]
