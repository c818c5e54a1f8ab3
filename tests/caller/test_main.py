"""The command as a whole: help, version, completion, and commands that load when run."""

import json
import os
import subprocess
import sys
from importlib import import_module
from importlib.metadata import version
from pathlib import Path

import pytest
from click.testing import CliRunner

from throwcount.caller.commands import SUMMARIES
from throwcount.caller.main import throwcount


@pytest.mark.parametrize("arguments", [["--help"], ["-h"]])
def test_help_lists_every_command_with_its_summary_in_order(arguments: list[str]) -> None:
    result = CliRunner().invoke(throwcount, arguments)
    assert result.exit_code == 0
    places = [result.stdout.index(f"  {name} ") for name in SUMMARIES]
    assert places == sorted(places)
    for summary in SUMMARIES.values():
        assert summary in result.stdout


def test_help_says_how_to_switch_completion_on() -> None:
    output = CliRunner().invoke(throwcount, ["--help"]).stdout
    for shell in ("bash", "zsh", "fish"):
        assert f"_THROWCOUNT_COMPLETE={shell}_source throwcount" in output


@pytest.mark.parametrize("name", SUMMARIES)
def test_each_command_has_the_summary_of_the_table_and_an_example(name: str) -> None:
    command = getattr(import_module(f"throwcount.caller.commands.{name}"), f"{name}_command")
    assert (command.name, command.help.partition("\n\n")[0]) == (name, SUMMARIES[name])
    for option in ("--help", "-h"):
        alone = CliRunner().invoke(command, [option])  # which must not change what comes next
        result = CliRunner().invoke(throwcount, [name, option])
        assert (alone.exit_code, result.exit_code) == (0, 0)
        assert f"  throwcount {name}" in result.stdout.partition("Example")[2]


@pytest.mark.parametrize("arguments", [[], *([name] for name in SUMMARIES)])
def test_help_holds_no_control_characters(arguments: list[str]) -> None:
    output = CliRunner().invoke(throwcount, [*arguments, "--help"]).stdout
    assert [sign for sign in output if not sign.isprintable() and sign != "\n"] == []


def test_version_is_that_of_the_distribution() -> None:
    result = CliRunner().invoke(throwcount, ["--version"])
    assert (result.exit_code, result.stdout) == (0, f"throwcount {version('throwcount')}\n")


@pytest.mark.parametrize(
    ("arguments", "fragment"),
    [
        (["chek"], "Did you mean 'check'"),
        (["check"], "Missing argument 'PATTERN'"),
        (["check", "531", "441"], "unexpected extra argument"),
        (["check", "--jsn", "531"], "No such option '--jsn'"),
        (["check", "531", "--first", "both"], "'both' is not one of"),
        (["heights", "531", "--tempo", "fast"], "'fast' is not a valid"),
        (["heights", "531", "--tempo"], "requires an argument"),
        (["--nothing"], "No such option '--nothing'"),
    ],
)
def test_a_wrong_command_line_ends_with_2(arguments: list[str], fragment: str) -> None:
    result = CliRunner().invoke(throwcount, arguments)
    assert (result.exit_code, result.stdout) == (2, "")
    assert fragment in result.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ["listen", "{}"],
        ["listen", "{}.wav"],
        ["plan", "{}", "--estimate"],
        ["log", "--take-in", "{}"],
        ["render", "531", "-o", "{}/a.wav"],
    ],
)
def test_what_goes_wrong_is_the_one_json_document(arguments: list[str], tmp_path: Path) -> None:
    odd = tmp_path / "odd"
    odd.write_text("neither sound nor a practice", "utf-8")
    words = [word.format(odd) for word in arguments]
    told = CliRunner().invoke(throwcount, words)
    result = CliRunner().invoke(throwcount, [*words, "--json"])
    assert (result.exit_code, result.stderr) == (told.exit_code, "")
    assert json.loads(result.stdout)["message"].split() == told.stderr.split()


def completions(words: str) -> list[str]:
    environment = {
        **os.environ,
        "_THROWCOUNT_COMPLETE": "bash_complete",
        "COMP_WORDS": words,
        "COMP_CWORD": str(len(words.split(" ")) - 1),
    }
    done = subprocess.run(
        [sys.executable, "-m", "throwcount.caller"],
        env=environment,
        check=True,
        capture_output=True,
        text=True,
    )
    return [line.partition(",")[2] for line in done.stdout.splitlines()]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("throwcount ", list(SUMMARIES)),
        ("throwcount ch", ["check"]),
        ("throwcount check --js", ["--json"]),
        ("throwcount check --first ", ["right", "left"]),
        ("throwcount find --show ", ["best", "all", "count"]),
        ("throwcount find --only prime,s", ["prime,symmetric"]),
        ("throwcount find --to", ["--together"]),
    ],
)
def test_the_shell_completes_commands_options_and_values(words: str, expected: list[str]) -> None:
    assert completions(words) == expected
