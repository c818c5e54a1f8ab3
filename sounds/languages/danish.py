"""The program's own words in Danish."""

from typing import Final

DANISH: Final = {
    "stop": "stop",
    "last-one": "sidste omgang",
    "both": "begge",
    "right": "højre",
    "left": "venstre",
    "double": "dobbelt",
    "triple": "tredobbelt",
    "flash": "flash",
    "qualified": "kvalificeret",
    "tempo-n": "tempo N",
    "right-hand-first": "højre hånd først",
    "left-hand-first": "venstre hånd først",
    "pattern-n-beats": "mønster på N slag",
    "rest": "pause",
    "n-seconds": "N sekunder",
    "next": "derefter",
    "pick-up-n": "N mere",
    "n-down": "N mindre",
}
