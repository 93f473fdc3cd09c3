"""Agreement in plain sentences for a report: counts first, then the coefficient, its interval, and what limits it.

No coefficient is called good or poor: such scales are custom, and an interval says more.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from fitcheck.agreement.comparison import Comparison, OnCriterion, most_disagreed
from fitcheck.agreement.intraclass import Form
from fitcheck.agreement.judgement import GRADES, TOOL
from fitcheck.agreement.kappa import Weights
from fitcheck.agreement.numbers import OnNumber
from fitcheck.agreement.outcome import Interval, NotComputed
from fitcheck.agreement.proportion import Share
from fitcheck.agreement.trend import Span
from fitcheck.text.catalogue import ENGLISH, Messages, messages_in

__all__ = [
    "ENOUGH",
    "comparison_sentences",
    "criterion_sentences",
    "number_sentence",
    "progress_sentences",
    "ranking_sentence",
]

ENOUGH: Final = 2 * len(GRADES) ** 2
"""Fewer feet are little to go on: twice the square of the number of grades, D. V. Cicchetti, Testing the normal
approximation and minimal sample size requirements of weighted kappa when the number of categories is large, Applied
Psychological Measurement 5 (1981) 101-104 (from memory)."""

Titles = Mapping[str, str]
"""What criteria are called in a sentence; without a title, their own name without underscores."""
_ENGLISH: Final = messages_in(ENGLISH)


def comparison_sentences(
    found: Comparison, titles: Titles | None = None, messages: Messages = _ENGLISH
) -> Iterator[str]:
    """Everything of note in a comparison: feet, all grades, each foot's worst grade, criteria, ranking."""
    first, second = _rater(found.first, messages), _rater(found.second, messages)
    feet = messages.counted("feet", found.subjects)
    yield messages.say("agreement.both", first=first, second=second, feet=feet)
    for rater, count in ((first, found.only_first), (second, found.only_second)):
        if count:
            yield messages.counted("agreement.only", count, rater=rater)
    if isinstance(found.grades, Share):
        yield messages.say(
            "agreement.grades",
            whole=found.grades.whole,
            part=found.grades.part,
            percent=_percent(found.grades.value),
            interval=_percents(found.grades.interval, messages),
        )
        yield from _sentences(found, found.worst, messages.say("agreement.on_worst"), "linear", messages)
    for each in found.criteria:
        yield from criterion_sentences(found, each, titles, messages=messages)
    yield from ranking_sentence(found, titles, messages)


def criterion_sentences(
    found: Comparison,
    on: OnCriterion,
    titles: Titles | None = None,
    weights: Weights = "linear",
    messages: Messages = _ENGLISH,
) -> Iterator[str]:
    """What a report says of one criterion: agreement, kappa, who is the graver, and what is missing."""
    start = messages.say("agreement.on", title=_title(on.criterion, titles))
    yield from _sentences(found, on, start, weights, messages)


def ranking_sentence(found: Comparison, titles: Titles | None = None, messages: Messages = _ENGLISH) -> Iterator[str]:
    """On what the two differ most, and whether that is settled; nothing where they never differ."""
    ranked = [(each, each.different) for each in most_disagreed(found)]
    nonzero = [(each, part) for each, part in ranked if isinstance(part, Share) and part.part]
    if not nonzero:
        return
    parts = [
        messages.say(
            "agreement.most_part",
            title=_title(each.criterion, titles),
            part=part.part,
            whole=part.whole,
            interval=_percents(part.interval, messages),
        )
        for each, part in nonzero
    ]
    yield messages.say("agreement.most", parts=messages.listed(parts))
    if len(nonzero) > 1 and nonzero[0][1].interval.overlaps(nonzero[1][1].interval):
        yield messages.say("agreement.most_overlap")


def number_sentence(
    on: OnNumber, title: str | None = None, form: Form = "ICC(2,1)", messages: Messages = _ENGLISH
) -> str:
    """What a report says of one number."""
    start = messages.say(
        "agreement.number.start",
        title=title or _plain_name(on.name, messages),
        raters=messages.listed(_rater(rater, messages) for rater in on.raters),
        feet=messages.counted("of_feet", on.subjects),
    )
    left = messages.counted("agreement.number.left", on.left_out) if on.left_out else ""
    found = on.forms if isinstance(on.forms, NotComputed) else on.forms[form]
    if isinstance(found, NotComputed):
        return messages.say("agreement.number.none", start=start, why=found.why_in(messages), left=left)
    value = _two(found.value, messages)
    if isinstance(found.interval, NotComputed):
        why = found.interval.why_in(messages)
        return messages.say("agreement.number.no_interval", start=start, form=form, value=value, why=why, left=left)
    interval = _spread(found.interval, messages)
    return messages.say("agreement.number.figure", start=start, form=form, value=value, interval=interval, left=left)


