"""The page on a phone: how large, in what colours, how it begins, stops and goes on."""

import re
from dataclasses import replace
from importlib.resources import files
from itertools import islice, takewhile
from pathlib import Path

import pytest
from acts import Act, act, one_pattern
from phone_page import (
    changes,
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
from playwright.sync_api import Browser, Page, expect

from throwcount.engine.scheduling.scheduler import Chapter
from throwcount.engine.timing.tempo import steady
from throwcount.engine.timing.timeline import COUNT_IN, Beat, ByHand

MILLIMETRE = 1 / 0.159
"""CSS pixels; a phone's is about 1/160 inch wide (its makers' common reference)."""

COMFORTABLE = 9.3
READABLE = 4.65
"""Millimetres: 16 and 8 minutes of arc from two metres. Letters are to take 16 at least for reading
at length (ISO 9241-303, from memory); an eye of normal sight tells letters of 5 apart (Snellen)."""

GUESSED = 0.05
"""Seconds that a browser's clock of the sound may be off as it goes on."""

SCREENS = {
    "upright": (390, 844),
    "on its side": (844, 390),
    "small": (360, 640),
    "small, on its side": (640, 360),
    "tablet": (1024, 768),
}

INK = """
(id) => {
    const holder = document.getElementById(id);
    const style = getComputedStyle(holder);
    const context = document.createElement("canvas").getContext("2d");
    context.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
    return context.measureText("5").actualBoundingBoxAscent;
}
"""
"""How tall a digit is drawn in an element, in CSS pixels."""

SPILLED = """
() => [...document.querySelectorAll("#floor :is(p, h2, li, dd, button), #stage")]
    .filter((each) => each.checkVisibility({ checkVisibilityCSS: true }) && each.id !== "said")
    .filter((each) => {
        const box = each.getBoundingClientRect();
        return box.left < -1 || box.top < -1 || box.right > innerWidth + 1
            || box.bottom > innerHeight + 1 || each.scrollWidth > each.clientWidth + 1;
    })
    .map((each) => each.id || each.textContent)
"""
"""What is not wholly on the screen, or does not fit into its place."""

AT_ONCE = """
async () => {
    window.sound.currentTime = %s;
    await new Promise(requestAnimationFrame);
    await new Promise(requestAnimationFrame);
    const told = ["right-does", "left-does"].map((id) => document.getElementById(id).textContent);
    return [told, (%s)()];
}
"""
"""What hands do besides throwing at a moment, and what is not wholly on the screen then."""

HOW_AT_ONCE = """
async () => {
    window.sound.currentTime = %s;
    await new Promise(requestAnimationFrame);
    await new Promise(requestAnimationFrame);
    const [left, right] = ["left-how", "right-how"].map((id) => document.getElementById(id));
    return [[left.textContent, right.textContent, right.classList.contains("now")], (%s)()];
}
"""
"""How hands make their throws at a moment, whether the right one does it now, and what spills."""

COLOURS = """
() => [...document.querySelectorAll("body *")]
    .filter((each) => each.checkVisibility({ checkVisibilityCSS: true }))
    .filter((each) => [...each.childNodes].some((node) => node.nodeType === 3 && node.data.trim()))
    .map((each) => {
        let ground = each;
        while (getComputedStyle(ground).backgroundColor === "rgba(0, 0, 0, 0)") {
            ground = ground.parentElement;
        }
        return [
            each.id || each.className || each.tagName,
            getComputedStyle(each).color,
            getComputedStyle(ground).backgroundColor,
        ];
    })
"""
"""Every text with its colour and that behind it."""

AWAKE = """
window.asked = [];
Object.defineProperty(navigator, "wakeLock", { value: {
    request: async (kind) => {
        window.asked.push(kind);
        const lock = new EventTarget();
        lock.release = async () => window.asked.push("released");
        return lock;
    },
} });
"""
REFUSED = """
Object.defineProperty(navigator, "wakeLock", { value: {
    request: async () => { throw new DOMException("no", "NotAllowedError"); },
} });
"""
UNKNOWN = 'Object.defineProperty(navigator, "wakeLock", { value: undefined });'


def throws_of(an_act: Act, part: str) -> list[Beat]:
    return [
        beat
        for beat in an_act.timeline
        if beat.part == part and (beat.throws.left or beat.throws.right)
    ]


def luminance(colour: str) -> float:
    """Return the relative luminance of a colour (W3C, WCAG 2.2)."""
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4
        for part in (int(number) / 255 for number in re.findall(r"\d+", colour)[:3])
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colours (W3C, WCAG 2.2)."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_the_measure_of_contrast_is_the_published_one() -> None:
    # Examples of WCAG's own: black on white is 21, #767676 is just 4.54 on white.
    assert contrast("rgb(0, 0, 0)", "rgb(255, 255, 255)") == pytest.approx(21)
    assert contrast("rgb(118, 118, 118)", "rgb(255, 255, 255)") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("screen", SCREENS)
def test_all_is_on_the_screen_and_large_enough(
    browser: Browser, path: Path, an_act: Act, screen: str
) -> None:
    width, height = SCREENS[screen]
    page = opened(browser, path, viewport={"width": width, "height": height})
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    box = page.locator("#start").bounding_box()
    assert box is not None
    assert box["y"] + box["height"] <= height
    start(page)
    pairs = [throws_of(an_act, "pairs")[0].time, throws_of(an_act, "531")[26].time]
    rest = next(beat.time for beat in an_act.timeline if beat.part == "pause")
    for seconds in (0.1, *pairs, rest, (an_act.timeline.seconds or 0) - 0.9):
        leap(page, seconds)
        page.evaluate("new Promise(requestAnimationFrame)")
        assert page.evaluate(SPILLED) == []
    leap(page, pairs[1])
    until(page, "document.getElementById('left').textContent !== ''")
    assert page.evaluate(INK, "left") >= COMFORTABLE * MILLIMETRE
    for element in ("name", "next", "in"):
        assert page.evaluate(INK, element) >= READABLE * MILLIMETRE
    for button in page.get_by_role("button").all():
        box = button.bounding_box()
        assert box is not None
        assert min(box["width"], box["height"]) >= 44  # WCAG 2.2, 2.5.5
    page.keyboard.press("p")
    page.evaluate("document.querySelector('#pedal-words dd').id = 'pedal'")
    assert page.evaluate(INK, "pedal") >= READABLE * MILLIMETRE
    assert page.evaluate(SPILLED) == []
    page.context.close()


@pytest.mark.parametrize("screen", ["upright", "small, on its side"])
def test_what_a_hand_does_besides_throwing_is_large_and_ahead(
    browser: Browser, tmp_path: Path, screen: str
) -> None:
    plain = act()
    found = {20: {"pick_up": ByHand(right=("D",))}, 26: {"put_down": ByHand(left=("A", "B"))}}
    beats = [beat._replace(**found.get(beat.beat, {})) for beat in plain.timeline]
    timeline = replace(plain.timeline, beats=lambda: iter(beats))
    width, height = SCREENS[screen]
    path = page_of(tmp_path, replace(plain, timeline=timeline))
    page = opened(browser, path, viewport={"width": width, "height": height})
    start(page)
    for number, right, left in [
        (15, "", ""),
        (16, "pick up in 4", ""),
        (20, "pick up", ""),
        (23, "", "put down 2 in 3"),
        (26, "", "put down 2"),
        (27, "", ""),
    ]:
        time = next(beat.time for beat in beats if beat.beat == number) + 0.02
        told, spilled = page.evaluate(AT_ONCE % (time, SPILLED))
        assert [text.replace("\u00a0", " ") for text in told] == [right, left]
        assert spilled == []
    page.context.close()


@pytest.mark.parametrize("how", ["under the leg", "behind the back and over the other shoulder"])
def test_the_manner_of_a_throw_is_shown_as_it_comes(
    browser: Browser, tmp_path: Path, how: str
) -> None:
    slow = one_pattern("531", 9, steady(40))
    beats = [
        beat._replace(manners=ByHand(right=(how,)) if beat.throws.right == ("5",) else ByHand())
        for beat in slow
    ]
    fives = [beat.time for beat in beats if beat.manners.right]
    timeline = replace(slow, beats=lambda: iter(beats))
    chapters = (Chapter(0.0, fives[0], "ready", "ready"), Chapter(fives[0], fives[0] + 13.5, "531"))
    path = page_of(tmp_path, Act(timeline, chapters, "slow"))
    page = opened(browser, path, viewport={"width": 360, "height": 640})
    start(page)
    for moment_of, expected in (
        (fives[1], ["", how, True]),
        (fives[1] - 1.5, ["", how, False]),  # one beat before
        (fives[0] + 1.5, ["", "", False]),
    ):
        told, spilled = page.evaluate(HOW_AT_ONCE % (moment_of + 0.01, SPILLED))
        assert told == expected
        assert spilled == []
    page.context.close()


def test_long_names_fit_too(browser: Browser, tmp_path: Path) -> None:
    name = "Synchronous half-shower with a very long name indeed and more of it"
    names = [name, "to it", name, name, "Donaudampfschifffahrtsgesellschaft"]
    long = act(names, [f"next {name}, pick up one, and breathe"] * 3, name)
    page = opened(browser, page_of(tmp_path, long), viewport={"width": 360, "height": 640})
    start(page)
    for part in (0, 3):
        leap(page, long.chapters[part + 1].start + 0.05)
        page.evaluate("new Promise(requestAnimationFrame)")
        assert page.evaluate(SPILLED) == []
    page.context.close()


@pytest.mark.parametrize("scheme", ["dark", "light"])
def test_all_text_stands_out(browser: Browser, path: Path, an_act: Act, scheme: str) -> None:
    page = opened(browser, path, color_scheme=scheme, reduced_motion="reduce")
    page.locator("summary").click()
    seen = page.evaluate(COLOURS)
    start(page)
    leap(page, throws_of(an_act, "531")[23].time)  # the cue is on, and a throw is marked
    until(page, "document.getElementById('left').textContent !== ''")
    seen += page.evaluate(COLOURS)
    leap(page, throws_of(an_act, "531")[24].time)
    until(page, "document.getElementById('right').textContent !== ''")
    seen += page.evaluate(COLOURS)
    assert {"left", "right", "cue", "next", "pause-word", "KBD", "label"} <= {s[0] for s in seen}
    for name, colour, ground in seen:
        assert contrast(colour, ground) >= (7 if name in {"left", "right"} else 4.5), name
    grounds = {ground for *_, ground in seen}
    assert max(map(luminance, grounds)) > 0.9
    assert luminance(page.evaluate("getComputedStyle(document.body).backgroundColor")) == (
        pytest.approx(0 if scheme == "dark" else 1)
    )
    page.context.close()


@pytest.mark.parametrize("scheme", ["dark", "light"])
def test_axe_finds_nothing_wrong(browser: Browser, path: Path, an_act: Act, scheme: str) -> None:
    """Axe-core, which knows the rules of WCAG, finds none broken on the cover or on the floor."""
    page = opened(browser, path, color_scheme=scheme)
    page.evaluate(files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8"))

    def broken() -> list[str]:
        found = page.evaluate("axe.run().then(({ violations }) => violations)")
        return [f"{each['id']}: {[node['html'] for node in each['nodes']]}" for each in found]

    page.locator("summary").click()
    assert broken() == []
    start(page)
    assert broken() == []
    leap(page, throws_of(an_act, "531")[23].time)
    until(page, "document.getElementById('left').textContent !== ''")
    assert broken() == []
    page.keyboard.press("PageUp")
    assert broken() == []
    assert page.evaluate("axe.run().then(({ passes }) => passes.length)") > 20
    page.context.close()


def test_nothing_on_it_moves(page: Page) -> None:
    start(page)
    assert page.evaluate("document.getAnimations().length") == 0
    assert page.evaluate(
        "[...document.querySelectorAll('*')].every(each => "
        "getComputedStyle(each).transitionDuration === '0s'"
        " && getComputedStyle(each).animationName === 'none')"
    )


def test_hands_are_filled_before_the_sound_begins(page: Page, an_act: Act) -> None:
    page.clock.install(time=0)
    page.clock.pause_at(60)  # From here on the page's time is that which it is told.
    page.select_option("#opening", "1")
    page.select_option("#filling", "4")
    first = throws_of(an_act, "pairs")[0].time
    page.click("#start")
    assert page.evaluate("window.sound.paused")
    expect(page.locator("#over")).to_have_text("first throw in")
    expect(page.locator("#under")).to_have_text("in hand: right 2, left 1")
    assert shown(page, "word") == "0:04"
    wait = 4 - (first - moment(page))
    page.clock.run_for(round(1000 * wait) - 10)
    assert page.evaluate("window.sound.paused")
    page.clock.run_for(20)
    assert not page.evaluate("window.sound.paused")
    page.clock.resume()
    expect(page.locator("#stage")).to_have_attribute("data-shows", "squares")


def test_a_part_is_counted_in_by_the_sound_or_by_the_beats_before_it(
    browser: Browser, tmp_path: Path
) -> None:
    # Two patterns without a rest between them: the second one has no count-in of its own.
    plain = act(("531", "531 to 51", "bow", "pairs", "[33]33"))
    chapters = list(plain.chapters)
    second = throws_of(plain, "531")[15].time
    chapters[1:2] = [
        type(chapters[1])(chapters[1].start, second, "531"),
        type(chapters[1])(second, chapters[1].end, "531 again"),
    ]
    page = opened(browser, page_of(tmp_path, Act(plain.timeline, tuple(chapters), "two")))
    beats = list(plain.timeline)
    interval = 60 / 260
    watch(page)
    start(page, 1)
    # Four beats are counted, as at the start of the piece, and the half of one before them.
    assert page.evaluate("window.landed") == [pytest.approx(second - 4.5 * interval, abs=1e-3)]
    until_heard(page, second + 0.05)
    until(page, "document.getElementById('left').textContent !== ''")
    seen = changes(page)
    counting = list(takewhile(lambda change: not change.left + change.right, seen))
    counted = [change.word for change in counting if "\u25a0" in change.word]
    assert list(dict.fromkeys(counted)) == ["\u25a0" * left for left in (4, 3, 2, 1)]
    thrown = seen[len(counting)]
    assert thrown.is_at(second, GUESSED)
    assert (thrown.left, thrown.right) == ("5", "")
    # After a rest the sound counts in: it begins half a beat before that.
    page.keyboard.press("ArrowRight")
    until(page, "window.landed.length === 2")
    count_in, second_beat = (
        beat.time for beat in islice((b for b in beats if b.part == COUNT_IN and b.beat > 0), 2)
    )
    half = (second_beat - count_in) / 2
    assert page.evaluate("window.landed")[-1] == pytest.approx(count_in - half, abs=1e-3)
    page.context.close()


def test_a_pause_goes_on_with_the_cycle_that_was_cut(page: Page, an_act: Act) -> None:
    start(page)
    throws = throws_of(an_act, "531")
    leap(page, throws[13].time)  # the second throw of the fifth cycle
    until(page, "document.getElementById('when').textContent === 'cycle 5 of 10'")
    page.keyboard.press("Space")
    expect(page.locator("#word")).to_have_text("paused")
    assert page.evaluate("window.sound.paused")
    stopped = moment(page)
    page.evaluate("new Promise(requestAnimationFrame)")  # in which a sound would have gone on
    assert moment(page) == stopped
    watch(page)
    page.keyboard.press("Space")
    expect(page.locator("#stage")).to_have_attribute("data-shows", "squares")
    half = (throws[8].time - throws[7].time) / 2
    until(page, "window.landed.length > 0")
    assert page.evaluate("window.landed") == [pytest.approx(throws[7].time + half, abs=1e-3)]
    until_heard(page, throws[12].time + 0.1)
    thrown = next(change for change in changes(page) if change.left or change.right)
    assert thrown.left + thrown.right == "5"
    assert thrown.is_at(throws[12].time, GUESSED)


def test_a_pause_in_a_rest_goes_on_where_it_was(page: Page, an_act: Act) -> None:
    start(page)
    rest = [beat.time for beat in an_act.timeline if beat.part == "bow"]
    leap(page, rest[10])
    until(page, "document.getElementById('name').textContent === 'bow'")
    page.keyboard.press("Space")
    stopped = moment(page)
    watch(page)
    page.keyboard.press("Space")
    until(page, "!window.sound.paused")
    until(page, "window.landed.length > 0")
    assert page.evaluate("window.landed") == [pytest.approx(stopped, abs=GUESSED)]
    assert moment(page) >= stopped - GUESSED
    # In a rest, "again" is the part that is over, and "next" the one to come.
    leap(page, rest[20])
    page.keyboard.press("Home")
    expect(page.locator("#name")).to_have_text("531")


def test_what_the_system_stops_is_paused(page: Page) -> None:
    start(page)
    page.evaluate("document.querySelector('audio').pause()")
    expect(page.locator("#pause")).to_contain_text("Go on")
    expect(page.locator("#word")).to_have_text("paused")
    page.keyboard.press("Space")
    expect(page.locator("#pause")).to_contain_text("Pause")


def test_at_the_end_it_can_start_again(page: Page, an_act: Act) -> None:
    start(page)
    leap(page, (an_act.timeline.seconds or 0) - 0.2)
    expect(page.locator("#word")).to_have_text("end")
    assert page.locator("#forward").get_attribute("aria-disabled") == "true"
    expect(page.locator("#pause")).to_contain_text("Start")
    watch(page)
    page.keyboard.press("Space")
    expect(page.locator("#name")).to_have_text("531")
    until(page, "window.landed.length > 0")
    assert page.evaluate("window.landed") == [0]


@pytest.mark.parametrize(
    ("browser_has", "notice"),
    [
        (AWAKE, ""),
        (REFUSED, "This browser lets the screen go dark: choose a long screen time-out."),
        (UNKNOWN, "This browser lets the screen go dark: choose a long screen time-out."),
    ],
    ids=["it does", "it refuses", "it cannot"],
)
def test_the_screen_stays_on_or_it_is_told(
    browser: Browser, path: Path, an_act: Act, browser_has: str, notice: str
) -> None:
    page = opened(browser, path, browser_has)
    assert page.evaluate("window.asked ?? []") == []
    start(page)
    expect(page.locator("#awake")).to_have_text(notice)
    if not notice:
        page.keyboard.press("ArrowRight")
        assert page.evaluate("window.asked") == ["screen"]
        leap(page, (an_act.timeline.seconds or 0) - 0.1)
        expect(page.locator("#word")).to_have_text("end")
        assert page.evaluate("window.asked") == ["screen", "released"]
    page.context.close()


def test_a_sound_that_cannot_be_played_is_told(browser: Browser, tmp_path: Path) -> None:
    path = page_of(tmp_path, act())
    text = path.read_text("ascii")
    damaged = re.sub(r'(text/plain">)[^<]+', r"\1AAAA", text)
    path.write_text(damaged)
    page = browser.new_page()
    page.goto(path.as_uri())
    expect(page.locator("#trouble")).to_have_text(
        "This browser cannot play the sound in this page."
    )
    expect(page.locator("#start")).to_be_disabled()
    page.close()
