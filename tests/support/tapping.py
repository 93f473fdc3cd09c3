"""Entering a fitting on the page, question by question, as a farrier would."""

from __future__ import annotations

from typing import Any

from tests.support.phone import Phone

__all__ = ["begin", "enter", "go_to"]

_BASICS = ("foot", "stage", "work", "hoof_form")


def begin(phone: Phone, fitting: dict[str, Any]) -> None:
    """Start a foot and answer what it is; comes to the first question of the heels."""
    phone.tap("new-foot")
    for name in _BASICS:
        phone.until_step(name)
        phone.pick(name, fitting.get(name, "regular"))
    if fitting["stage"] != "hot_fit":
        phone.until_step("hot_fitted")
        phone.pick("hot_fitted", str(fitting["hot_fitted"]).lower())
    phone.until_step("heel_width")


def go_to(phone: Phone, name: str) -> None:
    """Skip questions until the one of that name, or the review."""
    while phone.where not in {name, f"step/{name}"}:
        phone.onward()
    phone.until(lambda: phone.all("main.review" if name == "review" else f"main[data-step='{name}']"), name)


def enter(phone: Phone, fitting: dict[str, Any], *, by_steppers: bool = False) -> None:
    """Answer all that ``fitting`` has, one question after the other; comes to the review.

    Numbers are typed, which is sooner done, unless they are to be tapped ``by_steppers``.
    """
    begin(phone, fitting)
    while phone.where != "review":
        here = phone.where
        phone.until_step(here.removeprefix("step/"))
        _answer(phone, fitting, by_steppers=by_steppers)
        # A question of one tap leads on by itself.
        if phone.where == here:
            phone.onward()
    phone.get("send")
    for path in ("horse.id", "visit", "person.id", "assessor.id", "notes"):
        value = _at(fitting, path)
        if value is not None:
            phone.write(f"text-{path}", value)
    if role := _at(fitting, "person.role"):
        phone.pick("person.role", role)


def _answer(phone: Phone, fitting: dict[str, Any], *, by_steppers: bool) -> None:
    paths = dict.fromkeys(
        phone.run("return [...document.querySelectorAll('[data-at]')].map((each) => each.dataset.at)")
    )
    for path in paths:
        value = _at(fitting, path)
        if value is None:
            continue
        if phone.all(f"[id='day-{path}']"):
            year, month, day = value.split("-")
            phone.get(f"day-{path}").send_keys(f"{month}{day}{year}")
        elif isinstance(value, (bool, str)):
            phone.pick(path, str(value).lower() if isinstance(value, bool) else value)
        else:
            fold = phone.all(f"[id='as-number-{path}']:not([open]) summary")
            if fold:
                phone.touch(fold[0])
            number = 100 * value if path.endswith("coverage") else value
            if by_steppers:
                phone.dial(path, number)
            else:
                phone.write(f"number-{path}", f"{number:g}")


def _at(whole: Any, path: str) -> Any:
    for key in path.split("."):
        if not isinstance(whole, dict) or key not in whole:
            return None
        whole = whole[key]
    return whole
