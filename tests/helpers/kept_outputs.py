"""Prints the SHA-256 of what `throwcount` writes and prints, to show that nothing has changed.

    python tests/helpers/kept_outputs.py > before.txt
    python tests/helpers/kept_outputs.py --against before.txt --keep after

Each command runs in a temporary folder of its own, in a fixed environment without any system voice.
Every file that it writes is an output, and so is what it prints. Hashes may differ between machines
and between versions of the libraries, so compare tables that were made in one environment.
"""

import argparse
import hashlib
import json
import os
import shlex
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeAlias

import numpy as np
import numpy.typing as npt
import soundfile

ROOT: Final = Path(__file__).absolute().parent.parent.parent
AT_ONCE: Final = 2
SECONDS: Final = 300.0
"""After these a command is ended."""

FIXED: Final = {
    "COLUMNS": "100",
    "LC_ALL": "C.UTF-8",
    "NO_COLOR": "1",
    "PYTHONHASHSEED": "0",
    "TERM": "dumb",
    "TZ": "UTC",
}
OWN_FOLDERS: Final = "HOME XDG_CACHE_HOME XDG_CONFIG_HOME XDG_DATA_HOME XDG_STATE_HOME".split()

Table: TypeAlias = Mapping[str, str]
"""Command lines without `throwcount`, each under a name that stays when options are renamed."""

Copy: TypeAlias = Callable[[str, str], object]
Samples: TypeAlias = npt.NDArray[np.float64]

