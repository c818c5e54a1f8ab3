"""Recorded impacts, steps, voices and music out of Debian packages, each in one part of a bank.

The packages are fetched into a folder with ``apt-get download`` and unpacked with ``dpkg -x``;
nothing is installed. Kits, steps, voices and music of the parts are all different, so that what
was tried on one part says something about the others. Those of the third and fourth were chosen by
the shape of each sound alone, and nothing had listened to them: catches rise within 8 ms, nothing
loud comes before, no second hit follows, and they are 20 dB down within a quarter second. Licences
are those of each package's copyright file; nothing of these packages is in this project but the
clips in `impacts/`, see there.
"""

import fcntl
import os
import subprocess
import zlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final, Literal
from zipfile import ZipFile

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

Signal = npt.NDArray[np.float64]
PartName = Literal["first", "second", "third", "fourth"]

RATE: Final = 24_000
CACHE: Final = Path("/tmp/bank-cache")
"""Where packages, rooms and takes are kept."""

SAID: Final = 12
"""Of the recorded sentences one in so many is used, so that not all are decoded."""

IMPACT_SECONDS: Final = 0.35
LOUDEST_SECONDS: Final = 0.010
ONSET_SHARE: Final = 0.1
"""An impact begins where its sound last passes this share of its peak on the way up."""


@dataclass(frozen=True, slots=True)
class Source:
    """Files of one package.

    Parameters
    ----------
    package
        Of Debian 12.
    licence
        Of these files, by the package's copyright file.
    files
        Patterns within `/usr/share`, or within an archive there.
    archive
        A ZIP file within `/usr/share` that holds the files; none if empty.
    """

    package: str
    licence: str
    files: tuple[str, ...]
    archive: str = ""


_KITS = "hydrogen/data/drumkits"
_OPEN_ARENA = "games/openarena/baseoa/pak0.pk3"
_ALIEN_INVASION = "games/ufoai/base/0snd.pk3"
_LUANTI = "games/minetest/games/minetest_game/mods/default/sounds"
_DRUMS = "lmms/samples/drums"
_HEDGEWARS = "games/hedgewars/Data/Sounds"
_NYX = "games/ardentryst/Sounds/NYX"
_WARMUX = "games/warmux/sound/default"

