"""One reading against every single limit on its quantity: what came of each, and by how much."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from fitcheck.assessment.conformity import has_a_chance, probability_beyond
from fitcheck.assessment.models import Finding
from fitcheck.explanation.models import LimitElsewhere, LimitExplained, Outcome
from fitcheck.text.catalogue import Messages, messages_of
from fitcheck.text.format import chance_text, contexts_in_words, one_limit_in_words, place_title, shown
from fitcheck.vocabulary import answered
from rules import Reading, Rulebook, Situation, in_force, resolve
from rules.limits import EVEN_CHANCE, guard_factor, millionths
from rules.model.records import Clause, Context, Limit, Rule, Scaled
from rules.situation import admits, side_of, spot_of

__all__ = ["LimitExplainer", "Span", "distance"]

Table = Mapping[tuple[str, str], Reading]
_MICRO = 1_000_000
_ON_AN_END = 1e-9
"""A reading no further from a limit is on it."""
_BOTH = 2
"""Ends of a limit whose chances are counted together; past a single end a number lies in whole millionths alone."""
_CONTEXT_KEYS = ("foot", "stage", "work", "hoof_form", "stance", "hot_fitted")


class Span(NamedTuple):
    """How a number lies to one or both ends of a limit; the figures are those of the end that is nearest to firing."""

    margin: float
    u: float
    until_fires: float
    probability: float
    """Of lying beyond either end."""
    passed: bool
    """Whether the limit fires on it, as far as the limit itself goes."""
    complete: bool
    """Whether every end could be worked out."""

    @property
    def margin_in_u(self) -> float | None:
        """The margin in standard uncertainties; None without any, or with too little for a double to tell."""
        margin = self.margin / self.u if self.u > 0 else math.inf
        return answered(margin) if math.isfinite(margin) else None


def distance(span: Span, unit: str, messages: Messages) -> str:
    """How far inside or past its limit a number lies, as a phrase."""
    if span.margin == 0:
        return messages.say("explanation.limit.on")
    size = shown(abs(span.margin), unit, messages.language)
    if size == shown(0.0, unit, messages.language):
        size = messages.say("explanation.limit.hair")
    if span.margin_in_u is not None:
        size = f"{size} ({messages.number(f'{abs(span.margin_in_u):.1f}')} u)"
    return messages.say("explanation.limit.past" if span.margin < 0 else "explanation.limit.inside", size=size)


class LimitExplainer:
    """All readings of one foot, and the rules that look at them."""

    def __init__(self, table: Table, situation: Situation, findings: Mapping[str, Finding], book: Rulebook) -> None:
        """``findings`` are those of the engine, by rule@place."""
        self.table = table
        self.situation = situation
        self.findings = findings
        self.book = book
        self.messages = messages_of(book)
        self._in_force = in_force(book, situation)
        self._guard = guard_factor(book.levels["guarded"].probability)
        self._sizes = {
            quantity: float(reading.value)
            for (quantity, place), reading in table.items()
            if place == "foot" and not isinstance(reading.value, str)
        }

    def judging(self, reading: Reading) -> Mapping[str, Rule]:
        """The single rules that apply to the reading, by id."""
        return dict(self._in_force.judging(reading.quantity, reading.place))

    def span(self, reading: Reading, limited: Rule | Clause) -> Span | None:
        """How a number lies to the limit; None where no end of it can be worked out.

        Compared as the engine does, in whole millionths of the unit.
        """
        ends = []
        probability, on_an_end = 0.0, False
        factor = self._guard if limited.fires == "guarded" else 0.0
        for limit, end in ((limited.low, -1), (limited.high, 1)):
            moved = None if limit is None else self._less_size(reading, limit)
            if moved is not None:
                value, u, edge = moved
                on_an_end = on_an_end or abs(edge - value) <= _ON_AN_END
                margin = end * (millionths(edge) - millionths(value))
                until = end * (millionths(edge) - millionths(value + end * factor * u))
                whole = resolve(limit, self._sizes)
                low, high = (whole, None) if end < 0 else (None, whole)
                probability += probability_beyond(float(reading.value), u, low, high)
                ends.append((until, margin, u))
        if not ends:
            return None
        until, margin, u = min(ends)
        edge_fires = isinstance(limited, Rule) and limited.edge is not None
        likelier = (
            self.book.judges.by_chance
            and isinstance(limited, Rule)
            and limited.fires == "simple"
            and not on_an_end
            and round(probability * _MICRO) > EVEN_CHANCE
        )
        limits = sum(limit is not None for limit in (limited.low, limited.high))
        return Span(
            margin=margin / _MICRO,
            u=u,
            until_fires=until / _MICRO,
            probability=answered(min(1.0, probability)),
            passed=until < 0 or (until == 0 and edge_fires) or (likelier and len(ends) == limits == _BOTH),
            complete=len(ends) == limits,
        )

    def _less_size(self, reading: Reading, limit: Limit) -> tuple[float, float, float] | None:
        """Value, uncertainty and plain limit, once the size that the limit follows is taken off."""
        value, u = float(reading.value), reading.u
        if not isinstance(limit, Scaled):
            return value, u, limit
        size = self.table.get((limit.of, "foot"))
        if size is None:
            return None
        return value - limit.times * float(size.value), math.hypot(u, limit.times * size.u), limit.plus

    def passes(self, reading: Reading, rule: Rule) -> bool:
        """Whether the reading lies past the rule's limit or is one of its words, all else aside."""
        if isinstance(reading.value, str):
            return reading.value in (rule.is_ or ())
        span = self.span(reading, rule)
        return span is not None and span.passed

    def limits(self, reading: Reading) -> Iterator[LimitExplained]:
        """Each limit that applies to the reading."""
        judging = self.judging(reading)
        passed = {
            rule_id
            for rule_id, rule in judging.items()
            if self.passes(reading, rule) and not self._barred(rule, reading.place)
        }
        for rule_id, rule in judging.items():
            yield self._limit(rule_id, rule, reading, passed)

    def _limit(self, rule_id: str, rule: Rule, reading: Reading, passed: set[str]) -> LimitExplained:
        word = isinstance(reading.value, str)
        span = None if word else self.span(reading, rule)
        silenced_by = tuple(graver for graver in rule.unless if graver in passed) if rule_id in passed else ()
        outcome, why = self._outcome(rule_id, rule, reading, span, passed, silenced_by)
        unit = None if word else rule.unit
        probability = float(rule_id in passed) if word else None if span is None else span.probability
        return LimitExplained(
            rule=rule_id,
            grade=rule.grade,
            outcome=outcome,
            finding=f"{rule_id}@{reading.place}" if outcome == "fired" else None,
            low=self._resolved(rule.low),
            high=self._resolved(rule.high),
            unit=unit,
            words=rule.is_ or (),
            only_with=dict(rule.with_ or {}),
            follows=self._follows(rule),
            printed=rule.printed,
            fires=rule.fires,
            edge_fires=rule.edge is not None,
            applies=self._admitted(rule.applies, reading.place),
            status=rule.status,
            sources=rule.sources,
            margin=None if span is None else span.margin,
            u=None if span is None else answered(span.u),
            margin_in_u=None if span is None else span.margin_in_u,
            until_fires=None if span is None else span.until_fires,
            probability=probability if has_a_chance(self.book.quantities[reading.quantity]) else None,
            silenced_by=silenced_by,
            why=why,
        )

    def _resolved(self, limit: Limit | None) -> float | None:
        value = resolve(limit, self._sizes)
        return None if value is None else answered(value)

    def _follows(self, rule: Rule) -> str | None:
        unit = rule.unit if rule.unit != "word" else "1"
        scaled = (limit for limit in (rule.low, rule.high) if isinstance(limit, Scaled))
        return self.messages.joined((one_limit_in_words(limit, unit, self.book) for limit in scaled), "and") or None

    def _admitted(self, contexts: tuple[Context, ...] | None, place: str) -> str:
        side = side_of(place)
        held = next((each for each in contexts or () if admits((each,), self.situation, side)), None)
        return contexts_in_words(None if held is None else (held,), self.messages.language)

    def _outcome(
        self,
        rule_id: str,
        rule: Rule,
        reading: Reading,
        span: Span | None,
        passed: set[str],
        silenced_by: tuple[str, ...],
    ) -> tuple[Outcome, str]:
        lies, messages = self._lies(rule, reading, span), self.messages
        if rule_id not in passed:
            barred = self._barred(rule, reading.place)
            if barred is not None and self.passes(reading, rule):
                title = messages.named("quantity", barred)
                return "unmet", messages.say("explanation.outcome.barred", lies=lies, title=title)
            return self._not_passed(rule, lies)
        if silenced_by:
            graver = messages.joined(silenced_by, "and")
            return "silenced", messages.say("explanation.outcome.silenced", lies=lies, graver=graver)
        missing, other = self._companions(rule, reading.place)
        # A word that is known to be another settles it, whatever is missing besides.
        if other:
            return "unmet", messages.say("explanation.outcome.unmet", lies=lies, asks=messages.joined(other, "and"))
        if missing:
            return "not_judged", messages.say(
                "explanation.outcome.unread", lies=lies, missing=messages.joined(missing, "and")
            )
        return "fired", messages.say("explanation.outcome.fired", lies=lies)

    def _not_passed(self, rule: Rule, lies: str) -> tuple[Outcome, str]:
        messages = self.messages
        unknown = [
            limit.of
            for limit in (rule.low, rule.high)
            if isinstance(limit, Scaled) and (limit.of, "foot") not in self.table
        ]
        if unknown:
            titles = messages.joined((self.book.quantities[name].title for name in dict.fromkeys(unknown)), "and")
            return "not_judged", messages.say("explanation.outcome.size_unknown", titles=titles)
        return "silent", messages.say("explanation.outcome.silent", lies=lies)

    def _barred(self, rule: Rule, place: str) -> str | None:
        """The reading that the rule is to be without, where there is one."""
        for name, words in (rule.without or {}).items():
            read = self.table.get((name, place)) or self.table.get((name, "foot"))
            if read is not None and (not words or read.value in words):
                return name
        return None

    def _companions(self, rule: Rule, place: str) -> tuple[list[str], list[str]]:
        """The words that the rule asks for besides: those not observed, and those that are others."""
        missing, other, messages = [], [], self.messages
        for name, words in (rule.with_ or {}).items():
            read, title = self.table.get((name, place)), messages.named("quantity", name)
            if read is None:
                missing.append(title)
            elif read.value not in words:
                allowed_words = messages.joined((messages.word(word) for word in words), "or")
                is_ = messages.word(str(read.value))
                other.append(messages.say("explanation.outcome.asks", title=title, wanted=allowed_words, is_=is_))
        return missing, other

    def _lies(self, rule: Rule, reading: Reading, span: Span | None) -> str:
        """Where the reading lies, as a phrase."""
        messages = self.messages
        if span is None or rule.unit == "word":
            fires_on = messages.joined((messages.word(word) for word in rule.is_ or ()), "or")
            return messages.say("explanation.lies.word", word=messages.word(str(reading.value)), fires_on=fires_on)
        lies = distance(span, rule.unit, messages)
        if span.u > 0 and not self.book.quantities[reading.quantity].worst_case:
            lies = messages.say("explanation.lies.likely", lies=lies, percent=chance_text(span.probability, messages))
        if rule.fires == "guarded":
            before = shown(span.margin - span.until_fires, rule.unit, messages.language)
            return messages.say("explanation.lies.guarded", lies=lies, before=before)
        return lies if rule.edge is None else messages.say("explanation.lies.edge", lies=lies)

    def elsewhere(self, reading: Reading) -> Iterator[LimitElsewhere]:
        """Each limit on the same quantity that does not apply to the reading, and why not."""
        judging = self.judging(reading)
        for rule_id, rule in self.book.rules_of[reading.quantity]:
            if rule_id not in judging:
                yield LimitElsewhere(rule=rule_id, grade=rule.grade, why=self._why_not(rule, reading.place))

    def _why_not(self, rule: Rule, place: str) -> str:
        places, messages = self.book.places_of(rule), self.messages
        if spot_of(place) not in places:
            every = messages.say("explanation.elsewhere.every_nail")
            titles = (every if name == "nail" else place_title(name, self.book) for name in places)
            return messages.say("explanation.elsewhere.places", places=messages.joined(titles, "and"))
        contexts, here = contexts_in_words(rule.applies, messages.language), ", ".join(self._barring(rule, place))
        return messages.say("explanation.elsewhere.contexts", contexts=contexts, here=here)

    def _barring(self, rule: Rule, place: str) -> Iterator[str]:
        """What of this foot and place the rule's contexts do not take, each once."""
        side, messages = side_of(place), self.messages
        for key in (*_CONTEXT_KEYS, "side"):
            here = (side or "neither") if key == "side" else str(getattr(self.situation, key))
            if any(
                (allowed_words := getattr(context, key)) and here not in allowed_words for context in rule.applies or ()
            ):
                words = messages.word(here)
                yield messages.say("phrase.context", key=messages.named("context", key), words=words)