SOUNDS: Final[Table] = {
    "531": "render 531 --tempo 180 --cycles 40 -o 531.wav --events 531.json --midi 531.mid",
    "744": "render 744 --tempo 200 --cycles 40 -o 744.flac --events 744.json --captions 744.lrc",
    "3": "render 3 --beats 40 --rate 44100 -o 3.wav --captions 3.vtt",
    "97531": "render 97531 --seconds 20 --rate 96000 -o 97531.flac",
    "b97531": "render b97531 --cycles 4 -o b97531.wav --events b97531.json",
    "letters": "render b97531 --letters --cycles 4 -o letters.wav --events letters.json",
    "words": "render 423 --word 2=hold --word 4=double --cycles 8 -o words.wav --json",
    "pairs": "render '(4,2x)*' --cycles 8 -o pairs.wav --events pairs.json --midi pairs.mid",
    "crossing": "render '(6x,4)*' --tempo 190 --cycles 8 -o crossing.flac --captions pairs.vtt",
    "pair-hands": "render '(4,2x)(2x,4)' --first left --say hands --cycles 6 -o pair-hands.wav",
    "triples": "render '[33]33' --cycles 12 -o triples.wav --events triples.json",
    "split": "render 24[54] --cycles 12 -o split.flac --midi split.mid --captions split.lrc",
    "say-values": "render 441 --say values --cycles 6 -o say.wav --events say.json",
    "say-position": "render 441 --say position --cycles 6 -o say.wav --captions say.vtt",
    "say-hands": "render 441 --say hands --cycles 6 -o say.wav --events say.json",
    "say-objects": "render 441 --say objects --cycles 6 -o say.wav --events say.json",
    "say-tally": "render 441 --say tally --cycles 12 -o say.wav --events say.json",
    "say-nothing": "render 441 --say nothing --cycles 6 -o say.wav --events say.json",
    "names": "render 531 --say objects --names one,two,three --cycles 6 -o names.wav",
    "tones": "render 531 --say objects --names kettle,piccolo,drum --cycles 6 -o tones.wav --json",
    "linear-beats": "render 3 --tempo 150 --to 200 --cycles 48 -o ramp.wav --events ramp.json",
    "linear-time": "render 3 --tempo 150 --to 200 --curve linear-time --cycles 48 -o ramp.wav "
    "--events ramp.json --midi ramp.mid",
    "ratio": "render 3 --tempo 200 --to 150 --curve ratio --cycles 48 -o ramp.wav --json",
    "steps": "render 531 --tempo 180 --to 220 --curve steps --step 10 --every 2 --cycles 16 "
    "-o ramp.wav --events ramp.json",
    "nearly-flat": "render 3 --tempo 120 --to 120.000001 --cycles 30 -o ramp.wav --events r.json",
    "lead": "render 531 --lead 2 --cycles 8 -o lead.wav --events lead.json --midi lead.mid",
    "fade": "render 531 --fade 3 --fade-clicks 2 --cycles 20 -o fade.wav --events fade.json",
    "left": "render 531 --first left --cycles 8 -o left.wav --events left.json --json",
    "clicks-right": "render 531 --clicks right --cycles 8 -o clicks.wav",
    "clicks-left": "render 531 --clicks left --cycles 8 -o clicks.wav",
    "clicks-cycle": "render 531 --clicks cycle --cycles 8 -o clicks.wav --events clicks.json",
    "clicks-none": "render 531 --clicks none --cycles 8 -o clicks.wav --midi clicks.mid",
    "tune": "render 7531 --tune --cycles 8 -o tune.wav",
    "no-tune": "render 7531 --no-tune --cycles 8 -o tune.wav",
    "levels": "render 531 --voice-level -6 --click-level 6 --cycles 8 -o levels.wav",
    "loudest": "render 531 --voice-level 12 --click-level 12 --cycles 8 -o levels.flac",
    "phrases": "render 531 --phrase stop=down --phrase right-hand-first=right --cycles 4 -o p.wav",
    "folder": "render 531 --voice recorded --tempo 200 --cycles 8 -o folder.wav --json",
    "folder-hands": "render 441 --voice recorded --say hands --cycles 8 -o folder.flac",
    "settings": "render 423 --settings own.toml --cycles 8 -o own.wav --events own.json",
    "thinned": "render 531 --tempo 300 --cycles 200 -o fast.flac --events fast.json --json",
    "thinned-pairs": "render '(6x,4)*' --tempo 400 --cycles 60 -o fast.flac --events fast.json",
    "thinned-numbers": "render b1 --tempo 300 --beats 120 -o fast.wav --captions fast.vtt",
    "bare": "render 531 --ready 0 --count-in 0 --no-announce --cycles 4 -o b.wav --events b.json",
    "count-in": "render 531 --ready 2.5 --count-in 7 --cycles 4 -o c.wav --captions c.vtt",
    "unannounced": "render 531 --no-announce --count-in 8 --cycles 4 -o u.wav --midi u.mid",
    "mp3": "render 531 --cycles 8 -o 531.mp3",
    "ogg": "render 531 --cycles 8 -o 531.ogg",
    "page": "render 531 --cycles 8 -o page.wav --page page.html",
    "boathouse": "render boathouse.toml -o b.flac --events b.json --midi b.mid --captions b.vtt",
    "boathouse-left": "render boathouse.toml --first left --no-cues -o b.wav --captions b.lrc",
    "boathouse-page": "render boathouse.toml --say position -o b.mp3 --page b.html --json",
    "green": "render green.toml -o g.flac --events g.json --midi g.mid --captions g.vtt",
    "green-slow": "render green.toml --percent 80 --from 3 -o g.wav --events g.json --json",
    "green-page": "render green.toml --say tally -o g.mp3 --page g.html",
    "village": "render village.toml -o v.flac --events v.json --midi v.mid --captions v.lrc",
    "village-from": "render village.toml --from 'the bucket' --percent 120 -o v.wav --midi v.mid",
    "village-page": "render village.toml --lead 1 --fade 2 -o v.flac --page v.html",
    "village-ogg": "render village.toml --from 4 --no-cues -o v.ogg",
}

PAGES: Final[Table] = {  # printed once as text and once with --json
    "check-531": "check 531",
    "check-left": "check 423 --first left",
    "check-97531": "check 97531",
    "check-twice": "check 531531",
    "check-pairs": "check '(4,2x)*'",
    "check-pairs-long": "check '(6x,4)(4,6x)'",
    "check-triples": "check '[33]33'",
    "check-split": "check 24[54]",
    "check-collision": "check 543",
    "check-average": "check 532",
    "check-sign": "check '5?1'",
    "check-odd-pair": "check '(3,4)'",
    "check-open": "check '[33'",
    "heights-744": "heights 744",
    "heights-room": "heights 97531 --tempo 220 --ceiling 2.6 --hands 1.1 --dwell 0.6",
    "heights-wanted": "heights 5 --height 1.5",
    "heights-pairs": "heights '(4,2x)*' --tempo 180",
    "plan-boathouse": "plan boathouse.toml",
    "plan-green": "plan green.toml",
    "plan-village": "plan village.toml",
    "plan-low": "plan village.toml --ceiling 2.2 --hands 0.9 --percent 90 --from four",
    "plan-wrong": "plan wrong.toml",
    "voices": "voices",
}

