"""The program's own words in German."""

from typing import Final

GERMAN: Final = {
    "stop": "stopp",
    "last-one": "letzte Runde",
    "both": "beide",
    "right": "rechts",
    "left": "links",
    "double": "doppelt",
    "triple": "dreifach",
    "flash": "Flash",
    "qualified": "qualifiziert",
    "tempo-n": "Tempo N",
    "right-hand-first": "rechte Hand zuerst",
    "left-hand-first": "linke Hand zuerst",
    "pattern-n-beats": "Muster mit N Schlägen",
    "rest": "Pause",
    "n-seconds": "N Sekunden",
    "next": "gleich",
    "pick-up-n": "N dazu",
    "n-down": "N weglegen",
}
