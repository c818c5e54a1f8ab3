"""The program's own words in Italian."""

from typing import Final

ITALIAN: Final = {
    "stop": "stop",
    "last-one": "ultimo giro",
    "both": "entrambe",
    "right": "destra",
    "left": "sinistra",
    "double": "doppio",
    "triple": "triplo",
    "flash": "flash",
    "qualified": "qualificato",
    "tempo-n": "tempo N",
    "right-hand-first": "prima la mano destra",
    "left-hand-first": "prima la mano sinistra",
    "pattern-n-beats": "schema di N tempi",
    "rest": "pausa",
    "n-seconds": "N secondi",
    "next": "poi",
    "pick-up-n": "N in più",
    "n-down": "N in meno",
}
