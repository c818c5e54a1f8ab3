"""Several voices as one: what the first cannot say, the next one says."""

from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from types import MappingProxyType

from sounds.errors import SoundError
from sounds.voices.clip import Clip
from sounds.voices.voice import Voice


class FallbackVoice:
    """A row of voices; satisfies `sounds.voices.voice.CallingVoice`.

    Whatever goes wrong with a voice is a reason to ask the next one, so that the beat never
    stops for want of a word.

    Parameters
    ----------
    voices
        In the order in which they are asked, at least one, all at one rate.
    last_resort
        Says anything at all, but not in words; at the same rate.
    remarks
        What there is to know of them before anything is said, in sentences.
    stand_ins
        Open the voices that come after those, each when there is first something to ask it.

    Raises
    ------
    ValueError
        If the rates differ; of a stand-in, when it is opened.
    """

    def __init__(
        self,
        voices: Iterable[Voice],
        last_resort: Voice,
        remarks: Iterable[str] = (),
        stand_ins: Iterable[Callable[[], Voice]] = (),
    ) -> None:
        self._last_resort = last_resort
        self._voices: list[Voice] = []
        for voice in voices:
            self._add(voice)
        self._unopened = deque(stand_ins)
        self._remarks = tuple(remarks)
        self._clips: dict[str, Sequence[Clip]] = {}
        self._missing: dict[str, str] = {}
        self._borrowed: dict[str, str] = {}

    @property
    def name(self) -> str:
        """What a person calls the first voice."""
        return self._voices[0].name

    @property
    def rate(self) -> int:
        """Frames a second of every clip."""
        return self._last_resort.rate

    @property
    def remarks(self) -> tuple[str, ...]:
        """What there is to know of these voices before anything is said, in sentences."""
        return self._remarks

    @property
    def missing(self) -> Mapping[str, str]:
        """The texts asked for so far that no voice could say, each with a sentence that says why.

        The last resort stands in for them. The sentence is that of the last voice asked.
        """
        return MappingProxyType(self._missing)

    @property
    def borrowed(self) -> Mapping[str, str]:
        """The texts asked for so far that another voice than the first says.

        Each with a sentence that says why the first could not.
        """
        return MappingProxyType(self._borrowed)

    def prepare(self, texts: Iterable[str]) -> None:
        """Get ready to say `texts`: each voice is handed at once all that those before it lack."""
        new = [text for text in dict.fromkeys(texts) if text not in self._clips]
        reasons: dict[str, list[str]] = {text: [] for text in new}
        row = self._in_turn()
        while (left := [text for text in new if text not in self._clips]) and (
            voice := next(row, None)
        ):
            self._ask(voice, left, reasons)
        for text in new:
            if text not in self._clips:
                self._clips[text] = self._last_resort.clips(text)
                self._missing[text] = reasons[text][-1]
            elif reasons[text]:
                self._borrowed[text] = reasons[text][0]

    def _add(self, voice: Voice) -> None:
        if voice.rate != self.rate:
            rates = {voice.rate, self.rate}
            raise ValueError(f"Voices that stand in for each other are at one rate, not {rates}.")
        self._voices.append(voice)

    def _in_turn(self) -> Iterator[Voice]:
        """Yield every voice, opening those that were not yet needed."""
        yield from self._voices
        while self._unopened:
            self._add(self._unopened.popleft()())
            yield self._voices[-1]

    def _ask(self, voice: Voice, texts: Sequence[str], reasons: dict[str, list[str]]) -> None:
        """Have a voice say what it can of `texts`, and note why it cannot say the others."""
        with suppress(SoundError):  # what failed says why when its own turn comes
            voice.prepare(texts)
        for text in texts:
            try:
                self._clips[text] = voice.clips(text)
            except SoundError as error:
                reasons[text].append(str(error))

    def clips(self, text: str) -> Sequence[Clip]:
        """Return `text` at every pace of the first voice that can say it, the slowest first."""
        if text not in self._clips:
            self.prepare([text])
        return self._clips[text]
