"""`throwcount voices`: the voices that can call the beats."""

from dataclasses import asdict
from typing import Final

import click

from throwcount.caller.commands import HELP_OPTIONS
from throwcount.caller.options.arguments import json_option, option
from throwcount.caller.terminal.printing import show, show_json, table
from throwcount.sounds.voices.open_voice import VoiceName, voice_names

EPILOG: Final = """\
\b
Examples:
  throwcount voices
  throwcount voices --language en
"""


@click.command("voices", epilog=EPILOG, context_settings=HELP_OPTIONS)
@option(
    "--language TAG",
    str,
    "List only voices of a language, such as en, or of a region, such as en-us.",
)
@json_option
def voices_command(language: str | None, as_json: bool) -> None:
    """List the voices that can call the beats.

    The option --voice takes a name from this list; a folder of recorded words is a voice as well.
    """
    found = [voice for voice in voice_names() if language is None or _speaks(voice, language)]
    if as_json:
        show_json({"voices": list(map(asdict, found))})
        return
    listing = table("voice", "from", "languages", "note")
    for voice in found:
        listing.add_row(voice.name, voice.kind, " ".join(voice.languages), voice.note)
    show(listing if found else f"No voice here says that it speaks {language}.")


def _speaks(voice: VoiceName, language: str) -> bool:
    """Return whether a voice speaks a language, in any region unless one is named."""
    wanted = language.lower().replace("_", "-")
    return any(f"{tag}-".startswith(f"{wanted}-") for tag in voice.languages)
