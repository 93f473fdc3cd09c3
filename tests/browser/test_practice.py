"""Practice in the browser: thirty drawings by keys and by thumbs, time counted, without a signal, measures as drawn."""

from __future__ import annotations

import statistics
from pathlib import Path
from typing import Any, Final

import httpx
import pytest
from selenium.webdriver import ActionChains
from selenium.webdriver.common.keys import Keys

from fitcheck.practice import EXERCISES
from tests.support.phone import DESK, PHONE, Phone
from tests.support.served import Served

DRAWINGS: Final = 30
RHYTHM_MS: Final = 3000
EXACT_MM: Final = 0.1
MEASURE: Final = """
const [wanted, done] = arguments;
const base = document.body.dataset.base + '/js/practice';
const asked = fetch('/v1/practice').then((each) => each.json());
Promise.all([import(`${base}/recipes.js`), import(`${base}/drawing.js`), asked])
.then(([{ recipeOf }, { drawingOf }, offer]) => wanted.map(([id, value, seed]) => {
  const exercise = offer.exercises.find((each) => each.id === id);
  const recipe = recipeOf(exercise, value, seed);
  const drawing = drawingOf(recipe, true);
  document.querySelector('main').replaceChildren(drawing);
  const lines = [...drawing.querySelectorAll('[data-measure]')];
  const onScreen = (path, at) => path.getPointAtLength(at).matrixTransform(path.getScreenCTM());
  const ends = lines.map((path) => [onScreen(path, 0), onScreen(path, path.getTotalLength())]);
  const shape = (part) => [...drawing.querySelectorAll(`[data-part=${part}]`)];
  const matrix = drawing.querySelector('g').getScreenCTM();
  const scale = Math.sqrt(Math.abs(matrix.a * matrix.d - matrix.b * matrix.c));
  // How far along a way from a point, on the screen, a shape is painted: it is at one end, and at the other no more.
  const edge = (parts, from, way, inside, outside) => {
    let [within, without] = [inside, outside];
    const painted = (length) => {
      const seen = new DOMPoint(from[0] + way[0] * length, from[1] + way[1] * length);
      return parts.some((path) => path.isPointInFill(seen));
    };
    if (!painted(within) || painted(without)) return null;
    for (let step = 0; step < 40; step += 1) {
      const middle = (within + without) / 2;
      if (painted(middle)) within = middle; else without = middle;
    }
    return within;
  };
  const must = (...asked) => {
    const found = edge(...asked);
    if (found === null) throw new Error(`${id} ${value} ${seed}: no edge there`);
    return found;
  };
  const [[from, to] = [[0, 0], [0, 0]]] = recipe.truth.lines;
  const straight = (a, b) => Math.hypot(b.x - a.x, b.y - a.y);
  const box = drawing.getBoundingClientRect();
  const found = { px: box.width, mm: recipe.width, scale, recipe };
  found.lengths = ends.map(([a, b]) => straight(a, b) / scale);
  found.along = lines.map((path) => path.getTotalLength());
  found.angles = ends.map(([a, b]) => Math.atan2(-(b.y - a.y), (b.x - a.x) * (recipe.mirror ? -1 : 1)) * 180 / Math.PI);
  if (['heel_width', 'toe', 'nail_line'].includes(id)) {
    const tick = recipe.truth.ticks[0];
    const across = [tick[1][0] - tick[0][0], tick[1][1] - tick[0][1]];
    const size = Math.hypot(...across);
    let way = [across[1] / size, -across[0] / size];
    if (edge(shape('horn'), from, way, -3, 8) === null) way = way.map((each) => -each);
    found.painted = must(shape('iron'), from, way, value - 4, value + 25) - must(shape('horn'), from, way, -3, 8);
  }
  const top = () => must(shape('iron'), from, [0, 1], 3, -3);
  if (id === 'gap') found.painted = top() - must(shape('horn'), from, [0, 1], -9, 9);
  if (id === 'exit_height') found.painted = top() - must(shape('clinch'), to, [0, 1], -1, 3) - to[1];
  if (id === 'level') {
    const half = (side) => must(shape('horn'), [side * 40, 0], [0, 1], 20, 90);
    found.slope = (half(1) - half(-1)) / 80;
  }
  return found;
})).then(done, (error) => done(String(error)));
"""


def begin(phone: Phone, exercise: str, language: str = "en", person: str = "A-7") -> None:
    phone.open(f"/practice?lang={language}")
    phone.write("person", person + Keys.TAB)
    phone.tap(f"exercise-{exercise}")


