"""A session laid out: what begins when, how long it takes, what is a guess, what may go wrong."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import pytest
from click.testing import Result

from throwcount.caller.session_file.starter import session_starter_lines

Run = Callable[..., Result]

ROUNDED: Final = 0.002
"""Seconds by which two lengths may differ that JSON has rounded to milliseconds."""


def written(folder: Path, text: str) -> Path:
    place = folder / "tuesday.toml"
    place.write_text(text, "utf-8")
    return place


def planned(run: Run, folder: Path, text: str, *options: object) -> dict[str, Any]:
    result = run("plan", written(folder, text), *options, "--json")
    assert result.exit_code == 0, result.stderr
    document: dict[str, Any] = json.loads(result.stdout)
    return document


def rendered_seconds(run: Run, folder: Path, *arguments: object) -> float:
    """Return the length of the file that `render` writes, which knows nothing of sessions."""
    result = run("render", *arguments, "-o", folder / "set.wav", "--force", "--json")
    assert result.exit_code == 0, result.stderr
    return float(json.loads(result.stdout)["seconds"])


def test_a_block_takes_as_long_as_its_sets_when_written_and_the_rests(
    run: Run, tmp_path: Path
) -> None:
    plan = planned(
        run,
        tmp_path,
        "announce = false\nready = 2\n"
        '[[block]]\npattern = "3"\nbeats = 12\ntempo = 300\nrest-after = 7\n'
        '[[block]]\npattern = "531"\ntempo = 300\nsets = 3\ncycles = 4\nraise = 20\nrest = 9\n',
    )
    quiet = ["--no-announce", "--force"]
    first = rendered_seconds(
        run, tmp_path, "3", "--beats", 12, "--tempo", 300, "--ready", 2, *quiet
    )
    sets = [
        rendered_seconds(
            run, tmp_path, "531", "--cycles", 4, "--tempo", tempo, "--ready", ready, *quiet
        )
        for tempo, ready in ((300, 2), (320, 0), (340, 0))
    ]
    one, three = plan["blocks"]
    assert (one["time"], one["about"]) == (0, False)
    assert one["seconds"] == pytest.approx(first, abs=ROUNDED)
    assert three["time"] == pytest.approx(first + 7, abs=ROUNDED)
    assert three["seconds"] == pytest.approx(sum(sets) + 2 * 9, abs=ROUNDED)
    assert plan["seconds"] == pytest.approx(three["time"] + three["seconds"], abs=ROUNDED)
    assert (three["tempo"], three["to"], three["sets"]) == (300, 340, 3)
    assert plan["about"] is False


def test_what_is_said_before_and_at_the_end_takes_its_time(run: Run, tmp_path: Path) -> None:
    block = '[[block]]\npattern = "3"\nbeats = 6\n'
    silent = planned(run, tmp_path, block)
    spoken = planned(run, tmp_path, f'end = "well done"\n{block}before = "slow and steady"\n')
    before, end = spoken["blocks"][0]["seconds"] - silent["seconds"], spoken["seconds"]
    assert 0.5 < before < 3
    assert 0.3 < end - spoken["blocks"][0]["seconds"] < 2
    assert silent["notes"] == spoken["notes"] == []


GUESSES = {
    "sets = 3": False,
    "seconds = 9": False,
    "sets = 3\nstaircase = true": True,
    "attempts = 3": True,
    "sets = 3\nwait = true": True,
    "sets = 3\nresume = true": True,
}


def test_what_depends_on_the_juggler_is_a_guess(run: Run, tmp_path: Path) -> None:
    blocks = [f'[[block]]\npattern = "3"\n{keys}\n' for keys in GUESSES]
    plan = planned(run, tmp_path, "".join(blocks))
    assert [block["about"] for block in plan["blocks"]] == [*GUESSES.values()]
    assert plan["about"] is True
    page = run("plan", tmp_path / "tuesday.toml").stdout
    assert "about" in page.splitlines()[0]
    # four blocks, the starts of the three after the first of them, and what it means
    assert page.count("~") == 4 + 3 + 1
    assert "~ means about" in page


def test_without_a_guess_nothing_is_about(run: Run, tmp_path: Path) -> None:
    page = run("plan", written(tmp_path, '[[block]]\npattern = "3"\nsets = 3\n')).stdout
    assert "about" not in page
    assert "~" not in page


def test_goals_are_told_in_catches_and_make_attempts_longer(run: Run, tmp_path: Path) -> None:
    goals: dict[object, int] = {'"flash"': 5, '"qualify"': 10, 40: 40}
    blocks = [f'[[block]]\npattern = "5"\nattempts = 2\ngoal = {goal}\n' for goal in goals]
    plan = planned(run, tmp_path, "".join(blocks))
    assert [each["goal_catches"] for each in plan["blocks"]] == [*goals.values()]
    assert [each["goal"] for each in plan["blocks"]] == ["flash", "qualify", 40]
    seconds = [each["seconds"] for each in plan["blocks"]]
    # 35 throws more in each of two attempts, at 230 beats a minute; the first has time to get ready
    assert seconds[2] - seconds[1] == pytest.approx(2 * 30 * 60 / 230, abs=ROUNDED)


def test_an_attempt_is_no_longer_than_its_length(run: Run, tmp_path: Path) -> None:
    block = '[[block]]\npattern = "3"\nattempts = 2\ngoal = 90\n'
    (endless,) = planned(run, tmp_path, block)["blocks"]
    (short,) = planned(run, tmp_path, f"{block}beats = 60\n")["blocks"]
    assert endless["seconds"] - short["seconds"] == pytest.approx(2 * 30 * 60 / 185, abs=ROUNDED)


TEMPOS = {
    "tempo = 200\nsets = 3": (200, 200),
    "tempo = 200\nsets = 3\nraise = -10": (200, 180),
    "tempo = 200\nsets = 5\nraise = 10\nback = true": (200, 220),
    "tempo = 200\nto = 230\ncycles = 8": (200, 230),
    "tempo = 200\nto = 230\nsets = 3\nraise = 10": (200, 250),
    "tempo = 980\nto = 1000\nsets = 9\nraise = 10": (980, 1000),
    "sets = 3\nstaircase = true\ntempo = 150": (150, 150),
}


def test_tempos_are_those_of_the_first_throw_and_the_farthest(run: Run, tmp_path: Path) -> None:
    blocks = [f'[[block]]\npattern = "3"\n{keys}\n' for keys in TEMPOS]
    plan = planned(run, tmp_path, "announce = false\n" + "".join(blocks))
    assert [(block["tempo"], block["to"]) for block in plan["blocks"]] == [*TEMPOS.values()]


def test_heights_and_tempos_are_warned_of_once(run: Run, tmp_path: Path) -> None:
    high = '[[block]]\npattern = "7"\ntempo = 200\nbeats = 14\n'
    plan = planned(run, tmp_path, f"ceiling = 3\n{high}{high}[[block]]\npattern = '3'\nsets = 2\n")
    assert plan["warnings"]
    assert all(warning.startswith("Blocks 1 and 2: ") for warning in plan["warnings"])
    # The height of a throw of 7 beats, 0.3 s each, held for 2/3 of two of them: g t² / 8.
    flight = (7 - 4 / 3) * 0.3
    assert plan["blocks"][0]["highest_m"] == pytest.approx(9.80665 * flight**2 / 8, abs=1e-3)


def test_the_page_has_every_block_with_its_clock(run: Run, tmp_path: Path) -> None:
    result = run("plan", written(tmp_path, "".join(session_starter_lines())))
    assert (result.exit_code, result.stderr) == (0, "")
    lines = result.stdout.splitlines()
    assert lines[0].startswith("My session: 5 blocks, about ")
    assert lines[2].split()[:4] == ["block", "at", "what", "objects"]
    rows = [line for line in lines if line.strip()[:1].isdigit()]
    assert [row.split()[0] for row in rows] == ["1", "2", "3", "4", "5"]
    assert rows[0].split()[1] == "0:00"
    assert [row.split()[1].startswith("~") for row in rows] == [False] * 3 + [True] * 2
    assert "warm-up: 3" in rows[0]
    assert "5 cascade  " in rows[3]
    assert max(map(len, lines)) <= 80


def test_typed_options_hold_for_every_block(run: Run, tmp_path: Path) -> None:
    text = '[[block]]\npattern = "3"\nbeats = 6\n'
    plan = planned(run, tmp_path, text, "--ready", 60)
    usual = planned(run, tmp_path, text)
    assert plan["seconds"] - usual["seconds"] == pytest.approx(60 - 8, abs=ROUNDED)


@pytest.mark.parametrize(
    ("options", "status", "fragment"),
    [
        (["--picture", "x.svg"], 2, "--picture is for a routine; a session has a table only."),
        (["--percent", "80"], 2, "--percent is for a routine file; this is a session."),
        (["--from", "2"], 2, "--from is for a routine file; this is a session."),
        (["--ceiling", "0.5"], 1, "leaves no room above hands"),
    ],
)
def test_what_makes_no_sense_for_a_session(
    run: Run, tmp_path: Path, options: list[str], status: int, fragment: str
) -> None:
    result = run("plan", written(tmp_path, '[[block]]\npattern = "3"\nsets = 2\n'), *options)
    assert (result.exit_code, result.stdout) == (status, "")
    assert fragment in result.stderr.replace("\n", " ")
