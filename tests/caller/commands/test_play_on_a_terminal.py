"""`throwcount play` as a person meets it: a terminal, a keyboard, sound."""

import re
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from sound_server import SoundServer
from tmux import Tmux

PLAY = f"{sys.executable} -m throwcount.caller play"
AT_ONCE = "--ready 1 --no-announce --count-in 0"
ESCAPE = "\x1b["
COLOURS = re.compile(r"\x1b\[[0-9;]*(?:3[0-79]|4[0-79]|9\d|10\d)[0-9;]*m")


@pytest.fixture
def open_terminal(
    sound_server: SoundServer, require: Callable[[object, str], None]
) -> Iterator[Callable[..., Tmux]]:
    """Return a function that opens a terminal of a size, with more variables in it."""
    require(shutil.which("tmux"), "no tmux on this machine")
    opened: list[Tmux] = []

    def opening(columns: int, rows: int, **variables: str) -> Tmux:
        opened.append(Tmux(columns, rows, sound_server.environment | variables))
        return opened[-1]

    yield opening
    for tmux in opened:
        tmux.close()


def test_a_practice(open_terminal: Callable[..., Tmux]) -> None:
    """The beats are large; suspended, resumed and stopped, the screen is as it was before."""
    tmux = open_terminal(80, 24)
    tmux.type("echo what was here")
    tmux.type(f"{PLAY} 531 {AT_ONCE} --tempo 200")
    shown = tmux.wait_for("cycle 1")
    assert "█" in shown
    assert "what was here" not in shown
    assert "200 a minute" in shown
    assert "q stop" in shown
    tmux.press("C-z")
    shown = tmux.wait_for("Stopped")
    assert "what was here" in shown
    tmux.type("fg")
    tmux.wait_for("q stop")
    tmux.press("x")  # nothing that can be asked for
    tmux.press("q")
    tmux.wait_for("what was here")
    tmux.wait_for_shell()  # what is typed before the program has ended is not for the shell
    tmux.type("echo ended: $?")
    tmux.wait_for("ended: 0")
    tmux.type("stty -a | tr ' ' '\\n' | grep -xE -- '-?(icanon|echo|ixon)' | tr '\\n' ' '")
    tmux.wait_for("ixon icanon echo")


def test_ctrl_c_gives_the_terminal_back(open_terminal: Callable[..., Tmux]) -> None:
    tmux = open_terminal(80, 24)
    tmux.type(f"{PLAY} 531 {AT_ONCE}; echo status: $?")
    tmux.wait_for("cycle 1")
    tmux.press("C-c")
    tmux.wait_for("status: 0")
    tmux.type("stty -a | tr ' ' '\\n' | grep -xE -- '-?(icanon|echo)' | tr '\\n' ' '")
    tmux.wait_for("icanon echo")


@pytest.mark.parametrize(("columns", "rows"), [(120, 40), (40, 12), (20, 4)])
def test_terminals_large_and_small(
    columns: int, rows: int, open_terminal: Callable[..., Tmux]
) -> None:
    tmux = open_terminal(columns, rows)
    tmux.type(f"{PLAY} 97531 {AT_ONCE} --tempo 200")
    shown = tmux.wait_for("next  ").splitlines()
    assert len(shown) <= rows
    assert shown[0].startswith("97531")
    assert any("█" in line for line in shown) == (rows > 4)


@pytest.mark.parametrize(
    ("variables", "present", "absent"),
    [
        ({}, "█", "#"),
        ({"NO_COLOR": "1"}, "█", "#"),
        ({"PYTHONIOENCODING": "ascii"}, "##", "█"),
        ({"TERM": "dumb"}, "cycle 1, 200 a minute: right 5, left 3, right 1", "█"),
    ],
    ids=["colour", "no colour", "ASCII", "dumb"],
)
def test_terminals_that_can_show_less(
    variables: dict[str, str], present: str, absent: str, open_terminal: Callable[..., Tmux]
) -> None:
    tmux = open_terminal(80, 24)
    setting = "".join(f"{name}={value} " for name, value in variables.items())
    tmux.type(f"{setting}{PLAY} 531 {AT_ONCE} --tempo 200")
    tmux.wait_for("cycle 1")
    screen = tmux.text(styled=True)
    assert present in screen
    assert absent not in screen
    assert bool(COLOURS.search(screen.replace("\x1b[39m", "").replace("\x1b[49m", ""))) == (
        not variables or "PYTHONIOENCODING" in variables
    )


def test_settings_and_keys(open_terminal: Callable[..., Tmux], tmp_path: Path) -> None:
    place = tmp_path / "mine.toml"
    place.write_text('ready = 0.2\ncount-in = 0\nannounce = false\n[keys]\nstop = "page-down"\n')
    tmux = open_terminal(80, 24)
    tmux.type(f"{PLAY} 531 --settings {place}; echo ended: $?")
    tmux.wait_for("page-down stop")
    tmux.press("q")
    tmux.press("NPage")
    shown = tmux.wait_for("ended: 0")
    assert "page-down or Ctrl-C stops." in shown


def test_without_a_keyboard(open_terminal: Callable[..., Tmux]) -> None:
    tmux = open_terminal(80, 24)
    tmux.type(f"{PLAY} 531 {AT_ONCE} --cycles 1 </dev/null; echo ended: $?")
    assert "Ctrl-C stops" not in tmux.wait_for("cycle 1")
    tmux.wait_for("ended: 0")
