"""Shows glances: over the whole terminal where it can be drawn on, else in lines."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Final, Protocol

from caller.console.printable import can_print, printable, terminal_size
from caller.console.terminal import console
from caller.display.glance import Glance
from caller.display.glyphs import BLOCKS
from caller.display.lines import LineWriter
from caller.display.page import page
from caller.keys.foreground import in_front

HOME: Final = "\x1b[H"
REST_OF_LINE: Final = "\x1b[K"
REST_OF_SCREEN: Final = "\x1b[J"
"""Put the cursor into the first column of the first row; clear the rest (ECMA-48: CUP, EL, ED)."""


class Display(Protocol):
    """Where glances are shown."""

    def show(self, glance: Glance) -> None:
        """Show `glance` from now on, if it is not shown already."""

    def hide(self) -> None:
        """Give the screen to others, until the next `show`."""


class FullScreen:
    """The whole terminal, on its second screen, so that what was there before comes back."""

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
        # The last column stays free: a terminal may clear it with the rest of the line.
        lines = page(glance, columns - 1, rows, plain=self._plain)
        self._console.size = size
        with self._console.capture() as captured:
            for line in lines:
                self._console.print(line, no_wrap=True, crop=True)
        text = printable(captured.get()).removesuffix("\n")
        drawn = text.replace("\n", f"{REST_OF_LINE}\n")
        sys.stdout.write(f"{HOME}{drawn}{REST_OF_LINE}{REST_OF_SCREEN}")
        sys.stdout.flush()
        self._shown = (glance, size)

    def hide(self) -> None:
        """Give the screen to others, until the next `show`."""
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