PAGES_RENAMED: Final[Table] = {  # likewise; the options of these commands were others at first
    "find-three": "find 3 --highest 5 --beats 3 --show all",
    "find-prime": "find 4 --highest 7 --beats 3-6 --only prime --having 7 --lacking 2 --show all",
    "find-ground": "find 3 --highest 7 --beats 3,5 --only ground,symmetric --show all",
    "find-rotations": "find 4 --highest 6 --beats 3 --every-start --show all",
    "find-one-sided": "find 4 --highest 8 --beats 4 --only one-sided --show all",
    "find-pairs": "find 4 --highest 6 --beats 4 --together --show all",
    "find-multiplex": "find 4 --highest 4 --beats 3 --from-one-hand 2 --show all",
    "find-best": "find 5 --highest 9 --beats 3-5 --limit 10",
    "find-limit": "find 5 --highest 9 --beats 5 --limit 7 --show all",
    "find-count": "find 5 --highest 9 --beats 6 --show count",
    "find-words": "find --words story.txt",
    "states-three": "states 3 --highest 5",
    "states-from": "states --from 1101 --highest 6",
    "bridge-up": "bridge 3 51",
    "bridge-ground": "bridge 51 GROUND",
    "bridge-anywhere": "bridge 53 71 --any-rotation --highest 7",
    "bridge-all": "bridge '(4x,2x)' '(2x,4x)' --all",
    "bridge-left": "bridge 441 531 --first left",
    "leadup-7": "leadup 7",
    "leadup-97531": "leadup 97531 --from-objects 3",
    "leadup-pairs": "leadup '(4,2x)*'",
}

FILES_RENAMED: Final[Table] = {
    "states-dot": "states 3 --highest 5 --dot",
    "states-picture": "states 3 --highest 5 --picture states.svg",
    "leadup-routine": "leadup 7 --routine seven.toml",
}

FILES: Final[Table] = {
    "check-picture": "check 531 --picture check.svg",
    "check-pairs-picture": "check '(4,2x)*' --picture check.png",
    "plan-boathouse-picture": "plan boathouse.toml --picture plan.svg",
    "plan-green-picture": "plan green.toml --picture plan.svg",
    "plan-starter": "plan --new starter.toml",
    "settings-starter": "settings --new --settings starter.toml",
    "estimate": "plan --estimate green.ogg --json --beats-file beats.txt",
}

WRONG: Final[Table] = {  # sentences on standard error, and the exit status
    "wrong-tempo": "render 531 -o new.wav --tempo 5",
    "wrong-pattern": "render 543 -o new.wav",
    "wrong-pattern-json": "render 532 -o new.wav --json",
    "wrong-sign": "heights 5_1",
    "wrong-ending": "render 531 -o new.xyz",
    "wrong-voice": "render 531 -o new.wav --voice nobody",
    "wrong-folder": "render 531 -o nowhere/new.wav",
    "wrong-taken": "render 531 -o story.txt.wav",
    "wrong-routine": "render wrong.toml -o new.wav",
    "wrong-no-routine": "plan missing.toml",
    "wrong-part": "render boathouse.toml -o new.wav --from nine",
    "wrong-for-pattern": "render 531 -o new.wav --percent 80",
    "wrong-lengths": "render 531 -o new.wav --cycles 3 --beats 9",
    "wrong-curve": "render 531 -o new.wav --curve ratio",
    "wrong-captions": "render 531 -o new.wav --captions new.txt",
    "wrong-settings": "render 531 -o new.wav --settings wrong-own.toml",
    "wrong-bridge": "bridge 3 4",
    "wrong-take": "listen missing.wav",
    "wrong-take-kind": "listen story.txt --pattern 531",
    "wrong-log": "log --log story.txt",
    "wrong-log-options": "log --json --csv --log none.sqlite",
    "empty-log": "log --log none.sqlite",
}

