"""`throwcount settings`: a person's own defaults as a table or JSON, and a new file for them.

A new settings file explains every setting and sets none.
"""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import click
from rich.table import Table

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.options.arguments import FILE, flag, json_option, option
from throwcount.caller.options.settings import VARIABLE, read_settings, usual_settings
from throwcount.caller.options.settings_model import FIELDS, Settings, comment, facts
from throwcount.caller.terminal.controls import CONTROLS, Control, key_map, keys_of
from throwcount.caller.terminal.printing import show, show_json, table, tell
from throwcount.engine.scheduling.calls import IN_ENGLISH, STOCK_PHRASES
from throwcount.sounds.files.whole_files import write_text

HEAD: Final = """\
# Settings of throwcount: what you want by default, so that you need not type it.
# Remove the # before a line to make it count. An option on the command line wins over it.
# To see what is in force: throwcount settings
"""

WORDS: Final = "words"
PHRASES: Final = "phrases"
KEYS: Final = "keys"
TABLES: Final = (WORDS, PHRASES, KEYS)

PHRASES_TOLD: Final = (
    "What you choose takes the place of the words shown here, in whatever language the calls are; "
    "N stands for the number."
)

KEYS_TOLD: Final = (
    "A key is a character, such as 'x', or a name, such as 'space', 'left', 'page-down' or 'f5'. "
    "What you choose takes the place of the usual keys shown here."
)


def starter_lines() -> Iterator[str]:
    """Yield the pieces of a new settings file."""
    yield HEAD
    for name, field in FIELDS.items():
        if name not in TABLES:
            known = facts(field)
            yield "\n" + comment(f"{field.description} ({known['allowed']}).")
            yield f"# {name} = {json.dumps(known['example'])}\n"
    yield "\n" + comment(f"{FIELDS[WORDS].description}, each by its digit or letter.")
    yield f"[{WORDS}]\n"
    for value, word in facts(FIELDS[WORDS])["example"].items():
        yield f"# {value} = {json.dumps(word)}\n"
    yield "\n" + comment(f"{FIELDS[PHRASES].description}. {PHRASES_TOLD}")
    yield f"[{PHRASES}]\n"
    for name, told in STOCK_PHRASES.items():
        yield f"# {name} = {json.dumps(IN_ENGLISH[name])}  # {told}\n"
    yield "\n" + comment(f"{FIELDS[KEYS].description}. {KEYS_TOLD}")
    yield f"[{KEYS}]\n"
    for control in CONTROLS:
        yield f"# {control.name} = {json.dumps(control.keys)}  # {control.told}\n"


YOURS: Final = "yours"
USUAL: Final = "usual"

EPILOG: Final = """\
\b
Examples:
  throwcount settings
  throwcount settings --new
"""


@click.command("settings", epilog=EPILOG, context_settings=HELP_OPTIONS)
@flag("--new", "Write a file that explains every setting.")
@option(
    "--settings FILE",
    FILE,
    f"Use this file; {VARIABLE} names it too.  [default: in your settings folder]",
    name="file",
    envvar=VARIABLE,
)
@json_option
def settings_command(new: bool, file: Path | None, as_json: bool) -> None:
    """Show your own defaults, and where they are kept.

    They are in a file that you may write. An option on the command line wins over the file.
    """
    place = file or usual_settings()
    if new:
        place.parent.mkdir(parents=True, exist_ok=True)
        write_text(place, starter_lines(), overwrite=False)
        tell(f"Wrote {place}: remove the # before what you want to set.")
        return
    known = read_settings(place, may_be_absent=True)
    settings = known or Settings()
    if as_json:
        show_json(_document(place, known is not None, settings))
        return
    tell(
        f"Your settings are in {place}."
        if known is not None
        else f"You have no settings yet; `throwcount settings --new` writes {place}."
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
