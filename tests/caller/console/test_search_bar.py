"""The bar of a long search: late, on standard error, and only where someone sees it."""

import io
import sys
from collections.abc import Callable
from itertools import chain, repeat

import pytest

from caller.console.search_bar import search_bar


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
