"""What a person sees, on terminals of every kind.

The bar of a long search: late, on standard error, and only where someone sees it.
"""

import io
import os
import subprocess
import sys
from collections.abc import Callable
from itertools import chain, repeat

import pytest
from rich.text import Text
from waiting import LIMIT

from throwcount.caller.terminal.printing import listed, search_bar, shortened, show, table, tell
from throwcount.caller.terminal.text import USUAL_SIZE, terminal_size

ESCAPE = "\x1b["


def throwcount(*arguments: str, **environment: str) -> "subprocess.CompletedProcess[bytes]":
    kept = {
        name: value for name, value in os.environ.items() if name not in {"NO_COLOR", "COLUMNS"}
    }
    return subprocess.run(
        [sys.executable, "-m", "throwcount.caller", *arguments],
        env={**kept, **environment},
        check=False,
        capture_output=True,
        timeout=LIMIT,
    )


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "latin-1", "koi8-r", "utf-16"])
@pytest.mark.parametrize("arguments", [("check", "531"), ("check", "54"), ("check", "53\u20ac")])
def test_no_encoding_is_a_fault(encoding: str, arguments: tuple[str, ...]) -> None:
    done = throwcount(*arguments, PYTHONIOENCODING=encoding)
    text = (done.stdout + done.stderr).decode(encoding)
    assert done.returncode == (0 if arguments == ("check", "531") else 1), text
    assert "Traceback" not in text
    assert ("?" in text) <= ("\u20ac" in arguments[1])


def test_lines_are_drawn_in_ascii_where_need_be() -> None:
    plain = throwcount("check", "531", PYTHONIOENCODING="ascii").stdout.decode("ascii")
    drawn = throwcount("check", "531", PYTHONIOENCODING="utf-8").stdout.decode("utf-8")
    assert "A right 5-------------+  +" in plain
    assert "A right 5─────────────╮  ╭" in drawn


@pytest.mark.parametrize(
    ("environment", "coloured"),
    [
        ({}, False),
        ({"TERM": "dumb"}, False),
        ({"FORCE_COLOR": "1", "TERM": "xterm-256color"}, True),
        ({"FORCE_COLOR": "1", "TERM": "xterm-256color", "NO_COLOR": "1"}, False),
    ],
)
def test_colour_only_where_it_is_welcome(environment: dict[str, str], coloured: bool) -> None:
    output = throwcount("check", "531", PYTHONIOENCODING="utf-8", **environment).stdout.decode()
    cyan = f"{ESCAPE}36m"
    assert (cyan in output) == coloured


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such terminals")
def test_a_terminal_that_does_not_know_its_size_has_the_usual_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    one, other = os.openpty()
    monkeypatch.delenv("COLUMNS", raising=False)
    with os.fdopen(one, "w"), os.fdopen(other, "w") as screen:
        for name in ("__stdout__", "__stderr__", "__stdin__"):
            monkeypatch.setattr(sys, name, screen)
        assert os.get_terminal_size(screen.fileno()).columns == 0
        assert terminal_size() == USUAL_SIZE


@pytest.mark.parametrize("columns", [20, 40, 60, 80, 132])
@pytest.mark.parametrize("pattern", ["531", "(4,2x)*", "744", "[33]33"])
def test_a_page_fits_its_terminal(columns: int, pattern: str) -> None:
    done = throwcount("check", pattern, COLUMNS=str(columns), PYTHONIOENCODING="utf-8")
    lines = done.stdout.decode("utf-8").splitlines()
    assert max(map(len, lines)) <= columns
    assert all(line == line.rstrip() for line in lines)


def test_texts_are_taken_literally(capsys: pytest.CaptureFixture[str]) -> None:
    show(Text("[bold]3[/bold] :smile: [33]"), "[red]x[/red]")
    assert capsys.readouterr().out == "[bold]3[/bold] :smile: [33]\n[red]x[/red]\n"


def test_long_lists_and_texts_are_begun() -> None:
    assert listed("abc") == "a b c"
    assert listed("a" * 13) == "a a a a a a a a a a a a ... (13)"
    assert shortened("5" * 60) == "5" * 60
    assert shortened("5" * 61) == "5" * 60 + "..."


class Screen(io.StringIO):
    """Standard output that goes to a terminal."""

    def isatty(self) -> bool:
        """Return whether this is a terminal."""
        return True


@pytest.mark.parametrize(
    ("output", "lines"),
    [
        (Screen(), ["A longer --latency", "helps", "/a/folder/of/a/long/name", "", "Yes."]),
        (io.StringIO(), ["A longer --latency helps /a/folder/of/a/long/name", "", "Yes."]),
    ],
)
def test_sentences_are_folded_between_words_on_a_terminal_alone(
    output: io.StringIO, lines: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "20")
    monkeypatch.setattr(sys, "stdout", output)
    tell("A longer --latency helps /a/folder/of/a/long/name", "", "Yes.")
    assert output.getvalue().splitlines() == lines


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


Streams = tuple[io.StringIO, io.StringIO]


def replaced(monkeypatch: pytest.MonkeyPatch, *, output_seen: bool, errors_seen: bool) -> Streams:
    """Replace standard output and standard error by terminals or by what is none."""
    output, errors = (Terminal() if seen else io.StringIO() for seen in (output_seen, errors_seen))
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setattr(sys, "stdout", output)
    monkeypatch.setattr(sys, "stderr", errors)
    return output, errors


def ticks(later: float) -> Callable[[], float]:
    """Return a clock that says 0 at first, and `later` from then on."""
    moments = chain([0.0], repeat(later))
    return lambda: next(moments)


@pytest.mark.parametrize("output_seen", [False, True])
def test_a_long_search_has_a_bar(monkeypatch: pytest.MonkeyPatch, output_seen: bool) -> None:
    _, errors = replaced(monkeypatch, output_seen=output_seen, errors_seen=True)
    with search_bar("looking", clock=ticks(5)) as watch:
        watch(0.25)
        watch(0.5)
    assert "looking" in errors.getvalue()
    assert "25.0 %" in errors.getvalue()


@pytest.mark.parametrize("output_seen", [False, True])
def test_a_short_search_has_none(monkeypatch: pytest.MonkeyPatch, output_seen: bool) -> None:
    _, errors = replaced(monkeypatch, output_seen=output_seen, errors_seen=True)
    with search_bar("looking", clock=ticks(0.9)) as watch:
        watch(0.25)
    assert "looking" not in errors.getvalue()


def test_no_bar_where_no_one_sees_it(monkeypatch: pytest.MonkeyPatch) -> None:
    _, errors = replaced(monkeypatch, output_seen=False, errors_seen=False)
    with search_bar("looking", clock=ticks(5)) as watch:
        watch(0.25)
    assert errors.getvalue() == ""


def test_what_is_piped_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    output, errors = replaced(monkeypatch, output_seen=False, errors_seen=True)
    with search_bar("looking", clock=ticks(5)) as watch:
        watch(0.25)
        sys.stdout.write("531\n")
    assert output.getvalue() == "531\n"
    assert "531" not in errors.getvalue()


def test_names_in_pages_are_shown_and_not_obeyed(capsys: pytest.CaptureFixture[str]) -> None:
    hostile = "\x1b[31mred\u202e [bold]"
    listing = table("name", "beats")
    listing.add_row(hostile, "3")
    show(hostile, Text(hostile), listing)
    told = capsys.readouterr().out
    assert told.count("\\x1b[31mred\\u202e [bold]") == 3
    assert "\x1b" not in told
