"""The program's own words in Polish."""

from typing import Final

POLISH: Final = {
    "stop": "stop",
    "last-one": "ostatni raz",
    "both": "obie",
    "right": "prawa",
    "left": "lewa",
    "double": "podwójnie",
    "triple": "potrójnie",
    "flash": "flesz",
    "qualified": "zaliczone",
    "tempo-n": "tempo N",
    "right-hand-first": "najpierw prawa ręka",
    "left-hand-first": "najpierw lewa ręka",
    "pattern-n-beats": "wzór, liczba uderzeń N",
    "rest": "przerwa",
    "n-seconds": "N sekund",
    "next": "zaraz",
    "pick-up-n": "plus N",
    "n-down": "minus N",
}
