"""The program's own words in Spanish."""

from typing import Final

SPANISH: Final = {
    "stop": "para",
    "last-one": "última vuelta",
    "both": "ambas",
    "right": "derecha",
    "left": "izquierda",
    "double": "doble",
    "triple": "triple",
    "flash": "flash",
    "qualified": "calificado",
    "tempo-n": "tempo N",
    "right-hand-first": "primero la mano derecha",
    "left-hand-first": "primero la mano izquierda",
    "pattern-n-beats": "patrón de N tiempos",
    "rest": "descanso",
    "n-seconds": "N segundos",
    "next": "ahora",
    "pick-up-n": "N más",
    "n-down": "N menos",
}