def kept_sessions(service: Served, person: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = httpx.get(f"{service.url}/v1/people/{person}/practice").json()["sessions"]
    return found


def words_on(phone: Phone) -> int:
    return len(phone.all(".answer-word"))


def test_thirty_drawings_by_keys_without_a_signal_are_sent_once_there_is_one(phone: Phone, service: Served) -> None:
    phone.open("/practice?lang=en")
    phone.until(lambda: phone.run("return navigator.serviceWorker.controller !== null"), "the worker is there")
    phone.signal(on=False)
    begin(phone, "heel_width", person="A-keys")
    for number in range(DRAWINGS):
        assert phone.run("return document.getElementById('heading').innerText") == f"Drawing {number + 1} of 30"
        ActionChains(phone.driver).send_keys(str(number % 4 + 1)).perform()
        assert phone.run("return document.activeElement.id") == "next-drawing"
        assert phone.run("return document.getElementById('said').innerText")
        assert len(phone.all("#truth")) == 1
        ActionChains(phone.driver).send_keys(Keys.ENTER).perform()
    phone.until(lambda: phone.all("#outcome"), "the outcome")
    said = phone.text
    assert "of 30 words as in the book." in said
    assert "s a drawing." in said
    assert "waits on this phone" in said
    assert kept_sessions(service, "A-keys") == []
    phone.signal(on=True)
    phone.run("dispatchEvent(new Event('online'))")
    phone.until(lambda: len(kept_sessions(service, "A-keys")) == 1, "it was sent")
    phone.until(lambda: "kept by the service" in phone.text, "the page says so")
    phone.run("dispatchEvent(new Event('online'))")
    [session] = kept_sessions(service, "A-keys")
    assert len(session["drawings"]) == DRAWINGS
    assert statistics.median(each["ms"] for each in session["drawings"]) < RHYTHM_MS
    assert sum(each["ms"] < RHYTHM_MS for each in session["drawings"]) >= DRAWINGS - 1
    pictures = {(each["seed"], each["value"]) for each in session["drawings"]}
    assert len({seed for seed, _ in pictures}) == DRAWINGS
    assert phone.complaints() == [] or all("ERR_INTERNET_DISCONNECTED" in each for each in phone.complaints())


def held(phone: Phone, wanted: list[tuple[str, float, int]]) -> None:
    found = phone.driver.execute_async_script(MEASURE, wanted)
    assert isinstance(found, list), found
    for (name, value, seed), each in zip(wanted, found, strict=True):
        told = (name, value, seed, each["px"])
        assert each["scale"] == pytest.approx(each["px"] / each["mm"], rel=0.02), told
        if name == "imprint":
            whole = each["recipe"]["truth"]["whole"]
            assert sum(each["along"]) == pytest.approx((1 - value) * whole, abs=EXACT_MM), told
        elif name == "axis":
            hoof, pastern = each["angles"]
            assert hoof - pastern == pytest.approx(value, abs=0.1), told
        else:
            assert each["lengths"][0] == pytest.approx(abs(value), abs=EXACT_MM), told
        if "painted" in each:
            assert each["painted"] == pytest.approx(value, abs=EXACT_MM), told
        if name == "level":
            # The edge below runs straight from wall to wall: by its slope one side is longer.
            half = each["recipe"]["truth"]["ticks"][-1][1][0] - 6
            assert each["slope"] * 2 * half == pytest.approx(value, abs=EXACT_MM), told


def of_each(seeds: range) -> list[tuple[str, float, int]]:
    return [
        (name, round(exercise.low + share * (exercise.high - exercise.low), 3), seed)
        for name, exercise in EXERCISES.items()
        for seed in seeds
        for share in (0.03, 0.31, 0.55, 0.93)
    ]


def test_what_is_drawn_is_the_measure_that_is_told(phone: Phone) -> None:
    phone.open("/practice?lang=en")
    held(phone, of_each(range(1)))


@pytest.mark.long
@pytest.mark.parametrize("size", [PHONE, (320, 640), DESK, (2000, 1400)], ids=str)
def test_it_is_so_at_every_size(phone: Phone, size: tuple[int, int]) -> None:
    phone.open("/practice?lang=en")
    phone.resize(size)
    held(phone, of_each(range(20, 28)))


@pytest.mark.long
@pytest.mark.parametrize("exercise", EXERCISES)
def test_thirty_drawings_by_thumbs(phone: Phone, service: Served, exercise: str) -> None:
    begin(phone, exercise, "de", person=f"A-{exercise}")
    for number in range(DRAWINGS):
        phone.get(f"word-{number % words_on(phone) + 1}").click()
        phone.get("next-drawing").click()
    phone.until(lambda: "von 30 Wörtern wie im Regelbuch" in phone.text, "the outcome")
    phone.until(lambda: "Der Dienst hat sie" in phone.text, "it was sent")
    [session] = kept_sessions(service, f"A-{exercise}")
    assert statistics.median(each["ms"] for each in session["drawings"]) < RHYTHM_MS
    phone.tap("back")
    phone.tap("results")
    assert len(phone.all("#results li")) == 1


def test_a_session_that_was_begun_is_gone_on_with(tmp_path: Path, service: Served) -> None:
    with Phone(tmp_path / "profile", service.url) as phone:
        begin(phone, "gap")
        for _ in range(3):
            phone.tap("word-2")
            phone.tap("next-drawing")
    with Phone(tmp_path / "profile", service.url) as phone:
        phone.open("/practice?lang=en")
        assert "3 of 30" in phone.text
        phone.tap("go-on")
        phone.until(lambda: "Drawing 4 of 30" in phone.text, "the fourth drawing")


def states(phone: Phone, language: str) -> Any:
    """Each state of the page, by its name."""
    phone.open(f"/practice?lang={language}")
    yield "start"
    phone.write("person", "Anna Berg" + Keys.TAB)
    yield "a name in the place of an id"
    begin(phone, "level", language)
    yield "a drawing"
    phone.tap("word-1")
    yield "the truth"
    phone.run(
        "const running = JSON.parse(localStorage.getItem('fitcheck.practice.running'));"
        "const [one] = running.drawings;"
        "for (let at = 1; at < 30; at += 1) running.drawings.push({ ...one, value: at / 3 - 5 });"
        "localStorage.setItem('fitcheck.practice.running', JSON.stringify(running));"
    )
    phone.open(f"/practice?lang={language}")
    phone.tap("go-on")
    yield "the outcome"
    phone.tap("back")
    phone.tap("results")
    yield "the last sessions"


@pytest.mark.parametrize(
    ("language", "dark"),
    [("en", False), pytest.param("de", True, marks=pytest.mark.long), pytest.param("en", True, marks=pytest.mark.long)],
)
def test_axe_finds_nothing_wrong(phone: Phone, language: str, *, dark: bool) -> None:
    if dark:
        phone.emulate(prefers_color_scheme="dark")
    seen = []
    for state in states(phone, language):
        seen.append(state)
        assert phone.violations() == [], state
        assert not phone.scrolls_sideways(), state
        small = phone.run(
            "return [...document.querySelectorAll('button, summary, input')].filter((each) => each.checkVisibility())"
            ".filter((each) => each.getBoundingClientRect().height < 48).map((each) => each.outerHTML.slice(0, 90))"
        )
        assert small == [], state
    assert len(seen) == 6


@pytest.mark.long
@pytest.mark.parametrize("percent", [200, 400])
@pytest.mark.parametrize("language", ["en", "de"])
def test_at_large_text_nothing_stands_out_of_a_narrow_page(
    tmp_path: Path, service: Served, percent: int, language: str
) -> None:
    with Phone(tmp_path / "profile", service.url, text_px=16 * percent // 100) as phone:
        for state in states(phone, language):
            assert not phone.scrolls_sideways(), state
            out = phone.run(
                "return [...document.querySelectorAll('button, a')].filter((each) => {"
                "const box = each.getBoundingClientRect(); return box.left < 0 || box.right > innerWidth + 1; })"
                ".map((each) => each.innerText)"
            )
            assert out == [], state


def test_who_cannot_see_is_told_so_and_can_use_the_rest(phone: Phone) -> None:
    phone.open("/practice?lang=en")
    assert "cannot practise here" in phone.get("by-ear").text
    begin(phone, "toe")
    drawing = phone.get("drawing")
    assert (drawing.aria_role, drawing.accessible_name) == ("image", "A drawing of a foot, to be judged by eye")
    phone.tap("word-1")
    phone.until(lambda: phone.run("return document.getElementById('live').textContent"), "the truth is spoken")


def test_the_page_for_the_yard_leads_there_and_back(phone: Phone) -> None:
    phone.open("/?lang=de")
    phone.until(lambda: "Das Auge üben" in phone.text, "the way to practice")
    phone.tap("to-practice")
    phone.until(lambda: phone.all("#exercises-title"), "the page for practice")
    phone.tap("to-yard")
    phone.until(lambda: phone.all("#foot-left_fore"), "the four feet")