KITS: Final[dict[PartName, dict[str, Source]]] = {
    "first": {
        "cajon": Source("hydrogen-drumkits", "GPL-2", (f"{_KITS}/Gimme A Hand 1.0/Cajon*.wav",)),
        "claps": Source("hydrogen-drumkits", "GPL-2", (f"{_KITS}/Gimme A Hand 1.0/HandClap*.wav",)),
        "bongo": Source("hydrogen-drumkits", "GPL-2", (f"{_KITS}/Gimme A Hand 1.0/Bongo*.wav",)),
        "toms": Source(
            "hydrogen-drumkits", "GPL-2", (f"{_KITS}/Millo_MultiLayered2/*tom_0*.flac",)
        ),
        "rims": Source("hydrogen-drumkits", "GPL-2", (f"{_KITS}/Millo_MultiLayered2/rim_0*.flac",)),
        "placed": Source(
            "minetest-data",
            "CC-BY-SA-3.0",
            (f"{_LUANTI}/default_place_node*.ogg", f"{_LUANTI}/default_dug_node*.ogg"),
        ),
    },
    "second": {
        "tabla": Source(
            "sonic-pi-samples",
            "CC0",
            tuple(f"sonic-pi/samples/tabla_{stroke}*.flac" for stroke in ("ke", "te", "ghe", "na")),
        ),
        "djembe": Source(
            "hydrogen-drumkits",
            "CC-BY-SA-3.0",
            (f"{_KITS}/circAfrique v4/Djembe*.wav", f"{_KITS}/circAfrique v4/*Head Mute.wav"),
        ),
        "side sticks": Source(
            "hydrogen-drumkits", "GPL-2", (f"{_KITS}/The Black Pearl 1.0/PearlSideStick*.wav",)
        ),
        "drums": Source(
            "hydrogen-drumkits", "GPL-2", (f"{_KITS}/The Black Pearl 1.0/PearlTom*.wav",)
        ),
        "blocks": Source("hydrogen-drumkits", "CC-BY-SA-3.0", (f"{_KITS}/BJA_Pacific/BL_*.aiff",)),
        "bumps": Source("pinball-data", "GPL-2", ("games/pinball/*/bump*.wav",)),
    },
    "third": {
        "snares off": Source(
            "hydrogen-drumkits", "GPL-2", (f"{_KITS}/ForzeeStereo/SnareOff*.wav",)
        ),
        "sticks": Source("hydrogen-drumkits", "GPL-2", (f"{_KITS}/ForzeeStereo/Stick-*.wav",)),
        "agogo": Source("hydrogen-drumkits", "GPL-2", (f"{_KITS}/ForzeeStereo/AgogoLow-*.wav",)),
        "snares": Source("hydrogen-drumkits", "GPL-2", (f"{_KITS}/Millo_MultiLayered3/sd_*.flac",)),
        "piccolo": Source(
            "hydrogen-drumkits",
            "GPL-2+",
            (
                f"{_KITS}/ColomboAcousticDrumkit/snare-*normal*shot[13].flac",
                f"{_KITS}/ColomboAcousticDrumkit/snare-*_shot2.flac",
                f"{_KITS}/ColomboAcousticDrumkit/snare-*rimshot[67].flac",
            ),
        ),
        "rimshots": Source("hydrogen-data", "GPL-2+", (f"{_KITS}/GMRockKit/SnareRimshot*.wav",)),
        "keys": Source("bucklespring-data", "GPL-2+", ("buckle/wav/1[0-9abdef]-1.wav",)),
    },
    "fourth": {
        "percussion": Source(
            "hydrogen-drumkits",
            "CC-BY-3.0",
            tuple(f"{_KITS}/rumpf_kit_z01_h2/beats_01-{of}.flac" for of in (10, 21, 25, 28, 30)),
        ),
        "clacks": Source(
            "hydrogen-drumkits",
            "CC-BY-3.0",
            tuple(
                f"{_KITS}/rumpf_kit_z01_h2/beats_{of}.flac"
                for of in ("06-1[45]", "06-[24]4", "07-10", "08-3[02457]")
            ),
        ),
        "acoustic": Source(
            "lmms-common",
            "GPL-2+",
            tuple(
                f"{_DRUMS}/{of}.ogg"
                for of in (
                    *("clav01", "sidestick01", "snare_acoustic01"),
                    *("snare_muffled02", "snare_rim01", "tom_mid01"),
                )
            ),
        ),
        "set": Source(
            "sonic-pi-samples",
            "CC0",
            tuple(
                f"sonic-pi/samples/drum_{of}.flac" for of in ("snare_*", "cowbell", "cymbal_closed")
            ),
        ),
        "blows": Source(
            "hedgewars-data",
            "GFDL-1.3",
            tuple(
                f"{_HEDGEWARS}/{of}.ogg"
                for of in ("graveimpact", "knife_impact", "mineimpact", "roperelease")
            ),
        ),
        "knocks": Source(
            "planetblupi-common", "GPL-3+", ("planetblupi/sound/en/sound07[4567].wav",)
        ),
        "bounces": Source(
            "warmux-data",
            "GPL-2+",
            (
                f"{_WARMUX}/misc/step.ogg",
                *(
                    f"{_WARMUX}/weapons/{of}.ogg"
                    for of in ("baseball", "grenade_bounce", "ricoche3")
                ),
            ),
        ),
    },
}
"""What stands for catches."""

FLOORS: Final[dict[PartName, Source]] = {
    "first": Source("minetest-data", "CC-BY-SA-3.0", (f"{_LUANTI}/default_dig_choppy*.ogg",)),
    "second": Source("foobillardplus-data", "GPL-2", ("games/foobillardplus/data/smack.wav",)),
    "third": Source(
        "caveexpress-data", "CC-BY-SA-4.0", ("games/caveexpress/sounds/crate-hit[125].ogg",)
    ),
    "fourth": Source("wordwarvi-sound", "CC-BY-SA-3.0", ("wordwarvi/sounds/stonebang[12567].ogg",)),
}
"""What stands for an object that falls to the floor."""

