"""Words that can be juggled; the values by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import PatternError
from engine.finding.words import jugglable_words
from engine.patterns.jugglable import read


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Add the bad tea.", ["add", "the"]),  # a d d is 10 13 13; t h e is 29 17 14
        ("ADD add Add\n", ["add"]),
        ("add-the/add_add add2 2add", ["add", "the"]),
        ("a I", ["a", "i"]),
        ("ad'd, a\N{RIGHT SINGLE QUOTATION MARK}dd", ["add"]),
        ("add\N{COMBINING ACUTE ACCENT} add\N{LATIN SMALL LETTER E WITH ACUTE}", ["add"]),
        ("531 97531 ...", []),
        ("", []),
    ],
)
def test_words(text: str, words: list[str]) -> None:
    assert [pattern.text for pattern in jugglable_words([text])] == words


def test_lines_are_read_one_by_one() -> None:
    lines = iter(["add", "the", "unread"])
    found = jugglable_words(lines)
    assert (next(found).text, next(found).text) == ("add", "the")
    assert next(lines) == "unread"


@given(st.lists(st.text()))
def test_any_text(lines: list[str]) -> None:
    for pattern in jugglable_words(lines):
        assert read(pattern.text) == pattern


@given(st.lists(st.text("abcdefghij", min_size=1, max_size=5)))
def test_just_the_words_that_can_be_read(words: list[str]) -> None:
    expected = []
    for word in words:
        try:
            read(word)
        except PatternError:
            continue
        expected.append(word)
    assert [one.text for one in jugglable_words(words)] == list(dict.fromkeys(expected))
