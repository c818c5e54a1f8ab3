"""The entry point: the command ``throwcount``, whose commands load when they are run."""

from importlib import import_module

import click

from caller.commands import HELP_OPTIONS, SUMMARIES
from caller.errors import OutsideError, told_plainly

EPILOG = """\
\b
Examples:
  throwcount check 531
  throwcount play 531 --tempo 160
  throwcount render 744 -o 744.wav

\b
To complete commands and options with the Tab key, add one line:
  bash, to ~/.bashrc  eval "$(_THROWCOUNT_COMPLETE=bash_source throwcount)"
  zsh, to ~/.zshrc    eval "$(_THROWCOUNT_COMPLETE=zsh_source throwcount)"
  fish, in ~/.config/fish/completions/throwcount.fish
                      _THROWCOUNT_COMPLETE=fish_source throwcount | source
"""


class LazyGroup(click.Group):
    """A group that knows its commands by name and summary, and imports one when it is run."""

    def list_commands(self, _ctx: click.Context) -> list[str]:
        """Return the names in the order of the table."""
        return list(self.commands)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the name, the real command behind it, and the arguments left."""
        name, stub, rest = super().resolve_command(ctx, args)
        if stub is None:
            return name, stub, rest
        command: click.Command = getattr(
            import_module(f"caller.commands.{name}"), f"{name}_command"
        )
        return name, command, rest

    def invoke(self, ctx: click.Context) -> object:
        """Run the command; whatever goes wrong in it becomes a plain sentence and a status."""
        with told_plainly():
            return super().invoke(ctx)


def _show_version(ctx: click.Context, _param: click.Parameter, asked: bool) -> None:
    if not asked or ctx.resilient_parsing:
        return
    from importlib.metadata import (  # slow, and no other option needs it
        PackageNotFoundError,
        version,
    )

    try:
        click.echo(f"throwcount {version('throwcount')}")
    except PackageNotFoundError as error:
        raise OutsideError(
            "The version is known once throwcount is installed; this copy runs from its sources."
        ) from error
    ctx.exit()


@click.group(
    cls=LazyGroup,
    commands={name: click.Command(name, help=text) for name, text in SUMMARIES.items()},
    context_settings=HELP_OPTIONS,
    epilog=EPILOG,
)
@click.option(
    "--version",
    is_flag=True,
    expose_value=False,
    is_eager=True,
    callback=_show_version,
    help="Show the version and exit.",
)
def throwcount() -> None:
    """Hear a juggling pattern: clicks and spoken throws, exactly on the beat.

    A PATTERN is a row of throw values, such as 531 or 744. Pairs thrown together stand in
    brackets, (4,2x)*, and several objects from one hand in square ones, [33]33. Quote both.
    """


def run() -> None:
    """Run ``throwcount`` on the arguments of this process; never returns."""
    throwcount(prog_name="throwcount")
