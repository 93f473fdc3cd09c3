"""The drawing speaks the language of its rulebook and says which it is."""

from __future__ import annotations

from typing import Any

from rules import localized, shipped_rulebook
from tests.support.drawings import drawn


def test_a_drawing_by_a_german_book_is_in_german_and_says_so(good: dict[str, Any]) -> None:
    drawing = drawn(good, localized(shipped_rulebook(), "de"))
    assert (drawing.root.get("lang"), drawing.root.get("{http://www.w3.org/XML/1998/namespace}lang")) == ("de", "de")
    assert "Zehe" in drawing.said
    assert "Toe" not in drawing.said
