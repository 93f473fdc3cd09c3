"""Templates of pages: structure alone; every label comes from the catalogue."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from jinja2 import Environment, nodes

from tests.support.paths import ROOT

TEMPLATES = sorted(
    path for package in ("api/desk", "fitcheck/report/html") for path in (ROOT / package).rglob("templates/*.html")
)
READ_OUT = frozenset({"alt", "aria-label", "placeholder", "title", "value"})
"""Attributes that a reader is told."""
COMMANDS = frozenset({"fitcheck keys make"})
_LETTERS = re.compile(r"[^\W\d_]")
_LABEL = re.compile(r"[A-Z]\w|.*\w \w")
"""What a text within an expression looks like where it is one for readers, not a name."""


class _Labels(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:  # noqa: ARG002  (the parser gives it)
        self.found += [value for name, value in attrs if name in READ_OUT and value and _LETTERS.search(value)]

    def handle_data(self, data: str) -> None:
        if _LETTERS.search(data) and data.strip() not in COMMANDS:
            self.found.append(data.strip())


def labels(template: str) -> Iterator[str]:
    """Texts for readers that stand in a template itself, in its markup and in its expressions."""
    tree = Environment(autoescape=True).parse(template)
    reader = _Labels()
    # What an expression becomes is no label of the template; a blank keeps the texts on both sides apart.
    reader.feed("".join(each.data for each in tree.find_all(nodes.TemplateData)))
    reader.close()
    yield from reader.found
    named = {id(argument) for call in tree.find_all(nodes.Call) for argument in call.args}
    for constant in tree.find_all(nodes.Const):
        if isinstance(constant.value, str) and id(constant) not in named and _LABEL.match(constant.value):
            yield constant.value


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.name)
def test_a_template_has_no_label_of_its_own(path: Path) -> None:
    assert list(labels(path.read_text(encoding="utf-8"))) == []


@pytest.mark.parametrize(
    ("template", "expected"),
    [
        ("<p>Found</p>", ["Found"]),
        ("<p>{{ n }} feet</p>", ["feet"]),
        ('<nav aria-label="Desk">{{ say("desk.any") }}</nav>', ["Desk"]),
        ('<p>{{ "Good" if x else "not so" }}</p>', ["Good", "not so"]),
        ('{% for a, b in (("x", "Marks"),) %}{{ b }}{% endfor %}', ["Marks"]),
        ('<p class="small">{{ say("view.found") }}, {{ "%.2f"|format(x) }} %</p>', []),
    ],
)
def test_a_label_is_found_wherever_it_stands(template: str, expected: list[str]) -> None:
    assert list(labels(template)) == expected
