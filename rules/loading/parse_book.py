"""``python -m rules.loading.parse_book`` parses the shipped book beforehand: see :mod:`rules.loading.files`."""

from __future__ import annotations

from pathlib import Path

from rules.loading.files import PARSED, parsed_text, read_texts

if __name__ == "__main__":
    here = Path(__file__).parents[1]
    (here / PARSED).write_text(parsed_text(read_texts(here / "book")), encoding="utf-8", newline="\n")
