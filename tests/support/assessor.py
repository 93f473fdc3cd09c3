"""An assessor at the desk in a real browser, who uses keys alone; every key that is pressed is counted."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import httpx
from selenium.webdriver import ActionChains
from selenium.webdriver.common.keys import Keys

from tests.support.phone import Phone

__all__ = ["GRADE_KEY", "KeyedAssessor"]

GRADE_KEY: Final[Mapping[str | None, str]] = {"good": "1", "minor": "2", "major": "3", "critical": "4", None: "0"}


class KeyedAssessor:
    """Presses keys in the browser of ``phone``, never a mouse."""

    def __init__(self, phone: Phone) -> None:
        self.phone = phone
        self.pressed = 0
        self._key = ""

    def press(self, *keys: str) -> None:
        """Press these keys, one after another, each an action."""
        actions = ActionChains(self.phone.driver, duration=0)
        for key in keys:
            actions.send_keys(key)
        actions.perform()
        self.pressed += len(keys)

    def sign_in(self, key: str) -> None:
        """Begin a session; not counted."""
        self._key = key
        self.phone.driver.get(f"{self.phone.url}/desk/sign-in")
        self.phone.get("key").send_keys(key, Keys.ENTER)
        self.phone.until(lambda: self.path == "/desk", "signed in")

    @property
    def path(self) -> str:
        """Where the browser is."""
        return str(self.phone.run("return location.pathname"))

    @property
    def foot(self) -> str:
        """Which foot is shown, and in which of its two states."""
        return str(
            self.phone.run(
                "return location.pathname + (new URLSearchParams(location.search).get('assessment') ?? '') "
                "+ (document.querySelector('[name^=\"grade.\"]') ? ' blind' : '')"
            )
        )

    @property
    def criteria(self) -> list[str]:
        """The criteria to be marked, in the order of the page."""
        script = "return [...document.querySelectorAll('fieldset')].map((each) => each.querySelector('input').name)"
        names: list[str] = self.phone.run(script)
        return [name.partition(".")[2] for name in names]

    def go_on(self, *keys: str) -> None:
        """Press keys of which the last leads to another page, and wait for it."""
        before = self.foot
        self.press(*keys)
        self.phone.until(lambda: self.foot != before and self.ready, "another page")

    @property
    def ready(self) -> bool:
        """Whether the page is there and has the focus where keys count."""
        return bool(
            self.phone.run(
                "const place = document.querySelector('form[data-keys], #begin');"
                "return document.readyState === 'complete' && (!place || place.contains(document.activeElement))"
            )
        )

    def mark(self, grades: Mapping[str, str | None], comment: str = "") -> None:
        """Mark the foot that is shown, good but for these criteria."""
        keys = [GRADE_KEY[grades.get(name, "good")] for name in self.criteria]
        if comment:
            keys += ["c", *comment, Keys.ENTER]
        self.go_on(*keys, Keys.ENTER)

    def reasons(self, key: str) -> int:
        """Answer every difference that is shown by that key, and go on; how many there were."""
        differing = len(self.criteria)
        self.go_on(*(key for _ in range(differing)), Keys.ENTER)
        return differing

    def seen(self) -> str:
        """All that the page holds, seen or not."""
        return str(self.phone.run("return document.querySelector('main').outerHTML"))

    def answer(self, path: str) -> Any:
        """What the service answers to the assessor's key."""
        headers = {"authorization": f"Bearer {self._key}"}
        return httpx.get(f"{self.phone.url}{path}", headers=headers, timeout=60).raise_for_status().json()
