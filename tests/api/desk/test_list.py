"""The desk's list: days of fittings, a part of a horse's name, feet round the horse, signs, a table to take away."""

from __future__ import annotations

import csv
from collections.abc import Callable
from io import StringIO
from typing import Any

import httpx
import pytest

from fitcheck.records import Store
from tests.support.desk_records import HOSTILE
from tests.support.pages import Element, page_of
from tests.support.raters import judged

Ask = Callable[..., httpx.Response]
FEET = ("left_hind", "right_fore", "left_fore", "right_hind")


def shown(own: Ask, path: str) -> Element:
    response = own("GET", path)
    assert response.status_code == 200, response.text
    return page_of(response.text)


def listed(found: Element) -> list[str]:
    """The ids of the assessments, in the order of the page."""
    hrefs = [each.attributes["href"] for each in found.all("a")]
    return [href.rpartition("=")[2] for href in hrefs if href.startswith("/desk/sheet")]


@pytest.mark.parametrize(
    ("query", "ids"),
    [
        ("?from=2026-03-02&to=2026-03-02", ["before"]),
        ("?from=2026-03-03", ["after"]),
        ("?horse=mar", ["before", "after"]),
        ("?horse=DUN", ["before"]),
        ("?horse=%25", []),
        ("?horse=_", []),
    ],
)
def test_days_are_those_of_the_fitting_and_a_part_of_a_horses_name_finds_it(
    own: Ask, store: Store, query: str, ids: list[str]
) -> None:
    store.keep(judged("good", "before", horse="Dun mare", fitted="2026-03-02"))
    store.keep(judged("good", "after", horse="Bay mare", visit="w", created="2026-03-04T09:00:00.000Z"))
    assert sorted(listed(shown(own, f"/desk{query}"))) == sorted(ids)


def test_by_horse_the_feet_of_each_stand_in_the_order_in_which_one_goes_round_it(own: Ask, store: Store) -> None:
    for horse in ("H-2", "H-1"):
        store.keep_many([judged("good", f"{horse}-{foot}", horse=horse, visit=horse, foot=foot) for foot in FEET])  # type: ignore[arg-type]
    order = ("left_fore", "right_fore", "left_hind", "right_hind")
    assert listed(shown(own, "/desk?sorted=horse")) == [f"{horse}-{foot}" for horse in ("H-1", "H-2") for foot in order]


def test_each_decision_has_a_sign_beside_its_words(own: Ask, store: Store) -> None:
    store.keep_many([judged("good", "a"), judged("major", "b", visit="w")])
    signs = [each.text for each in shown(own, "/desk").all("span") if each.attributes.get("aria-hidden") == "true"]
    assert len(signs) == len(set(signs)) == 2


def test_the_list_goes_out_as_a_table_without_formulas(own: Ask, store: Store) -> None:
    store.keep_many(
        [judged("good", "a", horse="=1+1", person=HOSTILE, visit='v,w"x'), judged("major", "b", horse="H-2", visit="w")]
    )
    [link] = [
        each.attributes["href"]
        for each in shown(own, "/desk?order=oldest").all("a")
        if "list.csv" in each.attributes["href"]
    ]
    answer = own("GET", link)
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    first, second = csv.DictReader(StringIO(answer.text))
    assert (first["id"], first["horse"], first["person"], first["visit"]) == ("a", "'=1+1", HOSTILE, 'v,w"x')
    assert (second["decision"], second["foot"], second["superseded"]) == ("put_right", "left_fore", "false")


def test_marks_open_with_the_latest_day(own: Ask, store: Store) -> None:
    store.keep(judged("good", "older", fitted="2026-03-02"))
    store.keep(judged("good", "newer", fitted="2026-03-04", visit="w"))
    found = shown(own, "/desk/marks")
    assert listed(found) == ["newer"]
    values = {each.attributes["name"]: each.attributes["value"] for each in found.all("input")}
    assert (values["from"], values["to"]) == ("2026-03-04", "2026-03-04")


def test_marks_without_any_work_say_so(own: Ask) -> None:
    assert "Nothing of the kind was kept." in shown(own, "/desk/marks").text


def test_agreement_begins_with_its_plot_and_tells_whole_agreement_in_words(own: Ask, store: Store) -> None:
    for n in range(4):
        grade: Any = "major" if n == 0 else "good"
        store.keep_many(
            [judged(grade, f"{who}-{n}", assessor=who, horse=f"H-{n}", visit=f"v-{n}") for who in ("S-1", "S-2")]
        )
    text = own("GET", "/desk/agreement?first=S-1&second=S-2").text
    assert text.index("<svg") < text.index("both judged")
    found = page_of(text)
    assert "1.00" not in found.text
    assert "weighted kappa: they agree on every one" in found.text
    assert "on every foot" in found.text
