"""From firings of the rules to findings: what was measured, against which limit, how sure, what to do."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping

from fitcheck.assessment.conformity import has_a_chance, probability_beyond
from fitcheck.assessment.models import Finding, LimitView, Measured
from fitcheck.measure.results import around
from fitcheck.text.catalogue import messages_of
from fitcheck.text.format import about, amount_of, place_title, places_title, range_shown, shown, side_title
from fitcheck.vocabulary import answered
from rules import EngineFault, Firing, Reading, Rulebook, resolve
from rules.limits import guard_factor
from rules.model.records import RANK, STAGES, Limit, Remedy, Rule, Scaled, Stage

__all__ = ["build_findings", "confidence_of"]

_WORKING_ORDER = ("welfare", "iron", "foot", "nails", "finish")
_FOLLOWED = "followed sizes"
Table = Mapping[tuple[str, str], Reading]


def build_findings(
    firings: list[Firing],
    chances: Mapping[tuple[str, str], float | None],
    table: Table,
    stage: Stage,
    book: Rulebook,
) -> list[Finding]:
    """The findings of ``firings``: gravest first, joined before single, then in working order.

    ``table`` holds every reading by quantity and place, ``chances`` how sure each joined one is.  Raises EngineFault
    when a firing does not agree with its own reading, which means that the engine cannot be trusted.
    """
    if not firings:
        return []
    dimensions = _dimensions(table, book)
    findings = [
        _single(firing, table, dimensions, stage, book)
        if firing.rule in book.rules
        else _joined(firing, chances[firing.rule, firing.place], stage, book)
        for firing in firings
    ]
    findings.sort(key=lambda finding: _rank(finding, book))
    return findings


def _rank(finding: Finding, book: Rulebook) -> tuple[int, bool, int]:
    return (-RANK[finding.grade], finding.rule in book.rules, _WORKING_ORDER.index(finding.order))


def confidence_of(rule: Rule, reading: Reading, dimensions: Mapping[str, Reading]) -> float:
    """How sure it is that the true value lies beyond the rule's limit; 1 for a word, which is as it was seen.

    A limit that follows a dimension takes in that dimension's uncertainty.
    """
    if isinstance(reading.value, str):
        return 1.0
    below = _one_end(reading, rule.low, dimensions, low=True)
    above = _one_end(reading, rule.high, dimensions, low=False)
    return min(1.0, below + above)


def _one_end(reading: Reading, limit: Limit | None, dimensions: Mapping[str, Reading], *, low: bool) -> float:
    if limit is None:
        return 0.0
    edge, u = 0.0, reading.u
    if isinstance(limit, Scaled):
        dimension = dimensions.get(limit.of)
        if dimension is None:
            return 0.0
        edge = limit.times * float(dimension.value) + limit.plus
        u = math.hypot(u, limit.times * dimension.u)
    else:
        edge = limit
    value = float(reading.value)
    return probability_beyond(value, u, edge, None) if low else probability_beyond(value, u, None, edge)


def _dimensions(table: Table, book: Rulebook) -> dict[str, Reading]:
    """The sizes that limits of ``book`` follow, as far as they were read."""
    names: frozenset[str] | None = book.derived.get(_FOLLOWED)
    if names is None:
        names = book.derived[_FOLLOWED] = frozenset(_followed(book))
    read = {name: table.get((name, "foot")) for name in names}
    return {name: size for name, size in read.items() if size is not None and not isinstance(size.value, str)}


def _followed(book: Rulebook) -> Iterator[str]:
    for rule in book.rules.values():
        for limit in (rule.low, rule.high, rule.amount.to if rule.amount else None):
            if isinstance(limit, Scaled):
                yield limit.of


class _Words(dict[str, str]):
    """What is put into a text, made when the text asks for it: each asks for few."""

    def __init__(self, made: Mapping[str, Callable[[], str]]) -> None:
        self._made = made

    def __missing__(self, name: str) -> str:
        self[name] = word = self._made[name]()
        return word


def _single(firing: Firing, table: Table, dimensions: Mapping[str, Reading], stage: Stage, book: Rulebook) -> Finding:
    rule = book.rules[firing.rule]
    reading = table.get((rule.quantity, firing.place))
    if reading is None:
        raise EngineFault(f"{firing.rule} fired at {firing.place}, where nothing was read")
    record = book.quantities[rule.quantity]
    confidence = confidence_of(rule, reading, dimensions) if has_a_chance(record) else None
    words: dict[str, Callable[[], str]] = {
        "place": lambda: place_title(firing.place, book),
        "side": lambda: side_title(firing.place, messages_of(book)),
    }
    limit = amount = None
    if isinstance(reading.value, str):
        measured = Measured(quantity=book.shown_as(rule.quantity), value=reading.value, u=None, unit=None)
        word = reading.value
        words["word"] = lambda: messages_of(book).word(word, spaced=False)
    else:
        sizes = {name: float(item.value) for name, item in dimensions.items()}
        unit = rule.unit
        low, high = resolve(rule.low, sizes), resolve(rule.high, sizes)
        limit = LimitView(low=_tidy(low), high=_tidy(high), unit=unit)
        measured = Measured(
            quantity=rule.quantity,
            value=answered(reading.value),
            u=None if record.worst_case else answered(reading.u),
            unit=unit,
            where=reading.where or None,
        )
        if record.worst_case:
            ends = around(reading, guard_factor(book.levels["guarded"].probability))
            measured = measured.model_copy(update={"low": answered(ends.low), "high": answered(ends.high)})
            words["range"] = lambda: range_shown(*ends, unit, book.language)
        passed = low if low is not None and (high is None or reading.value <= low) else high
        target = resolve(rule.amount.to, sizes) if rule.amount else None
        if target is not None:
            amount = amount_of(target - reading.value, unit)
        if passed is None:
            raise EngineFault(f"{firing.rule} fired at {firing.place} without a limit")
        words |= _words_of_number(reading.value, passed, amount, unit, book.language)
    # A cross-check belongs to the criterion of what it compares; the size of a hoof or shoe to the first, the fit.
    criterion = book.criterion_of.get(reading.about or rule.quantity, next(iter(book.criteria)))
    return _finding(
        firing, rule, criterion, stage, book, _Words(words), confidence, measured=measured, limit=limit, amount=amount
    )


def _words_of_number(
    value: float, passed: float, amount: float | None, unit: str, language: str
) -> dict[str, Callable[[], str]]:
    """The words that a number gives, with the limit that it passed and how far to go."""
    return {
        "value": lambda: shown(value, unit, language),
        "size": lambda: shown(abs(value), unit, language),
        "limit": lambda: shown(passed, unit, language),
        "past": lambda: shown(abs(value - passed), unit, language),
        "amount": lambda: "" if amount is None else shown(abs(amount), unit, language),
        "about": lambda: about(passed - value if amount is None else amount, unit, language),
        "percent": lambda: f"{value * 100:.0f}",
    }


def _joined(firing: Firing, chance: float | None, stage: Stage, book: Rulebook) -> Finding:
    joined = book.joined[firing.rule]
    places = [found.place for found in firing.rests_on if found.place != "foot"]
    words = {
        "place": place_title(firing.place, book),
        "side": side_title(firing.place, messages_of(book)),
        "places": places_title(places, book),
    }
    rests_on = tuple(str(found) for found in firing.rests_on)
    return _finding(firing, joined, joined.criterion, stage, book, words, chance, rests_on=rests_on)


def _tidy(limit: float | None) -> float | None:
    return None if limit is None else answered(limit)


def _finding(
    firing: Firing,
    remedy: Remedy,
    criterion: str,
    stage: Stage,
    book: Rulebook,
    words: Mapping[str, str],
    confidence: float | None,
    *,
    measured: Measured | None = None,
    limit: LimitView | None = None,
    amount: float | None = None,
    rests_on: tuple[str, ...] = (),
) -> Finding:
    return Finding(
        id=f"{firing.rule}@{firing.place}",
        rule=firing.rule,
        criterion=criterion,
        place=firing.place,
        grade=remedy.grade,
        confidence=None if confidence is None else answered(confidence),
        measured=measured,
        limit=limit,
        finding=_sentence(remedy.finding, words),
        action=_sentence(_action(remedy, stage), words),
        amount=amount,
        order=remedy.order,
        blocks=remedy.holds_up if book.decisions else None,
        caution=book.cautions[remedy.caution].text,
        rests_on=rests_on,
        status=remedy.status,
        why=remedy.basis,
        sources=remedy.sources,
    )


def _sentence(text: str, words: Mapping[str, str]) -> str:
    sentence = text.format_map(words)
    return sentence[:1].upper() + sentence[1:]


def _action(remedy: Remedy, stage: Stage) -> str:
    """The action for ``stage``; for a stage before the first that the rule knows, that first one's."""
    for candidate in (*STAGES[STAGES.index(stage) :], *reversed(STAGES)):
        if candidate in remedy.action:
            return remedy.action[candidate]
    raise EngineFault("a rule without any action passed the loader")
