"""The page in Chromium: what a juggler sees, hears and does, and what cannot happen on it."""

import time
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from acts import Act, act
from phone_page import (
    changes,
    chromium,
    leap,
    moment,
    opened,
    page_of,
    shown,
    start,
    until,
    until_heard,
    watch,
)
from playwright.sync_api import Browser, Page, Playwright, expect
from sound_server import RATE as SERVER_RATE
from sound_server import SoundServer, recorded

from throwcount.engine.timing.timeline import Beat, Timeline

IN_STEP = 0.05
"""Seconds by which what is shown may differ from the sound's clock."""

HOSTILE = "</script><script>window.hit = 1</script><img src=x onerror='window.hit = 1'><b>{}</b>"

SAMPLE = """
async (count) => {
    const sound = window.sound;
    const samples = [];
    const [left, right] = [document.getElementById("left"), document.getElementById("right")];
    for (let index = 0; index < count; index += 1) {
        await new Promise((done) => setTimeout(done, 60 + 37 * (index % 3)));
        await new Promise(requestAnimationFrame);
        samples.push([sound.currentTime, left.textContent, right.textContent]);
    }
    return samples;
}
"""
"""What is shown at moments that keep no time with the beats, and the sound's clock.

Looked at in the frame that is drawn then, however long the machine takes to draw one."""


def sides(beat: Beat) -> tuple[str, str]:
    return "".join(beat.throws.left), "".join(beat.throws.right)


def throws(timeline: Timeline) -> list[Beat]:
    """Return the beats that change what is shown while throws are made."""
    return [beat for beat in timeline if beat.throws.left or beat.throws.right]


def may_be_shown(timeline: Timeline, time: float) -> set[tuple[str, str]]:
    """Return the throws that are in force less than the tolerance from a moment."""
    beats = throws(timeline)
    following = [beat.time for beat in beats[1:]] + [timeline.seconds or 0]
    return {
        sides(beat)
        for beat, end in zip(beats, following, strict=True)
        if beat.time < time + IN_STEP and end > time - IN_STEP
    }


def time_of(an_act: Act, beat: int) -> float:
    return next(each.time for each in an_act.timeline if each.beat == beat)


def first_throw(an_act: Act, chapter: int) -> Beat:
    start = an_act.chapters[chapter].start
    return next(beat for beat in throws(an_act.timeline) if beat.time >= start - 1e-6)


def test_after_a_click_the_shown_throw_is_that_of_the_sound(page: Page, an_act: Act) -> None:
    assert moment(page) == 0
    start(page)
    watch(page)
    leap(page, time_of(an_act, 0))
    samples = page.evaluate(SAMPLE, 50)
    assert len(samples) == 50
    for heard, left, right in samples:
        assert (left, right) in may_be_shown(an_act.timeline, heard), heard
    # The sound goes on and never back.
    assert all(before[0] <= after[0] for before, after in pairwise(samples))
    assert samples[-1][0] > samples[0][0]
    # Many of the moments lie so far from a change that one throw alone is right.
    certain = [may_be_shown(an_act.timeline, sample[0]) for sample in samples]
    assert sum(len(each) == 1 for each in certain) > 20
    assert len(set().union(*certain)) >= 6


def test_every_change_comes_with_its_beat(page: Page, an_act: Act) -> None:
    start(page, 1)
    watch(page)
    pairs = [beat for beat in throws(an_act.timeline) if beat.part == "pairs"]
    until_heard(page, pairs[4].time + 0.1)
    seen = [change for change in changes(page) if change.left or change.right]
    for change, beat in zip(seen, pairs, strict=False):
        assert (change.left, change.right) == sides(beat)
        assert change.is_at(beat.time, IN_STEP)
    assert len(seen) > 4


