"""From the program's English to what a voice of another language is asked to say.

A text is taken apart at its commas, and each piece into the longest phrases, numbers and own words
that it is made of. A piece that holds anything else is somebody's own text, and is left as it is.

Which languages have a table.

The program's own words in Czech.

The program's own words in Danish.

The program's own words in Dutch.

The program's own words in Finnish.

The program's own words in French.

The program's own words in German.

The program's own words in Italian.

The program's own words in Norwegian.

The program's own words in Polish.

The program's own words in Portuguese.

The program's own words in Spanish.

The program's own words in Swedish.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from throwcount.engine.numbers import read_number
from throwcount.engine.scheduling.calls import IN_ENGLISH, NEXT, NUMBER, SLOT, STOCK_PHRASES
from throwcount.sounds.errors import UnknownWordError

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


DUTCH: Final = {
    "stop": "stop",
    "last-one": "laatste ronde",
    "both": "beide",
    "right": "rechts",
    "left": "links",
    "double": "dubbel",
    "triple": "driedubbel",
    "flash": "flash",
    "qualified": "gekwalificeerd",
    "tempo-n": "tempo N",
    "right-hand-first": "rechterhand eerst",
    "left-hand-first": "linkerhand eerst",
    "pattern-n-beats": "patroon van N tellen",
    "rest": "pauze",
    "n-seconds": "N seconden",
    "next": "straks",
    "pick-up-n": "N erbij",
    "n-down": "N eraf",
}


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


FRENCH: Final = {
    "stop": "stop",
    "last-one": "dernier tour",
    "both": "les deux",
    "right": "droite",
    "left": "gauche",
    "double": "double",
    "triple": "triple",
    "flash": "flash",
    "qualified": "qualifié",
    "tempo-n": "tempo N",
    "right-hand-first": "main droite d'abord",
    "left-hand-first": "main gauche d'abord",
    "pattern-n-beats": "motif de N temps",
    "rest": "pause",
    "n-seconds": "N secondes",
    "next": "ensuite",
    "pick-up-n": "N de plus",
    "n-down": "N de moins",
}


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


TABLES: Final[Mapping[str, Mapping[str, str]]] = {
    "cs": CZECH,
    "da": DANISH,
    "de": GERMAN,
    "es": SPANISH,
    "fi": FINNISH,
    "fr": FRENCH,
    "it": ITALIAN,
    "nb": NORWEGIAN,
    "nl": DUTCH,
    "no": NORWEGIAN,
    "pl": POLISH,
    "pt": PORTUGUESE,
    "sv": SWEDISH,
}
"""Translations of `throwcount.engine.scheduling.calls.STOCK_PHRASES` by language, without its
region."""


ENGLISH: Final = "en"

WORDS: Final = sorted((name.split("-") for name in STOCK_PHRASES), key=len, reverse=True)
"""The words of each stock phrase, those of most words first."""


@dataclass(frozen=True, slots=True)
class PhrasePart:
    """A part of what is said."""

    words: int
    """How many English words it is."""
    text: str
    """How a number or an own word is said; in a stock phrase, the number in it."""
    phrase: str = ""
    """The name of a stock phrase; empty for anything else."""


@dataclass(frozen=True, slots=True)
class Phrasebook:
    """How the program speaks a language; as it is made, it speaks plain English."""

    language: str = ENGLISH
    """A lower-case tag, such as ``de`` or ``pt-br``."""
    phrases: Mapping[str, str] = field(default_factory=lambda: IN_ENGLISH)
    """What is said for each of `STOCK_PHRASES` by name, "N" for the number in it."""
    own: frozenset[str] = frozenset()
    """The juggler's own words, which are said as they are."""

    @property
    def in_english(self) -> bool:
        """Whether it is English, of whatever region."""
        return without_region(self.language) == ENGLISH

    @property
    def changes_nothing(self) -> bool:
        """Whether every text is said as it is."""
        return self.in_english and self.phrases == IN_ENGLISH

    def said(self, text: str) -> str:
        """Return what a voice of the language is asked for in place of an English `text`.

        Raises
        ------
        UnknownWordError
            If it is not known how to say one of the stock phrases in it.
        """
        return ", ".join(self._piece(piece.split()) for piece in text.split(","))

    def _piece(self, words: Sequence[str]) -> str:
        """Return how the words between two commas are said."""
        parts = self._parts(words)
        if parts is not None:
            return " ".join(map(self._part, parts))
        if words[0] == NEXT:
            return f"{self._part(PhrasePart(1, '', NEXT))} {self._piece(words[1:])}"
        return " ".join(words)

    def _parts(self, words: Sequence[str]) -> list[PhrasePart] | None:
        """Take a row of words apart; None if somebody else's words are among them."""
        parts = []
        while words:
            part = self._own_word(words) or self._stock_phrase(words) or self._number(words)
            if part is None:
                return None
            parts.append(part)
            words = words[part.words :]
        return parts

    def _own_word(self, words: Sequence[str]) -> PhrasePart | None:
        """Return the longest own word that a row of words opens with."""
        openings = (" ".join(words[:length]) for length in range(len(words), 0, -1))
        longest = next((opening for opening in openings if opening in self.own), None)
        return None if longest is None else PhrasePart(len(longest.split()), longest)

    def _stock_phrase(self, words: Sequence[str]) -> PhrasePart | None:
        """Return the longest stock phrase that a row of words opens with."""
        found = (self._matched(phrase, words) for phrase in WORDS)
        return next(filter(None, found), None)

    def _matched(self, phrase: Sequence[str], words: Sequence[str]) -> PhrasePart | None:
        """Return a stock phrase if a row of words opens with it."""
        used, number = 0, ""
        for word in phrase:
            found = self._number(words[used:]) if word == SLOT else None
            if found is not None:
                used, number = used + found.words, found.text
            elif word != SLOT and words[used : used + 1] == [word]:
                used += 1
            else:
                return None
        return PhrasePart(used, number, "-".join(phrase))

    def _number(self, words: Sequence[str]) -> PhrasePart | None:
        """Return the number, or the single letter, that a row of words opens with."""
        number, used = read_number(words)
        if used:
            return PhrasePart(used, " ".join(words[:used]) if self.in_english else str(number))
        return PhrasePart(1, words[0]) if words and len(words[0]) == 1 else None

    def _part(self, part: PhrasePart) -> str:
        if not part.phrase:
            return part.text
        if part.phrase not in self.phrases:
            raise UnknownWordError(
                f"It is not known here what “{IN_ENGLISH[part.phrase]}” is in {self.language}; you "
                "can give a phrase of your own for it."
            )
        words = self.phrases[part.phrase].split()
        return " ".join(part.text if word == NUMBER else word for word in words)


PLAIN_ENGLISH: Final = Phrasebook()


def phrasebook(
    language: str | None, phrases: Mapping[str, str], own: Iterable[str] = ()
) -> Phrasebook:
    """Return how the program speaks a language.

    `language` is a tag such as ``de`` or ``pt_BR``; None for English. `phrases` are a person's own,
    which take the place of those in the language's table. `own` holds the juggler's own words for
    values and objects.
    """
    tag = (language or ENGLISH).lower().replace("_", "-")
    base = without_region(tag)
    table = IN_ENGLISH if base == ENGLISH else TABLES.get(base, {})
    return Phrasebook(tag, {**table, **phrases}, frozenset(own))


def without_region(language: str) -> str:
    """Return the language of a tag: ``pt`` of ``pt-br``."""
    return language.partition("-")[0]
