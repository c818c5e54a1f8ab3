"""The commands, one module each, and the table that lists them.

The table is all that ``throwcount --help`` needs. The module of a command has the command's name,
holds it as `NAME_command`, and is imported when it is run.
"""

from collections.abc import Mapping
from typing import Final

SUMMARIES: Final[Mapping[str, str]] = {
    "check": "Say whether a pattern can be thrown, and describe it.",
    "heights": "Show how high each throw of a pattern goes at a tempo.",
    "find": "Find patterns by number of objects, height and length.",
    "bridge": "Find the throws that lead from one pattern to another.",
    "states": "Show the states and the throws between them.",
    "leadup": "Lay out the steps to a throw or a pattern.",
    "plan": "Lay out a routine, part by part, or a session, block by block.",
    "play": "Play a pattern, a routine or a session, throw by throw.",
    "render": "Write a pattern or a routine to an audio file.",
    "demo": "Play a rehearsal of about a minute.",
    "log": "Show what was practised.",
    "listen": "Listen to a take, and tell how steady it was.",
    "settings": "Show your own defaults, and where they are kept.",
    "voices": "List the voices that can call the beats.",
    "outputs": "List the sound outputs of this computer.",
}
"""What each command does, in the order in which the help lists them."""

HELP_OPTIONS: Final = {"help_option_names": ["-h", "--help"], "show_default": True}
"""The `context_settings` of the group and of each command: click keeps the first help option that a
command is asked for, which has to be the same however the command is run."""
