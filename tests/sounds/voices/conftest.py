"""The speech engine of this machine, for tests of what it says."""

from collections.abc import Callable

import pytest

from throwcount.sounds.errors import VoiceError
from throwcount.sounds.voices.system_voice import SpeechEngine, find_engine


@pytest.fixture(scope="package")
def engine(require: Callable[[object, str], None]) -> SpeechEngine:
    """Give espeak-ng; skip where the system's engine is another, or there is none."""
    try:
        found = find_engine()
    except VoiceError as error:
        require(None, str(error))
        raise
    require(found.name == "espeak", f"The engine here is {found.name}, not espeak-ng")
    return found
