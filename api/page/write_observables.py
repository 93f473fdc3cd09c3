"""``python -m api.page.write_observables`` writes what the page takes from the table of observables.

See :mod:`fitcheck.fitting.observables`: fields, places, units and words come from there.  Which of them are asked, and
when, is the running service's rulebook's to say.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from fitcheck.fitting.carrying import OF_A_NAIL, SOLE_PRESSURE
from fitcheck.fitting.field_words import eye_words_at, words_at
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.observables import INPUT_ROWS, NAILS, OTHER_FIELDS, ROWS, STATED, fields_of
from fitcheck.fitting.own_readings import OWN
from fitcheck.fitting.row import Row

__all__ = ["LISTS", "SCRIPT", "lists", "script"]

_HOLES: Final = "shoe.holes"
_DRESSING: Final = "observations.dressing"
_SEEN: Final = "observations.seen"
_IMPRINT: Final = "observations.scorch"
_CLIPS: Final = "observations.toe_fit.clips"
_CLIP_ROWS: Final = tuple(row for row in ROWS if row.field.startswith(f"{_CLIPS}."))
SCRIPT: Final = Path(__file__).parent / "static" / "js" / "observables.js"
LISTS: Final = SCRIPT.with_name("lists.js")

_TEMPLATE: Final = """\
/** Where a fitting has what is observed: written by `python -m api.page.write_observables`, not by hand. */

/**
 * By quantity, or by the field's own name where it is stated in none: the unit of a number, and each field with its
 * place; `{{nail}}` stands for the nail's number. What is stated, and not only computed from, has its control, and each
 * of its fields the words that it takes.
 *
 * @typedef {{{{path: string, place: string, words?: string[]}}}} Field
 * @type {{Record<string, {{unit: string|null, control?: "number"|"flag"|"choice", fields: Field[]}}>}}
 */
export const OBSERVABLES = {{
{observables}}};

/**
 * Every field that gives a reading: quantity, places and path, in the order in which the service reads them; `{{side}}`
 * and `{{place}}` stand for the place's own.
 */
export const READ = [
{read}];

/** What is computed: quantity, places and the path of the field that it is first computed from. */
export const COMPUTED = [
{computed}];

/** What holds for the whole foot, by path: the words of each. */
export const SITUATION = {{
{situation}}};

/** Whether a fitting may name the assessment before it, and where it has what a book of one's own asks for. */
export const FOLLOWS = {follows};
export const OWN = {own};
"""

_LISTS: Final = """\
/** What a fitting has as lists: written by `python -m api.page.write_observables`, not by hand. */

/** The lists of nails, of holes and of clips. */
export const NAILS = {nails};
export const HOLES = {holes};
export const CLIPS = {clips};

/**
 * What is stated as a list of places: the list, the places, of what was seen also what it is and how it is said.
 *
 * @type {{Record<string, {{path: string, places: string[], what?: string, words?: string[]}}>}}
 */
export const LISTED = {{
{listed}}};

/** What is said of each clip of the list: the quantity of each of its keys, and the places of clips. */
export const OF_A_CLIP = {of_a_clip};
export const CLIP_PLACES = {clip_places};

/**
 * What stands of the assessment before at a visit: the dressing, what was seen on the foot, the imprint but for what is
 * felt for anew, and of each nail.
 */
export const STANDS = {stands};
"""


def script() -> str:
    """The module of JavaScript."""
    return _TEMPLATE.format(
        observables="".join(f"  {name}: {json.dumps(entry)},\n" for name, entry in _entries()),
        read="".join(_lines(row for row in ROWS if row.measure is None)),
        computed="".join(_lines(row for row in ROWS if row.measure is not None)),
        situation="".join(f"  {path}: {json.dumps(words_at(path))},\n" for path in OTHER_FIELDS["situation"]),
        follows=json.dumps("follows" in Fitting.model_fields),
        own=json.dumps(OWN),
    )


def lists() -> str:
    """The module of JavaScript with what is stated as a list."""
    return _LISTS.format(
        nails=json.dumps(NAILS),
        clips=json.dumps(_CLIPS),
        holes=json.dumps(_HOLES),
        listed="".join(f"  {name}: {json.dumps(entry)},\n" for name, entry in _listed()),
        of_a_clip=json.dumps({row.field.rpartition(".")[2]: row.quantity for row in _CLIP_ROWS}),
        stands=json.dumps(
            {"dressing": _DRESSING, "seen": _SEEN, "imprint": _IMPRINT, "anew": [SOLE_PRESSURE], "nail": OF_A_NAIL}
        ),
        clip_places=json.dumps(_CLIP_ROWS[0].places),
    )


def _lines(rows: Iterator[Row]) -> Iterator[str]:
    for row in rows:
        yield f"  {json.dumps([row.quantity, row.places, row.field])},\n"


def _listed() -> Iterator[tuple[str, dict[str, Any]]]:
    for row in ROWS:
        if row.measure == "dark":
            yield row.quantity, {"path": row.field, "places": row.places}
        elif row.measure == "seen":
            what = row.quantity.removeprefix("seen_")
            yield row.quantity, {"path": row.field, "places": row.places, "what": what, "words": row.words}


def _entries() -> Iterator[tuple[str, dict[str, Any]]]:
    stated: dict[str, str | None] = {row.quantity: row.unit for row in ROWS if row.measure is None and row.asked}
    stated |= STATED
    for name, unit in stated.items():
        fields = fields_of(name)
        control = "number" if unit else "flag" if words_at(fields[0][1]) == ("yes", "no") else "choice"
        words = eye_words_at if unit else words_at
        listed = [{"path": path, "place": place, "words": words(path)} for place, path in fields]
        yield name, {"unit": unit, "control": control, "fields": listed}
    for row in INPUT_ROWS:
        if not row.asked:
            continue
        if row.quantity is None:
            listed = [{"path": row.field, "place": place} for place in row.places]
            yield row.field.rpartition(".")[2], {"unit": None, "fields": listed}
        elif row.quantity not in STATED:
            listed = [{"path": path, "place": place} for place, path in fields_of(row.enters)]
            yield row.enters, {"unit": row.unit, "fields": listed}


if __name__ == "__main__":
    SCRIPT.write_text(script(), encoding="utf-8", newline="\n")
    LISTS.write_text(lists(), encoding="utf-8", newline="\n")
