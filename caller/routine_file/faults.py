"""What is wrong with a table of a routine file, key by key, in plain sentences."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from caller.console.near import near
from caller.options.shared_options import own_word, phrase_fault
from caller.routine_file.model import A_LINE, MUSIC, PART, PARTS, TOP, is_line
from caller.toml_fields import LONGEST_SHOWN, as_written, facts, printed

Table = TypeVar("Table", bound=BaseModel)

MUSIC_TABLE: Final = "[music]"
WORDS: Final = "words"
PHRASES: Final = "phrases"
OWN_WORDS: Final = (WORDS, PHRASES)
"""Tables whose keys a person chooses."""


@dataclass(frozen=True, slots=True)
class FileFault:
    """Something that is wrong."""

    place: str
    """Where: empty at the top, ``[music]``, or a part, such as "Part 3, “the well”"."""
    key: str
    """The key that it is about; empty where it is about none, or several."""
    sentence: str
    """What is wrong and what is allowed; it stands after the place."""
    under: str = ""
    """What is shown on lines of its own, under the sentence."""

    def __str__(self) -> str:
        told = f"{self.place}: {self.sentence}" if self.place else self.sentence
        return f"{told}\n{self.under}" if self.under else told


def checked(
    table: type[Table], given: Mapping[str, Any], known: Mapping[str, FieldInfo], place: str
) -> tuple[Table, list[FileFault]]:
    """Return a table with those of its values that may be, and a fault for each of the others.

    Parameters
    ----------
    table
        Its model, in which every key may be left out.
    given
        What the file has.
    known
        The model's keys.
    place
        As in `FileFault`.
    """
    try:
        return table.model_validate(dict(given)), []
    except ValidationError as error:
        found = error.errors(include_url=False, include_context=False, include_input=False)
        wrong = dict.fromkeys(str(each["loc"][0]) for each in found)
    faults = [
        FileFault(place, key, _told(key, given[key], known, place))
        for key in wrong
        if not (key in OWN_WORDS and isinstance(given[key], dict))  # told word by word
    ]
    right = {key: value for key, value in given.items() if key not in wrong}
    return table.model_validate(right), faults


def word_faults(words: object) -> Iterator[FileFault]:
    """Yield a fault for each word that is no text, or is for no throw value."""
    for value, word in words.items() if isinstance(words, dict) else ():
        shown = printed(value[:LONGEST_SHOWN])
        if not is_line(word):
            yield FileFault("", WORDS, f"{shown} in [words] has to be {A_LINE}.")
        elif own_word(f"{value}={word}") is None:
            yield FileFault(
                "",
                WORDS,
                f"{shown} = {as_written(word)} in [words] gives no throw value a word: the value "
                "is one digit or letter, and the word is not empty.",
            )


def phrase_faults(phrases: object) -> Iterator[FileFault]:
    """Yield a fault for each phrase that is no text, or is for nothing that is said."""
    for name, phrase in phrases.items() if isinstance(phrases, dict) else ():
        if not is_line(phrase):
            shown = printed(name[:LONGEST_SHOWN])
            yield FileFault("", PHRASES, f"{shown} in [phrases] has to be {A_LINE}.")
            continue
        fault = phrase_fault(name, phrase.strip())
        if fault:
            yield FileFault("", PHRASES, f"In [phrases]: {printed(fault)}")


def _told(key: str, given: object, known: Mapping[str, FieldInfo], place: str) -> str:
    field = known.get(key)
    if field is None:
        return _unknown(key, known, place)
    about = facts(field)
    written = as_written(given)
    told = "cannot be that" if written is None else f"cannot be {written}"
    guess = near(given, about["choices"]) if isinstance(given, str) else ""
    return f"{key} {told}: it is {about['allowed']}.{guess}"


def _unknown(key: str, known: Mapping[str, FieldInfo], place: str) -> str:
    shown = as_written(key)
    if place and key in TOP:
        return (
            f"{shown} belongs at the top of the file, before the first [[part]] and before [music]."
        )
    if known is not PART and key in PART:
        return f"{shown} belongs in a [[part]]."
    if known is not MUSIC and key in MUSIC:
        return f"{shown} belongs in [music]."
    owner = {"": "a routine file", MUSIC_TABLE: MUSIC_TABLE}.get(place, "a part")
    others = ["music", "part"] if known is TOP else [PARTS] if known is PART else []
    return f"{shown} is no key of {owner}.{near(key, [*known, *others])}"
