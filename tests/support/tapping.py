"""Looking at a foot on the page, as a farrier would: every tap and every typed number is counted."""

from __future__ import annotations

from typing import Any, Final

from tests.support.phone import Phone

__all__ = ["HEELS", "Thumb", "begin", "numbers", "take_horse"]

HEELS: Final = ("medial", "lateral")


class Thumb:
    """One thumb on one phone."""

    def __init__(self, phone: Phone) -> None:
        self.phone = phone
        self.taps = 0
        self.typed = 0

    def tap(self, *ids: str) -> Thumb:
        """Tap these, one after the other."""
        for id_ in ids:
            self.phone.tap(id_)
            self.taps += 1
        return self

    def good(self, *groups: str) -> Thumb:
        """Say of each group that it was looked at and is good."""
        return self.tap(*(f"good-{group}" for group in groups))

    def send(self) -> dict[str, Any]:
        """Send the foot; what was sent, once its answer is shown."""
        self.phone.run(
            "window.sentBody = null; window.keptFetch ??= window.fetch; window.fetch = (path, options) => {"
            " if (options?.method === 'POST') window.sentBody = options.body; return window.keptFetch(path, options); }"
        )
        self.tap("send")
        self.phone.until(lambda: self.phone.all("main [data-decision]"), "the answer")
        sent: dict[str, Any] = self.phone.run("return JSON.parse(window.sentBody)")
        return sent


def begin(phone: Phone, foot: str = "left_fore", *, work: str = "draught", stage: str = "hot_fit") -> None:
    """Open a foot of the horse at hand from the four feet, and say what it is."""
    phone.tap(f"foot-{foot}")
    phone.until(lambda: phone.all("main.foot"), "the foot")
    phone.tap(f"pick-stage-{stage}")
    if phone.all("#is-so"):
        phone.tap("is-so")
    if phone.all(f"[id='pick-work-{work}']"):
        phone.tap(f"pick-work-{work}")


def numbers(phone: Phone, at: str, digits: str) -> None:
    """Give a number by the keypad."""
    phone.tap(f"number-{at}")
    for digit in digits:
        phone.touch(phone.all(f".key[data-key='{digit}']")[0])
    phone.tap("keypad-next")


def take_horse(phone: Phone, name: str) -> None:
    """Have another horse at hand, from the four feet."""
    phone.touch(phone.all("#other-horse summary")[0])
    # Not every letter can be typed by a driver.
    phone.run("document.getElementById('horse-name').value = arguments[0]", name)
    phone.tap("take-horse")
