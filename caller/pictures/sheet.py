"""Pictures in files, drawn by matplotlib, which is loaded only here and only when asked for.

Lines can be told apart in colour, in grey, and by people with colour blindness. The colours are
those of Okabe & Ito, Color Universal Design (2002), with a contrast to white of at least three to
one (the least for graphics in WCAG 2.1, criterion 1.4.11), and a dark brown in place of their light
ones. The dashes differ as well, so that a line is known without its colour.
"""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, TypeAlias

import click

from throwcount.caller.terminal.text import OutsideError
from throwcount.engine.errors import EngineError

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.figure import Figure

MISSING: Final = (
    "Pictures are drawn by matplotlib, which is not here: install it with "
    "`pip install 'throwcount[pictures]'`."
)
FORMATS: Final[Mapping[str, str]] = {".svg": "svg", ".png": "png"}
"""The format for each ending of a file."""

DOTS_AN_INCH: Final = 150
SETTINGS: Final[Mapping[str, Any]] = {
    "svg.hashsalt": "throwcount",  # the same picture gives the same file
    "font.family": "DejaVu Sans",  # comes with matplotlib
}


class PictureError(EngineError):
    """A picture would not be readable."""


def _drawable(ctx: click.Context, param: click.Parameter, given: str | None) -> "Path | None":
    """Return a path whose ending is one of `FORMATS`."""
    if given is None:
        return None
    from pathlib import Path  # as slow as half of click

    path = Path(given)
    if path.suffix.lower() not in FORMATS:
        raise click.BadParameter(f"{path} has to end in {' or '.join(FORMATS)}.", ctx, param)
    return path


picture_option = click.option(
    "--picture",
    type=click.Path(),
    callback=_drawable,
    metavar="FILE",
    help=f"Draw it in this file too; its ending says what kind: {', '.join(FORMATS)}.",
)
force_option = click.option("--force", is_flag=True, help="Replace a file that is there already.")


@dataclass(frozen=True, slots=True)
class Sheet:
    """The size of a picture in inches, and what it is."""

    width: float
    height: float
    title: str
    """What the picture is, in a few words."""
    description: str
    """What it shows, for those who cannot see it."""


def check_picture(path: "Path", *, overwrite: bool) -> None:
    """Raise the errors of `picture` that can be known before any work is done."""
    from importlib.util import find_spec

    from throwcount.sounds.files.whole_files import check_free

    check_free(path, overwrite=overwrite)
    if find_spec("matplotlib") is None:
        raise OutsideError(MISSING)


@contextmanager
def picture(path: "Path", sheet: Sheet, *, overwrite: bool) -> Iterator["Figure"]:
    """Hand out a figure to draw on, and write it at the end to `path`, which ends as in `FORMATS`.

    Neither matplotlib's global state nor a person's own settings for it are used or changed; the
    same drawing gives the same bytes.

    Raises
    ------
    OutsideError
        If matplotlib is not installed.
    FileError
        If the file cannot be written, or is there already.
    """
    from throwcount.sounds.files.whole_files import check_free, whole_file

    check_free(path, overwrite=overwrite)
    try:
        from matplotlib.figure import Figure  # an extra, and slow to load
        from matplotlib.style import context  # likewise
    except ImportError as error:
        raise OutsideError(MISSING) from error
    with context(["default", dict(SETTINGS)]):
        figure = Figure(figsize=(sheet.width, sheet.height), dpi=DOTS_AN_INCH, facecolor="white")
        yield figure
        kind = FORMATS[path.suffix.lower()]
        with whole_file(path, overwrite=overwrite) as unfinished:
            figure.savefig(unfinished, format=kind, metadata=_metadata(kind, sheet))


def _metadata(kind: str, sheet: Sheet) -> dict[str, str | None]:
    words: dict[str, str | None] = {"Title": sheet.title, "Description": sheet.description}
    # What would tell the time or the version of matplotlib is left out.
    return words | ({"Date": None, "Creator": None} if kind == "svg" else {"Software": None})


Dashes: TypeAlias = tuple[float, ...]
"""Lengths of strokes and gaps in turn, in line widths; empty for an unbroken line."""

COLOURS: Final = {
    "black": "#000000",
    "vermilion": "#d55e00",
    "blue": "#0072b2",
    "bluish green": "#009e73",
    "reddish purple": "#cc79a7",
    "brown": "#7a5200",
}
GREY: Final = "#6b6b6b"
"""For the background: its contrast to white is about five to one."""

DASHES: Final[dict[str, Dashes]] = {
    "unbroken": (),
    "dashed": (4, 1.5),
    "dotted": (1, 1),
    "dash and dot": (5, 1.2, 1, 1.2),
    "long dashes": (9, 2.5),
    "dash and two dots": (5, 1.2, 1, 1.2, 1, 1.2),
}


@dataclass(frozen=True, slots=True)
class LineStyle:
    """The colour of a line, as ``#rrggbb``, and its dashes."""

    colour: str
    dashes: Dashes

    @property
    def strokes(self) -> str | tuple[float, Dashes]:
        """The dashes as a line style of matplotlib."""
        return (0, self.dashes) if self.dashes else "solid"


def line_style(index: int) -> LineStyle:
    """Return the style of the line with this index, from 0; styles repeat after 36."""
    colours, dashes = list(COLOURS.values()), list(DASHES.values())
    # The first six differ in both; the next six have the same colours and other dashes.
    again = index // len(colours)
    return LineStyle(colours[index % len(colours)], dashes[(index + again) % len(dashes)])
