"""A sound server of our own, in software and in real time, and what was played on it.

PortAudio reaches it through ALSA's plug-in for PulseAudio. Nothing of it touches the sound system
of the machine. On Linux these packages bring it: libportaudio2, pulseaudio, pulseaudio-utils and
libasound2-plugins (Debian's names).
"""

import os
import shutil
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from ctypes.util import find_library
from pathlib import Path

import numpy as np
import numpy.typing as npt
from waiting import LIMIT, wait_until

RATE = 48_000
CHANNELS = 2
FRAME_BYTES = 2 * CHANNELS
SINK = "loopback"
PROGRAMS = ("pulseaudio", "pactl", "parec")
PLUGIN = "alsa-lib/libasound_module_pcm_pulse.so"
PLUGIN_FOLDERS = ("lib", "lib64", "lib/*")
ALSA_CONFIG = """\
</usr/share/alsa/alsa.conf>
pcm.!default { type pulse }
ctl.!default { type pulse }
"""


def missing_parts() -> list[str]:
    """Return what a server that can be played on needs and this machine lacks."""
    missing = [program for program in PROGRAMS if shutil.which(program) is None]
    if find_library("portaudio") is None:
        missing.append("PortAudio")
    if not any(
        found for folder in PLUGIN_FOLDERS for found in Path("/usr").glob(f"{folder}/{PLUGIN}")
    ):
        missing.append("plug-in of ALSA for PulseAudio")
    return missing


class SoundServer:
    """A running server with one output, of 48 kHz, 16 bits and two channels."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        config = folder / "asound.conf"
        config.write_text(ALSA_CONFIG)
        self.environment = os.environ | {
            "ALSA_CONFIG_PATH": str(config),
            "PULSE_COOKIE": str(folder / "cookie"),
            "PULSE_RUNTIME_PATH": str(folder),
            "PULSE_SERVER": f"unix:{folder / 'native'}",
            "PULSE_STATE_PATH": str(folder),
        }
        self.start()

    def start(self) -> None:
        """Start the server, as is done at first or after it has been killed."""
        self._process = self._started(
            "pulseaudio",
            "-n",
            "--daemonize=no",
            "--exit-idle-time=-1",
            "--use-pid-file=no",
            "--disable-shm=yes",
            "--realtime=no",
            "--high-priority=no",
            f"--log-target=file:{self._folder / 'log'}",
            f"--load=module-native-protocol-unix auth-anonymous=1 socket={self._folder / 'native'}",
            # Without norewinds the server takes back what it has been given, and leaves holes.
            f"--load=module-null-sink sink_name={SINK} rate={RATE} channels={CHANNELS} "
            "format=s16le norewinds=1",
        )
        try:
            wait_until(self._answers, lambda: "the server did not start")
            if _may_hurry():  # It gives up the priority that it is started with.
                urgent = ("chrt", "--all-tasks", "--fifo", "--pid", "30", str(self._process.pid))
                subprocess.run(urgent, check=True)
        except BaseException:
            self.close()
            raise

    def kill(self) -> None:
        """Let the server die at once, as in a crash."""
        self._process.kill()
        self._process.wait(LIMIT)

    def close(self) -> None:
        """End the server."""
        self._process.terminate()
        self._process.wait(LIMIT)

    @contextmanager
    def recording(self) -> Iterator[Path]:
        """Record what is played while the context lasts; silence counts where nothing is."""
        path = self._folder / f"{time.monotonic_ns()}.raw"
        with path.open("wb") as file:
            recorder = self._started(
                "parec",
                f"--device={SINK}.monitor",
                "--raw",
                "--format=s16le",
                f"--rate={RATE}",
                f"--channels={CHANNELS}",
                "--latency-msec=10",
                stdout=file.fileno(),
            )
            try:
                wait_until(lambda: path.stat().st_size > 0, lambda: "nothing was recorded")
                yield path
                # What was played last is still on its way: some 10 ms, and as much again often.
                arrived = path.stat().st_size
                on_its_way = round(0.3 * RATE) * FRAME_BYTES
                wait_until(lambda: path.stat().st_size >= arrived + on_its_way)
            finally:
                recorder.terminate()
                recorder.wait(LIMIT)

    def _started(
        self, *command: str, stdout: int = subprocess.DEVNULL
    ) -> "subprocess.Popen[bytes]":
        urgent = ("chrt", "-f", "30") if _may_hurry() else ()
        return subprocess.Popen(
            (*urgent, *command),
            env=self.environment,
            stdin=subprocess.DEVNULL,
            stdout=stdout,
            stderr=subprocess.DEVNULL,
        )

    def _answers(self) -> bool:
        asked = subprocess.run(
            ("pactl", "info"), env=self.environment, capture_output=True, check=False
        )
        return asked.returncode == 0


def recorded(path: Path) -> npt.NDArray[np.int16]:
    """Return a recording, shape (frames, 2)."""
    return np.fromfile(path, dtype="<i2").reshape(-1, CHANNELS)


def _may_hurry() -> bool:
    """Tell whether programs may be given the priority that a desktop gives its sound server."""
    if shutil.which("chrt") is None:
        return False
    tried = subprocess.run(("chrt", "-f", "30", "true"), capture_output=True, check=False)
    return tried.returncode == 0
