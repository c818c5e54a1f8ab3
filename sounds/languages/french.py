"""The program's own words in French."""

from typing import Final

FRENCH: Final = {
    "stop": "stop",
    "last-one": "dernier tour",
    "both": "les deux",
    "right": "droite",
    "left": "gauche",
    "double": "double",
    "triple": "triple",
    "flash": "flash",
    "qualified": "qualifié",
    "tempo-n": "tempo N",
    "right-hand-first": "main droite d'abord",
    "left-hand-first": "main gauche d'abord",
    "pattern-n-beats": "motif de N temps",
    "rest": "pause",
    "n-seconds": "N secondes",
    "next": "ensuite",
    "pick-up-n": "N de plus",
    "n-down": "N de moins",
}
