"""`throwcount listen --live` as a command line, without any sound."""

import json
import os
import subprocess
import sys

import pytest
from click.testing import CliRunner

from throwcount.caller.main import throwcount


def run(*arguments: str) -> tuple[int, str, str]:
    result = CliRunner().invoke(throwcount, ["listen", *arguments])
    return result.exit_code, result.stdout, result.stderr


@pytest.mark.parametrize("arguments", [["--live", "--help"], ["531", "-h", "--live"]])
def test_its_help_is_its_own(arguments: list[str]) -> None:
    status, shown, _ = run(*arguments)
    assert status == 0
    assert "Usage: throwcount listen --live [OPTIONS] SUBJECT" in shown
    assert "--mark-drops" in shown
    assert "  throwcount listen --live 531 --headphones" in shown
    assert "ask them first" in " ".join(shown.split())


@pytest.mark.parametrize(
    ("arguments", "status", "fragment"),
    [
        (["--live"], 2, "Missing argument 'SUBJECT'"),
        (["--live", "531", "--pattern", "531"], 2, "No such option '--pattern'"),
        (["take.wav", "--mark-drops"], 2, "No such option '--mark-drops'"),
        (["--", "--live"], 3, "--live"),
        (["--live", "543"], 1, "meet"),
        (["--live", "-1"], 1, "-1"),
        (["--live", "531", "--percent", "50"], 2, "for a routine file"),
        (["--live", "531", "--picture", "p.gif"], 2, ".svg or .png"),
        (["--live", "nowhere.toml"], 1, "nowhere.toml"),
    ],
)
def test_what_is_wrong_is_told_before_anything_is_opened(
    arguments: list[str], status: int, fragment: str
) -> None:
    ended, shown, told = run(*arguments)
    assert (ended, shown) == (status, "")
    assert fragment in told


def test_a_wrong_pattern_as_json() -> None:
    status, shown, _ = run("--json", "543", "--live")
    assert status == 1
    assert json.loads(shown)["problem"] == "collision"


@pytest.mark.parametrize(
    ("words", "completed"), [("--li", "--live"), ("--live 531 --mark", "--mark-drops")]
)
def test_the_shell_completes_it(words: str, completed: str) -> None:
    line = f"throwcount listen {words}"
    environment = os.environ | {
        "_THROWCOUNT_COMPLETE": "bash_complete",
        "COMP_WORDS": line,
        "COMP_CWORD": str(len(line.split()) - 1),
    }
    command = [sys.executable, "-m", "throwcount.caller"]
    done = subprocess.run(command, env=environment, check=True, capture_output=True, text=True)
    assert done.stdout.splitlines() == [f"plain,{completed}"]
