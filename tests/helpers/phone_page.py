"""Pages for a phone, written from an act, and what a juggler sees and does on them."""

import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from acts import Act
from playwright.sync_api import Browser, Page, Playwright, ViewportSize, expect
from waiting import LIMIT, wait_until

from throwcount.caller.exports.page import write_page
from throwcount.engine.timing.timeline import Timeline
from throwcount.sounds.files.sound_pieces import SoundPieces, sound_pieces

CHROMIUM = shutil.which("chromium")
expect.set_options(timeout=1000 * LIMIT)
RATE = 8_000
CLICK_FRAMES = 80
UPRIGHT = ViewportSize(width=390, height=844)

WATCH = """
() => {
    const sound = window.sound;
    const [left, right] = [document.getElementById("left"), document.getElementById("right")];
    window.landed = [];
    sound.addEventListener("seeking", () => window.landed.push(sound.currentTime));
    const word = document.getElementById("word");
    const clocks = () => [sound.currentTime, Date.now() / 1000];
    let before = clocks();
    const next = () => {
        before = clocks();
        requestAnimationFrame(next);
    };
    requestAnimationFrame(next);
    window.changes = [];
    new MutationObserver(() => window.changes.push({
        left: left.textContent, right: right.textContent, word: word.textContent, before,
        at: clocks(),
    })).observe(document.getElementById("stage"), { childList: true, subtree: true });
}
"""


@dataclass(frozen=True)
class Change:
    """What is shown from a frame of the screen on."""

    left: str
    right: str
    word: str
    """What is shown large, where no throws are."""

    heard: tuple[float, float]
    """The sound's clock in the frame before, where this was not to be shown yet, and in this one.

    A machine that has much to do draws fewer frames, and they lie further apart."""

    seen: tuple[float, float]
    """The computer's clock in these two frames, in seconds."""

    def is_at(self, moment: float, tolerance: float) -> bool:
        """Return whether this is the first frame drawn after a moment of the sound."""
        before, now = self.heard
        return before - tolerance < moment < now + tolerance


@contextmanager
def chromium(
    playwright: Playwright, environment: Mapping[str, str] | None = None
) -> Iterator[Browser]:
    """Give the system's own Chromium, without a window; its sound goes nowhere, in real time.

    With an `environment` that names a sound server, that is where its sound goes.
    """
    browser = playwright.chromium.launch(
        executable_path=CHROMIUM,
        args=["--no-sandbox"],  # whoever runs the tests may be root, as in a container
        env=None if environment is None else dict(environment),
        ignore_default_args=[] if environment is None else ["--mute-audio"],
    )
    try:
        yield browser
    finally:
        browser.close()


def clicks(timeline: Timeline, rate: int = RATE, *, compact: bool = False) -> SoundPieces:
    """Return a sound with a short tone on every throw of a timeline."""
    samples = np.zeros((round((timeline.seconds or 0) * rate), 2), np.float32)
    tone = 0.5 * np.sin(2 * np.pi * 1000 / rate * np.arange(CLICK_FRAMES * rate // RATE))
    for beat in timeline:
        if beat.throws.right or beat.throws.left:
            start = round(beat.time * rate)
            samples[start : start + len(tone)] = tone[:, np.newaxis]
    return sound_pieces([samples], rate, len(samples), compact=compact)


def page_of(folder: Path, act: Act, rate: int = RATE, *, compact: bool = False) -> Path:
    """Write an act's page, with clicks as its sound."""
    sound = clicks(act.timeline, rate, compact=compact)
    path = folder / "page.html"
    write_page(path, act.title, act.timeline, act.chapters, sound, overwrite=True)
    return path


def opened(browser: Browser, path: Path, init: str = "", **options: object) -> Page:
    """Open a page as a file, as it is on a phone, and wait until it can be started.

    Parameters
    ----------
    browser
        Which one.
    path
        The page.
    init
        A script that runs before those of the page.
    options
        Of the phone, as in Playwright's `new_context`.
    """
    page = browser.new_context(**({"viewport": UPRIGHT} | options)).new_page()
    page.set_default_timeout(1000 * LIMIT)
    if init:
        page.add_init_script(init)
    page.goto(path.as_uri())
    until(page, "!document.getElementById('start').disabled")
    return page


def until(page: Page, condition: str) -> None:
    """Wait until a condition holds; the page's policy forbids it to look by itself."""
    wait_until(
        lambda: page.evaluate(condition), lambda: f"{condition} did not come true", every=0.01
    )


def until_heard(page: Page, seconds: float) -> None:
    """Wait until a moment of the sound."""
    until(page, f"window.sound.currentTime >= {seconds}")


def start(page: Page, part: int = 0) -> None:
    """Start with a part, from 0, and with no time to fill the hands."""
    page.select_option("#opening", str(part))
    page.select_option("#filling", "0")
    page.click("#start")
    until(page, "!window.sound.paused && window.sound.runs.length > 0")


def shown(page: Page, element: str) -> str:
    """Return the text of an element."""
    return page.locator(f"#{element}").inner_text().strip()


def moment(page: Page) -> float:
    """Return where the sound is, in seconds."""
    return float(page.evaluate("window.sound.currentTime"))


def leap(page: Page, seconds: float) -> None:
    """Let the sound go on from another moment, as if it had come there by itself."""
    page.evaluate(
        """time => {
            const sound = window.sound;
            sound.currentTime = time;
        }""",
        seconds,
    )
    until(page, "window.sound.paused || window.sound.runs.length > 0")


def watch(page: Page) -> None:
    """Keep what is shown, for `changes`, and where leaps lead, in `window.landed`."""
    page.evaluate(WATCH)


def changes(page: Page) -> list[Change]:
    """Return what has changed since `watch`."""
    return [
        Change(
            one["left"],
            one["right"],
            one["word"],
            *zip(one["before"], one["at"], strict=True),
        )
        for one in page.evaluate("window.changes")
    ]
