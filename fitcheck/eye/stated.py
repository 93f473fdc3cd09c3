"""The chance of each finding of an assessment that rests on a word, by the eye of whoever said it.

It stands beside what was found and never changes it: not the decision, not a grade, not the order.
"""

from __future__ import annotations

from collections.abc import Collection

from fitcheck.assessment.models import Assessment, EyeUsed, Finding
from fitcheck.errors import BadInput, Problem
from fitcheck.eye.chance import chance_between
from fitcheck.eye.models import Curve, EyeView
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import situation_of
from fitcheck.scales import Scale, ends_by_book, scales
from fitcheck.vocabulary import answered
from rules import Rulebook, Situation
from rules.situation import admits, side_of

__all__ = ["with_eye"]


def with_eye(assessment: Assessment, fitting: Fitting, view: EyeView, book: Rulebook) -> Assessment:
    """``assessment`` of ``fitting``, each single finding on a word with its chance by the eye that ``view`` has.

    A finding says that the true measure lies past where the word ends towards the good words: so sure is that. A joined
    finding has none, nor has what was carried from an assessment before, which another may have seen.

    Raises BadInput where the words of the fitting are not those of that person.
    """
    reader = fitting.assessor or fitting.person
    if reader is None or reader.id != view.person:
        whose = "nobody" if reader is None else reader.id
        detail = (
            f"The eye is that of {view.person}, and the words of this fitting are those of {whose}: of its assessor, "
            "or else of its person. Leave eye out, or name whose words they are."
        )
        raise BadInput([Problem("eye", view.person, whose, detail)])
    curves = {each.quantity: each.curve for each in view.quantities if each.curve is not None}
    situation = situation_of(fitting, book)
    sizes = {each.quantity: each.value for each in assessment.measurements if each.place == "foot"}
    findings = tuple(_with_chance(finding, curves, situation, sizes, book) for finding in assessment.findings)
    used = EyeUsed(person=view.person, version=view.version)
    return assessment.model_copy(update={"findings": findings, "eye": used})


def _with_chance(
    finding: Finding, curves: dict[str, Curve], situation: Situation, sizes: dict[str, float], book: Rulebook
) -> Finding:
    rule = book.rules.get(finding.rule)
    if rule is None or finding.carried or finding.measured is None or not isinstance(finding.measured.value, str):
        return finding
    curve, scale = curves.get(rule.quantity), scales().get(rule.quantity)
    word = finding.measured.value
    if curve is None or scale is None or word not in scale.words:
        return finding
    ends = ends_by_book(scale, finding.place, situation, sizes, book)
    good = _good_words(rule.quantity, scale, finding.place, situation, book)
    low, high = scale.ends_on_line(_beyond(scale.words.index(word), good, ends))
    if low is None and high is None:
        return finding
    chance = chance_between(curve, word, scale.ends_on_line(ends), low, high)
    return finding if chance is None else finding.model_copy(update={"chance_by_eye": answered(round(chance, 4))})


def _good_words(quantity: str, scale: Scale, place: str, situation: Situation, book: Rulebook) -> Collection[int]:
    """The places in the scale of the words on which no rule fires here."""
    side = side_of(place)
    fired = {
        word
        for _, rule in book.rules_of[quantity]
        if rule.is_ is not None and admits(rule.applies, situation, side)
        for word in rule.is_
    }
    return [number for number, word in enumerate(scale.words) if word not in fired]


def _beyond(number: int, good: Collection[int], ends: tuple[float | None, ...]) -> tuple[float | None, float | None]:
    """Between which measures the true one lies where the finding is so; None of a side on which there is no end."""
    begin = ends[number - 1] if number else None
    end = ends[number] if number < len(ends) else None
    if good and all(other > number for other in good):
        return None, end
    if good and all(other < number for other in good):
        return begin, None
    return begin, end
