"""What can be asked for, and the keys that ask for it.

What keys are called.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from throwcount.caller.terminal.controls import (
    AGAIN,
    BACK,
    BY_NAME,
    CLEAN,
    CONTROLS,
    DROP,
    FASTER,
    GO,
    NAMED,
    NEXT,
    PAUSE,
    PEDAL,
    SLOWER,
    STOP,
    TAKEN,
    VOICE,
    Control,
    KeysError,
    Presses,
    key_map,
    key_name,
    keys_of,
    legend,
    with_one_pedal,
)

FOOT_SECONDS = 0.7
"""Seconds: longer than keyboards wait before they repeat a key that is held."""


@pytest.mark.parametrize(
    ("key", "control"),
    [
        ("space", PAUSE),
        ("home", AGAIN),
        ("right", NEXT),
        ("left", BACK),
        ("down", SLOWER),
        ("up", FASTER),
        ("+", FASTER),
        ("=", FASTER),  # the same key without shift, on many keyboards
        ("v", VOICE),
        ("page-down", GO),
        ("c", CLEAN),
        ("page-up", DROP),
        ("q", STOP),
    ],
)
def test_usual_keys(key: str, control: Control) -> None:
    assert key_map()[key] is control


def test_usual_keys_can_all_be_pressed_and_ask_for_one_thing() -> None:
    keys = [key for control in CONTROLS for key in control.keys]
    assert len(keys) == len(set(keys))
    assert all(key_name(key) == key and key not in TAKEN for key in keys)
    assert list(BY_NAME.values()) == list(CONTROLS)


def test_own_keys_take_the_place_of_usual_ones() -> None:
    keys = key_map({"clean": ["Space"], "stop": [], "voice": ["pgdn", "f5"]})
    assert keys_of(CLEAN, keys) == ("space",)
    assert keys_of(PAUSE, keys) == ("p",)  # the space is taken from it
    assert keys_of(STOP, keys) == ()
    assert keys_of(VOICE, keys) == ("page-down", "f5")
    assert keys["page-up"] is DROP


@pytest.mark.parametrize(
    ("own", "fragments"),
    [
        ({"puase": ["k"]}, ["'puase' is not a control", "pause, again", "Did you mean 'pause'?"]),
        ({"pause": ["spcae"]}, ["'spcae' for pause is not a key", "Did you mean 'space'?"]),
        ({"pause": ["shift-x"]}, ["'shift-x' for pause is not a key"]),
        ({"pause": ["Ctrl-C"]}, ["'Ctrl-C' for pause", "the system itself"]),
        ({"pause": ["k"], "stop": ["K"]}, ["'k' asks for both pause and stop"]),
        ({"puase": ["k"], "stop": ["spaec"]}, ["'puase'", "'spaec' for stop"]),
    ],
)
def test_every_fault_is_told(own: dict[str, list[str]], fragments: list[str]) -> None:
    with pytest.raises(KeysError) as raised:
        key_map(own)
    for fragment in fragments:
        assert fragment in str(raised.value)
    assert all(fault.endswith((".", "?")) for fault in raised.value.faults)


def test_the_same_key_twice_for_one_control_is_no_fault() -> None:
    assert keys_of(PAUSE, key_map({"pause": ["k", "K"]})) == ("k",)


def test_the_legend_follows_the_keys() -> None:
    assert legend(key_map(), [PAUSE, CLEAN]) == (("space", "pause"), ("c", "clean"))
    own = key_map({"pause": ["f5"], "clean": []})
    assert legend(own, [PAUSE, CLEAN]) == (("f5", "pause"),)
    named = [control.name for control in CONTROLS if control.keys]
    assert [name for _, name in legend(key_map(), resting=True)] == [
        {"go": "go now", "drop": "not clean"}.get(name, name) for name in named
    ]


@pytest.mark.parametrize(
    ("one_pedal", "resting", "shown"),
    [
        (False, False, [("page-down", "clean"), ("page-up", "drop")]),
        (False, True, [("page-down", "go now"), ("c", "clean"), ("page-up", "not clean")]),
        (True, False, [("c", "clean"), ("d", "drop"), ("page-down", "drop, twice clean")]),
        (True, True, [("c", "clean"), ("d", "not clean"), ("page-down", "go now, twice clean")]),
    ],
)
def test_the_legend_says_what_a_pedal_does_now(
    one_pedal: bool, resting: bool, shown: list[tuple[str, str]]
) -> None:
    keys = with_one_pedal(key_map()) if one_pedal else key_map()
    assert list(legend(keys, [GO, CLEAN, DROP, PEDAL], resting=resting)) == shown


def asked(presses: list[tuple[str, float]]) -> list[str]:
    counter = Presses(key_map())
    found = [counter.asked(key, moment) for key, moment in presses]
    return [control.name for control in found if control]


HELD = [0.0, 0.5, *(0.53 + 0.03 * index for index in range(60))]
"""When a key that is held down comes: at once, after half a second, then thirty times a second."""


@pytest.mark.parametrize(
    ("presses", "names"),
    [
        ([("k", 0.0)], []),
        ([("space", 0.0), ("space", 1.0)], ["pause", "pause"]),
        ([("space", moment) for moment in HELD], ["pause"]),
        ([("page-down", moment) for moment in HELD], ["go"]),
        ([("right", moment) for moment in HELD], ["next", "next"]),
        ([("up", moment) for moment in HELD], ["faster"] * len(HELD)),
        ([("right", 0.0), ("right", 0.2), ("right", 0.4)], ["next"] * 3),
        ([("page-down", 0.0), ("page-up", 0.1)], ["go", "drop"]),
        ([("page-down", 0.0), ("k", 0.1), ("page-down", 0.2)], ["go"]),
        ([("space", 0.0), ("p", FOOT_SECONDS / 2)], ["pause"]),
    ],
)
def test_a_key_that_is_held_down_counts_once(
    presses: list[tuple[str, float]], names: list[str]
) -> None:
    assert asked(presses) == names


@pytest.mark.parametrize("key", ["page-down", "page-up"])
@pytest.mark.parametrize(
    ("moments", "names"),
    [
        ([0.0], ["pedal"]),
        ([0.0, 0.3], ["pedal", "twice"]),
        ([0.0, 0.05], ["pedal"]),  # it bounces
        ([0.0, 0.3, 1.5], ["pedal", "twice", "pedal"]),
        ([0.0, 1.0], ["pedal", "pedal"]),
        (HELD, ["pedal"]),
    ],
)
def test_the_one_pedal_is_pressed_once_or_twice(
    key: str, moments: list[float], names: list[str]
) -> None:
    counter = Presses(with_one_pedal(key_map()))
    found = [counter.asked(key, moment) for moment in moments]
    assert [control.name for control in found if control] == names


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("space", "space"),
        (" ", "space"),
        ("Page Down", "page-down"),
        ("PAGE_UP", "page-up"),
        ("pgdn", "page-down"),
        ("Return", "enter"),
        ("esc", "escape"),
        ("F5", "f5"),
        ("x", "x"),
        ("X", "x"),
        ("-", "-"),
        ("_", "_"),
        ("+", "+"),
        ("plus", "+"),
        ("\u00c9", "\u00e9"),
        ("ctrl-x", "ctrl-x"),
        ("Ctrl+X", "ctrl-x"),
        ("shift up", "shift-up"),
        ("shift-alt-left", "alt-shift-left"),
        ("alt--", "alt--"),
        # A terminal sends the same for both.
        ("ctrl-i", "tab"),
        ("ctrl-m", "enter"),
        ("alt-return", "alt-enter"),
    ],
)
def test_names_as_people_write_them(written: str, name: str) -> None:
    assert key_name(written) == name


@pytest.mark.parametrize(
    "written",
    ["", "  ", "spaec", "pedal", "shift-x", "ctrl-", "ctrl-shift", "f21", "\t", "\x1b", "ab"],
)
def test_what_is_no_key(written: str) -> None:
    assert key_name(written) is None


@pytest.mark.parametrize("name", NAMED)
def test_names_stand_for_themselves(name: str) -> None:
    assert key_name(name) == name


@given(st.text(max_size=20))
def test_a_name_is_the_name_of_itself(text: str) -> None:
    name = key_name(text)
    assert name is None or key_name(name) == name