def test_throws_are_seen_when_they_are_heard(
    playwright: Playwright, sound_server: SoundServer, an_act: Act, tmp_path: Path
) -> None:
    """The sound that leaves the browser is recorded, and compared by the computer's clock."""
    path = page_of(tmp_path, an_act, SERVER_RATE)
    with (
        chromium(playwright, sound_server.environment) as browser,
        sound_server.recording() as recording,
    ):
        page = opened(browser, path)
        start(page)
        leap(page, time_of(an_act, 0) - 0.4)
        watch(page)
        grown = []
        while moment(page) < time_of(an_act, 15):
            grown.append((time.time(), recording.stat().st_size))
            time.sleep(0.002)  # sound is played and recorded in real time
        seen = [change.seen for change in changes(page) if change.left or change.right]
    sound = recorded(recording)[:, 0].astype(float)
    # A frame is in the file no sooner than it is heard: the least delay tells when it was.
    begin = min(now - size / 4 / SERVER_RATE for now, size in grown)
    loud = np.flatnonzero(np.abs(sound) > 3000)
    onsets = loud[np.insert(np.diff(loud) > SERVER_RATE // 10, 0, True)] / SERVER_RATE + begin
    # Seconds from a sound to the first frame drawn after it, and from the one before to the sound.
    apart = [
        np.min(np.maximum(0, np.maximum(before - onsets, onsets - now))) for before, now in seen
    ]
    assert len(seen) > 10
    assert np.quantile(apart, 0.9) < IN_STEP


def test_nothing_leaves_the_page(browser: Browser, path: Path) -> None:
    page = opened(browser, path)
    asked: list[str] = []
    page.context.on("request", lambda request: asked.append(request.url))
    page.context.set_offline(True)
    page.reload()
    until(page, "!document.getElementById('start').disabled")
    start(page)
    until_heard(page, 0.2)
    page.keyboard.press("ArrowRight")
    until_heard(page, 5)
    assert asked[0] == path.as_uri()
    assert all(url.startswith("blob:") for url in asked[1:])
    page.context.close()


ATTEMPTS = {
    "a request": "fetch('https://example.org/').then(() => 'done', () => 'refused')",
    "an image": """new Promise(done => {
        const image = new Image();
        image.onload = () => done("done");
        image.onerror = () => done("refused");
        image.src = "https://example.org/a.png";
    })""",
    "a script": """new Promise(done => {
        const script = document.createElement("script");
        script.textContent = "window.hit = 1";
        document.body.append(script);
        setTimeout(() => done(window.hit ? "done" : "refused"), 50);
    })""",
    "a handler": """(() => {
        const button = document.createElement("button");
        button.setAttribute("onclick", "window.hit = 1");
        button.click();
        return window.hit ? "done" : "refused";
    })()""",
}


def test_the_policy_refuses_what_is_not_the_pages_own(browser: Browser, path: Path) -> None:
    page = opened(browser, path)
    answered: list[str] = []
    page.on("response", lambda response: answered.append(response.url))
    assert {name: page.evaluate(attempt) for name, attempt in ATTEMPTS.items()} == dict.fromkeys(
        ATTEMPTS, "refused"
    )
    assert not answered
    page.context.close()


def test_a_script_in_a_cue_a_name_or_the_title_is_text(browser: Browser, tmp_path: Path) -> None:
    names = [HOSTILE.format(place) for place in ("one", "bridge", "bow", "two", "last")]
    cues = [HOSTILE.format(place) for place in ("cue", "between", "later")]
    hostile = act(names, cues, HOSTILE.format("title"))
    page = opened(browser, page_of(tmp_path, hostile))
    assert page.title() == HOSTILE.format("title")
    assert shown(page, "title") == HOSTILE.format("title")
    count = page.locator("*").count()
    options = page.locator("#opening option").all_text_contents()
    assert options == [f"{n}. {names[at]}" for n, at in ((1, 0), (2, 3), (3, 4))]
    start(page)
    leap(page, time_of(hostile, 21))
    expect(page.locator("#cue")).to_have_text(cues[0])
    assert shown(page, "name").startswith("</script><script>")
    assert page.locator("#name").text_content() == names[0]
    assert page.locator("#next").text_content() == names[2]
    assert page.evaluate("window.hit") is None
    assert page.locator("#floor script, #floor img, #floor b").count() == 0
    signs = page.locator("#cycle li").count()
    assert page.locator("*").count() == count + signs
    page.context.close()


def test_keys_do_all(page: Page, an_act: Act) -> None:
    page.keyboard.press("Tab")
    expect(page.locator("#start")).to_be_focused()
    page.select_option("#filling", "0")
    page.locator("#start").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#pause")).to_be_focused()
    parts = {an_act.chapters[index].title: first_throw(an_act, index) for index in (1, 4, 6)}
    names = list(parts)
    for key, name in [
        ("n", names[1]),
        ("ArrowRight", names[2]),
        ("n", names[2]),  # there is none after it
        ("ArrowLeft", names[1]),
        ("ArrowDown", names[2]),
        ("b", names[1]),
        ("a", names[1]),
        ("n", names[2]),
        ("ArrowUp", names[2]),
        ("b", names[1]),
        ("b", names[0]),
        ("Home", names[0]),
    ]:
        page.keyboard.press(key)
        expect(page.locator("#name")).to_have_text(name)
        assert -3 < moment(page) - parts[name].time < 0
    for key in ("Space", "Enter", "p"):
        page.keyboard.press(key)
        expect(page.locator("#pause")).to_contain_text("Go on")
        assert page.evaluate("window.sound.paused")
        page.keyboard.press(key)
        expect(page.locator("#pause")).to_contain_text("Pause")
        until(page, "!window.sound.paused")


@pytest.mark.parametrize("key", ["p", "Space", "Enter"])
def test_a_pedal_that_is_held_asks_once(page: Page, key: str) -> None:
    start(page)
    expect(page.locator("#pause")).to_be_focused()
    page.keyboard.down(key)
    page.keyboard.down(key)  # a second one without letting go is a repetition
    page.keyboard.up(key)
    expect(page.locator("#pause")).to_contain_text("Go on")


@pytest.mark.parametrize("key", ["Space", "PageDown", "PageUp"])
def test_any_pedal_starts(page: Page, key: str) -> None:
    page.select_option("#filling", "0")
    if key == "Space":
        page.locator("#title").click()
    else:
        page.locator("#filling").focus()  # a list that was chosen from keeps no pedal to itself
    page.keyboard.press(key)
    until(page, "!window.sound.paused")
    expect(page.locator("#floor")).to_be_visible()


def test_tab_goes_through_all_buttons_and_shows_where(page: Page) -> None:
    reached = []
    for _ in range(7):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.id || document.activeElement.tagName"))
    choices = ["opening", "until", "speed", "filling", "pedals"]
    assert reached == ["start", *choices, "SUMMARY"]
    start(page)
    page.locator("#pause").focus()
    order = [page.evaluate("document.activeElement.id")]
    for _ in range(6):
        page.keyboard.press("Tab")
        order.append(page.evaluate("document.activeElement.id"))
        outline = page.evaluate(
            "(({ outlineStyle, outlineWidth }) => [outlineStyle, parseFloat(outlineWidth)])"
            "(getComputedStyle(document.activeElement))"
        )
        assert outline[0] == "solid"
        assert outline[1] >= 2
    assert order == ["pause", "back", "again", "forward", "slower", "faster", "choose"]


def test_a_focused_button_takes_space_for_itself(page: Page, an_act: Act) -> None:
    start(page)
    page.locator("#forward").focus()
    page.keyboard.press("Space")
    expect(page.locator("#name")).to_have_text(an_act.chapters[4].title)
    # A tap leaves no focus behind: the pedal that sends a space pauses.
    page.click("#again")
    page.keyboard.press("Space")
    expect(page.locator("#pause")).to_contain_text("Go on")


def test_a_screen_reader_finds_all(page: Page, an_act: Act) -> None:
    expect(page.locator("#cover")).to_match_aria_snapshot("""
        - main:
          - heading "Evening act" [level=1]
          - paragraph: 3 parts, 0:50 long
          - button "Start"
          - text: Begin with
          - combobox "Begin with"
          - text: Over and over until the end of
          - combobox "Over and over until the end of"
          - text: Speed, at the same pitch
          - combobox "Speed, at the same pitch"
          - text: Time to fill the hands
          - combobox "Time to fill the hands"
          - text: Pedals
          - combobox "Pedals"
          - paragraph: /Keep the volume low enough to talk over/
    """)
    start(page)
    leap(page, time_of(an_act, 0))
    expect(page.locator("#floor")).to_match_aria_snapshot("""
        - main:
          - heading "Evening act" [level=1]
          - heading "531" [level=2]
          - region "Now":
            - heading "Now" [level=3]
          - list "This cycle":
            - listitem: "5"
            - listitem: "3"
            - listitem: "1"
          - region "Coming":
            - heading "Coming" [level=3]
          - navigation "Controls":
            - heading "Controls" [level=3]
            - button "Pause"
            - button "Back"
            - button "Again"
            - button "Next"
            - button "Slower"
            - button "Faster"
            - button "Choose anew"
          - status
    """)


def test_only_parts_and_cues_are_read_out(page: Page, an_act: Act) -> None:
    page.evaluate("""() => {
        window.told = [];
        const said = document.getElementById("said");
        new MutationObserver(() => window.told.push(said.textContent))
            .observe(said, { childList: true });
    }""")
    start(page)
    leap(page, time_of(an_act, 19))
    # From the cue over the bridge into the rest: some fourteen throws.
    until_heard(page, time_of(an_act, 32))
    page.keyboard.press("p")
    expect(page.locator("#word")).to_have_text("paused")
    assert page.evaluate("window.told") == [
        "531, under the leg. Next: bow.",
        "Cue: next bow.",
        "531 to 51. Next: bow.",
        "Paused.",
    ]
    live = page.locator("[aria-live], [role=status], [role=alert]")
    assert live.evaluate_all("all => all.map(each => each.id)") == ["trouble", "awake", "said"]
