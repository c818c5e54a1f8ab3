"""Help in sections: the everyday options with ``--help``, every option with ``--help-all``."""

from collections.abc import Iterable, Iterator
from inspect import cleandoc
from typing import Any, Final

import click

SECTIONS: Final = {
    "What was thrown": "--pattern --routine --against --call",
    "Listening": "--live --input --headphones --mark-drops --take",
    "Beats of music": "--tap --estimate --beats-file --two-taps --audition",
    "What is written": (
        "-o --new --new-session --events --midi --captions --page --page-sound --picture --sheet "
        "--csv --json --force"
    ),
    "Tempo and length": "--tempo --to --curve --step --every --cycles --beats --seconds --percent",
    "Start": "--from --until --first --ready --count-in --announce",
    "What is called": (
        "--say --letters --word --names --lead --fade --cues --milestones --stop-word --language "
        "--phrase"
    ),
    "What is heard": (
        "--clicks --fade-clicks --tune --voice --hall --voice-level --click-level --rate"
    ),
    "Sets, attempts and rests": (
        "--sets --attempts --goal --goal-times --on-drop --rest --wait --rounds --round-rest "
        "--speak-rests --raise --back --staircase --clean-sets --unmarked --until-clean --resume"
    ),
    "While it plays": "--output --one-pedal --key --latency --speaker-delay",
    "Hands and room": "--ceiling --hands --dwell",
    "Practice log": "--keep --props --log",
    "Settings and help": "--settings --help --help-all",
}
"""The sections and their options, in the order in which help shows them."""

ALWAYS: Final = frozenset({"--help", "--help-all"})
EVERY: Final = f"{__name__}.every"
"""The key in a context's `meta` that is set while help shows every option."""

SHORT: Final = 2
"""Paragraphs of a command's text that ``--help`` shows: its summary and one more."""

WIDEST: Final = 30
"""Columns for the names of options; a longer name stands on a line of its own."""


class SectionedCommand(click.Command):
    """A command whose short help shows its everyday options, and its long help all, in sections.

    `everyday` names the options that ``--help`` shows, such as ``--tempo``. Without any, the
    command has one help with all of its options, and no ``--help-all``.
    """

    def __init__(
        self,
        *args: Any,  # noqa: ANN401 - as in click
        everyday: Iterable[str] = (),
        **attributes: Any,  # noqa: ANN401 - as in click
    ) -> None:
        super().__init__(*args, **attributes)
        self.everyday = frozenset(everyday)
        if self.everyday:
            self.params.append(_help_all())

    def format_help_text(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write what the command does; the short help has only the first paragraphs."""
        paragraphs = cleandoc(self.help or "").split("\n\n")
        shown = paragraphs if self._shows_all(ctx) else paragraphs[:SHORT]
        formatter.write_paragraph()
        with formatter.indentation():
            formatter.write_text("\n\n".join(shown))

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the options of each section under its name."""
        if not self.everyday:
            super().format_options(ctx, formatter)
            return
        sections = {title: list(rows) for title, rows in self._sections(ctx)}
        names = [len(name) for rows in sections.values() for name, _ in rows]
        width = max(length for length in names if length <= WIDEST)
        for title, rows in sections.items():
            if rows:
                with formatter.section(title):
                    formatter.write_dl([(name.ljust(width), text) for name, text in rows], width)

    def _sections(self, ctx: click.Context) -> Iterator[tuple[str, Iterator[tuple[str, str]]]]:
        """Yield the name of each section with the rows of those of its options that are shown."""
        params = {name: param for param in self.get_params(ctx) for name in param.opts}
        shown = params.keys() if self._shows_all(ctx) else self.everyday | ALWAYS
        for title, names in SECTIONS.items():
            found = (params[name] for name in names.split() if name in params and name in shown)
            yield title, (row for param in found if (row := param.get_help_record(ctx)))

    def _shows_all(self, ctx: click.Context) -> bool:
        return not self.everyday or EVERY in ctx.meta


def _help_all() -> click.Option:
    """Return the option that shows the long help."""

    def show(ctx: click.Context, _param: click.Parameter, asked: bool) -> None:
        if asked and not ctx.resilient_parsing:
            ctx.meta[EVERY] = True
            click.echo(ctx.get_help(), color=ctx.color)
            ctx.exit()

    return click.Option(
        ["--help-all"],
        is_flag=True,
        is_eager=True,
        expose_value=False,
        callback=show,
        help="Show every option and exit.",
    )
