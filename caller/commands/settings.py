"""`throwcount settings`: your own defaults, where they are kept and what is in force."""

from pathlib import Path
from typing import Any, Final

import click
from rich.table import Table

from caller.commands import HELP_OPTIONS
from caller.console.terminal import show, show_json, table, tell
from caller.options.arguments import json_option
from caller.playing.controls import CONTROLS, Control, key_map, keys_of
from caller.settings.file import VARIABLE, read_settings, usual_place
from caller.settings.model import FIELDS, Settings
from caller.settings.starter import KEYS, starter_lines
from caller.toml_fields import facts
from sounds.files.whole_file import write_text

YOURS: Final = "yours"
USUAL: Final = "usual"

EPILOG: Final = """\
\b
Examples:
  throwcount settings
  throwcount settings --new
"""


@click.command("settings", epilog=EPILOG, context_settings=HELP_OPTIONS)
@click.option("--new", is_flag=True, help="Write a file that explains every setting.")
@click.option(
    "--settings",
    "file",
    metavar="FILE",
    type=click.Path(path_type=Path),
    envvar=VARIABLE,
    help="Another file than the usual one.",
)
@json_option
def settings_command(new: bool, file: Path | None, as_json: bool) -> None:
    """Show your own defaults, and where they are kept.

    They stand in a file that you may write. An option on the command line wins over it.
    """
    place = file or usual_place()
    if new:
        place.parent.mkdir(parents=True, exist_ok=True)
        write_text(place, starter_lines(), overwrite=False)
        tell(f"Wrote {place}: take away the # before what you want to set.")
        return
    known = read_settings(place, may_be_absent=True)
    settings = known or Settings()
    if as_json:
        show_json(_document(place, known is not None, settings))
        return
    tell(
        f"Your settings are in {place}."
        if known is not None
        else f"There are no settings of yours; `throwcount settings --new` writes {place}."
    )
    show("", _settings_table(settings), "", _keys_table(settings))


def _settings_table(settings: Settings) -> Table:
    own = _own(settings)
    listing = table("setting", "in force", "whose")
    for name, field in FIELDS.items():
        if name == KEYS:
            continue
        value = _as_text(own[name]) if name in own else facts(field)["usual"]
        listing.add_row(name, value, YOURS if name in own else USUAL)
    return listing


def _keys_table(settings: Settings) -> Table:
    listing = table("asks for", "keys", "whose", "what it does")
    for control, keys in _keys(settings).items():
        whose = YOURS if control.name in (settings.keys or {}) else USUAL
        listing.add_row(control.name, " ".join(keys), whose, control.told)
    return listing


def _document(place: Path, exists: bool, settings: Settings) -> dict[str, Any]:
    own = _own(settings)
    return {
        "file": str(place),
        "exists": exists,
        "settings": {
            name: {"own": own.get(name), "usual": facts(field)["usual"]}
            for name, field in FIELDS.items()
            if name != KEYS
        },
        "keys": {control.name: keys for control, keys in _keys(settings).items()},
    }


def _own(settings: Settings) -> dict[str, Any]:
    return settings.model_dump(by_alias=True, exclude_none=True)


def _keys(settings: Settings) -> dict[Control, tuple[str, ...]]:
    keys = key_map(settings.keys)
    return {control: keys_of(control, keys) for control in CONTROLS}


def _as_text(value: object) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{name} = {word}" for name, word in value.items())
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:g}" if isinstance(value, float) else str(value)
