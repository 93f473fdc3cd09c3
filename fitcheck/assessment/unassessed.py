"""Each reading that nothing came of: what was not observed, and what was sent, is kept, and no rule judges."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Final

from fitcheck.assessment.completeness import Completeness, field_of
from fitcheck.assessment.examine import Examined
from fitcheck.assessment.expected import BEFORE_NAILS
from fitcheck.assessment.models import StillNeeded, Unassessed
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.observables import OUTLINE, row_of
from fitcheck.fitting.readings import fields_sent, nail_place
from fitcheck.text.catalogue import messages_of
from fitcheck.text.format import figure
from rules import Rulebook, Table
from rules.situation import spot_of

__all__ = ["again_where", "measured_again", "unassessed_of"]


_FINE: Final = 100
"""The u that is asked for is told in hundredths of the unit."""


def measured_again(
    unsure: Mapping[tuple[str, str], float | None], fitting: Fitting, book: Rulebook
) -> dict[tuple[str, str], Unassessed]:
    """For each reading that is too uncertain, with the u that would do: measure again, and how well."""
    nails = tuple(nail_place(nail) for nail in fitting.observations.nails or ())
    messages = messages_of(book)
    again = {}
    for (quantity, place), most in unsure.items():
        record = book.quantities[quantity]
        if most is None:
            how = messages.say("unassessed.too_uncertain_size", how=record.how)
        else:
            # Rounded down, so that what is asked for does.
            digits = f"{math.floor(most * _FINE) / _FINE:g}"
            u = figure(float(digits), record.unit or "1", book.language)
            how = messages.say("unassessed.too_uncertain", u=u, how=record.how)
        field = field_of(quantity, place, nails, nailed=fitting.stage not in BEFORE_NAILS)
        again[quantity, place] = Unassessed(field, quantity, place, "too_uncertain", how)
    return again


def again_where(
    needed: tuple[StillNeeded, ...], again: Mapping[tuple[str, str], Unassessed]
) -> tuple[StillNeeded, ...]:
    """``needed``, each that was read but too uncertain with what is asked of it instead."""
    says = {each.field: each.how for each in again.values()}
    if not says:
        return needed
    return tuple(item.model_copy(update={"say": says.get(item.field, item.say)}) for item in needed)


def unassessed_of(
    examined: Examined, completeness: Completeness, again: Mapping[tuple[str, str], Unassessed]
) -> tuple[Unassessed, ...]:
    """What is to be measured ``again``, what was not observed, then each field that was sent and nothing comes of.

    Sent and no reading by the rulebook are a word of the eye for which it has no figure, and a quantity that it does
    not know.  What the remarks say could not be computed is told with what they ask for.
    """
    fitting, book, table = examined.fitting, examined.book, examined.table
    reasons = {key: remark.name for remark in examined.remarks for key in remark.lacking}
    beside = {key: None for key in examined.beside if key not in table and not _judged_by_eye(*key, table, book)}
    lacking = [
        _reasoned(each, reasons[key], book) if key in reasons else each
        for key, each in completeness.unassessed.items()
        if key not in beside and key not in again
    ]
    unjudged = dict.fromkeys(completeness.not_judged()) | beside
    how = messages_of(book).say("unassessed.not_judged")
    kept = [Unassessed(*where, "not_judged", how) for where in _fields(fitting, unjudged)]
    return (*again.values(), *lacking, *kept)


def _reasoned(each: Unassessed, reason: str, book: Rulebook) -> Unassessed:
    return Unassessed(OUTLINE, each.quantity, each.place, "cannot_be_computed", book.remarks[reason].text)


def _judged_by_eye(quantity: str, place: str, table: Table, book: Rulebook) -> bool:
    seen = book.eye_quantities.get(quantity, {}).get(spot_of(place))
    return seen is not None and (seen, place) in table


def _fields(fitting: Fitting, unjudged: dict[tuple[str, str], None]) -> Iterator[tuple[str, str, str]]:
    """Path, quantity and place of each, in the order of the contract; then of what is computed from several fields."""
    for path, quantity, place in fields_sent(fitting, unjudged) if unjudged else ():
        unjudged.pop((quantity, place), None)
        yield path, quantity, place
    for quantity, place in unjudged:
        row = row_of(quantity, spot_of(place))
        if row is not None:
            yield row.needed_at(place), quantity, place
