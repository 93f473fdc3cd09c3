"""A foot traced from a photograph of known measures, which never leaves the browser."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import httpx
import pytest
from selenium.webdriver import ActionChains
from selenium.webdriver.common.keys import Keys

from tests.support.phone import DESK, PHONE, Phone
from tests.support.served import Served
from tests.support.tapping import begin
from tests.support.traced_photo import Point, TracedPhoto

HOOF = range(-130, 131, 20)
SHOE = range(-150, 151, 20)


def tap_photo(phone: Phone, points: list[Point]) -> None:
    """Tap points of the photograph, given in its own pixels."""
    canvas = phone.all("canvas")[0]
    box = canvas.rect
    scale, x, y = (float(str(canvas.get_attribute(f"data-{name}"))) for name in ("scale", "x", "y"))
    for px, py in points:
        across, down = px * scale + x - box["width"] / 2, py * scale + y - box["height"] / 2
        ActionChains(phone.driver, duration=0).move_to_element_with_offset(
            canvas, round(across), round(down)
        ).click().perform()


def load(phone: Phone, path: Path) -> None:
    phone.get("photo-file").send_keys(str(path))
    phone.until(lambda: phone.all("canvas[data-scale]"), "the photo is shown")


def part(phone: Phone, name: str) -> None:
    phone.until(lambda: phone.all(f"[aria-current='step'][data-part='{name}']"), name)
    phone.until(lambda: phone.all("canvas[data-scale]"), "the photo is shown")


def trace(phone: Phone, photo: TracedPhoto, path: Path) -> None:
    phone.tap("to-trace")
    load(phone, photo.save(path))
    phone.tap("trace-by-rule")
    tap_photo(phone, photo.ruler)
    phone.write("number-length", f"{photo.ruler_mm:g}")
    for name, points in (
        ("heels", photo.heels),
        ("hoof", [photo.hoof_at(angle) for angle in HOOF]),
        ("shoe", [photo.shoe_at(angle) for angle in SHOE]),
        ("holes", []),
    ):
        phone.tap("onward")
        part(phone, name)
        tap_photo(phone, points)
    phone.tap("onward")
    phone.get("trace-use")


@pytest.mark.parametrize(
    ("foot", "size", "turned"),
    [
        pytest.param("left_fore", DESK, 25.0, marks=pytest.mark.long),
        ("right_hind", DESK, -160.0),
        pytest.param("left_fore", PHONE, 0.0, marks=pytest.mark.long),
    ],
)
def test_a_traced_photo_gives_the_overhang_that_it_was_drawn_with(
    phone: Phone, service: Served, tmp_path: Path, foot: str, size: tuple[int, int], turned: float
) -> None:
    photo = TracedPhoto(turned=turned)
    phone.resize(size)
    begin(phone.open(), foot)
    phone.requests()
    trace(phone, photo, tmp_path / "foot.png")
    phone.tap("trace-use")
    phone.until(lambda: phone.where == "foot", "the foot")
    phone.tap("send")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")
    kept = httpx.get(f"{service.url}/v1/assessments/{phone.where.removeprefix('answer/')}").json()
    read = {(each["quantity"], each["place"]): each["value"] for each in kept["measurements"]}
    # Seen from below, the lateral side of a left foot lies to the right of its toe, that of a right foot to the left.
    right, left = ("lateral", "medial") if foot.startswith("left") else ("medial", "lateral")
    assert read["overhang", "toe"] == pytest.approx(photo.overhang(0), abs=1.0)
    assert read["overhang", f"{right}_quarter"] == pytest.approx(photo.overhang(62), abs=1.0)
    assert read["overhang", f"{left}_quarter"] == pytest.approx(photo.overhang(-62), abs=1.0)
    # The two sides differ by twice what lies between the middles of hoof and shoe: they are not mistaken.
    apart = read["overhang", f"{right}_quarter"] - read["overhang", f"{left}_quarter"]
    assert apart == pytest.approx(photo.overhang(62) - photo.overhang(-62), abs=1.0)
    # The photo went nowhere: all that was sent is small and JSON.
    for request in phone.requests():
        assert request["url"].startswith(service.url) or request["url"].startswith("blob:")
        if sent := request.get("postData"):
            assert set(json.loads(sent)) <= {"foot", "stage", "work", "hoof_form", "observations"}
            assert len(sent) < 10_000


@pytest.mark.long
def test_a_photo_seen_from_above_changes_sides(phone: Phone, tmp_path: Path) -> None:
    phone.resize(DESK)
    begin(phone.open())
    trace(phone, TracedPhoto(), tmp_path / "foot.png")
    phone.tap("trace-mirror")
    phone.tap("trace-use")
    phone.until(lambda: phone.where == "foot", "the foot")
    assert phone.kept(f"sheet.{phone.kept('current')}")["answers"]["outline"]["sent"]["lateral"] == "-x"


def test_points_are_taken_back_dragged_and_set_by_keys(phone: Phone, tmp_path: Path) -> None:
    phone.resize(DESK)
    begin(phone.open())
    photo = TracedPhoto()
    phone.tap("to-trace")
    load(phone, photo.save(tmp_path / "foot.png"))
    phone.tap("trace-by-rule")

    def points() -> Any:
        return phone.kept(f"sheet.{phone.kept('current')}")["tracing"]["rule"]

    tap_photo(phone, photo.ruler)
    first, second = points()
    phone.tap("trace-undo")
    assert points() == [first]
    canvas = phone.all("canvas")[0]
    canvas.send_keys(Keys.ARROW_DOWN, Keys.ENTER)
    by_keys = points()[1]
    assert by_keys != second
    scale = float(str(canvas.get_attribute("data-scale")))
    x, y = (float(str(canvas.get_attribute(f"data-{name}"))) for name in "xy")
    box = canvas.rect
    ActionChains(phone.driver, duration=0).move_to_element_with_offset(
        canvas, round(first[0] * scale + x - box["width"] / 2), round(first[1] * scale + y - box["height"] / 2)
    ).click_and_hold().move_by_offset(30, 20).release().perform()
    moved = points()[0]
    assert moved[0] - first[0] == pytest.approx(30 / scale, abs=2 / scale)
    assert moved[1] - first[1] == pytest.approx(20 / scale, abs=2 / scale)
    canvas.send_keys("+")
    assert float(str(canvas.get_attribute("data-scale"))) == pytest.approx(1.5 * scale)


def test_a_file_that_is_no_photo_is_refused_in_a_sentence(phone: Phone, tmp_path: Path) -> None:
    begin(phone.open())
    phone.tap("to-trace")
    path = tmp_path / "foot.png"
    path.write_text("<svg onload=alert(1)>", encoding="ascii")
    phone.get("photo-file").send_keys(str(path))
    phone.until(lambda: "cannot be opened as a photo" in phone.text, "said")