STEPS: Final[dict[PartName, Source]] = {
    "first": Source(
        "minetest-data",
        "CC-BY-SA-3.0",
        tuple(f"{_LUANTI}/default_{floor}_footstep*.ogg" for floor in ("wood", "hard", "dirt")),
    ),
    "second": Source(
        "openarena-data",
        "GPL-2+",
        ("sound/player/footsteps/boot*.wav", "sound/player/footsteps/step*.wav"),
        _OPEN_ARENA,
    ),
    "third": Source(
        "ufoai-sound",
        "CC-BY-SA-3.0",
        tuple(f"sound/footsteps/{floor}?.ogg" for floor in ("stone", "tile", "wood")),
        _ALIEN_INVASION,
    ),
    "fourth": Source(
        "ardentryst",
        "CC-BY-SA-3.0",
        (f"{_NYX}/NYX_STEP_CONCRETE?.ogg", f"{_NYX}/NYX_STEP_DIRT?.ogg"),
    ),
}

VOICES: Final[dict[PartName, tuple[Source, ...]]] = {
    "first": (
        Source("asterisk-core-sounds-en-g722", "CC-BY-SA-3.0", ("asterisk/sounds/*/*.g722",)),
        Source("asterisk-core-sounds-es-g722", "CC-BY-SA-3.0", ("asterisk/sounds/*/*.g722",)),
    ),
    "second": (
        Source("asterisk-core-sounds-fr-g722", "CC-BY-SA-3.0", ("asterisk/sounds/*/*.g722",)),
        Source("asterisk-core-sounds-it-g722", "CC-BY-3.0", ("asterisk/sounds/*/*.g722",)),
    ),
    "third": (
        Source("asterisk-core-sounds-ru-g722", "CC-BY-3.0", ("asterisk/sounds/*/*.g722",)),
        Source("fillets-ng-data-cs", "GPL-2", ("games/fillets-ng/sound/*/cs/*.ogg",)),
    ),
    "fourth": (
        Source("fillets-ng-data-nl", "GPL-2", ("games/fillets-ng/sound/[!eg]*/nl/*.ogg",)),
        Source("kajongg", "GPL-2+", ("kajongg/voices/de/*/*.ogg",)),
    ),
}

MUSIC: Final[dict[PartName, Source]] = {
    "first": Source("colobot-common-sounds", "GPL-3+", ("games/colobot/music/music0*.ogg",)),
    "second": Source("trackballs-data", "GPL-2+", ("games/trackballs/music/tb_*.ogg",)),
    "third": Source("pushover-data", "GPL-3+", ("pushover/themes/*.ogg",)),
    "fourth": Source("zaz-data", "CC-BY-SA-3.0", ("games/zaz/mus*.ogg",)),
}


