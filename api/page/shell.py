"""The files of the page, read once, under an address that changes whenever any of them does."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from html import escape
from importlib.resources import files
from importlib.resources.abc import Traversable
from string import Template
from types import MappingProxyType
from typing import Final

__all__ = ["ROOT", "WORKER", "File", "Shell", "shipped_shell"]

ROOT: Final = "/page"
WORKER: Final = "service-worker.js"
_TYPES: Final = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".svg": "image/svg+xml",
    ".webmanifest": "application/manifest+json",
}


@dataclass(frozen=True, slots=True)
class File:
    """What is sent for one file: its bytes, media type and entity tag."""

    content: bytes
    media_type: str
    etag: str


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
        self.files: Final[Mapping[str, File]] = MappingProxyType(
            {path: _file(content, _type(path)) for path, content in static.items() if path != WORKER}
        )
        filled = Template(page).substitute(
            base=escape(self.base),
            languages=escape(" ".join(self.languages)),
            modules="".join(
                f'<link rel="modulepreload" href="{escape(self.base)}/{escape(path)}">'
                for path in sorted(self.files)
                if path.startswith("js/") and path.endswith(".js")
            ),
        )
        self.page: Final = _file(filled.encode(), "text/html; charset=utf-8")
        shell = ["/", *(f"{self.base}/{path}" for path in sorted(self.files))]
        # A worker's bytes are all that a browser compares: with the version in them a new one is always seen.
        worker = f"const VERSION = {json.dumps(self.version)};\nconst SHELL = {json.dumps(shell)};\n".encode()
        self.worker: Final = _file(worker + static[WORKER], _type(WORKER))


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


def _file(content: bytes, media_type: str) -> File:
    return File(content, media_type, f'"{hashlib.sha256(content).hexdigest()[:32]}"')


def _type(path: str) -> str:
    return _TYPES[_suffix(path)]


def _suffix(path: str) -> str:
    return path[path.rfind(".") :]
