"""Each joined rule on one foot: which of its clauses held, by what, and which did not."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.explanation.limits import LimitExplainer, distance
from fitcheck.explanation.models import ClauseExplained, JoinedExplained
from fitcheck.text.format import chance_text, clause_in_words, contexts_in_words, place_title, shown
from rules.model.records import Clause, JoinedRule
from rules.situation import admits, side_of, spot_of

__all__ = ["joined_explanations"]


def joined_explanations(explainer: LimitExplainer, criterion: str) -> Iterator[JoinedExplained]:
    """Each joined rule of ``criterion`` in the book's order."""
    for rule_id, joined in explainer.book.joined.items():
        if joined.criterion == criterion:
            yield _joined(explainer, rule_id, joined)


def _joined(explainer: LimitExplainer, rule_id: str, joined: JoinedRule) -> JoinedExplained:
    clauses = tuple(_clause(explainer, joined, clause) for clause in joined.when)
    messages = explainer.messages
    lacking = [clause.say for clause in clauses if not clause.holds]
    possible = () if lacking else _fired(rule_id, joined, clauses)
    # By chance a major one may not stand although all its parts do.
    doubted = explainer.book.judges.by_chance and joined.grade == "major"
    fired = tuple(name for name in possible if name in explainer.findings or not doubted)
    if lacking:
        parts = "; ".join(lacking)
        why = messages.say("explanation.joined.silent", count=len(clauses), lacking=len(lacking), parts=parts)
    elif not fired:
        why = messages.say("explanation.joined.unlikely", count=len(clauses))
    else:
        why = messages.say("explanation.joined.fired")
    return JoinedExplained(
        rule=rule_id,
        grade=joined.grade,
        outcome="fired" if fired else "silent",
        findings=fired,
        confidences=tuple(explainer.findings[name].confidence for name in fired if name in explainer.findings),
        applies=contexts_in_words(joined.applies, messages.language),
        status=joined.status,
        sources=joined.sources,
        clauses=clauses,
        why=why,
    )


def _fired(rule_id: str, joined: JoinedRule, clauses: tuple[ClauseExplained, ...]) -> tuple[str, ...]:
    """The findings that come of it: one for the foot, or one at each place of the first clause."""
    if joined.place == "foot":
        return (f"{rule_id}@foot",)
    return tuple(dict.fromkeys(f"{rule_id}@{name.partition('@')[2]}" for name in clauses[0].by))


def _clause(explainer: LimitExplainer, joined: JoinedRule, clause: Clause) -> ClauseExplained:
    if clause.findings is not None:
        return _found(explainer, joined, clause, clause.findings)
    return _read(explainer, joined, clause)


def _admits(explainer: LimitExplainer, joined: JoinedRule, place: str) -> bool:
    return admits(joined.applies, explainer.situation, side_of(place))


def _found(explainer: LimitExplainer, joined: JoinedRule, clause: Clause, names: tuple[str, ...]) -> ClauseExplained:
    found = [
        finding
        for finding in explainer.findings.values()
        if finding.rule in names and (clause.at is None or spot_of(finding.place) == clause.at)
    ]
    by = tuple(finding.id for finding in found if _admits(explainer, joined, finding.place))
    messages = explainer.messages
    if by:
        why = messages.say("explanation.clause.holds_by", findings=", ".join(by))
    elif found:
        why = messages.say(
            "explanation.clause.applies_elsewhere", contexts=contexts_in_words(joined.applies, messages.language)
        )
    else:
        why = messages.say("explanation.clause.not_found" if len(names) == 1 else "explanation.clause.none_found")
    return ClauseExplained(
        say=clause_in_words(clause, explainer.book),
        holds=bool(by),
        by=by,
        margin=None,
        margin_in_u=None,
        probability=None,
        why=why,
    )


def _read(explainer: LimitExplainer, joined: JoinedRule, clause: Clause) -> ClauseExplained:
    quantity, place = clause.reading or "", clause.at or ""
    reading = explainer.table.get((quantity, place))
    messages = explainer.messages
    name, at = messages.named("quantity", quantity), place_title(place, explainer.book)
    title = messages.say("phrase.at", what=name, place=at)
    span = None
    if reading is None:
        holds, why = False, messages.say("explanation.clause.not_read", title=title)
    elif not _admits(explainer, joined, place):
        contexts = contexts_in_words(joined.applies, messages.language)
        holds, why = False, messages.say("explanation.clause.applies_elsewhere", contexts=contexts)
    elif clause.clear_of is not None:
        judging = explainer.judging(reading)
        past = [name for name in clause.clear_of if name in judging and explainer.passes(reading, judging[name])]
        holds = not past
        why = messages.say(
            "explanation.clause.clear" if holds else "explanation.clause.past", title=title, rules=", ".join(past)
        )
    else:
        span = explainer.span(reading, clause)
        holds = span is not None and span.passed
        if span is None:
            why = messages.say("explanation.clause.size_unknown")
        else:
            unit = clause.unit or "1"
            why = messages.say(
                "explanation.clause.holds" if holds else "explanation.clause.holds_not",
                value=shown(float(reading.value), unit, messages.language),
                distance=distance(span, unit, messages),
                percent=chance_text(span.probability, messages),
            )
    return ClauseExplained(
        say=clause_in_words(clause, explainer.book),
        holds=holds,
        by=(f"{quantity}@{place}",) if holds else (),
        margin=None if span is None else span.margin,
        margin_in_u=None if span is None else span.margin_in_u,
        probability=None if span is None else span.probability,
        why=why,
    )
