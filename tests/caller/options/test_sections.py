"""Help in sections: every option has its place, and the everyday ones come first."""

import click
import pytest
from click.shell_completion import BashComplete
from click.testing import CliRunner

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.commands.listen import listen_command as listen
from throwcount.caller.commands.listen_live import live
from throwcount.caller.commands.plan import plan_command as plan
from throwcount.caller.commands.play import play_command as play
from throwcount.caller.commands.render import render_command as render
from throwcount.caller.main import throwcount
from throwcount.caller.options.sections import ALWAYS, SECTIONS, SectionedCommand
from throwcount.sounds.files.audio_files import FORMATS

COMMANDS = {
    "play": play,
    "render": render,
    "listen": listen,
    "listen --live": live,
    "plan": plan,
}
DOZEN = 13
"""Everyday options, at most."""


def options(command: click.Command) -> list[click.Option]:
    """Return the options that a help may show."""
    params = command.get_params(click.Context(command, **HELP_OPTIONS))
    return [param for param in params if isinstance(param, click.Option) and not param.hidden]


def shown(page: str) -> set[str]:
    """Return the options that a page lists, each by its first name, without the examples."""
    lines = page.partition("Examples:")[0].splitlines()
    return {
        line.split()[0].rstrip(",").partition("/")[0] for line in lines if line.startswith("  -")
    }


def page(name: str, option: str, width: int = 80) -> str:
    environment = {"NO_COLOR": "1"}
    line = [*name.split(), option]
    result = CliRunner().invoke(throwcount, line, env=environment, terminal_width=width)
    assert (result.exit_code, result.stderr) == (0, "")
    return result.stdout


@pytest.mark.parametrize("command", COMMANDS.values(), ids=COMMANDS)
def test_every_option_stands_in_one_section(command: SectionedCommand) -> None:
    placed = [name for names in SECTIONS.values() for name in names.split()]
    assert len(placed) == len(set(placed))
    for option in options(command):
        assert len([name for name in option.opts if name in placed]) == 1, option.opts


def test_every_place_belongs_to_an_option() -> None:
    known = {name for command in COMMANDS.values() for option in options(command)
             for name in option.opts}  # fmt: skip
    assert {name for names in SECTIONS.values() for name in names.split()} <= known


@pytest.mark.parametrize("command", COMMANDS.values(), ids=COMMANDS)
def test_the_everyday_options_are_a_dozen(command: SectionedCommand) -> None:
    names = {name for option in options(command) for name in option.opts}
    assert command.everyday <= names
    assert len(command.everyday) <= DOZEN < len(options(command))


@pytest.mark.parametrize("name", COMMANDS)
def test_the_short_help_has_the_everyday_options_and_names_the_long_one(name: str) -> None:
    listed = shown(page(name, "--help"))
    assert listed == COMMANDS[name].everyday | {"-h", "--help-all"}


@pytest.mark.parametrize("name", COMMANDS)
def test_the_long_help_has_every_option_in_the_order_of_the_sections(name: str) -> None:
    long = page(name, "--help-all")
    assert shown(long) == {option.opts[0] for option in options(COMMANDS[name])}
    sections = [line[:-1] for line in long.splitlines() if line[:-1] in SECTIONS]
    assert sections == [title for title in SECTIONS if title in sections]


@pytest.mark.parametrize("name", COMMANDS)
@pytest.mark.parametrize("option", ["--help", "--help-all"])
@pytest.mark.parametrize("width", [50, 64, 200])
def test_a_narrow_terminal_cuts_nothing(name: str, option: str, width: int) -> None:
    told = page(name, option, width)
    assert "".join(told.split()) == "".join(page(name, option).split())
    for line in told.partition("Examples:")[0].splitlines():
        assert len(line) <= width or len(line.split()) == 2, "more than an option and its values"
    assert "\x1b" not in told


def test_the_options_of_a_section_are_told_in_one_column() -> None:
    long = page("play", "--help-all").splitlines()
    for option, told in (("--tempo BPM", "Set the tempo"), ("--settings FILE", "Take your")):
        line = next(line for line in long if line.startswith(f"  {option} "))
        assert line.index(told) == long[long.index("Start:") + 1].index("Begin")


def test_a_command_without_everyday_options_has_one_help() -> None:
    @click.command(cls=SectionedCommand)
    @click.option("--tempo", help="Beats a minute.")
    def command(tempo: str | None) -> None:
        """Do something."""

    result = CliRunner().invoke(command, ["--help"])
    assert "Options:\n  --tempo" in result.stdout
    assert "--help-all" not in result.stdout
    assert CliRunner().invoke(command, ["--help-all"]).exit_code == 2


@pytest.mark.parametrize("name", ["play", "render", "listen", "plan"])
def test_the_shell_completes_options_that_the_short_help_leaves_out(name: str) -> None:
    found = BashComplete(throwcount, {}, "throwcount", "_C").get_completions([name], "--")
    names = {item.value for item in found}
    assert {"--settings", "--help-all", "--language"} <= names
    assert "--output" in names or name in {"render", "listen"}


def test_the_help_of_render_names_every_format() -> None:
    assert f"{', '.join(FORMATS)}." in " ".join(page("render", "--help").split())


def test_help_is_always_in_the_short_help() -> None:
    assert set(SECTIONS["Settings and help"].split()) > ALWAYS
