"""A voice that is asked in English and says it in its own language."""

from collections.abc import Iterable, Sequence

import pytest
from handmade import RATE, tone

from throwcount.sounds.errors import UnknownWordError
from throwcount.sounds.samples import Clip
from throwcount.sounds.voices.languages import phrasebook
from throwcount.sounds.voices.open_voice import TranslatedVoice


class Heard:
    """Says a few texts, and keeps what it is asked for."""

    name = "Otto"
    rate = RATE

    def __init__(self, *texts: str) -> None:
        self.said = {text: [tone(1000 + 10 * number)] for number, text in enumerate(texts)}
        self.prepared: list[str] = []

    def prepare(self, texts: Iterable[str]) -> None:
        self.prepared += texts

    def clips(self, text: str) -> Sequence[Clip]:
        if text not in self.said:
            raise UnknownWordError(f"No {text}.")
        return self.said[text]


def test_the_voice_is_asked_in_its_language() -> None:
    heard = Heard("5", "stopp")
    voice = TranslatedVoice(heard, phrasebook("de", {}))
    assert (voice.name, voice.rate) == ("Otto", RATE)
    assert voice.clips("five") is heard.said["5"]
    assert voice.clips("stop") is heard.said["stopp"]


def test_all_that_has_a_translation_is_prepared_at_once() -> None:
    heard = Heard()
    TranslatedVoice(heard, phrasebook("eo", {})).prepare(["five", "stop", "one hundred", "saluton"])
    assert heard.prepared == ["5", "100", "saluton"]


@pytest.mark.parametrize(
    ("language", "text", "told"),
    [("eo", "stop", "no translation of “stop” into eo"), ("de", "stop", "No stopp.")],
)
def test_what_cannot_be_said_is_told_with_its_reason(language: str, text: str, told: str) -> None:
    with pytest.raises(UnknownWordError, match=told):
        TranslatedVoice(Heard(), phrasebook(language, {})).clips(text)
