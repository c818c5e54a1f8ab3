"""Throws from a state, open or not, against the graph of states."""

import pytest

from engine.finding.open_throws import open_throws
from engine.finding.state_graph import all_states, transitions


@pytest.mark.parametrize("highest", range(1, 8))
def test_open_throws_are_the_arrows_of_the_graph(highest: int) -> None:
    for objects in range(1, highest + 1):
        for state in all_states(objects, highest):
            throws = open_throws(state, highest)
            assert [throw.value for throw in throws] == list(range(highest + 1))
            leading = [(one.value, one.leads_to) for one in throws if one.leads_to is not None]
            assert leading == transitions(state, highest)
            assert all((one.leads_to is None) == (one.obstacle is not None) for one in throws)


def test_why_not() -> None:
    from_1101 = [throw.obstacle for throw in open_throws(0b1011, 5)]  # the next beat is bit 0
    assert from_1101 == ["object due", "beat taken", None, "beat taken", None, None]
    from_0111 = [throw.obstacle for throw in open_throws(0b1110, 4)]
    assert from_0111 == [None, *["nothing due"] * 4]
