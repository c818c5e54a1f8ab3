"""The program's own words in Czech."""

from typing import Final

CZECH: Final = {
    "stop": "stop",
    "last-one": "poslední kolo",
    "both": "obě",
    "right": "pravá",
    "left": "levá",
    "double": "dvojitě",
    "triple": "trojitě",
    "flash": "flash",
    "qualified": "splněno",
    "tempo-n": "tempo N",
    "right-hand-first": "nejdřív pravá ruka",
    "left-hand-first": "nejdřív levá ruka",
    "pattern-n-beats": "vzor, počet dob N",
    "rest": "pauza",
    "n-seconds": "N sekund",
    "next": "potom",
    "pick-up-n": "plus N",
    "n-down": "minus N",
}
