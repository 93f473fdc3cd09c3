"""``python -m api.page.write_observables`` writes what the page takes from the table of observables.

See :mod:`fitcheck.fitting.observables`: the page's steps name quantities, and their fields, places and units come from
there.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from fitcheck.fitting.field_words import words_at
from fitcheck.fitting.observables import INPUT_ROWS, NAILS, OTHER_FIELDS, ROWS, STATED, fields_of
from rules import shipped_rulebook

__all__ = ["SCRIPT", "script"]

SCRIPT: Final = Path(__file__).parent / "static" / "js" / "observables.js"

_TEMPLATE: Final = """\
/** Where a fitting has what is observed: written by `python -m api.page.write_observables`, not by hand. */

/** The list of nails. */
export const NAILS = {nails};

/**
 * By quantity, or by the field's own name where it is stated in none: the unit of a number, and each field with its
 * place. A field of a nail has its key in the nail instead of a path. What is stated, and not only computed from, has
 * its control, and its criterion: null for a size of shoe or hoof.
 *
 * @typedef {{{{path?: string, key?: string, place: string}}}} Field
 * @type {{Record<string, {{unit: string|null, control?: string, criterion?: string|null, fields: Field[]}}>}}
 */
export const OBSERVABLES = {{
{observables}}};

/** What holds for the whole foot, by path: the words of each. */
export const SITUATION = {{
{situation}}};
"""


def script() -> str:
    """The module of JavaScript."""
    return _TEMPLATE.format(
        nails=json.dumps(NAILS),
        observables="".join(f"  {name}: {json.dumps(entry)},\n" for name, entry in _entries()),
        situation="".join(
            f"  {path}: {json.dumps(_words_offered(path))},\n" for path in OTHER_FIELDS["situation"] if path != "stance"
        ),
    )


def _words_offered(path: str) -> list[str]:
    """The words that the page offers: of stage and form those judged by the shipped book, and stances as forms."""
    judges = shipped_rulebook().judges
    judged = {"stage": judges.stages, "hoof_form": (*judges.hoof_forms, *judges.stances)}
    return [word for word in words_at(path) if word in judged.get(path, (word,))]


def _entries() -> Iterator[tuple[str, dict[str, Any]]]:
    book = shipped_rulebook()
    stated: dict[str, str | None] = {
        row.quantity: row.unit
        for row in ROWS
        if row.measure is None and row.asked and book.quantities[row.quantity].judged is not False
    }
    stated |= STATED
    for name, unit in stated.items():
        fields = fields_of(name)
        control = "number" if unit else "flag" if words_at(fields[0][1]) == ("yes", "no") else "choice"
        asked = {"control": control, "criterion": book.criterion_of.get(name)}
        yield name, {"unit": unit, **asked, "fields": [_field(place, path) for place, path in fields]}
    for row in INPUT_ROWS:
        if not row.asked:
            continue
        if row.quantity is None:
            fields = tuple((place, row.field) for place in row.places)
            yield row.field.rpartition(".")[2], {"unit": None, "fields": [_field(*each) for each in fields]}
        elif row.quantity not in STATED:
            yield row.enters, {"unit": row.unit, "fields": [_field(*each) for each in fields_of(row.enters)]}


def _field(place: str, path: str) -> dict[str, str]:
    key = path.removeprefix(f"{NAILS}.{{nail}}.")
    return {"path": path, "place": place} if key == path else {"key": key, "place": place}


if __name__ == "__main__":
    SCRIPT.write_text(script(), encoding="utf-8", newline="\n")
