"""Reads keys, and shows glances over the whole terminal or line after line.

On a terminal that can be drawn on, what matters most is largest, and is left out last where there
is little room. Colour says nothing that place or words do not say too. Files, and terminals that
only append, get plain lines with what is new.
"""

import sys
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from typing import Final, Protocol

from rich.text import Text

from throwcount.caller.terminal.controls import in_front
from throwcount.caller.terminal.glance import (
    BLOCKS,
    Glance,
    coming_drawn,
    coming_written,
    current,
    getting_ready,
    heights,
    how,
    largest_scale,
    size,
    title,
)
from throwcount.caller.terminal.printing import console, length_text, shortened
from throwcount.caller.terminal.text import can_print, encodable, printable, terminal_size
from throwcount.engine.numbers import counted
from throwcount.engine.timing.timeline import COUNT_IN, RUN_OUT, Beat, at_once, has_throws


class Keys(Protocol):
    """Where keys come from."""

    def read(self, seconds: float) -> list[str]:
        """Wait for keys, at most `seconds`; return their names, or none when the time is over."""


class NoKeys:
    """No keyboard at all."""

    def read(self, seconds: float) -> list[str]:
        """Wait; there are no keys."""
        time.sleep(seconds)
        return []


def can_read_keys() -> bool:
    """Return whether standard input is a terminal, so that keys can be pressed."""
    return sys.stdin is not None and sys.stdin.isatty()


@contextmanager
def reading_keys(before_suspension: Callable[[], None] = lambda: None) -> Iterator[Keys]:
    """Read keys from standard input while the context lasts; none come if it is not a terminal.

    Use it in the main thread, the only one that signals reach. `before_suspension` is called when
    the program is about to be suspended, to clear the screen. The names of keys are those of
    `throwcount.caller.terminal.controls`; after a suspension `RESUMED` is among them.
    """
    if sys.platform == "win32":
        from throwcount.caller.terminal.windows_keys import ConsoleKeys

        yield ConsoleKeys() if can_read_keys() else NoKeys()
    else:
        from throwcount.caller.terminal.posix_keys import terminal_keys

        terminal = sys.stdin.fileno() if can_read_keys() else None
        with terminal_keys(terminal, before_suspension) as keys:
            yield keys


def ending_in_order() -> AbstractContextManager[None]:
    """Let signals to end, where the system has them, raise `SystemExit` while the context lasts."""
    if sys.platform == "win32":
        return nullcontext()
    from throwcount.caller.terminal.posix_keys import ending_in_order as in_order

    return in_order()


BETWEEN_LINES: Final = 1.0
"""Seconds of play between two lines for cycles, at least: short cycles are many."""


class LineWriter:
    """Chooses the glances that are worth a line: those with news, and beginnings of cycles."""

    def __init__(self) -> None:
        self._last_news: tuple[object, ...] = ()
        self._notice = ""
        self._cycle: tuple[str, int | None] = ("", None)
        self._time = -BETWEEN_LINES

    def line(self, glance: Glance) -> str | None:
        """Return a line for `glance`; None if it has nothing new."""
        beat = glance.beat
        said = (glance.large, glance.notice, glance.place, glance.clean, glance.drops)
        news = (*said, title(glance), _phase(beat))
        cycle = ("", None) if beat is None else (beat.part, beat.cycle)
        heard = 0.0 if beat is None else beat.time
        begins = cycle != self._cycle and heard - self._time >= BETWEEN_LINES
        self._cycle = cycle
        if news == self._last_news and not begins:
            return None
        self._last_news, self._time = news, heard
        notice = "" if glance.notice == self._notice else glance.notice
        self._notice = glance.notice
        return _line(glance, notice) or None


def _phase(beat: Beat | None) -> str:
    if beat is None:
        return "ready"
    return beat.part if beat.cycle is None else "throws"


def _line(glance: Glance, notice: str) -> str:
    """Return a glance as a line; `notice` is empty if it has been told already.

    A notice that tells the place itself, as it does of a mark, makes up for it.
    """
    marks = ""
    if glance.clean or glance.drops:
        marks = f"clean {glance.clean or 0}, drops {glance.drops or 0}"
    following = f"next: {glance.following}" if glance.following else ""
    place = "" if glance.place in notice else glance.place
    rest = "; ".join(filter(None, (glance.large, _happening(glance), following, marks)))
    after = " " if notice.endswith(".") else "; "
    return "; ".join(filter(None, (place, after.join(filter(None, (notice, rest))))))


