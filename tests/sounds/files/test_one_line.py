import pytest
from hypothesis import given
from hypothesis import strategies as st

from sounds.files.one_line import one_line


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("531", "531"),
        ("", ""),
        ("  under   the leg ", "under the leg"),
        ("two\nlines", "two lines"),
        ("a\r\nb\tc\vd\fe", "a b c d e"),
        ("ends\0here", "ends here"),
        ("a\u2028b\u2029c\x85d", "a b c d"),
        ("half \ud800", "half"),
        ("Überwurf — 三つ", "Überwurf — 三つ"),
        # One sign of several, held together by a character of no width.
        ("🤹\u200d♀️", "🤹\u200d♀️"),
    ],
)
def test_a_text_becomes_one_line(text: str, line: str) -> None:
    assert one_line(text) == line


@given(st.text(st.characters()))
def test_whatever_it_is_it_is_one_line_that_can_be_written(text: str) -> None:
    line = one_line(text)
    assert line.splitlines() in ([line], [])
    assert line == line.strip()
    assert "\0" not in line
    assert line.encode().decode() == line
    assert one_line(line) == line
