"""Questions about texts that cannot be thrown."""

import re

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from throwcount.engine.errors import PatternError
from throwcount.engine.patterns.rules import read, read_throws
from throwcount.engine.patterns.slips import suggestion

A_STAR_TOO = "Did you mean (4,2x)? To be thrown it takes a star too: (4,2x)*."


@pytest.mark.parametrize(
    ("text", "question"),
    [
        ("4,2x", A_STAR_TOO),
        ("4 2x", A_STAR_TOO),
        ("4\n\t2x", A_STAR_TOO),
        ("(4,2x", A_STAR_TOO),
        ("4,2x)", A_STAR_TOO),
        ("(42x)", A_STAR_TOO),
        ("(4 2x)", A_STAR_TOO),
        ("{4,2x}", A_STAR_TOO),
        ("(4,2x)", "Did you mean (4,2x)*?"),
        ("4,2x*", "Did you mean (4,2x)*?"),
        ("4x,2x", "Did you mean (4x,2x)?"),
        ("[4x,2x]", "Did you mean (4x,2x)?"),
        ("(4\N{MULTIPLICATION SIGN},2\N{MULTIPLICATION SIGN})", "Did you mean (4x,2x)?"),
        ("(4,2x)(2x,4", "Did you mean (4,2x)(2x,4)?"),
        ("(4,2x)(2x4)", "Did you mean (4,2x)(2x,4)?"),
        ("4,2x,2x,4", "Did you mean (4,2x)(2x,4)?"),
        ("([44x,2)*", "Did you mean ([44x],2)*?"),
        ("{33}33", "Did you mean [33]33?"),
        ("(33)33", "Did you mean [33]33?"),
        ("[33", "Did you mean [33]?"),
        ("33]", "Did you mean [33]?"),
        ("[33]]33", "Did you mean [33]33?"),
        ("531*", "Did you mean 531?"),
        ("5-3-1", "Did you mean 531?"),
        ("5; 3; 1", "Did you mean 531?"),
        ("5.3.1", "Did you mean 531?"),
        (",531", "Did you mean 531?"),
        ("5,,3,1", "Did you mean 5,3,1?"),
        ("\N{LEFT DOUBLE QUOTATION MARK}531\N{RIGHT DOUBLE QUOTATION MARK}", "Did you mean 531?"),
        ("53l", "Did you mean 531?"),
        ("44i", "Did you mean 441?"),
        ("5O5o5", "Did you mean 50505?"),
    ],
)
def test_a_slip_is_asked_about(text: str, question: str) -> None:
    with pytest.raises(PatternError) as caught:
        read(text)
    assert caught.value.message.endswith(f" {question}")


@pytest.mark.parametrize(
    "text", ["", "543", "54", "-1", "1.5", "5/3", "10 5", "(5,3)", "(4,2x)(4,2x)", "x-", "?", "(,)"]
)
def test_nothing_is_asked_where_nothing_is_likely(text: str) -> None:
    with pytest.raises(PatternError) as caught:
        read(text)
    assert "Did you mean" not in caught.value.message


@pytest.mark.parametrize("text", ["42x", "5o1", "(4,2)", "4,4,1", "x", "[43]23"])
def test_what_can_be_thrown_is_never_asked_about(text: str) -> None:
    assert read(text) == read_throws(text)


@given(st.text("0123459oilx()[]{},*-; ", max_size=12) | st.text(max_size=70))
@example("[" * 60)
@example("(4,2x)" * 10)
def test_what_is_asked_about_can_be_thrown(text: str) -> None:
    question = suggestion(text)
    if not question:
        return
    assert question.startswith(" Did you mean ")
    found = re.findall(r"mean (.*?)\?", question)[0].split(" or ")
    starred = re.findall(r"star too: (.*)\.$", question)
    for meant in starred or found:
        assert read_throws(meant).objects >= 0
    assert not starred or starred == [f"{found[0]}*"]
