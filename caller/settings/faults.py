"""Everything that is wrong with a settings file, in plain sentences."""

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import ValidationError

from caller.console.near import near
from caller.options.shared_options import own_word, phrase_fault
from caller.playing.controls import KeysError, key_map
from caller.settings.model import FIELDS, Settings, as_list
from caller.toml_fields import as_written, facts


def checked(document: Mapping[str, Any]) -> tuple[Settings | None, list[str]]:
    """Return the settings in a document read from TOML, or None and a sentence for each fault."""
    settings, faults = None, []
    try:
        settings = Settings.model_validate(document)
    except ValidationError as error:
        faults = list(dict.fromkeys(_told(error, document)))
    faults += _of_words(document.get("words"))
    faults += _of_phrases(document.get("phrases"))
    faults += _of_keys(document.get("keys"))
    return (None if faults else settings), faults


def _told(error: ValidationError, document: Mapping[str, Any]) -> Iterator[str]:
    for fault in error.errors():
        name, *within = map(str, fault["loc"])
        field = FIELDS.get(name)
        given = document[name]
        if field is None:
            yield f"{name!r} is no setting.{near(name, FIELDS)}"
        elif within and isinstance(given, dict):
            what = "a key in quotes, or a list of them" if name == "keys" else "a text in quotes"
            yield f"{within[0]} in [{name}] has to be {what}."
        else:
            known = facts(field)
            written = as_written(given)
            told = " cannot be that" if written is None else f" cannot be {written}"
            guess = near(given, known["choices"]) if isinstance(given, str) else ""
            yield f"{name}{told}: it is {known['allowed']}.{guess}"


def _of_words(words: object) -> list[str]:
    if not isinstance(words, dict):
        return []
    return [
        f"{value} = {as_written(word)} in [words] gives no throw value a word: the value is one "
        "digit or letter, and the word is not empty."
        for value, word in words.items()
        if isinstance(word, str) and own_word(f"{value}={word}") is None
    ]


def _of_phrases(phrases: object) -> list[str]:
    if not isinstance(phrases, dict):
        return []
    faults = (
        phrase_fault(name, phrase.strip())
        for name, phrase in phrases.items()
        if isinstance(phrase, str)
    )
    return [f"In [phrases]: {fault}" for fault in faults if fault]


def _of_keys(keys: object) -> list[str]:
    if not isinstance(keys, dict):
        return []
    listed = {name: as_list(given) for name, given in keys.items()}
    texts = {
        name: [key for key in given if isinstance(key, str)]
        for name, given in listed.items()
        if isinstance(given, list)
    }
    try:
        key_map(texts)
    except KeysError as error:
        return [f"In [keys]: {fault}" for fault in error.faults]
    return []
