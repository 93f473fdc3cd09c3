"""Each reading that nothing came of: what was not observed, and what was sent, is kept, and no rule judges."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.assessment.completeness import Completeness
from fitcheck.assessment.models import Unassessed
from fitcheck.fitting.fit_observations import KEPT_OF_OUTLINE
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.observables import OUTLINE, row_of
from fitcheck.fitting.readings import fields_sent, sent_beside
from fitcheck.text.catalogue import messages_of
from rules import Rulebook, Table
from rules.situation import spot_of

__all__ = ["unassessed_of"]


def unassessed_of(fitting: Fitting, completeness: Completeness, table: Table, book: Rulebook) -> tuple[Unassessed, ...]:
    """What was not observed or cannot be computed, then each field that was sent and that nothing comes of.

    Sent and no reading by ``book`` are a word of the eye for which it has no figure, a quantity that it does not know,
    and what is kept of an outline.
    """
    beside = {key: None for key in sent_beside(fitting, table) if not _judged_by_eye(*key, table, book)}
    lacking = (each for each in completeness.unassessed if (each.quantity, each.place) not in beside)
    how = messages_of(book).say("unassessed.not_judged")
    unjudged = dict.fromkeys(completeness.not_judged) | beside
    kept = (Unassessed(*where, "not_judged", how) for where in _fields(fitting, unjudged))
    return (*lacking, *kept)


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
    outline = fitting.observations.outline
    for key in KEPT_OF_OUTLINE if outline is not None else ():
        if getattr(outline, key) is not None:
            yield f"{OUTLINE}.{key}", key, "foot"
