"""The names that `throwcount.engine` shows to scripts: its examples hold, and each is there."""

import doctest

from throwcount import engine


def test_the_examples_hold() -> None:
    results = doctest.testmod(engine)
    assert results.attempted > 8
    assert results.failed == 0


def test_every_name_loads() -> None:
    for name in engine.HOMES:
        assert callable(getattr(engine, name))
