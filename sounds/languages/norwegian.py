"""The program's own words in Norwegian."""

from typing import Final

NORWEGIAN: Final = {
    "stop": "stopp",
    "last-one": "siste runde",
    "both": "begge",
    "right": "høyre",
    "left": "venstre",
    "double": "dobbel",
    "triple": "trippel",
    "flash": "flash",
    "qualified": "kvalifisert",
    "tempo-n": "tempo N",
    "right-hand-first": "høyre hånd først",
    "left-hand-first": "venstre hånd først",
    "pattern-n-beats": "mønster på N slag",
    "rest": "pause",
    "n-seconds": "N sekunder",
    "next": "deretter",
    "pick-up-n": "N til",
    "n-down": "N bort",
}
