"""Words that another process has said: clips by text, and a tone for what is not among them."""

from collections.abc import Iterable, Mapping, Sequence

from sounds.voices.clip import Clip
from sounds.voices.tone_voice import ToneVoice


class ClipBank:
    """A voice made of clips; satisfies `sounds.voices.voice.Voice`.

    `rate` is the frames a second of every clip. `clips` are those of each text, the slowest first.
    """

    name = "clips"

    def __init__(self, rate: int, clips: Mapping[str, Sequence[Clip]] | None = None) -> None:
        self._clips = dict(clips or {})
        self._last_resort = ToneVoice(rate)

    @property
    def rate(self) -> int:
        """Frames a second of every clip."""
        return self._last_resort.rate

    def learn(self, clips: Mapping[str, Sequence[Clip]]) -> None:
        """Take in more clips, or others, by text."""
        self._clips.update(clips)

    def prepare(self, _texts: Iterable[str]) -> None:
        """Do nothing: what is here is ready."""

    def clips(self, text: str) -> Sequence[Clip]:
        """Return the clips of `text`, or a tone, so that the beat goes on without the word."""
        return self._clips.get(text) or self._last_resort.clips(text)
