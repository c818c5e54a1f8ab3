import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
from fake_sounddevice import FakeSounddevice

from throwcount.sounds.errors import DeviceError
from throwcount.sounds.output.devices import Device, find_input, find_output, inputs, outputs

ROOT = Path(__file__).parents[3]


def run(code: str, **environment: str) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, "-c", textwrap.dedent(code)],
        cwd=ROOT, env=os.environ | environment, capture_output=True, text=True, check=True,
    )  # fmt: skip


def test_outputs_are_listed_without_inputs() -> None:
    assert outputs(FakeSounddevice()) == [
        Device("Speakers", "First host", 2, 48_000, is_default=True),
        Device("Speakers", "Second host", 6, 44_100, is_default=False),
        Device("One ear", "First host", 1, 44_100, is_default=False),
    ]


def test_inputs_are_listed_without_outputs() -> None:
    assert inputs(FakeSounddevice()) == [
        Device("Microphone", "First host", 1, 44_100, is_default=True),
        Device("One ear", "First host", 2, 44_100, is_default=False),
    ]


def test_a_machine_without_devices_has_neither() -> None:
    assert outputs(FakeSounddevice(devices=())) == inputs(FakeSounddevice(devices=())) == []


@pytest.mark.parametrize(
    ("device", "index"), [(None, 1), ("One ear", 3), ("ear", 3), ("Speakers, Second host", 2)]
)
def test_an_output_is_found_by_its_name(device: str | None, index: int) -> None:
    assert find_output(FakeSounddevice(), device)["index"] == index


@pytest.mark.parametrize("device", ["Speakers", "nothing so called", "Microphone"])
def test_a_name_that_stands_for_no_single_output_is_told(device: str) -> None:
    with pytest.raises(DeviceError, match="No output, or more than one, has") as caught:
        find_output(FakeSounddevice(), device)
    assert repr(device) in str(caught.value)


@pytest.mark.parametrize(("device", "index"), [(None, 0), ("ear", 3)])
def test_an_input_is_found_by_its_name(device: str | None, index: int) -> None:
    assert find_input(FakeSounddevice(), device)["index"] == index


def test_a_name_that_stands_for_no_input_is_told() -> None:
    with pytest.raises(DeviceError, match="No input, or more than one, has 'Speakers'"):
        find_input(FakeSounddevice(), "Speakers")


def test_nothing_to_listen_with_is_told() -> None:
    with pytest.raises(DeviceError, match="There is no microphone, nor any other sound input"):
        find_input(FakeSounddevice(devices=()), None)


def test_nothing_to_play_on_is_told() -> None:
    with pytest.raises(DeviceError, match="There is no sound device to play on"):
        find_output(FakeSounddevice(devices=()), None)


def test_a_missing_portaudio_is_told(tmp_path: Path) -> None:
    # This is how sounddevice tells it: an OSError, while it is imported.
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')")
    code = """
        from throwcount.sounds.output.devices import sound_library
        from throwcount.sounds.errors import DeviceError
        try:
            sound_library()
        except DeviceError as error:
            print(error)
        """
    told = run(code, PYTHONPATH=f"{tmp_path}{os.pathsep}{ROOT}").stdout
    assert "PortAudio library was not found" in told
    assert "libportaudio2" in told


CHATTER = """
import os, sys
from throwcount.sounds.child_process import native_chatter_discarded

print("before", file=sys.stderr)
with native_chatter_discarded():
    os.write(2, b"chatter from C\\n")
    print("from Python", file=sys.stderr)
os.write(2, b"after\\n")
print("done", file=sys.stderr)
"""


def test_chatter_from_c_is_kept_off_the_screen() -> None:
    assert run(CHATTER).stderr.splitlines() == ["before", "from Python", "after", "done"]


def test_a_program_without_standard_error_may_play_too() -> None:
    code = """
        import os, sys
        from throwcount.sounds.child_process import native_chatter_discarded
        os.close(2)
        sys.stderr = None
        with native_chatter_discarded():
            print("played")
        """
    assert run(code).stdout == "played\n"


def test_a_standard_error_in_memory_is_left_alone() -> None:
    code = """
        import io, os, sys
        from throwcount.sounds.child_process import native_chatter_discarded
        sys.stderr = io.StringIO()
        with native_chatter_discarded():
            os.write(2, b"chatter")
            print("kept", file=sys.stderr)
        print(sys.stderr.getvalue(), end="")
        """
    done = run(code)
    assert (done.stdout, done.stderr) == ("kept\n", "")
