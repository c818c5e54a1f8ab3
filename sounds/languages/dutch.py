"""The program's own words in Dutch."""

from typing import Final

DUTCH: Final = {
    "stop": "stop",
    "last-one": "laatste ronde",
    "both": "beide",
    "right": "rechts",
    "left": "links",
    "double": "dubbel",
    "triple": "driedubbel",
    "flash": "flash",
    "qualified": "gekwalificeerd",
    "tempo-n": "tempo N",
    "right-hand-first": "rechterhand eerst",
    "left-hand-first": "linkerhand eerst",
    "pattern-n-beats": "patroon van N tellen",
    "rest": "pauze",
    "n-seconds": "N seconden",
    "next": "straks",
    "pick-up-n": "N erbij",
    "n-down": "N eraf",
}
