"""The program's own words in Swedish."""

from typing import Final

SWEDISH: Final = {
    "stop": "stopp",
    "last-one": "sista varvet",
    "both": "båda",
    "right": "höger",
    "left": "vänster",
    "double": "dubbel",
    "triple": "trippel",
    "flash": "flash",
    "qualified": "kvalificerat",
    "tempo-n": "tempo N",
    "right-hand-first": "höger hand först",
    "left-hand-first": "vänster hand först",
    "pattern-n-beats": "mönster på N slag",
    "rest": "paus",
    "n-seconds": "N sekunder",
    "next": "sedan",
    "pick-up-n": "N till",
    "n-down": "N bort",
}
