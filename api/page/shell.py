"""The files of the page, read once, under an address that changes whenever any of them does."""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from html import escape
from importlib.resources import files
from importlib.resources.abc import Traversable
from string import Template
from types import MappingProxyType
from typing import Final

from api.http.standing_content import StandingContent
from api.page.bundle import bundle

__all__ = ["PRACTICE", "PRACTICE_SCRIPT", "ROOT", "SCRIPT", "WORKER", "Shell", "shipped_shell"]

ROOT: Final = "/page"
WORKER: Final = "service-worker.js"
SCRIPT: Final = "page.js"
"""All modules of the page in one, which the service makes."""
PRACTICE: Final = "/practice"
PRACTICE_SCRIPT: Final = "practice.js"
"""The same of the page for practice."""
_FIRST: Final = "js/main.js"
_FIRST_OF_PRACTICE: Final = "js/practice/main.js"
_PRACTISED: Final = ("exercise.", "practice.")
_ALSO_PRACTISED: Final = ("exercise.", "foot.", "place.", "practice.", "problem.", "start.give_key", "word.")
"""How texts of the page for practice begin; the page for the yard has those that no practice is about."""
_LINK: Final = "practice.link"
_MESSAGES: Final = "js/texts.js"
_TYPES: Final = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".svg": "image/svg+xml",
    ".webmanifest": "application/manifest+json",
}


class Shell:
    """The page itself, its service worker, and the files of both by their path."""

    def __init__(self, page: str, static: Mapping[str, bytes]) -> None:
        """``page``: the template of the page; ``static``: every other file by its path, the worker among them."""
        digest = hashlib.sha256(page.encode())
        for path, content in sorted(static.items()):
            digest.update(f"\n{path} {len(content)}\n".encode() + content)
        self.version: Final = digest.hexdigest()[:16]
        """Other for every other content of any file."""
        self.base: Final = f"{ROOT}/{self.version}"
        self.languages: Final = sorted(
            path.removeprefix("messages/").removesuffix(".json") for path in static if path.startswith("messages/")
        )
        modules = {
            path: content.decode() for path, content in static.items() if path.endswith(".js") and path != WORKER
        }
        whole = _messages(static, self.languages, lambda _: True)
        served = {path: content for path, content in static.items() if path != WORKER}
        served |= {_MESSAGES: whole.encode()}
        texts = _messages(static, self.languages, lambda name: name == _LINK or not name.startswith(_PRACTISED))
        served |= {SCRIPT: bundle(modules | {_MESSAGES: texts}, _FIRST).encode()}
        if _FIRST_OF_PRACTICE in modules:
            texts = _messages(static, self.languages, lambda name: name.startswith(_ALSO_PRACTISED))
            served |= {PRACTICE_SCRIPT: bundle(modules | {_MESSAGES: texts}, _FIRST_OF_PRACTICE).encode()}
        self.files: Final[Mapping[str, StandingContent]] = MappingProxyType(
            {path: StandingContent(content, _type(path)) for path, content in served.items()}
        )
        style = "".join(static[path].decode() for path in sorted(static, key=_after_base) if path.endswith(".css"))
        self.style_source: Final = f"'sha256-{base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()}'"
        """The one style sheet, as a content security policy names it."""
        pages = {path: script for path, script in _PAGES.items() if script in served}
        self.pages: Final[Mapping[str, StandingContent]] = MappingProxyType(
            {
                path: StandingContent(
                    Template(page)
                    .substitute(
                        base=escape(self.base), script=script, languages=escape(" ".join(self.languages)), style=style
                    )
                    .encode(),
                    "text/html; charset=utf-8",
                )
                for path, script in pages.items()
            }
        )
        """The page for the yard and the page for practice, by their addresses."""
        # Modules of their own are there to be looked at; the page runs as one script.
        kept = [
            path for path in sorted(self.files) if path in pages.values() or _suffix(path) in {".svg", ".webmanifest"}
        ]
        shell = [*pages, *(f"{self.base}/{path}" for path in kept)]
        # A worker's bytes are all that a browser compares: with the version in them a new one is always seen.
        worker = f"const VERSION = {json.dumps(self.version)};\nconst SHELL = {json.dumps(shell)};\n".encode()
        self.worker: Final = StandingContent(worker + static[WORKER], _type(WORKER))


_PAGES: Final = {"/": SCRIPT, PRACTICE: PRACTICE_SCRIPT}
"""The script of each page."""


def _messages(static: Mapping[str, bytes], languages: Iterable[str], needed: Callable[[str], bool]) -> str:
    """The module of the messages that are ``needed`` by language."""

    def of(language: str) -> str:
        every = json.loads(static[f"messages/{language}.json"])
        chosen = {name: text for name, text in every.items() if needed(name)}
        return json.dumps(chosen, ensure_ascii=False, indent=2)

    texts = ",\n".join(f"{json.dumps(name)}: {of(name)}" for name in languages)
    return (
        f"/** Every message by language; made of the files of messages. */\nexport const MESSAGES = {{\n{texts}\n}};\n"
    )


@cache
def shipped_shell() -> Shell:
    """The page that comes with this package."""
    package = files(__package__ or "api.page")
    static = {path: each.read_bytes() for path, each in _walk(package / "static", "")}
    return Shell((package / "page.html").read_text(encoding="utf-8"), static)


def _walk(folder: Traversable, prefix: str) -> list[tuple[str, Traversable]]:
    found: list[tuple[str, Traversable]] = []
    for each in folder.iterdir():
        path = f"{prefix}{each.name}"
        if each.is_dir():
            found += _walk(each, f"{path}/")
        elif _suffix(path) in _TYPES:
            found.append((path, each))
    return found


def _after_base(path: str) -> tuple[bool, str]:
    """The order of style sheets: what the others build on comes first."""
    return not path.endswith("/base.css"), path


def _type(path: str) -> str:
    return _TYPES[_suffix(path)]


def _suffix(path: str) -> str:
    return path[path.rfind(".") :]
