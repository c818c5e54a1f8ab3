"""What is in the wheel, built from a copy so that the checkout stays as it is."""

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
BUILD = "import sys, setuptools.build_meta as build; build.build_wheel(sys.argv[1])"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Sequence[str]:
    """Give the names of all files in the wheel."""
    folder = tmp_path_factory.mktemp("wheel")
    copy = shutil.copytree(ROOT, folder / "copy", ignore=shutil.ignore_patterns(*NOT_COPIED))
    command = (sys.executable, "-c", BUILD, str(folder))
    subprocess.run(command, cwd=copy, check=True, capture_output=True, timeout=LIMIT)
    (built,) = folder.glob("*.whl")
    with ZipFile(built) as file:
        return file.namelist()


@pytest.mark.parametrize("name", ["NOTICE", "LICENSE-APACHE"])
def test_the_rights_of_the_built_in_voice_come_with_it(wheel: Sequence[str], name: str) -> None:
    beside_the_clips = [path for path in wheel if path.endswith(f"sounds/bank/{name}")]
    assert len([path for path in beside_the_clips if ".dist-info/licenses/" in path]) == 1
    assert len([path for path in beside_the_clips if ".dist-info/" not in path]) == 1


def test_the_clips_and_the_projects_own_licence_are_in_it(wheel: Sequence[str]) -> None:
    assert any(path.endswith(".dist-info/licenses/LICENSE") for path in wheel)
    clips = Path(str(resources.files("throwcount.sounds.bank") / "clips"))
    made = {path.relative_to(clips).as_posix() for path in clips.rglob("*.flac")}
    assert made == {path.partition("bank/clips/")[2] for path in wheel if path.endswith(".flac")}
