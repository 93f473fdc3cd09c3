"""A browser of the size of a telephone, with the page of the service in it."""

from __future__ import annotations

import base64
import json
import shutil
import time
from collections.abc import Callable
from contextlib import suppress
from importlib.resources import files
from pathlib import Path
from typing import Any, Final, Self

from selenium.common.exceptions import StaleElementReferenceException
from selenium.webdriver import Chrome, ChromeOptions
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement

__all__ = ["DESK", "PHONE", "Phone", "browser_missing"]

PHONE: Final = (360, 740)
DESK: Final = (1280, 900)
_PATIENCE_S: Final = 20.0
_THUMB_S: Final = 0.5
"""A second tap on the same spot within 0.35 s is one that bounced."""
_NEAR_PX: Final = 40
_SPOT: Final = (
    "arguments[0].scrollIntoView({block: 'center', behavior: 'instant'});"
    "const box = arguments[0].getBoundingClientRect();"
    "return [box.x + box.width / 2, box.y + box.height / 2];"
)
"""Where an element lies on the screen."""
_FLAGS: Final = (
    "--headless=new --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking "
    "--disable-component-update --disable-sync --lang=en-US --hide-scrollbars"
)


def browser_missing() -> str | None:
    """Why there is no browser to test with; None where there is one."""
    lacking = [name for name in ("chromium", "chromedriver") if shutil.which(name) is None]
    return f"{' and '.join(lacking)} not installed (Debian: chromium chromium-driver)" if lacking else None


