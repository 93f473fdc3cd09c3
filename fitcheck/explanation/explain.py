"""Why a fitting was judged as it was: an assessment with its explanation.

The explanation is computed again from readings and limits, by plain arithmetic, and held against the findings: where
the two do not agree there is no explanation, and no assessment either.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from fitcheck.assessment.assess import assessment_of
from fitcheck.assessment.examine import Examined, examine
from fitcheck.assessment.following import Following
from fitcheck.assessment.models import Assessment, Decision, Finding
from fitcheck.explanation.joined import joined_explanations
from fitcheck.explanation.limits import LimitExplainer
from fitcheck.explanation.models import (
    CriterionExplained,
    DecisionExplained,
    ExplainedAssessment,
    Explanation,
    ReadingExplained,
    ReplacedInput,
    SituationExplained,
)
from fitcheck.fitting.input_value import InputValue
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import readings_as_sent
from fitcheck.text.catalogue import Messages, messages_of
from fitcheck.vocabulary import answered
from rules import EngineFault, Reading, Rulebook, shipped_rulebook

__all__ = ["explain"]

_DECIDES = {"stop_and_refer": "critical", "put_right": "major"}


def _decides(finding: Finding, decision: Decision) -> bool:
    return finding.grade == _DECIDES.get(decision) and finding.blocks is not False


def explain(fitting: Fitting | Following, book: Rulebook | None = None) -> ExplainedAssessment:
    """Assess ``fitting`` by ``book`` (the shipped rulebook when None) and say why.

    Raises what fitcheck.assess raises, and rules.EngineFault where what the limits give by plain arithmetic is not what
    was found.
    """
    examined = examine(fitting, book or shipped_rulebook())
    assessment = assessment_of(examined)
    explanation = _Explainer(examined, assessment).explanation()
    _agree(assessment, explanation)
    return ExplainedAssessment(**dict(assessment), explanation=explanation)


class _Explainer:
    def __init__(self, examined: Examined, assessment: Assessment) -> None:
        fitting, book, situation, stated, table, *_ = examined
        self._fitting = fitting
        self._assessment = assessment
        self._book = book
        self._situation = situation
        self._stated = stated
        self._as_sent = readings_as_sent(fitting)
        self._readings = table.values()
        self._required = book.required_at(situation.stage, situation.hot_fitted)
        findings = {finding.id: finding for finding in assessment.findings}
        self._limits = LimitExplainer(table, situation, findings, book)

    def explanation(self) -> Explanation:
        of = self._by_criterion()
        situation = self._situation
        return Explanation(
            situation=SituationExplained(
                foot=situation.foot,
                stage=situation.stage,
                work=situation.work,
                hoof_form=situation.hoof_form,
                stance=situation.stance if len(self._book.judges.stances) > 1 else None,
                hot_fitted=situation.hot_fitted,
                hot_fitted_assumed=self._fitting.hot_fitted is None and situation.stage != "hot_fit",
            ),
            levels={"simple": self._level("simple"), "guarded": self._level("guarded")},
            criteria=tuple(
                self._criterion(name, of.get(name, ()))
                for name, criterion in self._book.criteria.items()
                if criterion.of == "foot"
            ),
            sizes=tuple(self._reading(each) for each in of.get(None, ()) if self._is_judged(each)),
            kept=tuple(self._reading(each) for each in of.get(None, ()) if not self._is_judged(each)),
            decision=self._decision(),
        )

    def _is_judged(self, reading: Reading) -> bool:
        return self._book.quantities[reading.quantity].judged is not False

    def _level(self, name: str) -> float:
        return self._book.levels[name].probability

    def _by_criterion(self) -> dict[str | None, list[Reading]]:
        """The readings of each criterion, in the order of its quantities; None for sizes, and for what is only kept."""
        order = {name: number for number, name in enumerate(self._book.quantities)}
        by: dict[str | None, list[Reading]] = {}
        for reading in sorted(self._readings, key=lambda each: order[each.quantity]):
            by.setdefault(self._criterion_of(reading), []).append(reading)
        return by

    def _criterion_of(self, reading: Reading) -> str | None:
        """As findings have it: a cross-check belongs to what it compares; the size of a shoe to the first, the fit."""
        criterion = self._book.criterion_of.get(reading.about or reading.quantity)
        if criterion is None and self._book.rules_of[reading.quantity]:
            return next(iter(self._book.criteria))
        return criterion

    def _criterion(self, name: str, readings: Iterable[Reading]) -> CriterionExplained:
        criterion = self._book.criteria[name]
        return CriterionExplained(
            criterion=name,
            title=criterion.title,
            observable=self._situation.stage in criterion.stages,
            required=name in self._required,
            readings=tuple(self._reading(reading) for reading in readings),
            joined=tuple(joined_explanations(self._limits, name)),
            not_assessed=tuple(
                line for line in self._assessment.not_assessed if line == name or line.startswith(f"{name}.")
            ),
            still_needed=tuple(item for item in self._assessment.still_needed if item.criterion == name),
        )

    def _reading(self, reading: Reading) -> ReadingExplained:
        quantity = self._book.quantities[reading.quantity]
        key = (self._book.shown_as(reading.quantity), reading.place)
        replaced = self._stated.get(key)
        computed = quantity.eye_of is None and replaced != reading
        return ReadingExplained(
            quantity=reading.quantity,
            title=quantity.title,
            place=reading.place,
            value=_number(reading.value),
            u=None if isinstance(reading.value, str) else answered(reading.u),
            unit=quantity.unit,
            origin="computed" if computed else "given",
            method=None if computed else self._method(key),
            where=reading.where or None,
            given=ReplacedInput(
                value=_number(replaced.value),
                u=None if isinstance(replaced.value, str) else answered(replaced.u),
                method=self._method(key),
            )
            if computed and replaced is not None
            else None,
            limits=tuple(self._limits.limits(reading)),
            elsewhere=tuple(self._limits.elsewhere(reading)),
        )

    def _method(self, key: tuple[str, str]) -> str | None:
        """How a number was read, as its uncertainty was settled; None for a word or where nothing is known of it."""
        replaced = self._as_sent.get(key)
        return None if replaced is None else "; ".join(self._how(replaced, key[0])) or None

    def _how(self, replaced: InputValue, quantity_id: str) -> Iterator[str]:
        quantity = self._book.quantities[quantity_id]
        messages = messages_of(self._book)
        if replaced.word is not None:
            yield messages.say("explanation.by_eye", word=messages.word(replaced.word, spaced=False))
            return
        if replaced.value is not None and replaced.unit != (quantity.unit or "1"):
            yield messages.say(
                "explanation.given_as", value=messages.number(f"{replaced.value:.4g}"), unit=replaced.unit
            )
        if quantity.unit == "mm":
            # A stated uncertainty counts before that of the default method, so only a stated method is told then.
            method = replaced.method or (None if replaced.u is not None else quantity.method or "rule")
            if method is not None:
                yield self._book.methods[method].title
        elif replaced.u is None and (instrument := self._book.instruments.get(quantity.unit or "")):
            yield instrument.title
        if replaced.u is not None:
            yield messages.say("explanation.u_stated")

    def _decision(self) -> DecisionExplained:
        assessment = self._assessment
        decided_by = tuple(each.id for each in assessment.findings if _decides(each, assessment.decision))
        return DecisionExplained(
            decision=assessment.decision,
            say=_decision_sentence(assessment, len(decided_by), messages_of(self._book)),
            decided_by=decided_by,
            other_findings=tuple(each.id for each in assessment.findings if each.id not in decided_by),
            still_needed=tuple(item.field for item in assessment.still_needed),
        )


def _number(value: float | str) -> float | str:
    return value if isinstance(value, str) else answered(value)


def _decision_sentence(assessment: Assessment, deciding: int, messages: Messages) -> str:
    lacking = len(assessment.still_needed)
    parts: dict[str, str] = {}
    if assessment.decision == "stop_and_refer":
        parts["findings"] = messages.counted("explanation.decision.critical", deciding)
    elif assessment.decision == "put_right":
        parts["findings"] = messages.counted("explanation.decision.major", deciding)
    elif assessment.decision == "incomplete":
        parts["lacking"] = messages.counted("explanation.decision.lacking", lacking)
    elif assessment.next is not None:
        parts["next"] = messages.say(f"next.{assessment.next}")
    say = messages.say(f"explanation.decision.{assessment.decision}", **parts)
    if lacking and assessment.decision in _DECIDES:
        say = f"{say} {messages.counted('explanation.decision.lacking_besides', lacking)}"
    return say


def _agree(assessment: Assessment, explanation: Explanation) -> None:
    """Raise EngineFault where the explanation does not come to the findings."""
    readings = [*explanation.sizes, *(reading for part in explanation.criteria for reading in part.readings)]
    explained = {limit.finding for reading in readings for limit in reading.limits if limit.finding is not None}
    explained.update(name for part in explanation.criteria for joined in part.joined for name in joined.findings)
    found = {finding.id for finding in assessment.findings}
    if explained != found:
        raise EngineFault(f"the explanation does not come to what was found: {min(explained ^ found)}")
