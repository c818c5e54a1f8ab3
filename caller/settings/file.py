"""Where the settings are, and how they become the defaults of options.

An option on the command line wins over the settings, and these over the program's own defaults.
A file that cannot be used stops the command with status 2, as a wrong command line does, and every
fault is told at once: a practice with other settings than the person's would come as a surprise
when the hands are full.
"""

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from caller.errors import PlainError
from caller.toml_file import TomlFileError, read_toml

if TYPE_CHECKING:
    from caller.settings.model import Settings

VARIABLE: Final = "THROWCOUNT_SETTINGS"
"""In the environment, it names a settings file to use in place of the usual one."""

FILE_NAME: Final = "settings.toml"


class SettingsError(PlainError):
    """A settings file that cannot be used."""

    exit_code = 2

    def __init__(self, place: Path, faults: list[str]) -> None:
        super().__init__("\n".join([f"The settings in {place} cannot be used.", *faults]))
        self.faults = tuple(faults)


def usual_place() -> Path:
    """Return where the settings are looked for unless another file is named."""
    from platformdirs import user_config_path  # not where a file is named

    return user_config_path("throwcount") / FILE_NAME


def read_settings(place: Path, *, may_be_absent: bool) -> "Settings | None":
    """Return the settings in a file; None where there is none and that is fine.

    Raises
    ------
    SettingsError
        If the file is not there or cannot be read, or for all that is wrong in it.
    """
    try:
        document = read_toml(place)
    except (FileNotFoundError, NotADirectoryError):
        if may_be_absent:
            return None
        raise SettingsError(place, ["There is no such file."]) from None
    except TomlFileError as error:
        raise SettingsError(place, [str(error)]) from error
    from caller.settings.faults import checked  # pydantic, only where there is a file

    settings, faults = checked(document)
    if settings is None:
        raise SettingsError(place, faults)
    return settings


def _use_settings(ctx: click.Context, _param: click.Parameter, named: Path | None) -> Path:
    """Make the settings the defaults of the other options; return where they are looked for."""
    place = named or usual_place()
    if ctx.resilient_parsing:  # The shell is completing a line.
        return place
    settings = read_settings(place, may_be_absent=named is None)
    if settings is not None:
        from caller.settings.model import option_defaults  # likewise

        defaults: dict[str, Any] = option_defaults(settings, ctx.command.name or "")
        ctx.default_map = {**(ctx.default_map or {}), **defaults}
    return place


settings_option = click.option(
    "--settings",
    metavar="FILE",
    type=click.Path(path_type=Path),
    envvar=VARIABLE,
    is_eager=True,
    expose_value=False,
    callback=_use_settings,
    help="Your own defaults: see `throwcount settings`.",
)
