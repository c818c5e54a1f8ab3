"""Pedals on the page: drops and their catches, clean runs, one pedal, and the stretch repeated."""

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest
from acts import Act
from phone_page import leap, moment, opened, shown, start, until
from playwright.sync_api import Browser, Page, expect

from throwcount.sounds.mixing.clicks import CLICK_SECONDS

DWELL = 2 / 3
REACTION = 0.3
"""Seconds from a drop to the press of a pedal: a simple reaction to a sound takes 0.15 to 0.2 s
(handbook value, from memory), and the foot has to move."""

TONES = """
window.tones = [];
const { setValueAtTime } = AudioParam.prototype;
AudioParam.prototype.setValueAtTime = function (value, time) {
    if (value > 20) window.tones.push(value);
    return setValueAtTime.call(this, value, time);
};
const { start, stop } = AudioScheduledSourceNode.prototype;
OscillatorNode.prototype.start = function (time) {
    this.begun = time;
    return start.call(this, time);
};
OscillatorNode.prototype.stop = function (time) {
    window.length = time - this.begun;
    return stop.call(this, time);
};
"""


@pytest.fixture
def page(browser: Browser, path: Path) -> Iterator[Page]:
    """Give the act's page, opened, which keeps the tones that it plays."""
    page = opened(browser, path, TONES)
    yield page
    page.context.close()


def tones(page: Page) -> list[float]:
    """Return the frequencies that were played since this was last asked."""
    found: list[float] = page.evaluate("window.tones.splice(0)")
    return found


def pedals(page: Page) -> list[str]:
    """Return what the page says of the pedals, if it is seen."""
    return [
        " ".join(group.locator("dt, dd").all_text_contents())
        for group in page.locator("#pedal-words:visible div").all()
    ]


def caught(act: Act, begin: float, moment: float) -> int:
    """Return how many of the throws since a moment have been caught by another one.

    By Shannon's theorem a throw of n flies n less two dwell ratios; a 1 is handed over half-way.
    """
    count = 0
    beats = list(act.timeline)
    for beat, after in pairwise(beats):
        for throw in (*beat.throws.left, *beat.throws.right):
            value = int(throw[0])
            flies = value - 2 * DWELL if value > 1 else value / 2
            due = beat.time + flies * (after.time - beat.time)
            count += throw not in {"0", "2"} and beat.time >= begin - 1e-6 and due <= moment
    return count


def first_throw(act: Act, part: str) -> float:
    return next(beat.time for beat in act.timeline if beat.part == part)


def test_a_drop_is_silent_at_once_and_tells_the_catches(page: Page, an_act: Act) -> None:
    start(page)
    begin = first_throw(an_act, "531")
    assert pedals(page) == ["Page Up drop", "Page Down clean"]
    leap(page, begin + 4.2)
    until(page, "document.getElementById('left').textContent !== ''")
    assert pedals(page) == []
    tones(page)
    page.keyboard.press("PageUp")
    assert page.evaluate("[window.sound.paused, window.sound.runs.length]") == [True, 0]
    assert tones(page) == [520, 350]
    assert page.evaluate("window.length") > 3 * CLICK_SECONDS
    dropped = moment(page)
    number = caught(an_act, begin, dropped - REACTION)
    assert number > 8
    assert int(shown(page, "word")) == pytest.approx(number, abs=0)
    assert shown(page, "over") == "catches until the drop"
    assert shown(page, "said").startswith(f"Drop: {number} catches.")
    assert pedals(page) == ["Page Down go"]
    # In the wait a second press changes nothing: the run before was a drop.
    page.keyboard.press("PageUp")
    expect(page.locator("#under")).to_have_text(f"best {number}, clean 0, drops 1")
    page.keyboard.press("PageDown")
    assert tones(page) == [520, 350, 390]
    until(page, "!window.sound.paused")
    assert moment(page) < begin
    assert shown(page, "name") == "531"


def test_clean_marks_the_run_that_goes_on(page: Page, an_act: Act) -> None:
    start(page)
    leap(page, first_throw(an_act, "531") + 1.5)
    tones(page)
    page.keyboard.press("PageDown")
    assert tones(page) == [520, 780]
    expect(page.locator("#when")).to_contain_text("clean")
    assert not page.evaluate("window.sound.paused")
    page.keyboard.press("p")
    expect(page.locator("#over")).to_contain_text("clean, ")
    assert pedals(page) == ["Page Up a drop", "Page Down go"]
    assert shown(page, "under").endswith("clean 1, drops 0")
    # "Not that": the run before was a drop.
    page.keyboard.press("PageUp")
    expect(page.locator("#over")).to_contain_text("drop, ")
    assert shown(page, "under").endswith("clean 0, drops 1")
    assert shown(page, "word") == "paused"