@contextmanager
def made_beside(path: Path) -> Iterator[Path]:
    """Yield a path to write to, which then becomes `path`: no other process sees half of it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f"{os.getpid()}-{path.name}")
    yield beside
    beside.rename(path)


@contextmanager
def one_at_a_time() -> Iterator[None]:
    """Let one process at a time fetch and unpack."""
    CACHE.mkdir(parents=True, exist_ok=True)
    with (CACHE / "lock").open("w") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        yield


def package_folder(package: str) -> Path:
    """Return the folder of an unpacked package, which is fetched if need be."""
    folder, debs = CACHE / "packages" / package, CACHE / "debs"
    with one_at_a_time():
        if not folder.exists():
            debs.mkdir(exist_ok=True)
            subprocess.run(["apt-get", "download", package], check=True, cwd=debs)
            [deb] = debs.glob(f"{package}_*.deb")
            with made_beside(folder) as beside:
                subprocess.run(["dpkg", "-x", str(deb), str(beside)], check=True)
    return folder / "usr" / "share"


def _unpacked(source: Source, path: Path) -> Path:
    """Return the folder of those files of a source that are in an archive."""
    key = zlib.crc32(" ".join(source.files).encode())
    folder = CACHE / "unpacked" / f"{source.package}-{key:08x}"
    with one_at_a_time():
        if not folder.exists():
            with made_beside(folder) as beside, ZipFile(path) as archive:
                for name in archive.namelist():
                    if any(Path(name).match(pattern) for pattern in source.files):
                        archive.extract(name, beside)
    return folder


@lru_cache(maxsize=64)
def files_of(source: Source) -> tuple[Path, ...]:
    """Return the files of a source, in order of their names."""
    root = package_folder(source.package)
    if source.archive:
        root = _unpacked(source, root / source.archive)
    found = sorted(path for pattern in source.files for path in root.glob(pattern))
    if not found:
        raise FileNotFoundError(f"{source.package} has none of {source.files}")
    return tuple(found)


@lru_cache(maxsize=256)
def sound_in(path: Path) -> Signal:
    """Return a recording at `RATE`, its channels averaged."""
    if path.suffix == ".g722":
        raw = subprocess.run(
            ["ffmpeg", "-v", "error", "-i", str(path), "-f", "f32le", "-ar", str(RATE), "-"],
            check=True,
            capture_output=True,
        ).stdout
        return np.frombuffer(raw, dtype="<f4").astype(np.float64)
    samples, rate = soundfile.read(path, always_2d=True)
    return np.asarray(soxr.resample(samples.mean(axis=1), rate, RATE))


def impact(sound: Signal, rate: int = RATE, ring: float | None = None) -> Signal:
    """Return an impact that begins on the first frame, its loudest window at mean square 1.

    `ring` is the time constant in seconds with which it is muffled; None to leave it as it is.
    """
    half_ms = max(rate // 2000, 1)
    envelope = np.convolve(np.abs(sound), np.ones(half_ms) / half_ms, "same")
    peak = int(np.argmax(envelope))
    below = np.flatnonzero(envelope[:peak] < ONSET_SHARE * envelope[peak])
    first = int(below[-1]) + 1 if len(below) else 0
    length = round(IMPACT_SECONDS * rate)
    cut = sound[first : first + length].copy()
    cut[-(len(cut) // 4) :] *= np.linspace(1, 0, len(cut) // 4)
    cut = np.pad(cut, (0, length - len(cut)))
    if ring is not None:
        cut *= np.exp(-np.arange(len(cut)) / rate / ring)
    return levelled(cut, rate)


def levelled(sound: Signal, rate: int = RATE) -> Signal:
    """Return a sound whose loudest window has a mean square of 1."""
    window = round(LOUDEST_SECONDS * rate)
    squares = np.convolve(sound**2, np.ones(window) / window, "full")
    return np.asarray(sound / np.sqrt(max(float(squares.max()), 1e-12)))


@lru_cache(maxsize=64)
def impacts(source: Source, ring: float | None = None) -> tuple[Signal, ...]:
    """Return the impacts of a source."""
    return tuple(impact(sound_in(path), ring=ring) for path in files_of(source))


def talk(sources: Sequence[Source], seconds: float, random: np.random.Generator) -> Signal:
    """Return one person who talks for so long, with pauses, at mean square 1."""
    files = files_of(sources[int(random.integers(len(sources)))])[::SAID]
    length = round(seconds * RATE)
    sound = np.zeros(length)
    start = round(random.uniform(0, 1.5) * RATE)
    while start < length:
        said = sound_in(files[int(random.integers(len(files)))])
        sound[start : start + len(said)] += said[: length - start]
        start += len(said) + round(random.uniform(0.1, 1.2) * RATE)
    return steady_level(sound)


def music(source: Source, seconds: float, random: np.random.Generator) -> Signal:
    """Return so much of a piece of music, at mean square 1."""
    files = files_of(source)
    path = files[int(random.integers(len(files)))]
    with soundfile.SoundFile(path) as file:
        wanted = round(seconds * file.samplerate)
        first = int(random.integers(max(file.frames - wanted, 1)))
        file.seek(first)
        samples = file.read(wanted, always_2d=True).mean(axis=1)
        sound = soxr.resample(samples, file.samplerate, RATE)
    return steady_level(np.resize(sound, round(seconds * RATE)))


def steady_level(sound: Signal) -> Signal:
    """Return a sound of mean square 1."""
    return np.asarray(sound / np.sqrt(max(float(np.mean(sound**2)), 1e-12)))
