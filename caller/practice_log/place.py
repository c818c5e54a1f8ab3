"""Where the practice log is."""

from pathlib import Path
from typing import Final

import click

LOG_VARIABLE: Final = "THROWCOUNT_LOG"
"""In the environment, it names another file; the option comes first."""


def usual_place() -> Path:
    """Return the file in the user's data folder."""
    from platformdirs import user_data_path  # only where a log is opened

    return user_data_path("throwcount") / "practice.sqlite"


log_option = click.option(
    "--log",
    "log_file",
    type=click.Path(dir_okay=False, path_type=Path),
    envvar=LOG_VARIABLE,
    default=usual_place,
    metavar="FILE",
    help=f"The practice log; {LOG_VARIABLE} names it too.  [default: in your data folder]",
)
"""Gives a command the path as `log_file`."""