class Phone:
    """One browser with the profile in ``folder``; closed and opened again, it still has what it kept."""

    def __init__(self, folder: Path, url: str, size: tuple[int, int] = PHONE, text_px: int = 16) -> None:
        """``text_px``: the size of text that was chosen in the browser."""
        options = ChromeOptions()
        options.add_experimental_option("prefs", {"webkit.webprefs.default_font_size": text_px})
        for flag in _FLAGS.split():
            options.add_argument(flag)
        options.add_argument(f"--user-data-dir={folder}")
        options.binary_location = str(shutil.which("chromium"))
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        self.driver = Chrome(options=options, service=Service(str(shutil.which("chromedriver"))))
        self.url = url
        self._spot = [0.0] * 2
        self._tapped = 0.0
        self.resize(size)

    def forget(self) -> None:
        """Be as a browser that was just made: nothing stored, no worker, no log, the usual size and signal."""
        self.driver.get("about:blank")
        self.driver.execute_cdp_cmd("Storage.clearDataForOrigin", {"origin": self.url, "storageTypes": "all"})
        self.driver.execute_cdp_cmd("Network.clearBrowserCache", {})
        self.signal(on=True)
        self.emulate()
        self.resize(PHONE)
        for name in ("browser", "performance"):
            self._log(name)

    def resize(self, size: tuple[int, int]) -> None:
        """Show the page at this width and height."""
        width, height = size
        screen = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
        self.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", screen)

    def open(self, path: str = "/") -> Self:
        """Load the page and wait until it can be used."""
        self.driver.get(self.url + path)
        self.until(lambda: self.run("return document.documentElement.dataset.ready === 'yes'"), "the page is ready")
        return self

    def run(self, script: str, *given: Any) -> Any:
        """What a script in the page returns."""
        return self.driver.execute_script(script, *given)

    def until(self, holds: Callable[[], Any], what: str) -> Any:
        """Wait until something holds, and return it; AssertionError where it does not come to be."""
        patience = time.monotonic() + _PATIENCE_S
        while True:
            try:
                if found := holds():
                    return found
            except StaleElementReferenceException:
                pass
            assert time.monotonic() < patience, f"{what}: not so at {self.where}: {self.text[:500]}"
            time.sleep(0.03)

    @property
    def where(self) -> str:
        """What the address has behind its #."""
        return str(self.run("return location.hash.slice(1)"))

    @property
    def text(self) -> str:
        """All that can be read."""
        return str(self.run("return document.getElementById('view')?.innerText ?? document.body.innerText"))

    def get(self, id_: str) -> WebElement:
        """The element of that id, once it is there."""
        found: WebElement = self.until(lambda: self.driver.find_elements(By.ID, id_), f"#{id_} is there")[0]
        return found

    def all(self, selector: str) -> list[WebElement]:
        """Every element that a selector finds."""
        return self.driver.find_elements(By.CSS_SELECTOR, selector)

    def tap(self, id_: str) -> None:
        """Tap the middle of an element, where a finger would; found again where the page was drawn anew between."""
        for _ in range(3):
            with suppress(StaleElementReferenceException):
                return self.touch(self.get(id_))
        return self.touch(self.get(id_))

    def touch(self, element: WebElement) -> None:
        """Tap the middle of this one; on the spot of the tap before no sooner than a thumb comes back."""
        spot = self.run(_SPOT, element)
        if all(abs(one - other) < _NEAR_PX for one, other in zip(spot, self._spot, strict=True)):
            time.sleep(max(0.0, self._tapped + _THUMB_S - time.monotonic()))
        element.click()
        # By the clock of the page the tap may be as late as this.
        self._spot, self._tapped = spot, time.monotonic()

    def write(self, id_: str, text: str) -> None:
        """Type a text into a field in the place of what stands there."""
        field = self.get(id_)
        field.clear()
        field.send_keys(text)

    def kept(self, name: str) -> Any:
        """What is kept in this browser under a name."""
        raw = self.run("return localStorage.getItem('fitcheck.' + arguments[0])", name)
        return None if raw is None else json.loads(raw)

    def signal(self, *, on: bool) -> None:
        """Give or take the signal."""
        self.driver.execute_cdp_cmd("Network.enable", {})
        self.driver.execute_cdp_cmd(
            "Network.emulateNetworkConditions",
            {"offline": not on, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1},
        )

    def emulate(self, media: str = "", **features: str) -> None:
        """Show the page as on paper, or as someone prefers it."""
        chosen = [{"name": name.replace("_", "-"), "value": value} for name, value in features.items()]
        self.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": media, "features": chosen})

    def violations(self, only: str | None = None) -> list[str]:
        """What axe-core finds wrong with the page as it stands; by ``only`` that one of its rules."""
        source = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
        self.run("if (!window.axe) { " + source + " }")
        found = self.driver.execute_async_script(
            "const [only, done] = arguments;"
            "axe.run(document, only ? {runOnly: [only]} : {}).then((result) => done(result.violations.map("
            "(each) => `${each.id}: ${each.help}: ${each.nodes.map((node) => node.html.slice(0, 150)).join(' | ')}`)))",
            only,
        )
        return [str(each) for each in found]

    def scrolls_sideways(self) -> bool:
        """Whether anything stands out of the page to the right."""
        return bool(self.run("return document.documentElement.scrollWidth > innerWidth"))

    def requests(self) -> list[dict[str, Any]]:
        """Every request that the page has sent since this was last asked."""
        entries = (json.loads(entry["message"])["message"] for entry in self._log("performance"))
        return [each["params"]["request"] for each in entries if each["method"] == "Network.requestWillBeSent"]

    def complaints(self) -> list[str]:
        """What the console has of errors."""
        return [entry["message"] for entry in self._log("browser") if entry["level"] == "SEVERE"]

    def _log(self, name: str) -> list[dict[str, Any]]:
        browser: Any = self.driver  # the method has no types of its own
        entries: list[dict[str, Any]] = browser.get_log(name)
        return entries

    def picture(self, path: Path) -> None:
        """Keep what is seen as a PNG."""
        taken = self.driver.execute_cdp_cmd("Page.captureScreenshot", {"format": "png"})
        path.write_bytes(base64.b64decode(taken["data"]))

    def close(self) -> None:
        """Close the browser; its profile stays."""
        self.driver.quit()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
