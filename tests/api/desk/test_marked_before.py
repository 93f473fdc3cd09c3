"""Feet that were marked or corrected before: what is kept, what is told, and what is blind."""

from __future__ import annotations

from typing import Any

import pytest

from tests.api.desk.conftest import PROUD
from tests.support.signed_in import Desk, by_hand, graded, id_in


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ("", "You had marked this foot before, and other marks were sent now"),
        ("&lang=de", "Diesen Huf hatten Sie schon benotet, und nun kamen andere Punkte an"),
    ],
)
@pytest.mark.parametrize("change", [{"grade.nails": "good"}, {"comment": "Second thoughts."}])
def test_other_marks_of_a_foot_that_he_has_marked_are_not_kept_and_that_is_told(
    yard: Any, send: Any, change: dict[str, str], more: str, told: str
) -> None:
    """From a second tab, or by the back button from the page that shows the tool's marks."""
    path = send(**PROUD) + more
    desk = Desk(yard)
    page = desk.page(path)
    first = graded(page, nails="minor")
    assert desk.post(page, first).status_code == 303
    before = by_hand(desk, path)
    answer = desk.post(page, first | change)
    assert answer.status_code == 200
    assert told in answer.text
    assert by_hand(desk, path) == before
    assert told not in desk.get(path).text


def test_a_foot_that_was_corrected_meanwhile_says_so_before_and_after_it_is_marked(yard: Any, send: Any) -> None:
    path = send()
    desk = Desk(yard)
    assert "corrected since" not in desk.get(path).text
    again = send(f"?corrects={id_in(path)}", **PROUD)
    assert "corrected since" in desk.get(path).text
    assert "seither berichtigt" in desk.get(f"{path}&lang=de").text
    desk.mark(path)
    assert "corrected since" in desk.get(path).text
    assert "corrected since" not in desk.get(again).text
    # The tool's marks of the first were shown to him, and to nobody else.
    assert "your marks are not blind" in desk.get(again).text
    assert "nicht unbeeinflusst" in desk.get(f"{again}&lang=de").text
    other = Desk(yard, "S-2")
    assert "not blind" not in other.get(again).text
    for each in (desk, other):
        each.mark(again)
    assert [(each["assessor"]["id"], each["blind"]) for each in by_hand(desk, again)] == [("S-1", False), ("S-2", True)]


def test_marks_of_one_grade_that_are_not_the_same_are_never_told_as_the_same(yard: Any, send: Any) -> None:
    """Two major faults of the nails take more marks than the one that a mark by hand stands for."""
    path = send(**PROUD)
    desk = Desk(yard)
    compared = desk.mark(path, nails="major")
    assert "major, 9 of 18" in compared.text
    assert "The same grade, another mark" in compared.text
    assert "Gleich schwer, andere Punkte" in desk.get(f"{path}&lang=de").text
    assert "another mark" not in desk.mark(send()).text