def progress_sentences(spans: Sequence[Span], messages: Messages = _ENGLISH) -> tuple[str, ...]:
    """What a report says of ``spans``, and whether the last differs from the first by more than chance may do."""
    if not spans:
        return (messages.say("agreement.trend.nothing"),)
    sentences = [
        messages.say(
            "agreement.trend.span",
            name=span.name,
            part=span.good.part,
            whole=span.good.whole,
            feet=messages.counted("of_feet", span.feet),
            percent=_percent(span.good.value),
            interval=_percents(span.good.interval, messages),
        )
        for span in spans
    ]
    first, last = spans[0].good, spans[-1].good
    if len(spans) == 1:
        outcome = "one_span"
    elif first.interval.overlaps(last.interval):
        outcome = "overlap"
    else:
        outcome = "above" if last.value > first.value else "below"
    return (*sentences, messages.say(f"agreement.trend.{outcome}"))


def _sentences(found: Comparison, on: OnCriterion, start: str, weights: Weights, messages: Messages) -> Iterator[str]:
    lacking = _lacking(found, on, messages)
    if isinstance(on.same, NotComputed):
        yield messages.say("agreement.nothing", start=start, why=on.same.why_in(messages), lacking=lacking)
        return
    yield messages.say(
        "agreement.same",
        start=start,
        part=on.same.part,
        feet=messages.counted("of_feet", on.same.whole),
        interval=_percents(on.same.interval, messages),
        kappa=_kappa(on, weights, messages),
        few=messages.counted("agreement.few", on.judged) if on.judged < ENOUGH else "",
        lacking=lacking,
    )
    differing = on.first_graver + on.second_graver
    first, second = _rater(found.first, messages), _rater(found.second, messages)
    if differing == 1:
        yield messages.say("agreement.graver_once", rater=first if on.first_graver else second)
    elif differing:
        yield messages.say(
            "agreement.graver",
            count=differing,
            first=first,
            first_graver=on.first_graver,
            second=second,
            second_graver=on.second_graver,
        )


def _kappa(on: OnCriterion, weights: Weights, messages: Messages) -> str:
    kappa, name = on.kappas[weights], messages.say(f"agreement.kappa.{weights}")
    if isinstance(kappa, NotComputed):
        return messages.say("agreement.no_figure", name=name, why=kappa.why_in(messages))
    if kappa.value == 1:
        # Its interval says more of how few feet there are than of the two.
        return messages.say("agreement.whole", name=name)
    value, interval = _two(kappa.value, messages), _spread(kappa.interval, messages)
    return messages.say("agreement.figure", name=name, value=value, interval=interval)


def _lacking(found: Comparison, on: OnCriterion, messages: Messages) -> str:
    return "".join(
        messages.counted("agreement.lacking", count, rater=_rater(rater, messages))
        for rater, count in ((found.first, on.only_first), (found.second, on.only_second))
        if count
    )


def _rater(rater: str, messages: Messages) -> str:
    return messages.say("agreement.tool") if rater == TOOL else rater


def _title(criterion: str, titles: Titles | None) -> str:
    return (titles or {}).get(criterion, criterion.replace("_", " "))


def _plain_name(name: str, messages: Messages) -> str:
    quantity, _, place = (part.replace("_", " ") for part in name.partition("@"))
    return messages.say("phrase.at", what=quantity, place=place) if place else quantity


def _two(value: float, messages: Messages) -> str:
    return messages.number(f"{round(value, 2) + 0.0:.2f}")


def _spread(interval: Interval, messages: Messages) -> str:
    low, high = _two(interval.low, messages), _two(interval.high, messages)
    return messages.say("agreement.interval", low=low, high=high)


def _percent(value: float) -> str:
    return f"{100 * value:.0f}"


def _percents(interval: Interval, messages: Messages) -> str:
    return messages.say("agreement.interval_percent", low=_percent(interval.low), high=_percent(interval.high))
