"""/docs: one plain page that needs nothing from outside and leaves nothing out."""

from __future__ import annotations

import base64
import hashlib
import html
import re
from collections.abc import Callable
from html.parser import HTMLParser
from typing import Any

import httpx
import pytest

from api.openapi.reference import in_words, references, render

Ask = Callable[..., httpx.Response]
_VOID = {"meta", "br", "hr", "link", "img", "input"}


class Page(HTMLParser):
    """The text, links, ids and tags of a page; fails where tags do not pair."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.attributes: set[str] = set()
        self.text = ""
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        if tag not in _VOID:
            self.open.append(tag)
        for name, value in attrs:
            self.attributes.add(name)
            if name == "id":
                self.ids.append(value or "")
            if name == "href":
                self.links.append(value or "")

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.fixture(scope="module")
def answer(ask: Ask) -> httpx.Response:
    """The page as it is sent."""
    return ask("GET", "/docs")


@pytest.fixture(scope="module")
def page(answer: httpx.Response) -> Page:
    """The page, taken apart."""
    return Page(answer.text)


@pytest.fixture(scope="module")
def document(ask: Ask) -> dict[str, Any]:
    """What the page is made from."""
    whole: dict[str, Any] = ask("GET", "/openapi.json").json()
    return whole


def test_the_page_is_sound_html_with_a_title(answer: httpx.Response, page: Page) -> None:
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert answer.text.startswith("<!doctype html>")
    assert page.open == []
    assert {"title", "h1", "h2", "table", "pre", "nav"} <= page.tags


def test_the_page_asks_for_nothing_from_outside_and_runs_nothing(answer: httpx.Response, page: Page) -> None:
    assert page.tags.isdisjoint({"script", "link", "img", "iframe", "object", "form", "base"})
    assert page.attributes <= {"href", "id", "class", "lang", "charset", "name", "content"}
    for link in page.links:
        assert link.startswith(("#", "/"))
        assert not link.startswith("//")
    policy = answer.headers["content-security-policy"]
    assert policy.startswith("default-src 'none'")
    [style] = re.findall(r"<style>(.*?)</style>", answer.text, re.DOTALL)
    assert "url(" not in style
    assert "@import" not in style
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    assert f"style-src 'sha256-{digest}'" in policy


def test_every_link_on_the_page_leads_somewhere(ask: Ask, page: Page) -> None:
    assert len(page.ids) == len(set(page.ids))
    for link in set(page.links):
        if link.startswith("#"):
            assert link[1:] in page.ids
        else:
            assert ask("GET", link).status_code == 200


def test_every_operation_parameter_status_and_example_is_on_the_page(page: Page, document: dict[str, Any]) -> None:
    assert document["info"]["description"].split("\n")[0] in page.text
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            assert f"{method.upper()} {path}" in page.text
            assert operation["description"].split("\n")[0] in page.text
            for parameter in operation.get("parameters", ()):
                assert parameter["description"] in page.text
            for status, response in operation["responses"].items():
                assert f"{status} {response['description']}" in page.text
            for content in operation.get("requestBody", {}).get("content", {}).values():
                for example in content.get("examples", {}).values():
                    assert example["summary"] in page.text


def test_every_schema_and_each_of_its_keys_is_on_the_page(page: Page, document: dict[str, Any]) -> None:
    for name, schema in document["components"]["schemas"].items():
        assert f"schema-{name}" in page.ids
        for key, part in schema.get("properties", {}).items():
            assert key in page.text
            assert part.get("description", "").replace("``", "") in page.text


def test_whatever_the_document_holds_is_shown_as_text() -> None:
    nasty = '<script>alert("x")</script> & ``<b>``'
    shown = render(
        {
            "info": {"title": nasty, "version": nasty, "summary": nasty, "description": f"{nasty}\n\n    {nasty}"},
            "paths": {
                f"/{nasty}": {
                    "post": {
                        "operationId": nasty,
                        "summary": nasty,
                        "description": nasty,
                        "parameters": [{"name": nasty, "in": nasty, "description": nasty, "schema": {"enum": [nasty]}}],
                        "requestBody": {
                            "description": nasty,
                            "content": {
                                nasty: {
                                    "schema": {"$ref": f"#/components/schemas/{nasty}"},
                                    "examples": {nasty: {"summary": nasty, "value": nasty}},
                                }
                            },
                        },
                        "responses": {"200": {"description": nasty}},
                    }
                }
            },
            "components": {"schemas": {nasty: {"description": nasty, "properties": {nasty: {"type": nasty}}}}},
        }
    )
    assert "<script" not in shown
    assert "<b>" not in shown
    assert html.escape("<script>") in shown
    Page(shown)


@pytest.mark.parametrize(
    ("schema", "words"),
    [
        ({"type": "string"}, "text"),
        ({"type": "string", "minLength": 1, "maxLength": 64}, "text from 1 to 64 characters"),
        ({"type": "string", "format": "date"}, "text (date)"),
        ({"type": "integer", "minimum": 1, "maximum": 6}, "whole number from 1 to 6"),
        ({"type": "number", "minimum": 0}, "number, 0 or more"),
        ({"type": "number", "maximum": 3}, "number, at most 3"),
        ({"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}, "list of 2 entries of (number)"),
        ({"type": "array", "prefixItems": [{"type": "number"}, {"type": "null"}]}, "list of number, null"),
        ({"type": "object"}, "object"),
        ({"type": "object", "additionalProperties": {"type": "boolean"}}, "object, each true or false"),
        ({"type": "object", "properties": {"a": {"const": "x"}}}, 'object {a: "x"}'),
        ({"$ref": "#/components/schemas/Nail"}, "[Nail]"),
        ({"anyOf": [{"type": "null"}, {"type": "null"}]}, "null"),
        ({}, "anything"),
    ],
)
def test_a_schema_is_put_into_words(schema: dict[str, Any], words: str) -> None:
    assert in_words(schema) == words
    assert set(references(schema)) == ({"Nail"} if "$ref" in schema else set())