TAKES: Final[Table] = {  # as text and with --json, on the recordings that `make_takes` makes
    "take-alone": "listen steady.wav",
    "take-steady": "listen steady.wav --pattern 531 --tempo 180 --cycles 40 --headphones",
    "take-call": "listen call.flac --pattern 531 --tempo 180 --cycles 40",
    "take-against": "listen call.flac --against 531.json --call 531.wav --dwell 0.6",
    "take-drop": "listen drop.flac --pattern 744 --tempo 200 --cycles 40 --headphones",
    "take-routine": "listen routine.mp3 --routine boathouse.toml --headphones",
    "take-silent": "listen silent.wav --pattern 531 --tempo 180 --cycles 10",
}
TAKE_FILES: Final[Table] = {
    "take-picture": "listen drop.flac --against 744.json --headphones --picture take.svg",
}
TAKES_KEPT: Final = (
    "listen steady.wav --pattern 531 --tempo 180 --cycles 40 --headphones --keep --log log.sqlite",
    "listen drop.flac --against 744.json --headphones --props clubs --keep --log log.sqlite",
)

LOG: Final[Table] = {  # as text and with --json, on those two takes and the sessions of `SESSIONS`
    "log": "log --log log.sqlite --lately 36500",
    "log-pattern": "log --log log.sqlite --lately 36500 --pattern 315 --props clubs",
    "log-since": "log --log log.sqlite --lately 36500 --since 2026-04-01 --rows 2",
}
LOG_FILES: Final[Table] = {
    "log-csv": "log --log log.sqlite --csv",
    "log-picture": "log --log log.sqlite --lately 36500 --picture log.svg",
}
SESSIONS: Final = """
UPDATE takes SET kept = 1775000000000 + id;
INSERT INTO sessions (id, started, ended, props, device)
VALUES (1, 1774972800000, 1774973400000, 'clubs', 'speakers'),
    (2, 1775145600000, NULL, '', 'speakers');
INSERT INTO sets (id, session_id, pattern, written, objects, cycle_beats, props, first_hand,
    tempo_start, tempo_end, tempo_fastest, beats_planned, beats_thrown, seconds,
    started, seen, ended, status, outcome, catches)
VALUES (1, 1, '531', '153', 3, 3, 'clubs', 'left', 150, 165, 165, 48, 48, 18.5,
    1774972800000, 1774972820000, 1774972820000, 'finished', 'clean', 48),
    (2, 1, '531', '531', 3, 3, 'clubs', 'right', 170, 170, 170, 48, 30, 10.5,
    1774972900000, 1774972912000, 1774972912000, 'stopped', 'drop', 26),
    (3, 2, '(4,2x)*', '(4,2x)*', 3, 4, '', 'right', 180, 180, 180, NULL, 64,
    21.25, 1775145600000, 1775145622000, NULL, 'open', NULL, 64);
INSERT INTO marks VALUES (1, 1, 'clean', 1774972820000, 47, 'pedal');
INSERT INTO marks VALUES (2, 2, 'drop', 1774972911000, 29, 'key');
"""

TEXTS: Final = {
    "story.txt": "A fair, 531 and 97531: the lost bag of the old cook, a bee, a deed, a 552.\n",
    "story.txt.wav": "This is kept as it is.\n",
    "own.toml": 'first = "left"\ncount-in = 2\nclicks = "cycle"\n[words]\n2 = "hold"\n',
    "wrong-own.toml": 'first = "middle"\ncount-in = -2\nclick = "cycle"\n',
    "wrong.toml": 'title = 3\ntempo = 5\n[[part]]\npattern = "543"\n[[part]]\npattern = "3"\n',
}
RECORDED: Final = "zero one two three four five six right left".split()
"""The words of the folder that is used as a voice; the built-in one says the others."""