def test_a_run_of_catches_begins_anew_after_each_start(page: Page, an_act: Act) -> None:
    start(page)
    leap(page, an_act.chapters[4].start - 0.5)
    page.keyboard.press("ArrowRight")
    begin = first_throw(an_act, "pairs")
    leap(page, begin + 2)
    until(page, "document.getElementById('left').textContent !== ''")
    page.keyboard.press("PageUp")
    assert int(shown(page, "word")) == caught(an_act, begin, moment(page) - REACTION)


@pytest.mark.parametrize("key", ["PageUp", "PageDown"])
def test_one_pedal_does_everything(page: Page, an_act: Act, key: str) -> None:
    page.select_option("#pedals", "1")
    start(page)
    begin = first_throw(an_act, "531")
    assert pedals(page) == ["pedal drop", "twice clean"]
    leap(page, begin + 3)
    tones(page)
    page.keyboard.press(key)
    assert page.evaluate("window.sound.paused")
    assert shown(page, "over") == "catches until the drop"
    assert pedals(page) == ["pedal go"]
    until(page, "performance.now() > (window.then ??= performance.now() + 700)")
    page.keyboard.press(key)
    until(page, "!window.sound.paused && window.sound.runs.length > 0")
    leap(page, begin + 3)
    page.keyboard.press(key)
    page.keyboard.press(key)
    assert tones(page) == [520, 350, 390, 520, 350, 520, 780]
    assert shown(page, "over") == "clean catches"
    assert shown(page, "under").endswith("clean 1, drops 1")
    page.keyboard.press(key)
    assert tones(page) == [390]


def test_a_press_while_hands_are_filled_begins_now(page: Page) -> None:
    page.select_option("#filling", "30")
    page.click("#start")
    assert pedals(page) == ["Page Up drop", "Page Down clean"]
    assert page.evaluate("window.sound.paused")
    page.keyboard.press("PageDown")
    until(page, "!window.sound.paused")


def test_one_pedal_is_remembered_where_the_browser_remembers(browser: Browser, path: Path) -> None:
    context = browser.new_context()
    for expected in ("2", "1"):
        page = context.new_page()
        page.goto(path.as_uri())
        assert page.locator("#pedals").input_value() == expected
        page.select_option("#pedals", "1")
    context.close()
    # A browser that keeps nothing of a page may throw an error wherever it is asked.
    forbids = "Object.defineProperty(window, 'localStorage', { get() { throw new Error('no'); } });"
    page = opened(browser, path, forbids)
    page.select_option("#pedals", "1")
    assert shown(page, "trouble") == ""
    start(page)
    page.context.close()


def test_one_stretch_is_repeated(page: Page, an_act: Act) -> None:
    page.select_option("#opening", "1")
    offered = page.locator("#until option").all_text_contents()
    assert offered == ["no part: play to the end", "2. pairs", "3. [33]33"]
    page.select_option("#until", "1")
    start(page, 1)
    leap(page, an_act.chapters[4].end - 0.3)
    until(page, f"window.sound.currentTime < {an_act.chapters[4].start}")
    assert shown(page, "name") == "pairs"
    # Who goes on to the part after it stays there.
    page.keyboard.press("ArrowRight")
    until(page, f"window.sound.currentTime > {an_act.chapters[4].end + 0.3}")
    assert page.evaluate("!window.sound.paused")
    # Chosen anew, it plays on to the end.
    page.click("#choose")
    expect(page.locator("#cover")).to_be_visible()
    assert page.evaluate("window.sound.paused")
    page.select_option("#until", "")
    start(page, 1)
    leap(page, an_act.chapters[4].end - 0.1)
    until(page, f"window.sound.currentTime > {an_act.chapters[4].end + 0.3}")


def test_the_speed_changes_while_it_plays(page: Page, an_act: Act) -> None:
    start(page)
    leap(page, first_throw(an_act, "531"))
    for _ in range(6):
        page.keyboard.press("-")
    expect(page.locator("#speed-now")).to_have_text("70 %")
    until(page, "window.sound.runs.at(-1).speed === 0.7")
    before, after = page.evaluate(
        "window.sound.runs.map(({ from, at, speed }) => ({from, at, speed}))"
    )[-2:]
    # The new run takes up the sound where the one before has come to.
    come = before["from"] + (after["at"] - before["at"]) * before["speed"]
    assert after["from"] == pytest.approx(come, abs=2 / 8000)
    for _ in range(12):
        page.keyboard.press("-")
    expect(page.locator("#speed-now")).to_have_text("50 %")
    assert page.locator("#slower").get_attribute("aria-disabled") == "true"
    assert shown(page, "left-over") != ""
