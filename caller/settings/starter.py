"""A new settings file, in which every setting is explained and none is set yet."""

import json
import textwrap
from collections.abc import Iterator
from typing import Final

from caller.playing.controls import CONTROLS
from caller.settings.model import FIELDS
from caller.toml_fields import facts
from engine.calling.stock_phrases import IN_ENGLISH, STOCK_PHRASES

HEAD: Final = """\
# Settings of throwcount: what you want by default, so that you need not type it.
# Take away the # before a line to let it count. An option on the command line wins over it.
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
    "A key is a sign, such as 'x', or a name, such as 'space', 'left', 'page-down' or 'f5'. "
    "What you choose takes the place of the usual keys shown here."
)
WIDTH: Final = 90


def starter_lines() -> Iterator[str]:
    """Yield the pieces of the file."""
    yield HEAD
    for name, field in FIELDS.items():
        if name not in TABLES:
            known = facts(field)
            yield "\n" + _comment(f"{field.description} ({known['allowed']}).")
            yield f"# {name} = {json.dumps(known['example'])}\n"
    yield "\n" + _comment(f"{FIELDS[WORDS].description}, each by its digit or letter.")
    yield f"[{WORDS}]\n"
    for value, word in facts(FIELDS[WORDS])["example"].items():
        yield f"# {value} = {json.dumps(word)}\n"
    yield "\n" + _comment(f"{FIELDS[PHRASES].description}. {PHRASES_TOLD}")
    yield f"[{PHRASES}]\n"
    for name, told in STOCK_PHRASES.items():
        yield f"# {name} = {json.dumps(IN_ENGLISH[name])}  # {told}\n"
    yield "\n" + _comment(f"{FIELDS[KEYS].description}. {KEYS_TOLD}")
    yield f"[{KEYS}]\n"
    for control in CONTROLS:
        yield f"# {control.name} = {json.dumps(control.keys)}  # {control.told}\n"


def _comment(text: str) -> str:
    return textwrap.fill(text, WIDTH, initial_indent="# ", subsequent_indent="# ") + "\n"
