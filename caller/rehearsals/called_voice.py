"""The voice that a person asked for."""

from caller.options.shared_options import Options
from sounds.languages.phrasebook import phrasebook
from sounds.voices.cue_voice import CueVoice
from sounds.voices.open_voice import open_voice


def called_voice(options: Options, rate: int, cue_voice: str | None = None) -> CueVoice:
    """Return who speaks, in the language that was asked for.

    Parameters
    ----------
    options
        Name the voice, the language, and the person's own phrases and words.
    rate
        Frames a second.
    cue_voice
        Another voice for cue calls, named as voices are; the same if None.

    Raises
    ------
    VoiceError
        If there is no such voice.
    """
    from platformdirs import user_cache_path  # only where a voice is opened

    cache = user_cache_path("throwcount") / "words"
    own = (*options.word.values(), *options.names)
    book = phrasebook(options.language, options.phrase, own)
    calls = open_voice(options.voice, rate, cache, phrasebook=book)
    if cue_voice is None:
        return CueVoice(calls, calls)
    return CueVoice(calls, open_voice(cue_voice, rate, cache, phrasebook=book))
