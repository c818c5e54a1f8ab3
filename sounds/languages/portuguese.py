"""The program's own words in Portuguese."""

from typing import Final

PORTUGUESE: Final = {
    "stop": "para",
    "last-one": "última volta",
    "both": "ambas",
    "right": "direita",
    "left": "esquerda",
    "double": "duplo",
    "triple": "triplo",
    "flash": "flash",
    "qualified": "qualificado",
    "tempo-n": "andamento N",
    "right-hand-first": "primeiro a mão direita",
    "left-hand-first": "primeiro a mão esquerda",
    "pattern-n-beats": "padrão de N tempos",
    "rest": "pausa",
    "n-seconds": "N segundos",
    "next": "a seguir",
    "pick-up-n": "mais N",
    "n-down": "menos N",
}
