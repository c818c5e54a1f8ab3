"""How the program's English is put in another language."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from throwcount.engine.numbers import spoken
from throwcount.engine.scheduling.calls import IN_ENGLISH, NUMBER, SLOT, STOCK_PHRASES
from throwcount.sounds.errors import UnknownWordError
from throwcount.sounds.voices.languages import PLAIN_ENGLISH, phrasebook, translations

TABLES = translations()
GERMAN = phrasebook("de", {}, ["halten", "hold it", "rest", "Rubin"])


@pytest.mark.parametrize("language", TABLES)
def test_a_table_has_every_phrase_and_every_number_its_place(language: str) -> None:
    table = TABLES[language]
    assert set(table) == set(STOCK_PHRASES)
    for name, phrase in table.items():
        assert phrase.split().count(NUMBER) == name.split("-").count(SLOT), name
        assert phrase == phrase.strip() != ""
        assert phrase.isprintable()


@pytest.mark.parametrize("language", TABLES)
def test_no_two_phrases_of_a_language_are_the_same(language: str) -> None:
    assert len(set(TABLES[language].values())) == len(STOCK_PHRASES)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        # The count.
        ("five", "5"),
        ("zero", "0"),
        ("thirty five", "35"),
        ("stop", "stopp"),
        ("last one", "letzte Runde"),
        ("right", "rechts"),
        ("both", "beide"),
        ("double three", "doppelt 3"),
        ("triple three", "dreifach 3"),
        ("three one", "3 1"),
        ("double hold it", "doppelt hold it"),
        ("halten", "halten"),
        ("Rubin A", "Rubin A"),
        ("A B", "A B"),
        ("one hundred thirty", "130"),
        ("flash", "Flash"),
        # Announcements and rests.
        (
            "five three one, tempo one hundred fifty, right hand first",
            "5 3 1, Tempo 150, rechte Hand zuerst",
        ),
        (
            "hold it double three, tempo sixty, right two, left one, left hand first",
            "hold it doppelt 3, Tempo 60, rechts 2, links 1, linke Hand zuerst",
        ),
        ("pattern twelve beats, tempo ninety", "Muster mit 12 Schlägen, Tempo 90"),
        ("thirty seconds", "30 Sekunden"),
        # Cue calls.
        ("next five one", "gleich 5 1"),
        ("next five one, pick up two", "gleich 5 1, 2 dazu"),
        ("next halten one, one down", "gleich halten 1, 1 weglegen"),
        ("next pattern twelve beats", "gleich Muster mit 12 Schlägen"),
        ("next the long way, under the leg", "gleich the long way, under the leg"),
        ("next next", "gleich gleich"),
        # Own words win over the program's.
        ("rest", "rest"),
        # Other people's texts.
        ("Kaskade", "Kaskade"),
        ("Five", "Five"),
        ("stop it", "stop it"),
        ("five clubs, stop", "five clubs, stopp"),
        ("in 4 beats: 51", "in 4 beats: 51"),
        ("531 to 51", "531 to 51"),
        ("", ""),
    ],
)
def test_what_is_known_is_translated_and_the_rest_is_left(text: str, said: str) -> None:
    assert GERMAN.said(text) == said


@pytest.mark.parametrize("tag", ["de", "DE", "de-at", "de_CH"])
def test_a_region_has_the_words_of_its_language(tag: str) -> None:
    book = phrasebook(tag, {})
    assert book.said("last one") == "letzte Runde"
    assert book.language == tag.lower().replace("_", "-")


@pytest.mark.parametrize("language", TABLES)
@given(number=st.integers(0, 999_999))
def test_numbers_are_digits_in_every_language(language: str, number: int) -> None:
    assert phrasebook(language, {}).said(spoken(number)) == str(number)


def test_a_person_s_own_phrases_take_the_place_of_those_in_the_table() -> None:
    book = phrasebook("de", {"stop": "halt", "n-seconds": "noch N Sekunden"})
    assert book.said("stop") == "halt"
    assert book.said("ten seconds") == "noch 10 Sekunden"
    assert book.said("rest") == "Pause"


def test_without_a_table_numbers_and_own_words_are_said() -> None:
    book = phrasebook("eo", {"stop": "haltu"}, ["teni"])
    assert book.said("five teni three") == "5 teni 3"
    assert book.said("stop") == "haltu"
    assert book.said("kaskado") == "kaskado"


@pytest.mark.parametrize(
    ("text", "unknown"),
    [
        ("rest", "rest"),
        ("five, tempo ninety", "tempo N"),
        ("double three", "double"),
        ("next kaskado", "next"),
        ("ten seconds", "N seconds"),
    ],
)
def test_without_a_table_the_program_s_words_are_refused(text: str, unknown: str) -> None:
    with pytest.raises(UnknownWordError) as refused:
        phrasebook("eo", {}).said(text)
    assert str(refused.value) == (
        f"There is no translation of “{unknown}” into eo; you can give a phrase of your own for it."
    )


@pytest.mark.parametrize("language", [None, "en", "en-gb", "en_US"])
def test_plain_english_is_left_as_it_is(language: str | None) -> None:
    assert phrasebook(language, {}, ["hold"]).changes_nothing
    assert PLAIN_ENGLISH.changes_nothing


@pytest.mark.parametrize("name", STOCK_PHRASES)
def test_in_english_only_what_a_person_chose_is_said_otherwise(name: str) -> None:
    text = IN_ENGLISH[name].replace(NUMBER, "one hundred fifty")
    assert phrasebook("en", {"x": "y"}).said(text) == text
    chosen = phrasebook("en", {name: f"well {NUMBER} then"})
    assert not chosen.changes_nothing
    number = "one hundred fifty" if SLOT in name.split("-") else ""
    assert chosen.said(f"five, {text}").split() == f"five, well {number} then".split()
