"""The way in and out of files: nothing half, nothing left, nothing in the place of an input."""

import os
import signal
import socket
import stat
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from waiting import LIMIT

from throwcount.sounds.errors import ClashError, FileError, InputError
from throwcount.sounds.files.whole_files import (
    check_free,
    files_of_one_command,
    open_input,
    read_input,
    temporary_file,
    temporary_folder,
    undisturbed,
    whole_file,
    write_text,
)

posix = pytest.mark.skipif(os.name == "nt", reason="needs pipes, signals and locks of POSIX")


def same(path: Path) -> Path:
    return path


def by_another_path(path: Path) -> Path:
    return path.parent / "folder" / ".." / path.name


def linked(path: Path) -> Path:
    link = path.with_name("link")
    link.symlink_to(path)
    return link


def under_another_name(path: Path) -> Path:
    other = path.with_name("other")
    other.hardlink_to(path)
    return other


@pytest.mark.parametrize("named", [same, by_another_path, linked, under_another_name])
@pytest.mark.parametrize("read_or_written", ["an input", "an output"])
def test_a_file_is_not_replaced_by_the_command_that_reads_or_writes_it(
    tmp_path: Path, named: Callable[[Path], Path], read_or_written: str
) -> None:
    (tmp_path / "folder").mkdir()
    path = tmp_path / "music.ogg"
    path.write_text("notes")
    other = named(path)
    with files_of_one_command():
        if read_or_written == "an input":
            assert read_input(path, 100) == b"notes"
        else:
            write_text(path, ["notes"], overwrite=True)
        with pytest.raises(ClashError, match=f"It is {read_or_written} of the same command"):
            write_text(other, ["sound"], overwrite=True)
    assert path.read_text() == "notes"
    with files_of_one_command():  # of another command it is free
        write_text(other, ["sound"], overwrite=True)


def a_pipe(path: Path) -> None:
    os.mkfifo(path)