def _happening(glance: Glance) -> str:
    beat = glance.beat
    name = shortened(title(glance))
    if glance.large:
        return name
    if beat is None:
        if glance.seconds_to_throw is None:
            return name
        return f"{name}: {getting_ready(glance)}"
    if beat.cycle is None:
        return f"{beat.part}, {beat.tempo:.0f} a minute"
    of_all = "" if glance.cycles is None else f" of {glance.cycles}"
    cycle = f"cycle {(beat.cycle or 0) + 1}{of_all}, {beat.tempo:.0f} a minute"
    return f"{name}: {cycle}: {_throws_left(glance)}"


def _throws_left(glance: Glance) -> str:
    """Return the known throws from now to the end of the cycle."""
    beats = [beat for beat in (glance.beat, *glance.coming) if beat is not None]
    same = [beat for beat in beats if (beat.part, beat.cycle) == (beats[0].part, beats[0].cycle)]
    return ", ".join(_hands(beat) for beat in same if has_throws(beat))


def _hands(beat: Beat) -> str:
    named = (("left", beat.throws.left), ("right", beat.throws.right))
    return " and ".join(f"{hand} {at_once(thrown)}" for hand, thrown in named if thrown)


GAP: Final = "   "
DRAWN_ROWS: Final = (size("0", 2)[1] + 1, size("0", 1)[1] + 1)
"""Rows of large characters with the hand below, at the two smallest scales, the larger first."""

BESIDE: Final = 3
"""Rows for everything else, at least."""

COMING_SHARE: Final = 6
"""The coming throws take at most one row in this many. They are drawn in large characters only if
the current throw can be twice as large."""

ORDER: Final = "where next when notice current coming heights marks legend".split()
"""The parts of a page, from top to bottom."""


