"""A voice that says the program's English in its own language."""

from collections.abc import Iterable, Sequence
from contextlib import suppress

from sounds.errors import UnknownWordError
from sounds.languages.phrasebook import Phrasebook
from sounds.voices.clip import Clip
from sounds.voices.voice import Voice


class TranslatedVoice:
    """A voice with a phrasebook; satisfies `sounds.voices.voice.Voice`.

    Everybody else goes on in English: the timeline, what is written of it, and the screen.

    `voice` speaks the language of the phrasebook. `phrasebook` is what it is asked to say.
    """

    def __init__(self, voice: Voice, phrasebook: Phrasebook) -> None:
        self._voice = voice
        self._phrasebook = phrasebook

    @property
    def name(self) -> str:
        """What a person calls the voice."""
        return self._voice.name

    @property
    def rate(self) -> int:
        """Frames a second of every clip."""
        return self._voice.rate

    def prepare(self, texts: Iterable[str]) -> None:
        """Have the voice get ready for all of `texts` that can be put in its language."""
        translated = []
        for text in texts:
            with suppress(UnknownWordError):  # told when it is asked for
                translated.append(self._phrasebook.said(text))
        self._voice.prepare(translated)

    def clips(self, text: str) -> Sequence[Clip]:
        """Return an English `text`, said in the voice's language, the slowest pace first.

        Raises
        ------
        UnknownWordError
            If it is not known how to say it in that language, or the voice cannot.
        VoiceError
            If the voice failed.
        """
        return self._voice.clips(self._phrasebook.said(text))
