"""Bridges, against the shortest paths that networkx finds in graphs of states built here."""

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import islice, pairwise, product

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from throwcount.engine.hands.difficulty import difficulty_of_throws
from throwcount.engine.hands.work import hand_turns
from throwcount.engine.patterns.flight import default_tempo
from throwcount.engine.patterns.notation import parse
from throwcount.engine.patterns.pattern import VALUE_DIGITS, Pattern, Throw, Turn
from throwcount.engine.patterns.rows import HandLimits
from throwcount.engine.patterns.rules import read
from throwcount.engine.patterns.states import State, after, states
from throwcount.engine.search.bridges import Bridge, BridgeError, bridge, bridges
from throwcount.engine.search.find import PatternQuery, find
from throwcount.engine.search.state_graph import all_states, transitions
from throwcount.engine.search.walks import can_lead, walks


def named(text: str) -> Pattern | None:
    return None if text == "GROUND" else read(text)


def due(bits: int) -> State:
    return (tuple(int(sign) for sign in f"{bits:b}"[::-1]),)


@cache
def plain_graph(objects: int, highest: int) -> nx.DiGraph:
    graph = nx.DiGraph()
    for before in all_states(objects, highest):
        for _, following in transitions(before, highest):
            graph.add_edge(due(before), due(following))
    return graph


@pytest.mark.parametrize(
    ("objects", "highest"),
    [(objects, highest) for objects in range(1, 5) for highest in range(objects, 8)],
)
def test_length_between_all_states(objects: int, highest: int) -> None:
    graph = plain_graph(objects, highest)
    hands = HandLimits(highest=highest)
    for start, lengths in nx.all_pairs_shortest_path_length(graph):
        assert len(lengths) == len(graph)
        for end, length in lengths.items():
            assert can_lead(hands, start, end, length)
            assert not any(can_lead(hands, start, end, shorter) for shorter in range(length))


@pytest.mark.parametrize(("objects", "highest"), [(1, 5), (2, 5), (4, 6), (3, 6)])
def test_all_shortest_runs_between_all_states(objects: int, highest: int) -> None:
    graph = plain_graph(objects, highest)
    hands = HandLimits(highest=highest)
    for start, end in product(graph, repeat=2):
        paths = {tuple(path) for path in nx.all_shortest_paths(graph, start, end)}
        length = len(next(iter(paths))) - 1
        found = [visited(start, hands, row) for row in walks(hands, start, end, length)]
        assert len(found) == len(paths)
        assert set(found) == paths


def visited(start: State, hands: HandLimits, row: bytes) -> tuple[State, ...]:
    every = [start]
    for turn in hands.turns(row):
        every.append(after(every[-1], turn))
    return tuple(every)


def hand_choices(number: int, highest: int, *, sync: bool) -> list[tuple[Throw, ...]]:
    """Every way to throw `number` objects from one hand, larger throws first."""
    if number == 0:
        return [()]
    values = range(2, highest + 1, 2) if sync else range(1, highest + 1)
    throws = [Throw(value, crossed) for value in values for crossed in {False, sync}]
    key = {throw: place for place, throw in enumerate(throws)}
    choices = product(throws, repeat=number)
    return [one for one in choices if list(one) == sorted(one, key=key.__getitem__)]


def turns_from(before: State, highest: int) -> Iterator[Turn]:
    hands = [
        hand_choices(place[0] if place else 0, highest, sync=len(before) > 1) for place in before
    ]
    yield from product(*hands)


def graph_from(start: State, highest: int, most: int) -> nx.DiGraph:
    """All states that `start` leads to with at most `most` objects due in a hand at once."""
    graph = nx.DiGraph()
    waiting = [start]
    graph.add_node(start)
    while waiting:
        before = waiting.pop()
        for turn in turns_from(before, highest):
            following = after(before, turn)
            if max(count for place in following for count in (*place, 0)) > most:
                continue
            if following not in graph:
                waiting.append(following)
            graph.add_edge(before, following)
    return graph


