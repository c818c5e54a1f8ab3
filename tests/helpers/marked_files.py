"""Short sound files with a title and chapters, and how other programs read these."""

import json
import subprocess
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from throwcount.engine.scheduling.scheduler import Chapter
from throwcount.sounds.files.audio_files import WAV_LIMIT, write_audio
from throwcount.sounds.mixing.mixer import Mixer, Placement

RATE = 48_000
FRAMES = 30_001

KINDS = ("wav", "rf64", "flac", "ogg", "mp3")
"""Every kind of file; a WAV file is made an RF64 one by a low limit."""

Told = tuple[float, str]
"""When a chapter begins, and its title, as a reader tells it."""


def write_marked(folder: Path, kind: str, title: str, chapters: Sequence[Chapter]) -> Path:
    """Write noise that is always the same to a new file; return it."""
    ending, limit = ("wav", 0) if kind == "rf64" else (kind, WAV_LIMIT)
    path = folder / f"{kind}-{'marked' if title or chapters else 'plain'}.{ending}"
    noise = np.random.default_rng(531).uniform(-0.3, 0.3, (FRAMES, 2)).astype(np.float32)
    source = Mixer([Placement(0, noise)], FRAMES)
    write_audio(
        path, source, RATE, FRAMES, overwrite=True, wav_limit=limit, title=title, chapters=chapters
    )
    return path


def told_by_ffprobe(path: Path) -> tuple[str, list[Told]]:
    """Return the title and the chapters that ffprobe finds, which must find no fault."""
    asked = ("-v", "warning", "-of", "json", "-show_chapters", "-show_format", "-show_streams")
    done = subprocess.run(["ffprobe", *asked, path], capture_output=True, check=True)
    assert done.stderr == b""
    told = json.loads(done.stdout)
    # A title of an Ogg file belongs to its stream.
    tags = {**told["streams"][0].get("tags", {}), **told["format"].get("tags", {})}
    titles = [value for name, value in tags.items() if name.lower() == "title"]
    chapters = [
        (float(each["start_time"]), each.get("tags", {}).get("title", ""))
        for each in told["chapters"]
    ]
    return "".join(titles), chapters
