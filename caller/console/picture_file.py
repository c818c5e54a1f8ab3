"""Pictures in files: drawn by matplotlib, which is loaded only here and only when asked for."""

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from caller.errors import OutsideError
from engine.errors import EngineError
from sounds.files.whole_file import check_free, whole_file

if TYPE_CHECKING:
    from matplotlib.figure import Figure

MISSING: Final = (
    "Pictures are drawn by matplotlib, which is not here: install it with "
    "`pip install 'throwcount[pictures]'`."
)
FORMATS: Final[Mapping[str, str]] = {".svg": "svg", ".png": "png"}
"""The format of each ending."""

DOTS_AN_INCH: Final = 150
SETTINGS: Final[Mapping[str, Any]] = {
    "svg.hashsalt": "throwcount",  # the same picture gives the same file
    "font.family": "DejaVu Sans",  # comes with matplotlib
}


class PictureError(EngineError):
    """Something that cannot be drawn so that it can be read."""


class PictureFile(click.Path):
    """A file whose ending is one of `FORMATS`."""

    def __init__(self) -> None:
        super().__init__(path_type=Path)

    def convert(
        self,
        value: Any,  # noqa: ANN401 - as in click
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> Path:
        """Return `value` as a path."""
        path = Path(os.fsdecode(super().convert(value, param, ctx)))
        if path.suffix.lower() not in FORMATS:
            self.fail(f"{value} has to end in {' or '.join(FORMATS)}.", param, ctx)
        return path


picture_option = click.option(
    "--picture",
    type=PictureFile(),
    metavar="FILE",
    help=f"Draw it in this file too; its ending says what kind: {', '.join(FORMATS)}.",
)
force_option = click.option("--force", is_flag=True, help="Replace a file that is there already.")


@dataclass(frozen=True, slots=True)
class Sheet:
    """An empty picture."""

    width: float
    """In inches."""
    height: float
    """In inches."""
    title: str
    """What the picture is, in a few words."""
    description: str
    """What it shows, for those who cannot see it."""


def check_picture(path: Path, *, overwrite: bool) -> None:
    """Refuse what cannot be drawn or put there, before any work is done.

    Raises
    ------
    OutsideError
        If matplotlib is not installed.
    FileError
        If the file is there already, or cannot be put there.
    """
    from importlib.util import find_spec

    check_free(path, overwrite=overwrite)
    if find_spec("matplotlib") is None:
        raise OutsideError(MISSING)


@contextmanager
def picture(path: Path, sheet: Sheet, *, overwrite: bool) -> Iterator["Figure"]:
    """Hand out a figure to draw on, and write it to `path` at the end.

    Nothing of matplotlib's global state is used or left changed, nor a person's own settings of
    it; the same drawing gives the same bytes.

    The ending of `path` is one of `FORMATS`. `overwrite` says whether a file that is there already
    is replaced.

    Raises
    ------
    OutsideError
        If matplotlib is not installed.
    FileError
        If the file cannot be written, or is there already.
    """
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
    # What would name the moment or the version of the drawing library is left out.
    return words | ({"Date": None, "Creator": None} if kind == "svg" else {"Software": None})
