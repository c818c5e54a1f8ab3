"""What is in the wheel, built from a copy so that the checkout stays as it is."""

import os
import shutil
import subprocess
import sys
from collections.abc import Sequence
from importlib import resources
from pathlib import Path
from zipfile import ZipFile

import pytest
from waiting import LIMIT

ROOT = Path(__file__).parent.parent
NOT_COPIED = ("tests", "build", "dist", ".*", "*.egg-info", "__pycache__")
CLIP_ENDINGS = (".flac", ".ogg")
BUILD = "import sys, setuptools.build_meta as build; build.build_wheel(sys.argv[1])"


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a copy of the checkout in which an earlier build has left a module deleted since."""
    copy = tmp_path_factory.mktemp("checkout") / "copy"
    shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(*NOT_COPIED))
    stale = copy / "build" / "lib" / "throwcount" / "engine" / "deleted.py"
    stale.parent.mkdir(parents=True)
    stale.touch()
    return copy


@pytest.fixture(scope="module")
def unpacked(checkout: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the folder that the wheel is unpacked in."""
    folder = tmp_path_factory.mktemp("wheel")
    before = listing(checkout)
    command = (sys.executable, "-c", BUILD, str(folder))
    subprocess.run(command, cwd=checkout, check=True, capture_output=True, timeout=LIMIT)
    assert listing(checkout) == before
    (built,) = folder.glob("*.whl")
    with ZipFile(built) as file:
        file.extractall(folder / "unpacked")
    return folder / "unpacked"


@pytest.fixture(scope="module")
def wheel(unpacked: Path) -> Sequence[str]:
    """Give the names of all files in the wheel."""
    return listing(unpacked)


def listing(folder: Path) -> list[str]:
    return sorted(
        path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()
    )


def test_the_one_package_in_it_is_throwcount(wheel: Sequence[str]) -> None:
    tops = {path.partition("/")[0] for path in wheel}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"throwcount"}
    assert not [path for path in wheel if "deleted" in path]


def test_it_runs_beside_foreign_packages_of_the_rooms_names(unpacked: Path, tmp_path: Path) -> None:
    for room in ("engine", "sounds", "caller"):
        (tmp_path / f"{room}.py").write_text("raise ImportError('not ours')\n", "utf-8")
    check = "from throwcount.caller.main import run; run()"
    done = subprocess.run(
        (sys.executable, "-c", check, "check", "441"),
        env={**os.environ, "PYTHONPATH": os.pathsep.join([str(tmp_path), str(unpacked)])},
        check=False,
        capture_output=True,
        text=True,
        timeout=LIMIT,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert "441" in done.stdout


@pytest.mark.parametrize("name", ["NOTICE", "LICENSE-APACHE"])
def test_the_rights_of_the_built_in_voice_come_with_it(wheel: Sequence[str], name: str) -> None:
    beside_the_clips = [path for path in wheel if path.endswith(f"sounds/bank/{name}")]
    assert len([path for path in beside_the_clips if ".dist-info/licenses/" in path]) == 1
    assert len([path for path in beside_the_clips if ".dist-info/" not in path]) == 1


def test_the_clips_and_the_projects_own_licence_are_in_it(wheel: Sequence[str]) -> None:
    assert any(path.endswith(".dist-info/licenses/LICENSE") for path in wheel)
    bank = Path(str(resources.files("throwcount.sounds.bank")))
    made = {
        path.relative_to(bank).as_posix() for path in bank.rglob("*") if path.suffix in CLIP_ENDINGS
    }
    assert made == {
        path.partition("sounds/bank/")[2] for path in wheel if path.endswith(CLIP_ENDINGS)
    }


@pytest.mark.parametrize("path", ["sounds/voices/translations.csv", "caller/plans/sheet.html"])
def test_what_is_no_code_is_in_it(wheel: Sequence[str], path: str) -> None:
    assert f"throwcount/{path}" in wheel
