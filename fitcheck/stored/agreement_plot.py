"""How far two raters agree as a plot: for each criterion the share of equal grades with its interval."""

from __future__ import annotations

from fitcheck.drawing.interval_plot import IntervalRow, interval_plot
from fitcheck.stored.rater_report import Agreement, CriterionAgreement
from fitcheck.text.catalogue import Messages, messages_of
from rules import Rulebook

__all__ = ["agreement_plot"]


def agreement_plot(found: Agreement, book: Rulebook) -> str:
    """The plot in the language of ``book``; its description is what the report says."""
    messages = messages_of(book)
    return interval_plot(
        [_row(each, messages) for each in (found.worst, *found.criteria)],
        head=messages.say("agreement.plot.heading"),
        key=messages.say("agreement.plot.key"),
        title=messages.say("agreement.plot.title", first=found.first, second=found.second),
        description=" ".join(found.says),
    )


def _row(each: CriterionAgreement, messages: Messages) -> IntervalRow:
    same, share = each.same, each.same.share
    whole = (
        None if share.value is None or share.low is None or share.high is None else (share.value, share.low, share.high)
    )
    beside = messages.say("agreement.plot.beside", part=same.part, whole=same.whole)
    return IntervalRow(each.title, whole, beside, messages.say("agreement.plot.none"))
