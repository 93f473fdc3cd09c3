"""Every state that the page can be in, one after the other."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final

from tests.support.begun import case, put
from tests.support.phone import Phone
from tests.support.tapping import begin
from tests.support.traced_photo import TracedPhoto

__all__ = ["every_state"]

_GROUPS: Final = ("heels", "toe", "seat", "imprint", "nails", "hand", "going", "history", "sizes")
_LENGTH: Final = "observations.heel_fit.medial.length"


def every_state(phone: Phone, folder: Path, language: str = "en") -> Iterator[str]:
    """Stands in each state while its name is given; a photograph is drawn into ``folder``."""
    phone.open(f"/?lang={language}")
    yield "four feet"
    phone.tap("to-settings")
    phone.get("use-key")
    yield "settings"
    phone.tap("to-start")
    phone.tap("foot-right_fore")
    yield "a new foot"
    phone.tap("to-start")
    yield from _one_foot(phone)
    yield from _tracing(phone, folder)
    yield from _answers(phone)
    yield from _without_signal(phone)


def _one_foot(phone: Phone) -> Iterator[str]:
    begin(phone, "right_fore", stage="finished")
    phone.tap("to-about")
    phone.tap("nails-8")
    yield "what is known"
    phone.tap("about-done")
    yield "the foot"
    for group in _GROUPS:
        phone.tap(f"group-{group}")
        yield f"sheet: {group}"
        phone.tap("panel-close")
    phone.tap("place-nail:medial:1")
    yield "sheet: a nail"
    phone.tap("panel-close")
    phone.tap("place-medial_heel")
    phone.tap(f"number-{_LENGTH}")
    yield "keypad"
    phone.tap("keypad-unit")
    for key in ("1", "5/8"):
        phone.touch(phone.all(f".key[data-key='{key}']")[0])
    yield "keypad in inches"
    phone.tap("keypad-unit")
    phone.tap("keypad-next")
    phone.tap("panel-close")
    phone.tap("good-toe")
    yield "a group that is good"


def _tracing(phone: Phone, folder: Path) -> Iterator[str]:
    phone.tap("to-trace")
    phone.get("photo-file")
    yield "trace: choose"
    phone.get("photo-file").send_keys(str(TracedPhoto().save(folder / "foot.png")))
    phone.until(lambda: phone.all("canvas[data-scale]"), "the photo")
    yield "trace: photo"
    # All points at once, as if they had been tapped: they are kept in the sheet as one goes.
    photo = TracedPhoto()
    tapped = {
        "part": "shoe",
        "by": "rule",
        "length": {"n": f"{photo.ruler_mm:g}", "unit": "mm"},
        "rule": photo.ruler,
        "heels": photo.heels,
        "hoof": [photo.hoof_at(angle) for angle in range(-130, 131, 20)],
        "shoe": [[*photo.shoe_at(angle), 2, int(angle == 50)] for angle in range(-150, 151, 20)],
    }
    phone.run(
        "const kept = `fitcheck.sheet.${JSON.parse(sessionStorage.getItem('fitcheck.current')"
        " ?? localStorage.getItem('fitcheck.current'))}`; const sheet = JSON.parse(localStorage.getItem(kept));"
        "Object.assign(sheet.tracing, arguments[0]); localStorage.setItem(kept, JSON.stringify(sheet));"
        "location.hash = 'foot'; location.hash = 'trace';",
        tapped,
    )
    phone.until(lambda: phone.all("#trace-hide"), "the shoe")
    yield "trace: shoe"
    phone.tap("onward")
    phone.tap("onward")
    phone.get("trace-overlay")
    yield "trace: check"
    phone.run("location.hash = 'card'")
    phone.get("print-card")
    yield "trace: card to print"
    phone.run("location.hash = 'trace'")
    phone.tap("to-foot")


def _answers(phone: Phone) -> Iterator[str]:
    for name in ("tight-heels-good-toe", "good-draught-fore", "flinch", "incomplete"):
        put(phone, case(name))
        phone.tap("send")
        phone.until(lambda: phone.all("[data-decision]"), "the answer")
        yield f"answer: {name}"
        if name == "tight-heels-good-toe":
            phone.run("document.querySelectorAll('main details').forEach((each) => each.setAttribute('open', ''))")
            phone.until(lambda: phone.all(".sheet-drawing img"), "the drawing")
            yield "answer unfolded"
            phone.tap("onward")
            phone.until(lambda: phone.all("main.foot .again"), "tried again")
            yield "tried again"


def _without_signal(phone: Phone) -> Iterator[str]:
    phone.tap("to-start")
    yield "four feet with answers"
    phone.signal(on=False)
    put(phone, case("tight-heels-good-toe"))
    phone.tap("send")
    phone.until(lambda: phone.all("main.first-look"), "the first look")
    yield "first look"
    phone.tap("leave")
    phone.until(lambda: phone.all(".queue"), "it waits")
    yield "four feet with a queue"
    phone.signal(on=True)