@pytest.mark.parametrize(
    ("start", "highest", "most"),
    [
        (((1,), (1,)), 6, 1),
        (((1, 1), (1,)), 6, 1),
        (((1, 1), (1, 1)), 6, 1),
        (((1, 1),), 4, 2),
        (((2, 1),), 4, 2),
        (((2, 2, 1),), 4, 3),
        (((1,), (1,)), 4, 2),
        (((2,), (1,)), 4, 2),
    ],
    ids=repr,
)
def test_length_in_pairs_and_in_multiplex(start: State, highest: int, most: int) -> None:
    graph = graph_from(start, highest, most)
    assert len(graph) > 2
    hands = HandLimits("sync" if len(start) > 1 else "async", highest, most)
    for begin, lengths in nx.all_pairs_shortest_path_length(graph):
        for end, length in lengths.items():
            assert can_lead(hands, begin, end, length)
            assert not any(can_lead(hands, begin, end, shorter) for shorter in range(length))
            for row in walks(hands, begin, end, length):
                assert visited(begin, hands, row)[-1] == end


def closes(one: Bridge, leaving: Pattern | None, entering: Pattern | None) -> bool:
    """Whether the bridge leads, throw by throw, from a state of the one to one of the other."""
    return any(
        ends_well(one, begin, entering) for begin in states_at(leaving, one.from_rotation, one)
    )


def ends_well(one: Bridge, begin: State, entering: Pattern | None) -> bool:
    now = begin
    for turn in one.turns:
        if [place[0] if place else 0 for place in now] != [len(throws) for throws in turn]:
            return False
        now = after(now, turn)
    return now in states_at(entering, one.to_rotation, one)