def page(glance: Glance, columns: int, rows: int, *, plain: bool) -> list[Text]:
    """Return `rows` lines, none longer than `columns`; only of ASCII characters if `plain`."""
    reserved = next((drawn for drawn in DRAWN_ROWS if drawn + BESIDE <= rows), 1)
    kept = _fitting(_by_importance(glance, columns), rows - reserved)
    left = rows - sum(map(len, kept.values()))
    if "coming" in kept:
        smallest = 2 if plain else 1
        scale = max(smallest, largest_scale(["0"], columns, rows // COMING_SHARE, plain=plain))
        drawn = coming_drawn(glance, columns, scale, plain=plain)
        if drawn and left + 1 - len(drawn) > size("0", 2 * scale)[1]:
            left += 1 - len(drawn)
            kept["coming"] = drawn
    kept["current"] = current(glance, columns, left, plain=plain)
    lines = [line for name in ORDER for line in kept.get(name, [])]
    for line in lines:
        line.truncate(columns)
    return lines


def _by_importance(glance: Glance, columns: int) -> Iterator[tuple[str, list[Text]]]:
    """Yield the parts of the page other than the current throw, the most important first."""
    if glance.notice:
        yield "notice", [Text(f" {glance.notice} ", "bold reverse")]
    yield "where", [_at_ends(_where(glance), _time_left(glance), columns)]
    if glance.following:
        yield "next", [Text(f"next: {glance.following}", "bold")]
    if glance.beat is not None or glance.coming:
        yield "coming", [coming_written(glance, columns)]
    yield "when", [_at_ends(_place_in_part(glance), _tempo(glance), columns)]
    yield "legend", list(_legend(glance, columns))
    if glance.clean is not None or glance.drops is not None:
        yield "marks", [Text(f"clean {glance.clean or 0}{GAP}drops {glance.drops or 0}")]
    text = GAP.join(f"{throw}: {metres:.2f} m" for throw, metres in heights(glance))
    if text:
        yield "heights", [Text(f"heights  {text}")]


def _fitting(parts: Iterable[tuple[str, list[Text]]], rows: int) -> dict[str, list[Text]]:
    kept = {}
    for name, lines in parts:
        if len(lines) <= rows:
            rows -= len(lines)
            kept[name] = lines
    return kept


def _at_ends(left: str, right: str, columns: int) -> Text:
    """Return a line with a text at each end, or only the left one if both do not fit."""
    room = columns - len(left) - len(right)
    return Text(f"{left}{' ' * room}{right}" if room > 0 else left, "bold")


def _where(glance: Glance) -> str:
    return GAP.join(filter(None, (title(glance), how(glance), glance.place)))


def _time_left(glance: Glance) -> str:
    return "" if glance.seconds_left is None else f"{length_text(glance.seconds_left)} left"


def _tempo(glance: Glance) -> str:
    now = glance.beat or next(iter(glance.coming), None)
    return "" if now is None else f"{now.tempo:.0f} a minute"


def _place_in_part(glance: Glance) -> str:
    """Return the place within the part, in words."""
    if glance.seconds_to_throw is not None:
        return getting_ready(glance)
    beat = glance.beat
    if beat is None:
        return ""
    if beat.part == RUN_OUT:
        return "the last throws come down"
    if beat.cycle is None or beat.cycle_beat is None:
        return counted(-beat.beat, "beat") + " to go" if beat.part == COUNT_IN else ""
    of_all = "" if glance.cycles is None else f" of {glance.cycles}"
    return f"cycle {beat.cycle + 1}{of_all}, beat {beat.cycle_beat + 1}"


def _legend(glance: Glance, columns: int) -> Iterator[Text]:
    line = Text()
    for key, asked in glance.legend:
        entry = Text(key, "bold").append(f" {asked}", "dim")
        if line and len(line) + len(GAP) + len(entry) > columns:
            yield line
            line = Text()
        line = line + GAP + entry if line else entry
    if line:
        yield line


HOME: Final = "\x1b[H"
REST_OF_LINE: Final = "\x1b[K"
REST_OF_SCREEN: Final = "\x1b[J"
"""Cursor to the top left; clear the rest of the line, of the screen (ECMA-48: CUP, EL, ED)."""


class Display(Protocol):
    """Where glances are shown."""

    def show(self, glance: Glance) -> None:
        """Show `glance` from now on, if it is not shown already."""

    def hide(self) -> None:
        """Leave the screen to others, until the next `show`."""


class FullScreen:
    """The whole terminal, on its alternate screen, so that what was there before comes back."""

    def __init__(self) -> None:
        self._console = console()
        self._is_open = False
        self._shown: tuple[Glance, tuple[int, int]] | None = None
        self._plain = not can_print(BLOCKS)

    def show(self, glance: Glance) -> None:
        """Show `glance` from now on, if it is not shown already."""
        size = columns, rows = terminal_size()
        if (glance, size) == self._shown or not in_front(sys.stdout.fileno()):
            return
        if not self._is_open:
            self._is_open = True
            self._console.set_alt_screen()
            self._console.show_cursor(show=False)
        # The last column stays free: some terminals clear it with the rest of the line.
        lines = page(glance, columns - 1, rows, plain=self._plain)
        self._console.size = size
        with self._console.capture() as captured:
            for line in lines:
                self._console.print(line, no_wrap=True, crop=True)
        text = encodable(captured.get()).removesuffix("\n")
        drawn = text.replace("\n", f"{REST_OF_LINE}\n")
        sys.stdout.write(f"{HOME}{drawn}{REST_OF_LINE}{REST_OF_SCREEN}")
        sys.stdout.flush()
        self._shown = (glance, size)

    def hide(self) -> None:
        """Leave the screen to others, until the next `show`."""
        self._shown = None
        if self._is_open:
            self._is_open = False
            with suppress(OSError):  # The terminal may be gone.
                self._console.show_cursor()
                self._console.set_alt_screen(enable=False)


class Lines:
    """Lines that follow each other on standard output."""

    def __init__(self) -> None:
        self._writer = LineWriter()

    def show(self, glance: Glance) -> None:
        """Write a line if `glance` has news."""
        line = self._writer.line(glance)
        if line is not None:
            sys.stdout.write(f"{printable(line)}\n")
            sys.stdout.flush()

    def hide(self) -> None:
        """Do nothing: there is no screen to give back."""


@contextmanager
def display() -> Iterator[Display]:
    """Show glances on standard output while the context lasts, and leave it as it was."""
    screen = console()
    drawable = screen.is_terminal and not screen.is_dumb_terminal and sys.stdout.isatty()
    shown: Display = FullScreen() if drawable else Lines()
    try:
        yield shown
    finally:
        shown.hide()
