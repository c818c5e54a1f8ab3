"""The program's own words in Finnish."""

from typing import Final

FINNISH: Final = {
    "stop": "seis",
    "last-one": "viimeinen kierros",
    "both": "molemmat",
    "right": "oikea",
    "left": "vasen",
    "double": "tupla",
    "triple": "tripla",
    "flash": "flash",
    "qualified": "suoritettu",
    "tempo-n": "tempo N",
    "right-hand-first": "oikea käsi ensin",
    "left-hand-first": "vasen käsi ensin",
    "pattern-n-beats": "kuvio, N iskua",
    "rest": "tauko",
    "n-seconds": "N sekuntia",
    "next": "seuraavaksi",
    "pick-up-n": "N lisää",
    "n-down": "N pois",
}
