"""Every state that the page can be in, one after the other."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from tests.support.phone import Phone
from tests.support.tapping import begin, go_to
from tests.support.traced_photo import TracedPhoto

__all__ = ["every_state"]

_FOOT: Final[dict[str, Any]] = {"foot": "right_fore", "stage": "finished", "work": "draught", "hot_fitted": True}


def every_state(phone: Phone, folder: Path) -> Iterator[str]:
    """Stands in each state while its name is given; a photograph is drawn into ``folder``."""
    yield from _questions(phone)
    yield from _after_them(phone, folder)


def _questions(phone: Phone) -> Iterator[str]:
    phone.open()
    yield "start"
    phone.tap("to-settings")
    phone.get("use-key")
    yield "settings"
    phone.tap("to-start")
    phone.tap("new-foot")
    for name in ("foot", "stage", "work", "hoof_form", "hot_fitted"):
        phone.until_step(name)
        yield name
        value = _FOOT.get(name, "regular")
        phone.pick(name, str(value).lower() if isinstance(value, bool) else str(value))
    phone.until_step("heel_width")
    phone.pick("observations.heel_fit.medial.width", "tight")
    phone.touch(phone.all(".number-fold summary")[0])
    while phone.where != "review":
        here = phone.where.removeprefix("step/")
        phone.until_step(here)
        if here == "nail_exits":
            yield f"{here} without nails"
            for branch in ("medial", "lateral"):
                for _ in range(3):
                    phone.tap(f"more-{branch}")
        for fold in phone.all(".nail-fold > summary")[:1]:
            phone.touch(fold)
        yield here
        phone.onward()


def _after_them(phone: Phone, folder: Path) -> Iterator[str]:
    phone.get("send")
    yield "review"
    phone.tap("row-trace")
    phone.get("photo-file")
    yield "trace: choose"
    photo = TracedPhoto()
    phone.get("photo-file").send_keys(str(photo.save(folder / "foot.png")))
    phone.until(lambda: phone.all("canvas[data-scale]"), "the photo")
    yield "trace: photo"
    phone.open("/#review")
    phone.get("send")
    phone.tap("send")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")
    phone.until(lambda: phone.all(".sheet-drawing img"), "the drawing")
    yield "answer"
    for fold in phone.all("details:not([open]) > summary"):
        phone.touch(fold)
    yield "answer unfolded"
    phone.tap("to-start")
    phone.until(lambda: phone.all("[id^='answer-']"), "the list")
    yield "start with an answer"
    phone.signal(on=False)
    begin(phone, _FOOT)
    go_to(phone, "review")
    phone.tap("send")
    phone.until(lambda: phone.all(".queue"), "it waits")
    yield "start with a queue"
    phone.signal(on=True)
