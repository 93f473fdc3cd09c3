"""The page for everyone: narrow screens, large text, keys instead of fingers, ears instead of eyes, paper, the dark."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from selenium.webdriver import ActionChains
from selenium.webdriver.common.keys import Keys

from tests.support.begun import case, put
from tests.support.counts import tries
from tests.support.page_states import every_state
from tests.support.phone import Phone
from tests.support.served import Served
from tests.support.tapping import begin

# WCAG 2.2 asks for 24 px (2.5.8); a glove needs more.
LEAST_TARGET_PX = 48
STATES = 32

FAULTY_BOXES = """
const faults = [];
const boxes = [];
const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walker.nextNode()) {
  const node = walker.currentNode;
  const owner = node.parentElement;
  const beside = owner.closest('.unseen, svg, script, style, noscript, .one-line');
  if (!node.data.trim() || beside || !owner.checkVisibility()) continue;
  const range = document.createRange();
  range.selectNodeContents(node);
  for (const box of range.getClientRects()) {
    if (box.width < 1) continue;
    const said = `"${node.data.trim().slice(0, 40)}"`;
    if (box.right > innerWidth + 1 || box.left < -1) faults.push(`${said} stands out of the page`);
    let fixed = false;
    for (let above = owner; above && above !== document.body; above = above.parentElement) {
      const style = getComputedStyle(above);
      fixed ||= ['fixed', 'sticky'].includes(style.position);
      if (style.overflowX === 'visible') continue;
      const frame = above.getBoundingClientRect();
      if (box.right > frame.right + 1 || box.left < frame.left - 1) faults.push(`${said} is cut`);
    }
    boxes.push({ box, owner, said, fixed });
  }
}
for (let one = 0; one < boxes.length; one += 1) {
  for (let other = one + 1; other < boxes.length; other += 1) {
    const [a, b] = [boxes[one], boxes[other]];
    if (a.owner === b.owner || a.fixed || b.fixed) continue;
    const across = Math.min(a.box.right, b.box.right) - Math.max(a.box.left, b.box.left);
    const down = Math.min(a.box.bottom, b.box.bottom) - Math.max(a.box.top, b.box.top);
    if (across > 2 && down > 4) faults.push(`${a.said} and ${b.said} overlap`);
  }
}
return faults;
"""
"""Text that is cut, stands out of the page, or lies over other text; but for the one line that unfolds."""


@pytest.mark.parametrize("dark", [False, pytest.param(True, marks=pytest.mark.long)], ids=["light", "dark"])
def test_axe_finds_nothing_wrong_and_targets_are_large(phone: Phone, tmp_path: Path, *, dark: bool) -> None:
    """axe-core measures contrast too (WCAG 1.4.3)."""
    if dark:
        phone.emulate(prefers_color_scheme="dark")
    faults: list[str] = []
    states = []
    for state in every_state(phone, tmp_path):
        states.append(state)
        # Dark and light differ in their colours alone.
        faults += [f"{state}: {each}" for each in phone.violations("color-contrast" if dark else None)]
        if dark:
            continue
        if phone.scrolls_sideways():
            faults.append(f"{state}: scrolls sideways")
        small = phone.run(
            "return [...document.querySelectorAll('button, summary, input:not(.unseen-input, [type=checkbox])')]"
            ".filter((each) => each.checkVisibility())"
            ".filter((each) => { const box = each.getBoundingClientRect();"
            "  return box.height < arguments[0] - 0.5 || box.width < arguments[0] - 0.5; })"
            ".map((each) => each.outerHTML.slice(0, 120))",
            LEAST_TARGET_PX,
        )
        faults += [f"{state}: too small for a glove: {each}" for each in small]
    assert "\n".join(faults) == ""
    assert len(states) == STATES
    # That there was no signal is the last state's own.
    assert [each for each in phone.complaints() if "ERR_INTERNET_DISCONNECTED" not in each] == []


def test_axe_would_find_what_is_wrong(phone: Phone) -> None:
    phone.open()
    phone.run(
        "const grey = document.createElement('p'); grey.textContent = 'hardly to be read'; grey.style.color = '#bbb';"
        "const mute = document.createElement('button'); document.querySelector('main').append(grey, mute);"
    )
    assert {each.split(":")[0] for each in phone.violations()} == {"color-contrast", "button-name"}


# The longer words are German's, and the larger letters are the harder to place: the rest is for studies in full.
SIZES = [(400, "de"), *[(200, "en"), (100, "de"), (200, "de"), (100, "en"), (400, "en")] * tries(0, full=1)]


@pytest.mark.parametrize(("percent", "language"), SIZES)
def test_no_text_is_cut_or_overlaps_at_any_size_of_text(
    tmp_path: Path, service: Served, percent: int, language: str
) -> None:
    faults: list[str] = []
    with Phone(tmp_path / "profile", service.url, text_px=16 * percent // 100) as phone:
        for state in every_state(phone, tmp_path, language):
            size = float(phone.run("return parseFloat(getComputedStyle(document.documentElement).fontSize)"))
            assert size == pytest.approx(0.16 * percent)
            faults += [f"{state}: {each}" for each in phone.run(FAULTY_BOXES)]
            if phone.scrolls_sideways():
                faults.append(f"{state}: scrolls sideways")
    assert "\n".join(sorted(set(faults))) == ""


def test_what_is_cut_or_overlaps_would_be_found(phone: Phone) -> None:
    phone.open("/?lang=en")
    assert phone.run(FAULTY_BOXES) == []
    phone.run(
        "const add = (text, style) => { const line = document.createElement('p'); line.textContent = text;"
        "  Object.assign(line.style, style); document.querySelector('main').append(line); };"
        "add('one line over it', { height: '0', margin: '0' }); add('another one', { margin: '0' });"
        "add('far to the right', { position: 'absolute', left: '340px', whiteSpace: 'nowrap' });"
        "add('cut in the middle', { width: '40px', overflow: 'hidden', whiteSpace: 'nowrap' });"
    )
    found = " ".join(phone.run(FAULTY_BOXES))
    assert "overlap" in found
    assert '"far to the right" stands out' in found
    assert '"cut in the middle" is cut' in found


def test_a_number_is_never_cut(phone: Phone) -> None:
    begin(phone.open("/?lang=en"))
    at = "observations.heel_fit.medial.length"
    phone.tap("place-medial_heel")
    phone.tap(f"number-{at}")
    for key in "62.5":
        phone.touch(phone.all(f".key[data-key='{key}']")[0])
    assert phone.get("keypad-shown").text.split()[0] == "62.5"
    phone.tap("keypad-next")
    phone.tap("keypad-back")
    assert phone.get("keypad-shown").text.split()[0] == "62.5"
    # At a desk the keys do what the pad does.
    ActionChains(phone.driver, duration=0).send_keys(Keys.BACKSPACE, "7").perform()
    assert phone.get("keypad-shown").text.split()[0] == "62.7"
    ActionChains(phone.driver, duration=0).send_keys(Keys.BACKSPACE, "5").perform()
    phone.tap("panel-close")
    phone.tap("place-medial_heel")
    assert phone.get(f"number-{at}").text == "62.5 mm"
    assert phone.run(FAULTY_BOXES) == []


def test_a_foot_is_looked_at_by_keys_alone(phone: Phone) -> None:
    phone.open("/?lang=en")
    keys = ActionChains(phone.driver, duration=0)

    def go_to_element(id_: str) -> None:
        """Move by Tab alone; what is in focus is outlined."""
        for _ in range(120):
            if phone.run("return document.activeElement.id") == id_:
                break
            keys.send_keys(Keys.TAB).perform()
        assert phone.run("return document.activeElement.id") == id_
        assert phone.run("return getComputedStyle(document.activeElement).outlineWidth") == "4px"

    def press(id_: str) -> None:
        go_to_element(id_)
        keys.send_keys(Keys.ENTER).perform()

    press("foot-left_fore")
    phone.until(lambda: phone.all("main.foot"), "the foot")
    assert phone.run("return document.activeElement.id") == "heading"
    press("pick-work-draught")
    press("place-medial_heel")
    # The sheet from below is announced by its heading, and Tab goes on from there.
    assert phone.run("return document.activeElement.id") == "panel-title"
    press("pick-observations.heel_fit.medial.width-tight")
    assert phone.run("return document.activeElement.id") == "pick-observations.heel_fit.medial.width-tight"
    keys.send_keys(Keys.ESCAPE).perform()
    assert not phone.all("#panel")
    press("good-toe")
    press("send")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")
    assert phone.run("return document.activeElement.id") == "heading"


def test_what_happens_is_said_to_those_who_listen(phone: Phone) -> None:
    begin(phone.open("/?lang=en"))
    [live] = phone.all("#live[role='status'][aria-live='polite']")
    phone.tap("good-heels")
    phone.until(lambda: live.get_attribute("textContent") == "Heels: good", "what was said")
    phone.tap("send")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")
    said = "Not enough was looked at for this foot to go on."
    phone.until(lambda: live.get_attribute("textContent") == said, "the decision")


def test_what_nobody_touched_is_hatched_and_not_sent(phone: Phone) -> None:
    begin(phone.open("/?lang=en"))
    phone.tap("good-heels")
    states = {each.get_attribute("data-place"): each.get_attribute("data-state") for each in phone.all(".place")}
    assert states["toe"] == "blank"
    assert "repeating-linear-gradient" in phone.run(
        "return getComputedStyle(document.getElementById('place-toe')).backgroundImage"
    )
    phone.tap("send")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")
    phone.touch(phone.all("#fold-not-assessed summary")[0])
    assert "toe" in phone.get("fold-not-assessed").text.lower()


@pytest.mark.parametrize("foot", ["left_fore", "right_hind"])
def test_every_place_and_twelve_nails_are_targets_that_do_not_overlap(phone: Phone, foot: str) -> None:
    begin(phone.open("/?lang=en"), foot, stage="nailed")
    phone.tap("to-about")
    for branch in ("medial", "lateral"):
        for hole in range(1, 7):
            phone.tap(f"hole-{branch}-{hole}")
    phone.tap("about-done")
    boxes = phone.run(
        "return [...document.querySelectorAll('.place')].map((each) => { const box = each.getBoundingClientRect();"
        "  return [each.id, box.left, box.top, box.right, box.bottom]; })"
    )
    assert len(boxes) == 12 + 6
    for number, (one, left, top, right, bottom) in enumerate(boxes):
        assert right - left >= LEAST_TARGET_PX
        assert bottom - top >= LEAST_TARGET_PX
        for other, *box in boxes[number + 1 :]:
            apart = left >= box[2] - 0.5 or box[0] >= right - 0.5 or top >= box[3] - 0.5 or box[1] >= bottom - 0.5
            assert apart, (one, other)


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_answer_stands_on_one_screen(phone: Phone, language: str) -> None:
    phone.open(f"/?lang={language}")
    put(phone, case("tight-heels-good-toe"))
    phone.tap("send")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")
    phone.run("scrollTo(0, 0)")
    above = phone.run("return document.querySelector('.thumb').getBoundingClientRect().top")
    for selector in (".decision", ".actions", ".map.marked", "#cautions summary"):
        bottom = phone.run(f"return document.querySelector('{selector}').getBoundingClientRect().bottom")
        assert bottom <= above + 1, selector
    assert phone.all(".found-mark")
    assert not phone.all("main > details[open]")


@pytest.mark.long
def test_on_paper_all_is_unfolded_and_nothing_is_there_to_tap(phone: Phone) -> None:
    phone.open("/?lang=en")
    put(phone, case("tight-heels-good-toe"))
    phone.tap("send")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")
    phone.emulate(media="print", prefers_color_scheme="dark")
    phone.run("dispatchEvent(new Event('beforeprint'))")
    assert not phone.all("details:not([open])")
    shown = phone.run("return [...document.querySelectorAll('button')].filter((each) => each.checkVisibility()).length")
    assert shown == 0
    assert phone.run("return getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    printed: Any = phone.driver.execute_cdp_cmd("Page.printToPDF", {"printBackground": True})["data"]
    assert len(printed) > 20_000
    phone.run("dispatchEvent(new Event('afterprint'))")
    assert phone.all("details:not([open])")


def test_those_who_want_no_motion_get_none(phone: Phone) -> None:
    phone.emulate(prefers_reduced_motion="reduce")
    begin(phone.open("/?lang=en"))
    durations = phone.run(
        "return [...document.querySelectorAll('button')].map((each) => getComputedStyle(each).transitionDuration)"
    )
    assert set(durations) == {"0s"}


def test_the_map_shows_inside_and_outside_where_they_lie(phone: Phone) -> None:
    """Seen from below with the toe upwards, the outside of a left foot is on the right: common practice, no source."""
    for foot, left in (("left_fore", "medial_heel"), ("right_fore", "lateral_heel")):
        begin(phone.open("/?lang=en"), foot)
        where = {name: phone.get(f"place-{name}").rect["x"] for name in ("medial_heel", "lateral_heel")}
        assert min(where, key=lambda name: where[name]) == left
        phone.tap("to-start")


def test_the_page_is_painted_within_two_seconds_on_a_slow_line_and_a_slow_telephone(
    tmp_path: Path, service: Served
) -> None:
    """A quarter of the processor's speed, 400 kbit/s, 400 ms round trip, nothing kept yet."""
    with Phone(tmp_path / "profile", service.url) as phone:
        phone.driver.execute_cdp_cmd("Network.enable", {})
        phone.driver.execute_cdp_cmd(
            "Network.emulateNetworkConditions",
            {"offline": False, "latency": 400, "downloadThroughput": 50_000, "uploadThroughput": 50_000},
        )
        phone.driver.execute_cdp_cmd("Emulation.setCPUThrottlingRate", {"rate": 4})
        phone.requests()
        phone.open("/?lang=en")
        painted = phone.run("return performance.getEntriesByName('first-contentful-paint')[0].startTime")
        assert painted < 2000
        asked = [each["url"] for each in phone.requests() if each["url"].startswith(service.url)]
        assert len([url for url in asked if "/service-worker" not in url]) < 10
        # All that is there before the first question can be answered, as it came over the line.
        assert phone.all("#foot-left_fore")
        moved = phone.run(
            "return ['navigation', 'resource'].flatMap((each) => performance.getEntriesByType(each))"
            ".reduce((sum, { transferSize }) => sum + transferSize, 0)"
        )
        assert 20_000 < moved < 125_000
