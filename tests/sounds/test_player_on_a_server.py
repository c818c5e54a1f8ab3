"""The real player, through PortAudio and a sound server in software: nothing is lost or added."""

import subprocess
import sys
from pathlib import Path

import numpy as np
from handmade import ToneVoice, beats, timeline
from sound_server import RATE, SoundServer, recorded

from sounds.audio_file import as_int16
from sounds.score import mix

ROOT = Path(__file__).parents[2]
HELPERS = Path(__file__).parents[1] / "helpers"
SECONDS = 10.0
LIMIT = 60.0

# In a process of its own: PortAudio looks at what there is only once.
PLAY = f"""
import sys
sys.path.insert(0, {str(HELPERS)!r})
from handmade import ToneVoice, beats, timeline
from sounds.player import playing
from sounds.score import mix

line = timeline(lambda: beats(170, None), {SECONDS})
heard = []
with playing(mix(line, ToneVoice(), {RATE}), {RATE}) as player:
    while not player.wait(0.1):
        heard.append(player.heard())
assert heard == sorted(heard), "the position went back"
print(player.underflows, heard[-1])
"""


def run(code: str, server: SoundServer) -> str:
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=server.environment,
        capture_output=True, text=True, timeout=LIMIT, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout


def test_what_is_played_is_what_is_mixed(sound_server: SoundServer) -> None:
    with sound_server.recording() as path:
        underflows, last = map(int, run(PLAY, sound_server).split())
    frames = round(SECONDS * RATE)
    mixed = as_int16(
        mix(timeline(lambda: beats(170, None), SECONDS), ToneVoice(), RATE).read(frames)
    )
    played = recorded(path)
    start = first_sound(played) - first_sound(mixed)
    assert underflows == 0
    assert np.array_equal(played[start : start + frames], mixed)
    assert not played[start + frames :].any()
    assert frames - 0.2 * RATE < last <= frames


def first_sound(samples: np.ndarray) -> int:
    return int(np.flatnonzero(samples.any(axis=1))[0])


def test_the_server_is_found_as_the_default_output(sound_server: SoundServer) -> None:
    code = "from sounds.devices import outputs; print(*(o.name for o in outputs() if o.is_default))"
    assert run(code, sound_server).strip() == "default"