@dataclass(frozen=True)
class Bench:
    """Runs commands, each in a folder of its own."""

    command: Path
    folder: Path
    """Where all of it lies, for as long as this script runs."""

    def run(self, line: str, place: Path) -> bytes:
        """Run a command line in a folder; return what it printed, and its status if not 0."""
        own = {name: str(self.folder / "home" / name.lower()) for name in OWN_FOLDERS}
        done = subprocess.run(
            [self.command, *shlex.split(line)],
            cwd=place,
            env={"PATH": os.defpath, "PYTHONPATH": str(self.folder / "voiceless"), **FIXED, **own},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            timeout=SECONDS,
            check=False,
        )
        errors = b"[errors]\n" + done.stderr if done.stderr else b""
        status = b"[status %d]\n" % done.returncode if done.returncode else b""
        return done.stdout + errors + status

    def outputs(self, table: Table, inputs: Path, copy: Copy = os.link) -> dict[str, bytes]:
        """Return what the commands of a table print and write, by name, given files to read."""

        def outputs_of(name: str, line: str) -> dict[str, bytes]:
            place = self.folder / "runs" / name
            shutil.copytree(inputs, place, copy_function=copy)
            before = set(files_in(place))
            printed = self.run(line, place)
            written = {file: (place / file).read_bytes() for file in files_in(place) - before}
            written["told.json" if "--json" in shlex.split(line) else "told.txt"] = printed
            return {f"{name}/{file}": written[file] for file in sorted(written)}

        with ThreadPoolExecutor(AT_ONCE) as pool:
            every = pool.map(outputs_of, table.keys(), table.values())
            return {name: content for each in every for name, content in each.items()}


def every_output(bench: Bench, tree: Path) -> dict[str, bytes]:
    """Run all commands; return what they print and write, by name."""
    inputs, takes, log = (bench.folder / name for name in ("inputs", "takes", "log"))
    make_inputs(inputs, tree)
    (bench.folder / "voiceless").mkdir()
    (bench.folder / "voiceless" / "pyttsx3.py").write_text("raise ImportError\n", "utf-8")
    first = {**SOUNDS, **both_ways({**PAGES, **PAGES_RENAMED}), **FILES_RENAMED, **FILES, **WRONG}
    outputs = bench.outputs(first, inputs)
    make_takes(takes, outputs, inputs)
    outputs |= bench.outputs({**both_ways(TAKES), **TAKE_FILES}, takes)
    tables = make_log(bench, takes, log)
    outputs |= bench.outputs({**both_ways(LOG), **LOG_FILES}, log, shutil.copyfile)
    return outputs | {"log-tables/tables.sql": tables}


def both_ways(table: Table) -> Table:
    """Return the commands as they are, and with --json."""
    return {**table, **{f"{name}-json": f"{line} --json" for name, line in table.items()}}