def states_at(pattern: Pattern | None, rotation: int, one: Bridge) -> list[State]:
    if pattern is not None:
        return [list(states(pattern))[rotation // pattern.beats_per_turn]]
    if one.kind == "async":
        return [((1,) * one.objects,)]
    fewer, more = (1,) * (one.objects // 2), (1,) * -(-one.objects // 2)
    return [(fewer, more), (more, fewer)]


KNOWN = [
    ("3", "51", "4"),  # the usual way into the three-object shower and out of it: common practice
    ("51", "3", "2"),
    ("GROUND", "51", "4"),
    ("51", "GROUND", "2"),
    ("531", "441", ""),
    ("4", "71", "7 4"),  # which needs no throws but those of the patterns, unlike 5 6
    ("(4,4)", "(6x,2x)", "(6x,4)"),
    ("(4x,2x)", "(2x,4x)", "(4,2x)"),
    ("60", "3", "3 0"),
    ("GROUND", "(4x,2x)", ""),
    ("GROUND", "(2x,4x)", ""),
    ("[33]33", "4", "[43]"),
    ("4", "[33]33", "1"),
    ("0", "00", ""),
]


@pytest.mark.parametrize(("leaving", "entering", "throws"), KNOWN)
def test_bridge(leaving: str, entering: str, throws: str) -> None:
    found = bridge(named(leaving), named(entering))
    assert " ".join(found.throws) == throws
    assert (found.from_rotation, found.to_rotation) == (0, 0)
    assert closes(found, named(leaving), named(entering))


@pytest.mark.parametrize(
    ("leaving", "entering", "highest", "fragment"),
    [
        ("3", "5", None, "2 objects have to be taken up"),
        ("5", "4", None, "1 object has to be put down on the way"),
        ("3", "51", 3, "at most 3; throws up to 4 would do"),
        ("GROUND", "GROUND", None, "name a pattern"),
        ("4", "(4,4)", 3, "at most 3; throws up to 4 would do"),
    ],
)
def test_no_bridge(leaving: str, entering: str, highest: int | None, fragment: str) -> None:
    with pytest.raises(BridgeError, match=fragment):
        bridge(named(leaving), named(entering), highest)


def test_too_many_rotations_to_compare() -> None:
    ground = ((1,) * 5,)
    there_and_back = []
    for one in map(due, all_states(5, 11)[1:300]):
        for start, end in ((ground, one), (one, ground)):
            graph = plain_graph(5, 11)
            length = nx.shortest_path_length(graph, start, end)
            there_and_back += next(walks(HandLimits(highest=11), start, end, length))
    long = read("".join(VALUE_DIGITS[value] for value in there_and_back))
    assert len(set(states(long))) > 200
    with pytest.raises(BridgeError, match="at most 40,000 pairs"):
        bridge(long, long, any_rotation=True)
    assert bridge(long, read("5"), any_rotation=True).turns == ()


@cache
def some_patterns(kind: str) -> tuple[Pattern, ...]:
    queries: dict[str, PatternQuery] = {
        "plain": PatternQuery(3, HandLimits(highest=7), (1, 2, 3, 4)),
        "pairs": PatternQuery(3, HandLimits("sync", 6), (2, 4)),
        "multiplex": PatternQuery(4, HandLimits(highest=5, capacity=2), (1, 2, 3)),
        "several in pairs": PatternQuery(4, HandLimits("sync", 4, 2), (2,)),
    }
    return tuple(find(queries[kind]))


KINDS = ["plain", "pairs", "multiplex", "several in pairs"]


@st.composite
def ends(draw: st.DrawFn) -> tuple[Pattern | None, Pattern | None]:
    patterns = some_patterns(draw(st.sampled_from(KINDS)))
    pattern = st.sampled_from(patterns)
    leaving, entering = draw(pattern), draw(st.none() | pattern)
    return (leaving, entering) if draw(st.booleans()) else (entering, leaving)


@settings(max_examples=300)
@given(ends(), st.booleans())
def test_bridges_lead_where_they_say(
    both: tuple[Pattern | None, Pattern | None], any_rotation: bool
) -> None:
    leaving, entering = both
    shortest = bridge(leaving, entering, any_rotation=any_rotation)
    every = list(islice(bridges(leaving, entering, any_rotation=any_rotation), 50))
    assert len(set(every)) == len(every)
    assert {len(one.turns) for one in every} == {len(shortest.turns)}
    assert closes(shortest, leaving, entering)
    assert all(closes(one, leaving, entering) for one in every)
    patterns = [one for one in both if one is not None]
    highest = max(pattern.highest for pattern in patterns)
    if None in both:  # the plain pattern of 4 in the ground state, and of 3 in pairs
        highest = max(highest, 4)
    together = max(len(t) for pattern in patterns for turn in pattern.turns for t in turn)
    waiting = max(count for p in patterns for one in states(p) for d in one for count in (*d, 0))
    for one in [shortest, *every]:
        if one.turns:
            written = parse("".join(one.throws))
            assert written.highest <= highest
            assert max(len(t) for turn in written.turns for t in turn) <= max(together, waiting)


@settings(max_examples=200)
@given(ends())
def test_any_rotation_is_the_best_of_all(both: tuple[Pattern | None, Pattern | None]) -> None:
    leaving, entering = both
    best = bridge(leaving, entering, any_rotation=True)
    rotations = [[one] if one is None else list(rotated(one)) for one in both]
    highest = max(4 if one is None else one.highest for one in both)
    assert len(best.turns) == min(
        len(bridge(here, there, highest).turns) for here, there in product(*rotations)
    )


def rotated(pattern: Pattern) -> Iterator[Pattern]:
    for start in range(len(pattern.turns)):
        turns = pattern.turns[start:] + pattern.turns[:start]
        yield replace(pattern, turns=turns)


@given(ends())
def test_the_easiest_comes_first(both: tuple[Pattern | None, Pattern | None]) -> None:
    """By the measure, over the bridge with the turn of each hand before it and after it."""
    leaving, entering = both

    def points(one: Bridge) -> float:
        before = () if leaving is None else last_turns(leaving)
        after = () if entering is None else first_turns(entering)
        turns = hand_turns(one.kind, [*before, *one.turns, *after])
        return difficulty_of_throws(turns, one.objects, tempo).points

    tempo = max(default_tempo(each) for each in both if each is not None)
    every = list(islice(bridges(leaving, entering), 50))
    assert bridge(leaving, entering) == every[0]
    for easier, harder in pairwise(map(points, every)):
        assert easier <= harder + NEARLY


NEARLY = 1e-9
"""Points: sums in another order."""


def last_turns(pattern: Pattern) -> tuple[Turn, ...]:
    return (pattern.turns * 2)[-2:] if pattern.kind == "async" else pattern.turns[-1:]


def first_turns(pattern: Pattern) -> tuple[Turn, ...]:
    return (pattern.turns * 2)[:2] if pattern.kind == "async" else pattern.turns[:1]


@pytest.mark.parametrize(
    ("leaving", "entering", "turns"),
    [
        ("9", "k" * 9 + "0" * 11, 0),
        ("9", "i0", 8),
        ("i0", "0i", 1),
        ("h", "y0", 16),
    ],
)
def test_high_patterns_take_no_search(leaving: str, entering: str, turns: int) -> None:
    """9 objects to a height of 20 have 167,960 states, 17 to 34 over two thousand million."""
    leave, enter = named(leaving), named(entering)
    found = bridge(leave, enter)
    assert len(found.turns) == turns
    assert closes(found, leave, enter)
