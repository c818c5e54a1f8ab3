"""The compact page in two browsers: every click at its beat, and the throw that is shown, at speed.

What the page hands to the browser's audio clock is kept, with the moment at which it is to sound.
"""

import base64
import hashlib
import os
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from acts import Act, one_pattern
from firefox import FIREFOX, firefox
from phone_page import CLICK_FRAMES, clicks
from phone_page import RATE as CLICK_RATE
from waiting import wait_until

from throwcount.caller.exports.page import write_page
from throwcount.engine.scheduling.scheduler import Chapter
from throwcount.engine.timing.tempo import ramp
from throwcount.engine.timing.timeline import Beat, has_throws
from throwcount.sounds.files.sound_pieces import sound_pieces

RATE = 48_000
ON_BEAT = 0.003
"""Seconds by which a click may be off its event."""

IN_STEP = 0.05
"""Seconds by which what is shown may differ from the sound's clock: three frames of a screen."""

RIGHT = 0.99
"""The share of moments at which the throw that is shown has to be right."""

HUM = 440.0
"""Hz of a soft tone under the clicks."""

CENTS = 30
"""By which its pitch may change with the speed: what is heard of it is no other note."""

KEEP = """(() => {
    window.laid = [];
    const { start } = AudioBufferSourceNode.prototype;
    AudioBufferSourceNode.prototype.start = function (when, offset) {
        window.laid.push([when, offset, this.buffer]);
        return start.call(this, when, offset);
    };
})();"""

LAID = """(() => {
    const [[begin]] = window.laid;
    const [last, , end] = window.laid.at(-1);
    const mono = new Int16Array(Math.round((last - begin) * 48000) + end.length);
    for (const [when, , buffer] of window.laid) {
        const first = Math.round((when - begin) * 48000);
        buffer.getChannelData(0).forEach((sample, index) => {
            mono[first + index] = Math.round(sample * 32767);
        });
    }
    let text = "";
    for (const byte of new Uint8Array(mono.buffer)) text += String.fromCharCode(byte);
    const { from, speed, at } = window.sound.runs.at(-1);
    return { begin, from, speed, at, mono: btoa(text), late: window.laid.map(([, late]) => late) };
})()"""

SAMPLE = """(async () => {
    const samples = [];
    const [left, right] = [document.getElementById("left"), document.getElementById("right")];
    for (let index = 0; index < 30; index += 1) {
        await new Promise((done) => setTimeout(done, 40 + 23 * (index % 3)));
        await new Promise(requestAnimationFrame);
        samples.push([window.sound.currentTime, left.textContent, right.textContent]);
    }
    return samples;
})()"""

CHOOSE = """(() => {
    document.getElementById("filling").value = "0";
    const speed = document.getElementById("speed");
    speed.value = "%d";
    speed.dispatchEvent(new Event("change"));
    return 0;
})()"""


@pytest.fixture(scope="module")
def routine() -> Act:
    """Give a short routine that gathers speed: twelve seconds of 531."""
    timeline = one_pattern("531", 45, ramp(180, 300, 45, "linear-time"), ready=1.0)
    seconds = timeline.seconds or 0
    first = next(beat.time for beat in timeline if has_throws(beat))
    return Act(
        timeline, (Chapter(0, first, "ready", "ready"), Chapter(first, seconds, "531")), "it"
    )


