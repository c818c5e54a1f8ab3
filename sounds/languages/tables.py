"""Which languages have a table."""

from collections.abc import Mapping
from typing import Final

from sounds.languages.czech import CZECH
from sounds.languages.danish import DANISH
from sounds.languages.dutch import DUTCH
from sounds.languages.finnish import FINNISH
from sounds.languages.french import FRENCH
from sounds.languages.german import GERMAN
from sounds.languages.italian import ITALIAN
from sounds.languages.norwegian import NORWEGIAN
from sounds.languages.polish import POLISH
from sounds.languages.portuguese import PORTUGUESE
from sounds.languages.spanish import SPANISH
from sounds.languages.swedish import SWEDISH

TABLES: Final[Mapping[str, Mapping[str, str]]] = {
    "cs": CZECH,
    "da": DANISH,
    "de": GERMAN,
    "es": SPANISH,
    "fi": FINNISH,
    "fr": FRENCH,
    "it": ITALIAN,
    "nb": NORWEGIAN,
    "nl": DUTCH,
    "no": NORWEGIAN,
    "pl": POLISH,
    "pt": PORTUGUESE,
    "sv": SWEDISH,
}
"""Translations of `engine.calling.stock_phrases.STOCK_PHRASES` by language, without its region."""