def files_in(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


def make_inputs(folder: Path, tree: Path) -> None:
    """Fill a folder with routines, their music, settings, texts and a voice."""
    shutil.copytree(tree / "examples", folder)
    made = [sys.executable, str(folder / "make_music.py"), str(folder / "green.ogg")]
    subprocess.run(made, check=True, capture_output=True)
    for name, text in TEXTS.items():
        (folder / name).write_text(text, "utf-8")
    (folder / "recorded").mkdir()
    for word in RECORDED:
        shutil.copy(tree / "sounds/bank/clips/quick" / f"{word}.flac", folder / "recorded")


def make_takes(folder: Path, outputs: Mapping[str, bytes], inputs: Path) -> None:
    """Fill a folder with recordings of somebody who juggled to sounds that were rendered."""
    folder.mkdir()
    shutil.copy(inputs / "boathouse.toml", folder)
    for name in ("531/531.wav", "531/531.json", "744/744.json", "boathouse/b.json"):
        (folder / Path(name).name).write_bytes(outputs[name])
    call, rate = soundfile.read(folder / "531.wav")
    steady = juggled(folder / "531.json", rate, seed=531)
    heard = np.pad(steady, (rate // 2, 0))
    heard[rate // 3 :][: len(call)] += 0.1 * call.mean(axis=1)[: len(heard) - rate // 3]
    dropped = juggled(folder / "744.json", rate, seed=744, silent=range(70, 82))
    soundfile.write(folder / "steady.wav", steady, rate)
    soundfile.write(folder / "call.flac", heard, rate)
    soundfile.write(folder / "drop.flac", dropped, rate)
    soundfile.write(folder / "routine.mp3", juggled(folder / "b.json", rate, seed=3), rate)
    soundfile.write(folder / "silent.wav", np.zeros(10 * rate), rate)


def juggled(events: Path, rate: int, *, seed: int, silent: range = range(0)) -> Samples:
    """Return thuds about 0.1 s before the throws, with noise; the silent beats have none."""
    beats = json.loads(events.read_text("utf-8"))["beats"]
    random = np.random.default_rng(seed)
    take: Samples = random.normal(0, 0.001, round((beats[-1]["time"] + 1) * rate))
    seconds = np.arange(round(0.08 * rate)) / rate
    for beat in beats:
        late, loud = random.normal(0, 0.012), random.uniform(0.1, 0.4)
        if any(beat["throws"].values()) and beat["beat"] not in silent:
            first = round((beat["time"] - 0.1 + late) * rate)
            tone = np.sin(2 * np.pi * 180 * seconds) + 0.5 * random.normal(size=len(seconds))
            take[first : first + len(seconds)] += loud * np.exp(-seconds / 0.012) * tone
    return take.clip(-1, 1)


def make_log(bench: Bench, takes: Path, folder: Path) -> bytes:
    """Put a practice log into a new folder, without any time of this run; return its tables."""
    folder.mkdir()
    for line in TAKES_KEPT:
        bench.run(line, takes)
    shutil.move(takes / "log.sqlite", folder)
    with closing(sqlite3.connect(folder / "log.sqlite")) as log:
        log.executescript(SESSIONS)
        return "\n".join(log.iterdump()).encode()


def repeatable(content: bytes) -> bytes:
    """Return a file without what is drawn by lot: the serial number and checksum of Ogg pages."""
    if not content.startswith(b"OggS"):
        return content
    pages, start = bytearray(content), 0
    while start < len(pages):
        segments = pages[start + 26]
        pages[start + 14 : start + 18] = pages[start + 22 : start + 26] = bytes(4)
        start += 27 + segments + sum(pages[start + 27 : start + 27 + segments])
    return bytes(pages)


def told_differences(found: Mapping[str, str], kept_table: Path) -> int:
    """Print how the hashes differ from those of a table; return the exit status."""
    lines = kept_table.read_text("utf-8").splitlines()
    kept = {name: digest for digest, name in (line.split("  ", 1) for line in lines)}
    differing = [name for name in kept.keys() | found.keys() if kept.get(name) != found.get(name)]
    for name in sorted(differing):
        how = "new" if name not in kept else "missing" if name not in found else "changed"
        sys.stdout.write(f"{how:8} {name}\n")
    sys.stdout.write(f"{len(differing)} of {len(kept)} outputs differ.\n")
    return 1 if differing else 0


def asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Print the SHA-256 of what throwcount writes.")
    beside = Path(sys.executable).with_name("throwcount")
    parser.add_argument("--command", type=Path, default=beside, help="the throwcount to run")
    parser.add_argument("--tree", type=Path, default=ROOT, help="the checkout to take inputs from")
    parser.add_argument("--against", type=Path, help="a kept table; print only what differs")
    parser.add_argument("--keep", type=Path, help="a folder to leave the outputs in")
    return parser.parse_args()


def main() -> int:
    options = asked()
    with tempfile.TemporaryDirectory() as folder:
        outputs = every_output(Bench(options.command.absolute(), Path(folder)), options.tree)
        leaks = [name for name, content in outputs.items() if os.fsencode(folder) in content]
    if leaks:
        sys.exit(f"These outputs name the folder that they were made in: {', '.join(leaks)}.")
    if options.keep is not None:
        for name, content in outputs.items():
            (options.keep / name).parent.mkdir(parents=True, exist_ok=True)
            (options.keep / name).write_bytes(content)
    found = {
        name: hashlib.sha256(repeatable(content)).hexdigest() for name, content in outputs.items()
    }
    if options.against is not None:
        return told_differences(found, options.against)
    sys.stdout.writelines(f"{digest}  {name}\n" for name, digest in sorted(found.items()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