@pytest.fixture(scope="module")
def compact(routine: Act, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give its compact page, with a script before its own that keeps what is to sound."""
    [samples] = clicks(routine.timeline, RATE).blocks
    hum = 0.02 * np.sin(2 * np.pi * HUM / RATE * np.arange(len(samples)))
    samples += hum[:, np.newaxis].astype(np.float32)
    sound = sound_pieces([samples], RATE, len(samples), compact=True)
    path = tmp_path_factory.mktemp("compact") / "page.html"
    write_page(path, routine.title, routine.timeline, routine.chapters, sound, overwrite=False)
    digest = base64.b64encode(hashlib.sha256(KEEP.encode()).digest()).decode()
    page = path.read_text("ascii").replace("script-src ", f"script-src 'sha256-{digest}' ", 1)
    path.write_text(page.replace("<title>", f"<script>{KEEP}</script><title>", 1))
    return path


class Window:
    """A page in a browser, as far as the tests need it."""

    def __init__(self, evaluate: Callable[[str], Any], click: Callable[[str], object]) -> None:
        self.evaluate = evaluate
        self.click = click


BROWSERS = ("chromium", "firefox") if os.environ.get("THROWCOUNT_FIREFOX") else ("chromium",)
"""Firefox plays in real time on a sound server, and now and then waits for it for minutes."""


@pytest.fixture(scope="module", params=BROWSERS)
def window(
    request: pytest.FixtureRequest,
    require: Callable[[object, str], None],
    compact: Path,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Window]:
    if request.param == "chromium":
        page = request.getfixturevalue("browser").new_page()
        page.goto(compact.as_uri())
        yield Window(page.evaluate, page.click)
        page.close()
        return
    require(FIREFOX, "no firefox on this machine")
    server = request.getfixturevalue("sound_server")  # without one Firefox plays nothing
    with firefox(tmp_path_factory.mktemp("firefox"), server.environment) as one:
        one.goto(compact.as_uri())
        yield Window(one.evaluate, one.click)


def played(window: Window, percent: int, begin: float) -> tuple[dict[str, Any], list[Any]]:
    """Play from a moment on; return what was laid on the audio clock, and what was shown when."""
    wait_until(lambda: not window.evaluate("document.getElementById('start').disabled"))
    window.evaluate(CHOOSE % percent)
    window.click("#start")
    wait_until(lambda: window.evaluate("window.sound.runs.length > 0"))
    window.evaluate(f"(window.laid.length = 0, window.sound.currentTime = {begin})")
    wait_until(lambda: window.evaluate("window.laid.length > 3"))
    samples = window.evaluate(SAMPLE)
    laid = window.evaluate(LAID)
    window.click("#choose")
    return laid, samples


def errors_of_clicks(beats: list[Beat], laid: dict[str, Any]) -> npt.NDArray[np.float64]:
    """Return by how many seconds each click is late, by cross-correlation with the one written."""
    mono = np.frombuffer(base64.b64decode(laid["mono"]), "<i2").astype(float)
    frames = CLICK_FRAMES * RATE // CLICK_RATE
    tone = np.sin(2 * np.pi * 1000 / RATE * np.arange(frames))
    reach = RATE // 50
    errors = []
    for beat in beats:
        due = round(
            (laid["at"] - laid["begin"] + (beat.time - laid["from"]) / laid["speed"]) * RATE
        )
        around = mono[max(0, due - reach) : due + reach + frames]
        if due < reach or len(around) < 2 * reach + frames:
            continue
        errors.append((int(np.argmax(np.correlate(around, tone))) - reach) / RATE)
    return np.array(errors)


def pitch(laid: dict[str, Any]) -> float:
    """Return the frequency in Hz that is strongest about that of the hum."""
    mono = np.frombuffer(base64.b64decode(laid["mono"]), "<i2").astype(float)
    strength = np.abs(np.fft.rfft(mono * np.hanning(len(mono))))
    frequencies = np.fft.rfftfreq(len(mono), 1 / RATE)
    about = (frequencies > HUM / 1.5) & (frequencies < HUM * 1.5)
    return float(frequencies[about][np.argmax(strength[about])])


def is_right(beats: list[Beat], sample: list[Any]) -> bool:
    """Return whether a throw is shown that is in force less than the tolerance from a moment."""
    heard, left, right = sample
    return any(
        ("".join(beat.throws.left), "".join(beat.throws.right)) == (left, right)
        and beat.time < heard + IN_STEP
        and after.time > heard - IN_STEP
        for beat, after in pairwise(beats)
    )


@pytest.mark.parametrize("percent", [100, 70])
def test_clicks_and_throws_keep_their_beats(window: Window, routine: Act, percent: int) -> None:
    beats = [beat for beat in routine.timeline if has_throws(beat)]
    begin = beats[0].time - 0.3
    laid, samples = played(window, percent, begin)
    assert laid["speed"] == percent / 100
    assert not any(laid["late"]), "a block came too late to be heard whole"
    errors = errors_of_clicks(beats, laid)
    assert len(errors) > 5
    assert np.abs(errors).max() < ON_BEAT
    assert 1200 * abs(np.log2(pitch(laid) / HUM)) < CENTS
    thrown = [sample for sample in samples if beats[0].time < sample[0] < beats[-1].time]
    assert len(thrown) > 20
    assert np.mean([is_right(beats, sample) for sample in thrown]) >= RIGHT
