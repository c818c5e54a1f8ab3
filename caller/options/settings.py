"""Makes the settings file the defaults of the options.

An option on the command line wins over the settings, and these over the program's own defaults.
A file that cannot be used stops the command with status 2, as a wrong command line does, and all
its faults are told at once: a practice with other settings than the person's own would come as a
surprise when the hands are full.
"""

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click
from click.core import ParameterSource

from throwcount.caller.options.arguments import FILE, option
from throwcount.caller.terminal.text import PlainError

if TYPE_CHECKING:
    from throwcount.caller.options.settings_model import Settings

VARIABLE: Final = "THROWCOUNT_SETTINGS"
"""An environment variable that names the settings file to use."""


PLACE: Final = f"{__name__}.place"
"""The key in a context's `meta` under which the settings file is kept."""


class SettingsError(PlainError):
    """A settings file that cannot be used."""

    exit_code = 2

    def __init__(self, place: Path, faults: list[str]) -> None:
        super().__init__("\n".join([f"The settings in {place} cannot be used.", *faults]))
        self.faults = tuple(faults)


def usual_settings() -> Path:
    """Return the settings file that is read unless another one is named."""
    from platformdirs import user_config_path  # not where a file is named

    return user_config_path("throwcount") / "settings.toml"


def read_settings(place: Path, *, may_be_absent: bool) -> "Settings | None":
    """Return the settings in a file; None where there is no such file and it may be absent.

    Raises
    ------
    SettingsError
        If the file is missing or cannot be read, or with all that is wrong in it.
    """
    try:
        place.stat()
    except (FileNotFoundError, NotADirectoryError):
        if may_be_absent:
            return None
        raise SettingsError(place, ["There is no such file."]) from None
    except OSError as error:
        raise SettingsError(place, [f"The system refused: {error.strerror or error}."]) from error
    from throwcount.caller.options.settings_model import checked
    from throwcount.caller.options.toml_file import TomlFileError, read_toml

    try:
        file = read_toml(place)
    except TomlFileError as error:
        raise SettingsError(place, [str(error)]) from error
    settings, faults = checked(file.values, file.position)
    if settings is None:
        raise SettingsError(place, faults)
    return settings


def _use_settings(ctx: click.Context, _param: click.Parameter, named: Path | None) -> Path:
    """Make the settings the defaults of the other options; return their file."""
    place = named or usual_settings()
    if ctx.resilient_parsing:  # The shell is completing a line.
        return place
    settings = read_settings(place, may_be_absent=named is None)
    ctx.meta[PLACE] = place
    if settings is not None:
        from throwcount.caller.options.settings_model import option_defaults

        defaults: dict[str, Any] = option_defaults(settings, ctx.command.name or "", place.parent)
        ctx.default_map = {**(ctx.default_map or {}), **defaults}
    return place


def given_in_settings(*names: str) -> str:
    """Return a sentence that names what options the settings gave, of some; else nothing.

    `names` are those of parameters of the command that is run.
    """
    ctx = click.get_current_context(silent=True)
    if ctx is None:
        return ""
    sources = {name: ctx.get_parameter_source(name) for name in names}
    given = [name for name, source in sources.items() if source is ParameterSource.DEFAULT_MAP]
    return (
        f" Your settings in {ctx.meta[PLACE]} set the {' and the '.join(given)}." if given else ""
    )


settings_option = option(
    "--settings FILE",
    FILE,
    "Take your own defaults from this file: see `throwcount settings`.",
    envvar=VARIABLE,
    is_eager=True,
    expose_value=False,
    callback=_use_settings,
)
