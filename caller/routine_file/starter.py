"""A new routine file, which can be played as it is and explains every key; and TOML as text."""

import json
from collections.abc import Iterator, Mapping
from typing import Any, Final

from pydantic.fields import FieldInfo

from throwcount.caller.options.settings_model import comment, facts
from throwcount.caller.routine_file.model import A_LINE, A_NAME, MUSIC, OWN_WORDS, PART, TOP

HEAD: Final = """\
# A routine for throwcount: the whole act, its parts in order. It can be played as it is.
# Take away the # before an example to let it count. See what it comes to: throwcount plan FILE
"""

PARTS_TOLD: Final = (
    "The parts, in order. The throws that lead from one pattern to the next are worked out, and a "
    "cue call says what comes before it comes. A part lasts so many cycles, beats or seconds."
)
REST_TOLD: Final = (
    "A rest: the hands hold what they have, and the next part is counted in. Between patterns with "
    "different numbers of objects there is a rest, or a pick-up or put-down on the way."
)
DOWN_TOLD: Final = (
    "Without a rest it has to be written how many objects are put down, or taken up, on the way."
)
REPEAT_TOLD: Final = "A repeat: its parts stand under it, each in a [[part.part]]."
MUSIC_TOLD: Final = (
    "With music, it is the music that gives the tempo: leave out every tempo above, and the throws "
    "are locked to its beats. A part may begin on a bar: the one before it then has no length, and "
    "lasts up to there."
)

OPENING: Final = {"pattern": "3", "cycles": 24}
SECOND: Final = {"pattern": "531", "cycles": 8}
REST: Final = {"rest": True, "seconds": 20}
FOURTH: Final = {"pattern": "53", "beats": 40}
FIFTH: Final = {"pattern": "3", "cycles": 12, "put-down": 1}
ON_A_BAR: Final = {"pattern": "531", "cycles": 12, "bar": 41, "throws": "2:1"}
REPEAT: Final = """\
# [[part]]
# repeat = 3
# [[part.part]]
# pattern = "423"
# cycles = 4
# [[part.part]]
# pattern = "441"
# cycles = 4
"""


def starter_lines() -> Iterator[str]:
    """Yield the pieces of the file."""
    yield HEAD
    yield '\ntitle = "My routine"\n'
    for key in TOP:
        if key not in {"title", *OWN_WORDS}:
            yield from example_lines(key, TOP)
    for key in OWN_WORDS:
        yield f"\n{comment(f'{TOP[key].description}.')}[{key}]\n"
        for name, word in facts(TOP[key])["example"].items():
            yield f"# {name} = {written(word)}\n"
    yield f"\n{comment(PARTS_TOLD)}"
    yield from _part(OPENING, ("name", "tempo", ("to", "curve")))
    yield from _part(SECOND, ("cue", "cue-ahead", "how", "bridge", "shifted", "last-one"))
    yield f"\n{comment(REST_TOLD)}"
    yield from _part(REST, ("count-in",))
    yield from _part(FOURTH, ("pick-up", "first"))
    yield f"\n{comment(DOWN_TOLD)}"
    yield from _part(FIFTH, ())
    yield f"\n{comment(REPEAT_TOLD)}{REPEAT}"
    yield f"\n{comment(MUSIC_TOLD)}"
    yield from _music()


def _part(
    values: Mapping[str, object], examples: tuple[str | tuple[str, ...], ...]
) -> Iterator[str]:
    yield "\n[[part]]\n"
    for key, value in values.items():
        yield f"{key} = {written(value)}\n"
    for keys in examples:
        yield from example_lines(keys, PART)


def example_lines(keys: str | tuple[str, ...], known: Mapping[str, FieldInfo]) -> Iterator[str]:
    """Yield what some keys are and may be, and an example of them together."""
    together = (keys,) if isinstance(keys, str) else keys
    texts = (explanation(known[key]) for key in together)
    yield f"\n{comment(' '.join(texts))}"
    yield from (f"# {key} = {written(facts(known[key])['example'])}\n" for key in together)


def _music() -> Iterator[str]:
    """Yield the table [music] and a part that begins on one of its bars, as one example."""
    texts = [f"{key}: {explanation(field)}" for key, field in MUSIC.items()]
    texts += [f"{key} of a part: {PART[key].description}." for key in ("bar", "throws")]
    yield from map(comment, texts)
    yield "# [music]\n"
    for key, field in MUSIC.items():
        if key != "beats":
            yield f"# {key} = {written(facts(field)['example'])}\n"
    yield "# [[part]]\n# rest = true\n# [[part]]\n"
    yield from (f"# {key} = {written(value)}\n" for key, value in ON_A_BAR.items())


def explanation(field: FieldInfo) -> str:
    """Return what a key is and may be; that a text is one short line is not told."""
    allowed = facts(field)["allowed"]
    return f"{field.description}{'' if allowed in {A_LINE, A_NAME} else f' ({allowed})'}."


def written(value: object) -> str:
    """Return a value in TOML, which writes all that JSON has but tables in the same way."""
    if isinstance(value, Mapping):
        inner = (f"{written(key)} = {written(each)}" for key, each in value.items())
        return f"{{ {', '.join(inner)} }}"
    return json.dumps(value, ensure_ascii=False)


def toml_lines(document: Mapping[str, Any], around: str = "") -> Iterator[str]:
    """Yield a document as TOML.

    It holds texts without control characters, numbers, booleans, lists of these, tables of them,
    and under `PARTS` and the like lists of documents. Keys are plain words or digits. `around`
    stands before the names of its tables, such as "part.".
    """
    tables = {key: value for key, value in document.items() if isinstance(value, Mapping)}
    rows = {key: value for key, value in document.items() if _is_row(value)}
    for key, value in document.items():
        if key not in tables and key not in rows:
            yield f"{key} = {written(value)}\n"
    for key, table in tables.items():
        yield f"\n[{around}{key}]\n"
        yield from toml_lines(table, f"{around}{key}.")
    for key, row in rows.items():
        for one in row:
            yield f"\n[[{around}{key}]]\n"
            yield from toml_lines(one, f"{around}{key}.")


def _is_row(value: object) -> bool:
    return isinstance(value, list) and bool(value) and isinstance(value[0], Mapping)
