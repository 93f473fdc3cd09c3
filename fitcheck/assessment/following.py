"""A fitting that follows an assessment: what was left out stands as it was observed then.

Whoever has the earlier fitting and its assessment needs nothing else: nothing is looked up here.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Any, Final, Literal, NamedTuple

from fitcheck.assessment.models import Assessment
from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.carrying import Carried, carried_from, completed
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import sources_of
from fitcheck.fitting.validation import parse_fitting
from rules import Rulebook
from rules.model import STAGES

__all__ = ["CannotFollow", "Followed", "Following", "carried_readings", "completed_fitting", "follow", "same_visit"]

_HORSE: Final = ("id", "ueln", "transponder")


class CannotFollow(BadInput):
    """The fitting cannot follow that assessment; ``reason`` says why: it is of another foot, horse or later stage."""

    def __init__(self, reason: Literal["another", "later_stage"], problems: list[Problem]) -> None:
        self.reason = reason
        super().__init__(problems)


class Followed(NamedTuple):
    """An assessment that another fitting follows."""

    fitting: Fitting
    """Whole: with all that stood in it from before."""
    assessment: Assessment


class Following(NamedTuple):
    """A fitting that follows an assessment."""

    fitting: Fitting
    """Whole: what was sent, with all that was carried."""
    carried: tuple[Carried, ...]
    before: Followed | None
    """What it follows; None where that is not at hand, and then nothing is said of it."""


def follow(sent: Any, before: Followed, book: Rulebook | None = None) -> Following:
    """The fitting in ``sent``, a parsed JSON document, which follows ``before``; ranges are those of ``book``.

    Raises BadInput for what is wrong in ``sent``, also where it says that something stands as before and it cannot, and
    CannotFollow.
    """
    fitting, assessment = before
    there = fitting.model_dump(mode="json", by_alias=True, exclude_unset=True, exclude_none=True)
    carried = carried_from(sent, there, assessment.id, assessment.carried or ())
    if isinstance(sent, dict) and sent.get("follows") is None:
        sent = sent | {"follows": assessment.id}
    following = Following(completed_fitting(sent, carried, book), carried, before)
    if faults := list(_of_another(following.fitting, fitting)):
        raise CannotFollow("another", faults)
    _require_order(following.fitting, fitting)
    return following


def completed_fitting(sent: Any, carried: Collection[Carried], book: Rulebook | None) -> Fitting:
    """The fitting in ``sent``, a parsed JSON document, with what was ``carried`` into it. Raises BadInput."""
    return parse_fitting(completed(sent, tuple(carried)), book)


def same_visit(fitting: Fitting, before: Fitting) -> bool:
    """Whether two fittings of a foot are of one visit: they are unless both name one, each another."""
    return fitting.visit is None or before.visit is None or fitting.visit == before.visit


def carried_readings(following: Following, among: Collection[tuple[str, str]]) -> Iterator[tuple[str, str]]:
    """Those of the readings ``among`` (quantity, place) that rest on nothing but what was carried."""
    fields = {each.field for each in following.carried}
    for quantity, place in among:
        sources = list(sources_of(following.fitting, quantity, place))
        if sources and all(_lies_in(source, fields) for source in sources):
            yield quantity, place


def _lies_in(path: str, fields: Collection[str]) -> bool:
    """Whether the field of that path, or one that it lies in, is among ``fields``."""
    steps = path.split(".")
    return any(".".join(steps[:count]) in fields for count in range(1, len(steps) + 1))


def _of_another(fitting: Fitting, before: Fitting) -> Iterator[Problem]:
    alone = "Name the assessment before of the same foot and horse, or send this fitting without follows."
    if fitting.foot != before.foot:
        detail = f"The assessment that it follows is of {before.foot}, this one of {fitting.foot}. {alone}"
        yield Problem("foot", fitting.foot, before.foot, detail)
    for name in _HORSE:
        here, there = getattr(fitting.horse, name, None), getattr(before.horse, name, None)
        if here is not None and there is not None:
            if here != there:
                detail = f"The assessment that it follows is of {there}, this one of {here}. {alone}"
                yield Problem(f"horse.{name}", here, there, detail)
            return


def _require_order(fitting: Fitting, before: Fitting) -> None:
    if not same_visit(fitting, before):
        for name in ("heel_fit", "toe_fit", "levelness"):
            if getattr(getattr(fitting.observations, name), "as_before", None):
                detail = "The assessment before is of another visit, and the foot had another shoe."
                allowed = "as_before within one visit"
                raise BadInput([Problem(f"observations.{name}.as_before", value=True, allowed=allowed, detail=detail)])
    elif STAGES.index(fitting.stage) < STAGES.index(before.stage):
        detail = (
            f"The assessment that it follows is of a later stage, {before.stage}. Follow one of {fitting.stage} or "
            "earlier; where the shoe came off again, send the fitting without follows, or as another visit."
        )
        raise CannotFollow("later_stage", [Problem("stage", fitting.stage, f"{before.stage} or later", detail)])
