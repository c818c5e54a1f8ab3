"""The notation is jugglers' common practice; what is tolerated or refused is our own choice."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from throwcount.engine.errors import MalformedError
from throwcount.engine.patterns.notation import mark, parse, parse_bridge
from throwcount.engine.patterns.pattern import Kind, Throw, written_turn

LONGEST_TEXT = 100_000
"""Characters: hours of throws."""


def one(value: int, *, crossed: bool = False) -> tuple[Throw, ...]:
    return (Throw(value, crossed),)


THREE, FIVE, TEN = one(3), one(5), one(10)
CROSSING_FOURS = (Throw(4, crossed=True), Throw(4))


@pytest.mark.parametrize(
    ("text", "kind", "turns"),
    [
        ("3", "async", ((THREE,),)),
        ("501", "async", ((FIVE,), ((),), (one(1),))),
        ("az", "async", ((TEN,), (one(35),))),
        ("AZ", "async", ((TEN,), (one(35),))),
        ("x", "async", ((one(33),),)),
        ("[x3]", "async", (((Throw(33), Throw(3)),),)),
        ("[33]5", "async", (((Throw(3), Throw(3)),), (FIVE,))),
        ("(4,2x)", "sync", ((one(4), one(2, crossed=True)),)),
        ("(4,2X)", "sync", ((one(4), one(2, crossed=True)),)),
        ("(0,4)", "sync", (((), one(4)),)),
        ("([4x4],A)", "sync", ((CROSSING_FOURS, TEN),)),
        (
            "(4,2x)*",
            "sync",
            ((one(4), one(2, crossed=True)), (one(2, crossed=True), one(4))),
        ),
        (
            "(4,2)(0,6x)*",
            "sync",
            (
                (one(4), one(2)),
                ((), one(6, crossed=True)),
                (one(2), one(4)),
                (one(6, crossed=True), ()),
            ),
        ),
    ],
)
def test_meaning(text: str, kind: str, turns: tuple[object, ...]) -> None:
    pattern = parse(text)
    assert (pattern.kind, pattern.turns) == (kind, turns)


@pytest.mark.parametrize(
    ("text", "tidy"),
    [
        ("531", "531"),
        ("5 3 1", "531"),
        ("5,3,1", "531"),
        ("5 , 3,1", "531"),
        ("531 531", "531531"),
        ("\t 531\r\n", "531"),
        ("5\N{NO-BREAK SPACE}3\N{THIN SPACE}1", "531"),
        ("1 0 5", "105"),
        ("10", "10"),
        ("\n10 ", "10"),
        ("100 5", "1005"),
        ("51 51", "5151"),
        ("B97531", "b97531"),
        ("[3]", "3"),
        ("[0]", "0"),
        ("[ 3, 3 ]", "[33]"),
        ("[12] 5", "[12]5"),
        ("( 4 , 2x )", "(4,2x)"),
        ("(4,4), (2,2)", "(4,4)(2,2)"),
        ("( [ 4 4x ] ,[2]) *", "([44x],2)*"),
        ("([2x2 4],2)", "([2x24],2)"),
    ],
)
def test_tidied_text(text: str, tidy: str) -> None:
    pattern = parse(text)
    assert pattern.text == tidy
    assert parse(tidy) == pattern


@pytest.mark.parametrize(
    ("text", "at", "fragment"),
    [
        # Nothing to read.
        ("", (), "no pattern"),
        (" \n", (0,), "no pattern"),
        # Values that no throw has.
        ("-1", (0,), "negative"),
        ("5\N{MINUS SIGN}1", (1,), "negative"),
        ("3.5", (1,), "fraction"),
        ("1/2", (1,), "fraction"),
        ("3\N{VULGAR FRACTION ONE HALF}", (1,), "fraction"),
        # Characters of other kinds.
        ("5;3", (1,), '";" (U+003B)'),
        ("5\N{LATIN SMALL LETTER E WITH ACUTE}", (1,), "(U+00E9) means nothing"),
        ("\N{FULLWIDTH DIGIT FIVE}", (0,), "as the plain 5"),
        ("\N{ARABIC-INDIC DIGIT THREE}", (0,), "as the plain 3"),
        ("3\N{SUPERSCRIPT TWO}", (1,), "as the plain 2"),
        ("\N{FULLWIDTH LEFT PARENTHESIS}4,4)", (0,), "as the plain ("),
        ("\N{KELVIN SIGN}", (0,), "as the plain k"),
        ("3\N{COMBINING ACUTE ACCENT}", (1,), "The character U+0301 means nothing"),
        ("3\x1b[31m", (1,), "The character U+001B means nothing"),
        ("3\x85", (1,), "The character U+0085 means nothing"),
        ("\ud800", (0,), "The character U+D800 means nothing"),
        # Separators that mislead.
        ("10 5", (0, 1), "write a"),
        ("4,2x", (2, 3), "2x looks like a throw that crosses"),
        ("4 2X 3", (2, 3), "throws of 2 and 33"),
        ("5,35", (2, 3), "write z"),
        ("[12 3]", (1, 2), "write c"),
        ("5,,1", (2,), "missing"),
        ("5,1,", (3,), "missing"),
        (", 5", (0,), "missing"),
        ("[3,]", (2,), "missing"),
        ("(4,4),*", (5,), "missing"),
        # Brackets.
        ("3[33", (1,), "This [ is never closed"),
        ("(4,4", (0,), "This ( is never closed"),
        ("(4", (0,), "This ( is never closed"),
        ("(4,", (0,), "This ( is never closed"),
        ("([44),2)", (1,), "This [ is never closed"),
        ("3]", (1,), "no [ is open"),
        ("4,4)", (3,), "no ( is open"),
        ("(4,4))", (5,), "no ( is open"),
        ("[[33]3]", (1,), "nested"),
        ("([4[4]],2)", (3,), "nested"),
        ("((4,4))", (1,), "inside other brackets"),
        ("([(4,4)],2)", (2,), "inside other brackets"),
        # Multiplexes.
        ("3[]", (1, 2), "nothing between"),
        ("([ ],4)", (1, 3), "nothing between"),
        ("[305]", (2,), "a 0 among them"),
        ("([40],0)", (3,), "a 0 among them"),
        # Pairs.
        ("(4,3)", (3,), "3 is odd"),
        ("([4b],2)", (3,), "11 is odd"),
        ("(4)", (2,), "two throws"),
        ("(4,4,4)", (4,), "only two throws"),
        ("(44,4)", (2,), "one value"),
        ("(4 4)", (3,), "one value"),
        ("(4[44],2)", (2,), "one value"),
        ("(,4)", (1,), "needs a throw for this hand"),
        ("(4,)", (3,), "needs a throw for this hand"),
        ("()", (1,), "needs a throw for this hand"),
        ("(4,4)3", (5,), "cannot be mixed"),
        ("3(4,4)", (0,), "cannot be mixed"),
        ("[33](4,4)", (0,), "cannot be mixed"),
        # The crossing mark.
        ("(x4,4)", (1,), "directly follows"),
        ("(4xx,4)", (3,), "directly follows"),
        ("(4 x,4)", (3,), "directly follows"),
        ("(0x,4)", (2,), "directly follows"),
        ("([44]x,4)", (5,), "directly follows"),
        ("(4,4)x", (5,), "directly follows"),
        # The repeat.
        ("3*", (1,), "hands alternate"),
        ("[3*3]", (2,), "hands alternate"),
        ("*(4,4)", (0,), "at the very end"),
        ("(4*,4)", (2,), "at the very end"),
        ("(4,2x)**", (6,), "at the very end"),
        ("(4,2x)*(4,4)", (6,), "at the very end"),
    ],
)
def test_refused(text: str, at: tuple[int, ...], fragment: str) -> None:
    with pytest.raises(MalformedError) as refused:
        parse(text)
    assert refused.value.at == at
    assert fragment in refused.value.message
    assert refused.value.message.isprintable()
    assert refused.value.problem == "malformed"


def test_longest_text() -> None:
    assert parse("3" * LONGEST_TEXT).period == LONGEST_TEXT
    with pytest.raises(MalformedError, match=r"10,000,000 .* 100,000") as refused:
        parse("3" * 10_000_000)
    assert refused.value.at == (LONGEST_TEXT,)


@pytest.mark.parametrize(
    ("text", "at", "shown"),
    [
        ("5,,1", (2,), "5,,1\n  ^"),
        ("10 5", (0, 1), "10 5\n^^"),
        ("", (), ""),
        ("531", (), "531"),
        ("5\t3\x1b3", (3,), "5 3\N{REPLACEMENT CHARACTER}3\n   ^"),
        ("3\N{COMBINING ACUTE ACCENT}-", (2,), "3\N{REPLACEMENT CHARACTER}-\n  ^"),
        # Wide characters take two columns.
        ("\N{FULLWIDTH DIGIT FIVE}-", (1,), "\N{FULLWIDTH DIGIT FIVE}-\n  ^"),
    ],
)
def test_mark(text: str, at: tuple[int, ...], shown: str) -> None:
    assert mark(text, at) == shown


@pytest.mark.parametrize(
    ("at", "shown"),
    [
        ((0,), "01234…\n^"),
        ((5,), "…34567…\n   ^"),
        ((9,), "…56789\n     ^"),
        ((4, 6, 9), "…23456…\n   ^ ^"),
    ],
)
def test_mark_in_a_long_text(at: tuple[int, ...], shown: str) -> None:
    assert mark("0123456789", at, width=5) == shown


BRIDGES = [
    # Of one timing: as any pattern, where an x is the value 33.
    ("4 2", "async", ["42"]),
    ("4x", "async", ["4x"]),
    ("(4,2x)", "sync", ["(4,2x)"]),
    # Of two: single throws and pairs in turn, odd values and crossing throws in both.
    ("3 4 3 (4,4)", "sync", ["343", "(4,4)"]),
    ("4 1", "sync", ["41"]),
    ("2x 3x", "sync", ["2x3x"]),
    ("[3x 2]0(5,[1x 4])", "sync", ["[3x2]0", "(5,[1x4])"]),
    ("(3,4) (3,4)", "async", ["(3,4)", "(3,4)"]),
    ("(1,3x)3 5", "async", ["(1,3x)", "35"]),
]


@pytest.mark.parametrize(("text", "leads_to", "turns"), BRIDGES)
def test_bridges(text: str, leads_to: Kind, turns: list[str]) -> None:
    rows = parse_bridge(text, leads_to)
    written = [written_turn(row.kind, turn) for row in rows for turn in row.turns]
    assert "".join(written) == "".join(turns)
    kinds = [row.kind for row in rows]
    assert kinds in (["async"], ["sync"], ["async", "sync"], ["sync", "async"])


@pytest.mark.parametrize(
    ("text", "leads_to", "at", "fragment"),
    [
        ("", "async", (), "There is no pattern here"),
        ("3 (4,4) 3", "async", (8,), "changes once"),
        ("(4,4) 3 (4,4)", "sync", (8,), "changes once"),
        ("3 (4,4", "sync", (2,), "is never closed"),
        ("(3,4)", "sync", (1,), "even"),
        ("x (4,4)", "sync", (0,), "directly follows the value"),
        ("0x (4,4)", "sync", (1,), "never a 0"),
        ("3 ! (4,4)", "sync", (2,), "means nothing"),
    ],
)
def test_wrong_bridges(text: str, leads_to: Kind, at: tuple[int, ...], fragment: str) -> None:
    with pytest.raises(MalformedError, match=fragment) as caught:
        parse_bridge(text, leads_to)
    assert caught.value.at == at


@given(st.text("0123456789abx[](),* ", max_size=12), st.sampled_from(["async", "sync"]))
def test_any_bridge_is_read_or_told(text: str, leads_to: Kind) -> None:
    at: tuple[int, ...] = ()
    try:
        rows = parse_bridge(text, leads_to)
    except MalformedError as error:
        rows, at = (), error.at
    assert all(0 <= place < max(len(text), 1) for place in at)
    again = " ".join(written_turn(row.kind, turn) for row in rows for turn in row.turns)
    if rows:
        assert [row.turns for row in parse_bridge(again, leads_to)] == [row.turns for row in rows]
