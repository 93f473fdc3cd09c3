"""``python -m api.documents.write_fields`` writes docs/fields.md from the table of observables and the shipped book."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from api.responses.fields import fields_page
from rules import shipped_rulebook

__all__ = ["PAGE"]

PAGE: Final = Path(__file__).parents[2] / "docs" / "fields.md"

if __name__ == "__main__":
    PAGE.write_text(fields_page(shipped_rulebook()), encoding="utf-8", newline="\n")
