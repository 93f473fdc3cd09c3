"""An assessor's browser in process: signed in at the desk, it goes from page to page and sends their forms."""

from __future__ import annotations

from http.cookies import SimpleCookie
from typing import Any, Final
from urllib.parse import parse_qsl, urlsplit

import httpx

from tests.support.pages import Element, page_of

__all__ = ["HERE", "Desk", "by_hand", "graded", "id_in"]

HERE: Final = {"origin": "http://low-meadow.test"}


class Desk:
    """An assessor's browser, signed in, that goes from page to page."""

    def __init__(self, yard: Any, person: str = "S-1", *scopes: str) -> None:
        self.yard = yard
        header = yard.bearer(*(scopes or ("read", "mark")), person=person)
        self.key = yard.made[-1].id
        sent = yard.ask("POST", "/desk/sign-in", data={"key": header["authorization"][7:]}, headers=HERE)
        [(name, morsel)] = SimpleCookie(sent.headers["set-cookie"]).items()
        self.cookie = {"cookie": f"{name}={morsel.value}"}

    def get(self, path: str, status: int = 200, **headers: str) -> httpx.Response:
        shown: httpx.Response = self.yard.ask("GET", path, headers=self.cookie | headers)
        assert shown.status_code == status, shown.text
        return shown

    def page(self, path: str) -> Element:
        return page_of(self.get(path).text)

    def post(self, page: Element, fields: dict[str, str], **headers: str) -> httpx.Response:
        [form] = page.all("form")
        hidden = {
            each.attributes["name"]: each.attributes["value"]
            for each in form.all("input")
            if each.attributes["type"] == "hidden"
        }
        headers = self.cookie | HERE | headers
        sent: httpx.Response = self.yard.ask("POST", form.attributes["action"], data=hidden | fields, headers=headers)
        return sent

    def mark(self, path: str, comment: str = "", **grades: str) -> Element:
        """Mark the foot of that page, good but for these criteria; the page on which it is then compared."""
        page = self.page(path)
        sent = self.post(page, graded(page, **grades) | {"comment": comment})
        assert sent.status_code == 303, sent.text
        return self.page(sent.headers["location"])


def graded(page: Element, **grades: str) -> dict[str, str]:
    names = {each.attributes["name"] for each in page.all("input") if each.attributes["name"].startswith("grade.")}
    return {name: grades.get(name.removeprefix("grade."), "good") for name in names}


def id_in(path: str) -> str:
    return dict(parse_qsl(urlsplit(path).query))["assessment"]


def by_hand(desk: Desk, path: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = desk.get(f"/v1/assessments/{id_in(path)}/hand-marks").json()["hand_marks"]
    return found
