"""How much of the program a render goes through: who follows one has so many files to read."""

import sys
from collections.abc import Callable
from pathlib import Path
from types import FrameType

import pytest

from throwcount import caller, engine, sounds
from throwcount.caller.main import throwcount

ROOMS = tuple(str(Path(room.__file__ or "").parent) for room in (engine, sounds, caller))

MOST_FILES = 38
"""Files in which `render 531` calls functions."""

DEEPEST = 22
"""How many of our functions stand above each other in it, comprehensions counted."""


def ours(frame: FrameType) -> bool:
    return frame.f_code.co_filename.startswith(ROOMS)


def walk(work: Callable[[], object]) -> tuple[set[str], list[str]]:
    """Return the files in which `work` calls functions, and the functions of its deepest call."""
    files: set[str] = set()
    deepest: list[str] = []

    def look(frame: FrameType, event: str, _argument: object) -> None:
        nonlocal deepest
        if event != "call" or not ours(frame):
            return
        files.add(frame.f_code.co_filename)
        above: list[str] = []
        caller_of: FrameType | None = frame
        while caller_of is not None:
            if ours(caller_of):
                above.append(
                    f"{Path(caller_of.f_code.co_filename).name}:{caller_of.f_code.co_name}"
                )
            caller_of = caller_of.f_back
        if len(above) > len(deepest):
            deepest = above[::-1]

    before = sys.getprofile()
    sys.setprofile(look)
    try:
        work()
    finally:
        sys.setprofile(before)
    return files, deepest


def test_a_render_goes_through_few_files_and_not_deep(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("THROWCOUNT_SETTINGS", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))  # where there are no settings

    def render() -> None:
        file = tmp_path / "531.wav"
        throwcount(["render", "531", "--force", "-o", str(file)], standalone_mode=False)

    render()  # what is loaded and kept the first time is not counted
    files, deepest = walk(render)
    assert "531.wav" in capsys.readouterr().out
    assert len(files) <= MOST_FILES, sorted(files)
    assert len(deepest) <= DEEPEST, deepest
