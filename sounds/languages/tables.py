"""Which languages have a table."""

from collections.abc import Mapping
from typing import Final

from sounds.languages import (
    czech,
    danish,
    dutch,
    finnish,
    french,
    german,
    italian,
    norwegian,
    polish,
    portuguese,
    spanish,
    swedish,
)

TABLES: Final[Mapping[str, Mapping[str, str]]] = {
    "cs": czech.PHRASES,
    "da": danish.PHRASES,
    "de": german.PHRASES,
    "es": spanish.PHRASES,
    "fi": finnish.PHRASES,
    "fr": french.PHRASES,
    "it": italian.PHRASES,
    "nb": norwegian.PHRASES,
    "nl": dutch.PHRASES,
    "no": norwegian.PHRASES,
    "pl": polish.PHRASES,
    "pt": portuguese.PHRASES,
    "sv": swedish.PHRASES,
}
"""Translations of `engine.calling.stock_phrases.STOCK_PHRASES` by language, without its region."""
