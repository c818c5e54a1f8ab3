"""A session as the text of a session file.

session_text("Tuesday", [WrittenBlock(pattern="531", attempts=10, goal="qualify")])
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields
from typing import Final

from throwcount.caller.options.request import OnDrop
from throwcount.caller.options.settings_model import comment
from throwcount.caller.routine_file.model import BLOCKS, LONGEST_LINE, UNPRINTED
from throwcount.caller.routine_file.starter import toml_lines
from throwcount.engine.patterns.pattern import Hand
from throwcount.engine.practice.goals import Goal
from throwcount.engine.practice.tempo_rules import Mark
from throwcount.engine.timing.run import SayMode

COMMENT: Final = "told"
"""The field of a `WrittenBlock` that is no key."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenBlock:
    """A block to be written; None for a key that it does not have.

    The fields are keys of a [[block]], with the same ranges.
    """

    told: str = ""
    """A comment above the block, such as why it is there."""
    pattern: str
    name: str | None = None
    before: str | None = None
    props: str | None = None
    tempo: float | None = None
    to: float | None = None
    cycles: int | None = None
    beats: int | None = None
    seconds: float | None = None
    sets: int | None = None
    raise_by: float | None = None
    back: bool | None = None
    staircase: bool | None = None
    clean_sets: int | None = None
    attempts: int | None = None
    goal: Goal | None = None
    goal_times: int | None = None
    unmarked: Mark | None = None
    on_drop: OnDrop | None = None
    first: Hand | None = None
    say: SayMode | None = None
    ready: float | None = None
    count_in: int | None = None
    rest: float | None = None
    rest_after: float | None = None
    wait: bool | None = None
    resume: bool | None = None


def session_text(
    title: str, blocks: Iterable[WrittenBlock], *, end: str = "", told: str = ""
) -> str:
    """Return a session as TOML; `end` is said at its end, and `told` is a comment above it all.

    Texts may be any: each becomes one line without control characters, cut where it is too long.
    """
    return "".join(_pieces(title, blocks, end, told))


def _pieces(title: str, blocks: Iterable[WrittenBlock], end: str, told: str) -> Iterator[str]:
    if told:
        yield comment(one_line(told, None))
    top = {"title": one_line(title)} | ({"end": one_line(end)} if end else {})
    yield from toml_lines(top)
    for block in blocks:
        yield "\n"
        if block.told:
            yield comment(one_line(block.told, None))
        yield "".join(toml_lines({BLOCKS: [_document(block)]})).lstrip()


def _document(block: WrittenBlock) -> dict[str, object]:
    """Return the keys of a block by their names in the file."""
    return {
        _key(field.name): one_line(value) if isinstance(value, str) else value
        for field in fields(block)
        if field.name != COMMENT and (value := getattr(block, field.name)) is not None
    } | {"pattern": block.pattern}


def _key(field: str) -> str:
    return "raise" if field == "raise_by" else field.replace("_", "-")


def one_line(text: str, most: int | None = LONGEST_LINE) -> str:
    """Return `text` with blanks for what a line cannot hold, cut to `most` characters."""
    import unicodedata  # only where something is written

    plain = "".join(" " if unicodedata.category(char) in UNPRINTED else char for char in text)
    return plain[:most]
