"""A foot traced on a photograph with a card on it: nothing that was tapped is lost, and keys alone will do."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from selenium.webdriver import ActionChains
from selenium.webdriver.common.keys import Keys

from tests.browser.test_tracing import load, part, tap_photo
from tests.support.phone import DESK, PHONE, Phone
from tests.support.photographed_foot import CARDS, PhotographedFoot
from tests.support.tapping import begin
from tests.support.traced_photo import Point

pytestmark = pytest.mark.long

FOOT = PhotographedFoot(3.0, 15.0, "card", seed=4)
PARTS = ("heels", "hoof", "shoe", "holes")


def picture(folder: Path, foot: PhotographedFoot = FOOT) -> Path:
    path = folder / "photo.png"
    foot.picture().save(path)
    return path


def spots(name: str, foot: PhotographedFoot = FOOT) -> list[Point]:
    return [(x, y) for x, y, *_ in foot.taps(scatter=0.01, wander=0.0)[name]]


def tracing(phone: Phone) -> Any:
    return phone.kept(f"sheet.{phone.kept('current')}")["tracing"]


def start(phone: Phone, folder: Path, language: str = "en", size: tuple[int, int] = DESK) -> None:
    phone.resize(size)
    begin(phone.open(f"/?lang={language}"))
    phone.tap("to-trace")
    load(phone, picture(folder))


def to_part(phone: Phone, name: str) -> None:
    """Tap what comes before a part, and go there."""
    tap_photo(phone, spots("scale"))
    for before, here in zip(("scale", *PARTS), PARTS, strict=False):
        phone.tap("onward")
        part(phone, here)
        if here == name:
            return
        tap_photo(phone, spots(here))
        assert before


def screen(phone: Phone, point: Point) -> tuple[int, int]:
    """Where a point of the photograph lies, from the middle of the canvas."""
    canvas = phone.all("canvas")[0]
    scale, x, y = (float(str(canvas.get_attribute(f"data-{name}"))) for name in ("scale", "x", "y"))
    box = canvas.rect
    return round(point[0] * scale + x - box["width"] / 2), round(point[1] * scale + y - box["height"] / 2)


def test_a_card_gives_the_scale_and_what_was_found_lies_over_the_photo(phone: Phone, tmp_path: Path) -> None:
    start(phone, tmp_path)
    to_part(phone, "holes")
    phone.tap("onward")
    phone.get("trace-overlay")
    said = {item.get_attribute("data-place"): item.text for item in phone.all(".found li")}
    assert set(said) == {"toe", *(f"{side}_{at}" for side in ("medial", "lateral") for at in ("quarter", "heel"))}
    assert "The card takes the tilt" in phone.get("trace-sure").text
    # The overlay is no empty canvas, and has the red of the wall on it.
    red = phone.run(
        "const canvas = document.getElementById('trace-overlay');"
        "const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);"
        "let count = 0; for (let at = 0; at < data.length; at += 4)"
        "  if (data[at] > 150 && data[at + 1] < 40 && data[at + 2] < 60) count += 1; return count;"
    )
    assert red > 200
    phone.tap("trace-use")
    phone.until(lambda: phone.where == "foot", "the foot")
    sent = phone.kept(f"sheet.{phone.kept('current')}")["answers"]["outline"]["sent"]
    hoof = np.array(sent["hoof"])
    assert np.ptp(hoof[:, 0]) == pytest.approx(136, abs=2.5)
    assert sent["made"]["by"] == "photograph"
    assert 0.3 < sent["made"]["u"] < 3
    # Tapped on the whole photo, without a zoom.
    assert 0.01 < sent["scale"]["u"] / sent["scale"]["mm"] < 0.2
    assert "hidden" not in sent


def test_four_points_that_are_no_card_are_told_at_once(phone: Phone, tmp_path: Path) -> None:
    start(phone, tmp_path)
    tap_photo(phone, [(300, 300), (400, 300), (500, 300), (600, 300)])
    assert "not the corners" in phone.get("trace-count").text
    assert not phone.get("onward").is_enabled()


def test_no_tap_is_lost_near_another_and_every_change_is_taken_back(phone: Phone, tmp_path: Path) -> None:
    start(phone, tmp_path)
    to_part(phone, "holes")
    near = [(480.0, 480.0), (500.0, 480.0), (520.0, 485.0), (480.0, 500.0)]
    tap_photo(phone, near)
    assert len(tracing(phone)["holes"]) == 4
    kept = tracing(phone)["holes"]
    canvas = phone.all("canvas")[0]
    across, down = screen(phone, near[3])
    ActionChains(phone.driver, duration=0).move_to_element_with_offset(
        canvas, across, down
    ).click_and_hold().move_by_offset(30, 20).release().perform()
    assert tracing(phone)["holes"][3] != kept[3]
    phone.tap("trace-undo")
    assert tracing(phone)["holes"] == kept
    phone.tap("trace-undo")
    assert tracing(phone)["holes"] == kept[:3]


def test_nothing_is_set_beside_the_photo_and_a_turned_telephone_shows_what_it_showed(
    phone: Phone, tmp_path: Path
) -> None:
    start(phone, tmp_path, size=PHONE)
    tap_photo(phone, [(20.0, -10.0), (400.0, -15.0)])
    assert tracing(phone)["corners"] == []
    assert "beside the photo" in phone.get("trace-count").text
    tap_photo(phone, [(20.0, 20.0)])
    assert len(tracing(phone)["corners"]) == 1
    for _ in range(2):
        phone.tap("trace-in")

    def middle() -> list[float]:
        canvas = phone.all("canvas")[0]
        scale, x, y = (float(str(canvas.get_attribute(f"data-{name}"))) for name in ("scale", "x", "y"))
        return [scale, (canvas.rect["width"] / 2 - x) / scale, (canvas.rect["height"] / 2 - y) / scale]

    def drawn() -> bool:
        return bool(
            phone.run("const board = document.querySelector('canvas'); return board.width === board.clientWidth")
        )

    before = middle()
    for size in ((740, 360), PHONE):
        phone.resize(size)
        phone.until(drawn, "drawn at its new size")
        assert middle() == pytest.approx(before, abs=1)


def test_a_sheet_that_is_taken_for_a_card_is_told(phone: Phone, tmp_path: Path) -> None:
    start(phone, tmp_path, "de")
    tap_photo(phone, [(300.0, 300.0), (595.0, 300.0), (595.0, 510.0), (300.0, 510.0)])
    assert "passen eher zu einer anderen Vorlage" in phone.get("trace-count").text
    phone.tap("trace-by-sheet")
    phone.until(lambda: "passen eher" not in phone.get("trace-count").text, "no such word of the sheet")


def test_a_glass_shows_what_lies_under_the_finger_and_a_long_press_sets_where_it_is_lifted(
    phone: Phone, tmp_path: Path
) -> None:
    start(phone, tmp_path)
    canvas = phone.all("canvas")[0]
    across, down = screen(phone, (500, 500))
    finger = ActionChains(phone.driver, duration=0)
    finger.move_to_element_with_offset(canvas, across, down).click_and_hold().pause(0.6).move_by_offset(40, 10)
    finger.perform()
    assert canvas.get_attribute("data-glass") == "shown"
    # The photograph has stayed where it was, and the point comes where the finger is lifted.
    ActionChains(phone.driver, duration=0).release().perform()
    assert canvas.get_attribute("data-glass") == "none"
    [(x, y, u)] = tracing(phone)["corners"]
    scale = float(str(canvas.get_attribute("data-scale")))
    assert [x, y] == pytest.approx([500 + 40 / scale, 500 + 10 / scale], abs=2 / scale)
    assert u == pytest.approx(2 / scale, abs=0.02)


def test_a_point_goes_to_the_edge_unless_that_is_switched_off(phone: Phone, tmp_path: Path) -> None:
    start(phone, tmp_path)
    to_part(phone, "hoof")
    edge = np.array(spots("hoof")[3])
    inwards = np.array([FOOT.size / 2] * 2) - edge
    beside = edge + 4 * inwards / np.hypot(*inwards)
    tap_photo(phone, [tuple(beside)])
    snapped = np.array(tracing(phone)["hoof"][0][:2])
    assert "Taken to the edge" in phone.get("trace-count").text
    assert np.abs((snapped - edge) @ inwards / np.hypot(*inwards)) < 1.5
    phone.tap("trace-undo")
    phone.tap("trace-snap")
    assert phone.get("trace-snap").get_attribute("aria-pressed") == "false"
    tap_photo(phone, [tuple(beside)])
    scale = float(str(phone.all("canvas")[0].get_attribute("data-scale")))
    assert tracing(phone)["hoof"][0][:2] == pytest.approx(beside.tolist(), abs=1 / scale)


def test_what_is_hidden_is_said_and_sent(phone: Phone, tmp_path: Path) -> None:
    start(phone, tmp_path)
    to_part(phone, "hoof")
    wall = spots("hoof")
    tap_photo(phone, wall[:6])
    phone.tap("trace-hide")
    assert "Hidden up to the next point" in phone.get("trace-count").text
    tap_photo(phone, wall[8:])
    for name in ("shoe", "holes"):
        phone.tap("onward")
        part(phone, name)
        tap_photo(phone, spots(name))
    phone.tap("onward")
    phone.tap("trace-use")
    phone.until(lambda: phone.where == "foot", "the foot")
    sent = phone.kept(f"sheet.{phone.kept('current')}")["answers"]["outline"]["sent"]
    [stretch] = sent["hidden"]
    at = [sent["hoof"].index(end) for end in stretch]
    assert at[1] == at[0] + 1


def test_after_a_reload_photo_and_points_are_there_and_another_photo_is_not_taken_for_it(
    phone: Phone, tmp_path: Path
) -> None:
    start(phone, tmp_path)
    to_part(phone, "hoof")
    tap_photo(phone, spots("hoof")[:5])
    before = tracing(phone)
    phone.driver.refresh()
    part(phone, "hoof")
    assert tracing(phone) == before
    phone.tap("trace-undo")
    assert len(tracing(phone)["hoof"]) == 4
    # Nothing of the photograph was sent.
    assert not [each for each in phone.requests() if each["method"] == "POST"]
    for _ in range(3):
        phone.tap("back")
    phone.get("photo-file").send_keys(str(picture(tmp_path, PhotographedFoot(2.0, 5.0, seed=1))))
    phone.until(lambda: "another photo" in phone.text, "said")
    phone.tap("trace-anew")
    phone.until(lambda: not tracing(phone).get("hoof"), "begun anew")


_KEPT = """const done = arguments[0]; const asked = indexedDB.open("fitcheck.photos", 1);
asked.onupgradeneeded = () => asked.result.createObjectStore("photos");
asked.onsuccess = () => { const all = asked.result.transaction("photos").objectStore("photos").count();
  all.onsuccess = () => { asked.result.close(); done(all.result); }; };"""
"""How many photographs this browser keeps."""


def test_the_photo_goes_when_its_tracing_is_used_or_its_foot_is_thrown_away(phone: Phone, tmp_path: Path) -> None:
    def kept() -> Any:
        return phone.driver.execute_async_script(_KEPT)

    start(phone, tmp_path)
    to_part(phone, "holes")
    phone.until(lambda: kept() == 1, "kept")
    phone.tap("onward")
    phone.tap("trace-use")
    phone.until(lambda: kept() == 0, "gone")
    phone.tap("to-trace")
    load(phone, tmp_path / "photo.png")
    phone.until(lambda: kept() == 1, "kept")
    phone.run(
        "for (const name of Object.keys(localStorage)) if (name.includes('sheet.')) localStorage.removeItem(name);"
    )
    phone.open("/?lang=en")
    phone.until(lambda: kept() == 0, "gone with its foot")


def _focus(phone: Phone, id_: str) -> None:
    """Come to an element by the tabulator alone."""
    for _ in range(40):
        if phone.run("return document.activeElement?.id || document.activeElement?.tagName") == id_:
            return
        ActionChains(phone.driver).send_keys(Keys.TAB).perform()
    raise AssertionError(f"{id_} cannot be reached by keys")


def _aim(phone: Phone, point: Point) -> None:
    """Bring a point of the photograph under the cross and set it, by keys."""
    across, down = screen(phone, point)
    keys = ActionChains(phone.driver, duration=0)
    for far, more, less in ((across, Keys.ARROW_RIGHT, Keys.ARROW_LEFT), (down, Keys.ARROW_DOWN, Keys.ARROW_UP)):
        way, steps = (more if far > 0 else less), round(abs(far) / 4)
        keys.key_down(Keys.SHIFT).send_keys(way * (steps // 8)).key_up(Keys.SHIFT).send_keys(way * (steps % 8))
    keys.send_keys(Keys.ENTER).perform()


@pytest.mark.parametrize("language", ["en", "de"])
def test_keys_alone_trace_a_foot_and_axe_finds_nothing_wrong(phone: Phone, tmp_path: Path, language: str) -> None:
    faults: list[str] = []

    def look(state: str) -> None:
        faults.extend(f"{state}: {each}" for each in phone.violations())
        if phone.scrolls_sideways():
            faults.append(f"{state}: scrolls sideways")

    start(phone, tmp_path, language, PHONE)
    look("scale")
    _focus(phone, "CANVAS")
    ActionChains(phone.driver).send_keys("++").perform()
    for point in spots("scale"):
        _aim(phone, point)
    for name in PARTS:
        _focus(phone, "onward")
        ActionChains(phone.driver).send_keys(Keys.ENTER).perform()
        part(phone, name)
        look(name)
        _focus(phone, "CANVAS")
        for point in spots(name):
            _aim(phone, point)
    _focus(phone, "onward")
    ActionChains(phone.driver).send_keys(Keys.ENTER).perform()
    phone.get("trace-overlay")
    look("check")
    _focus(phone, "trace-use")
    ActionChains(phone.driver).send_keys(Keys.ENTER).perform()
    phone.until(lambda: phone.where == "foot", "the foot")
    assert phone.kept(f"sheet.{phone.kept('current')}")["answers"]["outline"]["sent"]["shoe"]
    assert faults == []


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_card_is_printed_at_its_size(phone: Phone, language: str) -> None:
    begin(phone.open(f"/?lang={language}"))
    phone.tap("to-trace")
    phone.tap("to-card")
    phone.get("print-sheet")
    assert phone.violations() == []
    assert not phone.scrolls_sideways()
    phone.resize(DESK)
    phone.emulate("print")
    for name, size in {**CARDS, "check": (50.0, 0.0)}.items():
        seen = phone.run(
            "const line = document.getElementById(arguments[0]);"
            "return [line.getBBox().width, line.getBBox().height].map((each) => each * line.getScreenCTM().a);",
            f"print-{name}",
        )
        # CSS: 96 pixels to an inch.
        assert [each / 96 * 25.4 for each in seen] == pytest.approx(size, abs=0.05)
