"""A new session file, which can be played as it is and explains every key."""

from collections.abc import Iterator, Mapping
from typing import Final, TypeAlias

from throwcount.caller.options.settings_model import comment, facts
from throwcount.caller.routine_file.model import BLOCKS, OWN_WORDS
from throwcount.caller.routine_file.starter import example_lines, explanation, written
from throwcount.caller.session_file.model import BLOCK, EITHER, TOP

Examples: TypeAlias = tuple[str | tuple[str, ...], ...]
"""Keys, and keys that are shown together."""

HEAD: Final = """\
# A session for throwcount: what you practise, block by block. It can be played as it is.
# Take away the # before an example to let it count. How long it takes: throwcount plan FILE
"""

TITLE: Final = {"title": "My session", "end": "well done"}
EITHER_TOLD: Final = (
    "What follows holds for every block. Each of these keys may stand in a block as well, and then "
    "holds for that block."
)
WHOLE_TOLD: Final = "What follows holds for the whole session."
BLOCKS_TOLD: Final = (
    "The blocks, in order. Each has a pattern, and says how long it goes on: for a number of "
    "cycles, beats or seconds, for a number of sets, or for a number of attempts."
)
WARM_UP_TOLD: Final = "A warm-up: easy throws for a minute."
SETS_TOLD: Final = "Sets, with a rest between. A press of the drop key or pedal ends a set."
STAIRCASE_TOLD: Final = (
    "A staircase: the tempo goes up after clean sets and down after a drop, and comes to rest "
    "where most sets are clean. A staircase that goes on from last time begins with resume = true."
)
ATTEMPTS_TOLD: Final = (
    "Attempts: each goes on until the drop, and you are told how many catches it was. A flash is "
    "every object thrown and caught once, to qualify twice."
)
LAST_TOLD: Final = "The end: something easy, so that the last throws of the day are good ones."

BLOCKS_SHOWN: Final[tuple[tuple[Mapping[str, object], str, Examples], ...]] = (
    (
        {"pattern": "3 cascade", "name": "warm-up", "seconds": 60},
        WARM_UP_TOLD,
        ("before", "tempo", ("to", "curve")),
    ),
    ({"pattern": "531", "sets": 3}, SETS_TOLD, ("cycles", "beats", ("raise", "back"))),
    (
        {"pattern": "441", "sets": 12, "staircase": True, "unmarked": "clean"},
        STAIRCASE_TOLD,
        ("clean-sets",),
    ),
    ({"pattern": "5 cascade", "attempts": 10, "goal": "flash"}, ATTEMPTS_TOLD, ("goal-times",)),
    ({"pattern": "3", "name": "easy end", "seconds": 60}, LAST_TOLD, ()),
)
"""Each block with a comment, and the keys of which examples are shown in it."""


def session_starter_lines() -> Iterator[str]:
    """Yield the pieces of the file."""
    yield HEAD
    yield from _top_lines()
    yield from _block_lines()


def _top_lines() -> Iterator[str]:
    for key, value in TITLE.items():
        yield f"\n{comment(f'{TOP[key].description}.')}{key} = {written(value)}\n"
    others = [key for key in TOP if key not in {*EITHER, *TITLE, *OWN_WORDS}]
    for told, keys in ((EITHER_TOLD, sorted(EITHER, key=[*TOP].index)), (WHOLE_TOLD, others)):
        yield f"\n{comment(told)}"
        for key in keys:
            yield from example_lines(key, TOP)
    for key in OWN_WORDS:
        yield f"\n{comment(f'{TOP[key].description}.')}[{key}]\n"
        for name, word in facts(TOP[key])["example"].items():
            yield f"# {name} = {written(word)}\n"


def _block_lines() -> Iterator[str]:
    """Yield the blocks; a key is explained where it comes first."""
    yield f"\n{comment(BLOCKS_TOLD)}"
    explained: set[str] = set()
    for values, told, examples in BLOCKS_SHOWN:
        yield f"\n{comment(told)}[[{BLOCKS}]]\n"
        for key, value in values.items():
            if key not in explained:
                yield comment(explanation(BLOCK[key]))
            explained.add(key)
            yield f"{key} = {written(value)}\n"
        for keys in examples:
            yield from example_lines(keys, BLOCK)
