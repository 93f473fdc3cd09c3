"""The files of the page: what they are sent with, that they belong together, and that they come with the package."""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import re
import shutil
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest

from api.page.bundle import NotBundled, bundle
from api.page.shell import SCRIPT, Shell, shipped_shell
from rules import shipped_rulebook
from tests.support.paths import ROOT

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
STATIC = ROOT / "api" / "page" / "static"
SCRIPTS = sorted(STATIC.rglob("*.js"))
MESSAGES: dict[str, str] = json.loads((STATIC / "messages" / "en.json").read_text(encoding="utf-8"))
POLICY = (
    "default-src 'none'; script-src 'self'; style-src {style}; img-src 'self' blob: data:; connect-src 'self'; "
    "worker-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
MOST_LINES = 300


@pytest.fixture(scope="module")
def shell() -> Shell:
    return shipped_shell()


def style_source(ask: Ask) -> str:
    """The hash of what stands in the page's one style element, as CSP 3 has it."""
    [style] = re.findall(r"<style>(.*?)</style>", ask("GET", "/").text, re.DOTALL)
    return f"'sha256-{base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()}'"


@pytest.mark.parametrize("path", ["/", "/service-worker.js"])
def test_the_page_and_its_worker_are_asked_for_anew_and_cost_nothing_where_they_are_the_same(
    ask: Ask, path: str
) -> None:
    first = ask("GET", path)
    assert first.status_code == 200
    assert first.headers["cache-control"] == "no-cache"
    policy = POLICY.format(style=style_source(ask))
    assert first.headers["content-security-policy"] == policy
    again = ask("GET", path, headers={"if-none-match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["etag"] == first.headers["etag"]
    assert again.headers["content-security-policy"] == policy
    assert ask("GET", path, headers={"if-none-match": '"other"'}).status_code == 200


def test_each_file_is_kept_for_ever_under_the_version(ask: Ask, shell: Shell) -> None:
    types = {".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml", ".json": "application/json"}
    for path, file in shell.files.items():
        response = ask("GET", f"{shell.base}/{path}")
        assert (response.status_code, response.content) == (200, file.content)
        assert response.headers["cache-control"] == "public, max-age=31536000, immutable"
        assert response.headers["content-type"].startswith(types.get(Path(path).suffix, "application/manifest+json"))


@pytest.mark.parametrize(
    "path",
    ["/page/0000000000000000/js/main.js", "{base}/js/none.js", "{base}/../page.html", "{base}/service-worker.js"],
)
def test_no_other_file_is_shown(ask: Ask, problem: CheckProblem, shell: Shell, path: str) -> None:
    problem(ask("GET", path.format(base=shell.base)), "not-found")


def test_any_change_of_any_file_gives_another_version() -> None:
    static = {"service-worker.js": b"1", "messages/en.json": b"{}", "js/main.js": b"2\n", "css/base.css": b"p {}"}
    page = "$base $languages $script $style"
    versions = {
        Shell(page, static).version,
        Shell(page + " ", static).version,
        *(Shell(page, static | {path: content + b" "}).version for path, content in static.items()),
        Shell(page, static | {"js/more.js": b""}).version,
    }
    assert len(versions) == 7


def test_the_worker_keeps_what_the_page_asks_for(ask: Ask, shell: Shell) -> None:
    worker = ask("GET", "/service-worker.js").text
    shown = json.loads(worker.split("const SHELL = ")[1].split(";\n")[0])
    page = ask("GET", "/").text
    asked = set(re.findall(r'(?:href|src)="(/page/[^"]+)"', page))
    assert {"/", *asked} <= set(shown)
    assert asked == {f"{shell.base}/{path}" for path in (SCRIPT, "manifest.webmanifest", "icon.svg")}
    assert not re.search(r"<script(?![^>]*\bsrc=)|\son\w+=|\bstyle=", page)


def test_what_is_sent_is_compressed_where_that_is_taken(ask: Ask, shell: Shell) -> None:
    for path in ("/", f"{shell.base}/{SCRIPT}"):
        plain = ask("GET", path, headers={"accept-encoding": "identity"})
        packed = ask("GET", path, headers={"accept-encoding": "gzip"})
        assert "content-encoding" not in plain.headers
        assert packed.headers["content-encoding"] == "gzip"
        assert packed.content == plain.content
        assert int(packed.headers["content-length"]) == len(gzip.compress(plain.content, mtime=0)) < len(plain.content)
        assert "accept-encoding" in packed.headers["vary"]
        assert packed.headers["etag"] == plain.headers["etag"]


def test_all_modules_run_as_one_script() -> None:
    modules = {
        "js/main.js": 'import { two, one as first } from "./part/b.js";\nglobalThis.sum = two + first();\n',
        "js/part/b.js": 'import { one } from "../c.js";\nexport const two = 2;\nexport function unused() {}\n'
        "export { one };\n",
        "js/c.js": "export function one() {\n  return 1;\n}\n",
    }
    with pytest.raises(NotBundled, match="export"):
        bundle(modules, "js/main.js")
    modules["js/part/b.js"] = modules["js/part/b.js"].replace("export { one };\n", "")
    modules["js/main.js"] = (
        'import { two } from "./part/b.js";\nimport { one as first } from "./c.js";\nconsole.log(two + first());\n'
    )
    script = bundle(modules, "js/main.js")
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is not installed")
    ran = subprocess.run([node, "-"], input=script, capture_output=True, text=True, check=True)
    assert ran.stdout == "3\n"
    modules["js/c.js"] = 'import { two } from "./part/b.js";\nexport function one() {}\n'
    with pytest.raises(NotBundled, match="imports itself"):
        bundle(modules, "js/main.js")


def test_the_page_answers_at_once(ask: Ask) -> None:
    took = []
    for _ in range(20):
        begin = time.perf_counter()
        ask("GET", "/")
        took.append(time.perf_counter() - begin)
    assert sorted(took)[10] < 0.05


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: str(path.relative_to(STATIC)))
def test_each_script_is_well_formed_small_and_says_what_it_is_for(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.startswith("/**")
    assert len(text.splitlines()) <= MOST_LINES
    # What would make text into markup or code, or ask another place.
    assert not re.search(r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function", text)
    assert not re.search(r"https?:(?!//www\.w3\.org/2000/svg)", text)
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is not installed")
    module = ["--input-type=module"] if path.name != "service-worker.js" else []
    checked = subprocess.run([node, *module, "--check", "-"], input=text, capture_output=True, text=True, check=False)
    assert checked.returncode == 0, checked.stderr


def test_every_text_that_a_script_names_is_there_and_every_text_is_used() -> None:
    source = "\n".join(path.read_text(encoding="utf-8") for path in SCRIPTS)
    named = set(re.findall(r"""["'`]([a-z_]+(?:\.[\w-]+)+)["'`]""", source)) & {
        *MESSAGES,
        *re.findall(r"""\bt\(\s*["']([^"']+)["']""", source),
    }
    counted = set(re.findall(r"""\b(?:tn|listOf)\(\s*["']([^"']+)["']""", source))
    single = set(re.findall(r"""\bt\(\s*["']([^"']+)["'][,)]""", source))
    assert single <= set(MESSAGES)
    assert {f"{name}.{form}" for name in counted for form in ("one", "other")} <= set(MESSAGES)
    patterns = [
        re.compile(re.sub(r"\\\$\\\{.*?\\\}", r"[\\w.-]+", re.escape(pattern)))
        for pattern in re.findall(r"`([a-z_]+\.[^`\s]*\$\{[^`]*)`", source)
    ]
    unused = {
        name
        for name in MESSAGES
        if name not in named
        and name.rpartition(".")[0] not in counted
        and f'"{name}"' not in source
        and not any(pattern.fullmatch(name) for pattern in patterns)
    }
    assert unused == set()


def test_every_word_of_the_shipped_rulebook_has_a_text() -> None:
    book = shipped_rulebook()
    for quantity, record in book.quantities.items():
        if record.kind == "word" and record.judged is not False:
            # A word of the eye is told as one of the number that it stands for.
            name = getattr(record, "eye_of", None) or quantity
            assert {f"word.{name}.{word}" for word in record.vocabulary} <= MESSAGES.keys()
    for quantity, words in book.eye_words.items():
        assert {f"word.{quantity}.{word}" for word in words} <= MESSAGES.keys()


def test_every_word_of_a_field_that_is_asked_has_a_text() -> None:
    text = (STATIC / "js" / "observables.js").read_text(encoding="utf-8")
    entries = {name: json.loads(entry) for name, entry in re.findall(r"^  (\w+): (\{.*\}),$", text, re.MULTILINE)}
    words = {
        (name, word)
        for name, entry in entries.items()
        if entry.get("control") in {"number", "choice"}
        for field in entry["fields"]
        for word in field["words"]
    }
    assert len(words) > 100
    assert {f"word.{name}.{word}" for name, word in words} - MESSAGES.keys() == set()


def test_the_page_is_in_the_wheel(root: Path, tmp_path: Path) -> None:
    built = subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "--no-build-isolation", "-w", tmp_path, root],
        capture_output=True,
        text=True,
        check=False,
    )
    assert built.returncode == 0, built.stderr
    [wheel] = tmp_path.glob("*.whl")
    inside = set(zipfile.ZipFile(wheel).namelist())
    ours = {f"api/page/static/{path.relative_to(STATIC)}" for path in STATIC.rglob("*") if path.is_file()}
    assert ours | {"api/page/page.html"} <= inside