def a_socket(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as bound:
        bound.bind(str(path))


def linked_to_a_device(path: Path) -> None:
    path.symlink_to("/dev/zero")


NO_FILES = [
    (a_pipe, "a pipe"),
    (a_socket, "a socket"),
    (linked_to_a_device, "a device"),
    (Path.mkdir, "a folder"),
]


@posix
@pytest.mark.parametrize(("made", "kind"), NO_FILES)
@pytest.mark.parametrize("overwrite", [True, False])
def test_what_is_no_file_is_never_replaced(
    tmp_path: Path, made: Callable[[Path], None], kind: str, overwrite: bool
) -> None:
    path = tmp_path / "out.json"
    made(path)
    before = path.lstat()
    with pytest.raises(FileError, match=f"There is {kind} of that name"):
        check_free(path, overwrite=overwrite)
    with pytest.raises(FileError), whole_file(path, overwrite=overwrite):
        pass
    assert (path.lstat().st_mode, path.lstat().st_ino) == (before.st_mode, before.st_ino)
    assert list(tmp_path.iterdir()) == [path]


@posix
@pytest.mark.parametrize(("made", "kind"), NO_FILES)
def test_what_is_no_file_is_not_read(
    tmp_path: Path, made: Callable[[Path], None], kind: str
) -> None:
    path = tmp_path / "in.toml"
    made(path)
    with pytest.raises(InputError, match=f"It is {kind}, not a file"):
        read_input(path, 100)
    with pytest.raises(InputError), open_input(path):
        pass


def test_no_more_than_the_limit_is_read(tmp_path: Path) -> None:
    path = tmp_path / "in.json"
    path.write_bytes(bytes(100))
    assert len(read_input(path, 100)) == 100
    with pytest.raises(InputError, match="larger than 99 bytes"):
        read_input(path, 99)


def test_a_link_to_a_file_is_followed_and_stays(tmp_path: Path) -> None:
    path = tmp_path / "real.txt"
    path.write_text("old")
    link = linked(path)
    write_text(link, ["new"], overwrite=True)
    assert link.is_symlink()
    assert path.read_text() == "new"


def test_disks_where_a_file_has_one_name_only(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_paths: object) -> None:
        raise PermissionError

    monkeypatch.setattr(os, "link", refused)
    write_text(tmp_path / "a.txt", ["a"], overwrite=False)
    assert [path.read_text() for path in tmp_path.iterdir()] == ["a"]


def test_a_file_that_comes_meanwhile_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    theirs = (path.write_text(text) for text in ["theirs"])
    with pytest.raises(FileError, match="already"):
        write_text(path, (str(length) for length in theirs), overwrite=False)
    assert [each.read_text() for each in tmp_path.iterdir()] == ["theirs"]


WRITES = """
import sys, time
from pathlib import Path
from throwcount.sounds.files.whole_files import temporary_file, temporary_folder, whole_file
with whole_file(Path("out.txt"), overwrite=True) as one, temporary_file() as two:
    with temporary_folder() as three:
        for path in (one, two, three / "within"):
            path.write_text("half")
        print(flush=True)
        time.sleep(100)
"""


def writer(folder: Path) -> "subprocess.Popen[bytes]":
    """Start a process that has an output and temporary files half written."""
    process = subprocess.Popen(
        [sys.executable, "-c", WRITES],
        cwd=folder,
        env=os.environ | {"TMPDIR": str(folder)},
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
    )
    assert process.stdout is not None
    process.stdout.readline()
    return process


@posix
@pytest.mark.parametrize("ending", ["SIGTERM", "SIGHUP", "SIGQUIT", "SIGINT"])
def test_a_signal_leaves_nothing_and_ends_the_process(tmp_path: Path, ending: str) -> None:
    (tmp_path / "out.txt").write_text("whole")
    number = getattr(signal, ending)
    with writer(tmp_path) as process:
        assert len(list(tmp_path.iterdir())) == 4
        process.send_signal(number)
        assert process.wait(LIMIT) == -number
    assert [path.read_text() for path in tmp_path.iterdir()] == ["whole"]


@posix
def test_what_a_killed_process_left_is_swept_and_nothing_else(tmp_path: Path) -> None:
    notes = tmp_path / ".throwcount-notes.part"
    notes.write_text("a person's own")
    mine = tmp_path / "throwcount-0123456789abcdef.part"
    mine.mkdir()
    with writer(tmp_path) as killed, writer(tmp_path) as alive:
        killed.kill()
        killed.wait(LIMIT)
        long_ago(tmp_path)
        assert len(unfinished(tmp_path)) == 6
        swept_by_a_new_process(tmp_path)
        assert len(unfinished(tmp_path)) == 3  # of the one that is alive
        alive.kill()
    long_ago(tmp_path)
    swept_by_a_new_process(tmp_path)
    assert unfinished(tmp_path) == []
    assert notes.exists()
    assert mine.exists()


def unfinished(folder: Path) -> list[Path]:
    return [each for each in folder.glob(".throwcount-*.part") if "notes" not in each.name]


def long_ago(folder: Path) -> None:
    """Let everything in a folder be a minute old."""
    for path in folder.iterdir():
        os.utime(path, (time.time() - 60, time.time() - 60))


def swept_by_a_new_process(folder: Path) -> None:
    code = (
        "from pathlib import Path; from throwcount.sounds.files.whole_files import write_text;"
        "write_text(Path('new.txt'), ['new'], overwrite=True)"
    )
    subprocess.run([sys.executable, "-c", code], cwd=folder, check=True)


@posix
def test_temporary_files_are_for_their_owner_alone(tmp_path: Path) -> None:
    with temporary_folder() as folder, temporary_file(tmp_path) as file:
        assert stat.S_IMODE(folder.stat().st_mode) == 0o700
        assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert not folder.exists()
    assert not file.exists()


def test_a_signal_waits_until_what_belongs_together_is_done() -> None:
    before = signal.getsignal(signal.SIGINT)
    done = []

    @undisturbed()
    def write() -> None:
        with undisturbed():
            signal.raise_signal(signal.SIGINT)
        done.append("written")

    with pytest.raises(KeyboardInterrupt):
        write()
    assert done == ["written"]
    assert signal.getsignal(signal.SIGINT) is before


def test_temporary_files_are_where_the_system_says_they_should_be(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TMPDIR", str(tmp_path / "gone"))
    monkeypatch.setenv("TEMP", str(tmp_path))
    with temporary_folder() as folder:
        assert folder.parent == tmp_path
        assert list(tmp_path.iterdir()) == [folder]
