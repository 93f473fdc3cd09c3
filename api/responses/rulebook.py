"""The rulebook as clients see it: the whole with its rules in short, and one rule in full."""

from __future__ import annotations

from collections.abc import Iterator

from api.responses.rulebook_parts import (
    ClauseView,
    CriterionView,
    EyeWordView,
    LevelView,
    NamedCaution,
    NamedSource,
    NeedView,
    ParameterView,
    QuantityView,
    RuleLimit,
    ScaledLimit,
    UncertaintyView,
    View,
)
from fitcheck.assessment.models import RulebookIdentity
from fitcheck.fitting.own_readings import own_quantities
from fitcheck.vocabulary import UCUM
from rules import Rulebook, shipped_rulebook
from rules.limits import guard_factor
from rules.loading.parameter_checks import ON_THE_PAGE
from rules.model.figures import Status
from rules.model.records import Clause, Grade, Judges, Limit, Need, NextStep, Order, Rule, Scaled, Stage

__all__ = [
    "RuleSummary",
    "RuleView",
    "RulebookDocument",
    "SwitchedOff",
    "rule_document",
    "rulebook_document",
]


class RuleSummary(View):
    """One rule in short."""

    id: str
    layer: str
    """single: one limit on one reading; joined: findings and readings that hold together."""
    criterion: str | None
    quantity: str | None
    grade: Grade
    limit: RuleLimit | None
    unit: str | None
    status: Status
    """Whether the figure is published, common practice or from memory."""
    sources: tuple[str, ...]
    places: tuple[str, ...]
    applies: tuple[dict[str, tuple[str, ...]], ...]
    """Where it applies: any of these contexts, all keys of one; everywhere when empty."""
    level: str
    """The level at which it fires."""
    only_with: dict[str, tuple[str, ...]]
    """Words that other quantities at the same place must have."""
    only_without: dict[str, tuple[str, ...]]
    """Words that other quantities at the same place or of the foot must not have; any reading when empty."""
    silent_when: tuple[str, ...]
    """Graver rules; where one of them fires, this one stays silent."""
    when: tuple[ClauseView, ...]
    """For a joined rule: all these hold together."""
    actions: dict[Stage, str]
    blocks: bool
    """Whether its finding keeps the foot from going on."""


class RuleView(RuleSummary):
    """One rule in full."""

    rulebook: RulebookIdentity
    observed: QuantityView | None
    """The quantity in full."""
    fires: LevelView | None
    printed: str | None
    """The figure as the source prints it."""
    target: float | ScaledLimit | None
    """What the amount in the action leads to."""
    basis: str
    sources_in_full: tuple[NamedSource, ...]
    finding: str
    order: Order
    """Where the action stands in the working order."""
    shoe_off: bool
    """Whether the shoe must come off for it once nails are in."""
    replaces_actions: bool
    """Whether the actions of the findings that it rests on give way to its own."""
    caution: NamedCaution


class SwitchedOff(View):
    """A rule of the inherited book that this one switches off, and why."""

    id: str
    basis: str


class RulebookDocument(View):
    """The whole rulebook."""

    id: str
    title: str
    version: str
    digest: str
    """SHA-256 of the rulebook's files; for a book that inherits another, of that one's too."""
    inherits: str | None
    """Id and version of the book that this one inherits."""
    switched_off: tuple[SwitchedOff, ...]
    judges: Judges
    """What the book judges; a foot of another stage or form never goes on."""
    levels: tuple[LevelView, ...]
    next_steps: dict[Stage, NextStep]
    """The step that follows each stage where the decision is go_on; without one, every stage ends in a release."""
    criteria: tuple[CriterionView, ...]
    dimensions: tuple[QuantityView, ...]
    """Dimensions of hoof and shoe, which limits may follow, and what is kept without being judged."""
    rules: tuple[RuleSummary, ...]
    sources: tuple[NamedSource, ...]
    cautions: tuple[NamedCaution, ...]
    standing_cautions: tuple[str, ...]
    """Shown with every assessment."""
    uncertainties: tuple[UncertaintyView, ...]
    eye_words: tuple[EyeWordView, ...]
    parameters: tuple[ParameterView, ...]
    """What computations reckon with; of photographs by the shipped book, where this one says nothing of them."""


def rulebook_document(book: Rulebook) -> RulebookDocument:
    """The rulebook with its rules in short."""
    return RulebookDocument(
        id=book.id,
        title=book.title,
        version=book.version,
        digest=book.digest,
        inherits=book.inherits,
        switched_off=tuple(SwitchedOff(id=rule_id, basis=why) for rule_id, why in book.off.items()),
        judges=book.judges,
        levels=tuple(_level(book, level_id) for level_id in book.levels),
        next_steps=dict(book.decisions),
        criteria=tuple(_criterion(book, criterion_id) for criterion_id in book.criteria),
        dimensions=tuple(
            _quantity(book, quantity_id) for quantity_id in book.quantities if quantity_id not in book.criterion_of
        ),
        rules=tuple(_summary(book, rule_id) for rule_id in (*book.rules, *book.joined)),
        sources=tuple(_source(book, source_id) for source_id in book.sources),
        cautions=tuple(_caution(book, caution_id) for caution_id in book.cautions),
        standing_cautions=tuple(standing.text for standing in book.standing.values()),
        uncertainties=tuple(
            UncertaintyView(id=name, **record.model_dump())
            for records in (book.methods, book.instruments)
            for name, record in records.items()
        ),
        eye_words=tuple(_eye_words(book)),
        parameters=tuple(_parameters(book)),
    )


def _parameters(book: Rulebook) -> Iterator[ParameterView]:
    shipped = shipped_rulebook().parameters
    lacking = {} if ON_THE_PAGE[0] in book.parameters else {name: shipped[name] for name in ON_THE_PAGE}
    for name, record in (*book.parameters.items(), *lacking.items()):
        yield ParameterView(id=name, **record.model_dump(exclude={"basis", "printed"}))


def rule_document(book: Rulebook, rule_id: str) -> RuleView:
    """One rule with its limits, texts and sources in full; KeyError when there is none of that id."""
    remedy = book.remedy(rule_id)
    rule, joined = book.rules.get(rule_id), book.joined.get(rule_id)
    amount = None if rule is None else rule.amount
    return RuleView(
        **_summary(book, rule_id).model_dump(),
        rulebook=RulebookIdentity.of(book),
        observed=None if rule is None else _quantity(book, rule.quantity),
        fires=None if rule is None else _level(book, rule.fires),
        printed=None if rule is None else rule.printed,
        target=None if amount is None else _limit(amount.to),
        basis=remedy.basis,
        sources_in_full=tuple(_source(book, source_id) for source_id in remedy.sources),
        finding=remedy.finding,
        order=remedy.order,
        shoe_off=remedy.shoe_off,
        replaces_actions=joined is not None and joined.replaces_actions,
        caution=_caution(book, remedy.caution),
    )


def _summary(book: Rulebook, rule_id: str) -> RuleSummary:
    remedy = book.remedy(rule_id)
    rule, joined = book.rules.get(rule_id), book.joined.get(rule_id)
    return RuleSummary(
        id=rule_id,
        layer="joined" if rule is None else "single",
        criterion=book.criterion_for(rule_id),
        quantity=None if rule is None else rule.quantity,
        grade=remedy.grade,
        limit=None if rule is None else _rule_limit(rule),
        unit=None if rule is None or rule.is_ is not None else rule.unit,
        status=remedy.status,
        sources=remedy.sources,
        places=book.places_of(rule) if rule is not None else (joined.place,) if joined is not None else (),
        applies=tuple(context.model_dump(exclude_none=True) for context in remedy.applies or ()),
        level="simple" if rule is None else rule.fires,
        only_with={} if rule is None else dict(rule.with_ or {}),
        only_without={} if rule is None else dict(rule.without or {}),
        silent_when=() if rule is None else rule.unless,
        when=() if joined is None else tuple(_clause(clause) for clause in joined.when),
        actions=dict(remedy.action),
        blocks=remedy.holds_up,
    )


def _rule_limit(rule: Rule) -> RuleLimit:
    return RuleLimit(
        low=_limit(rule.low), high=_limit(rule.high), edge_fires=rule.edge == "fires", words=rule.is_ or ()
    )


def _clause(clause: Clause) -> ClauseView:
    range_part = clause.low is not None or clause.high is not None
    return ClauseView(
        findings=clause.findings or (),
        reading=clause.reading,
        at=clause.at,
        clear_of=clause.clear_of or (),
        limit=RuleLimit(low=_limit(clause.low), high=_limit(clause.high), edge_fires=False, words=())
        if range_part
        else None,
        level=clause.fires or "simple",
        unit=clause.unit,
    )


def _limit(limit: Limit | None) -> float | ScaledLimit | None:
    return ScaledLimit(times=limit.times, of=limit.of, plus=limit.plus) if isinstance(limit, Scaled) else limit


def _level(book: Rulebook, level_id: str) -> LevelView:
    level = book.levels[level_id]
    # A level of one half is the limit itself.
    factor = 0.0 if level_id == "simple" else guard_factor(level.probability)
    return LevelView(id=level_id, standard_uncertainties=factor, **level.model_dump())


def _quantity(book: Rulebook, quantity_id: str) -> QuantityView:
    quantity = book.quantities[quantity_id]
    return QuantityView(
        id=quantity_id,
        title=quantity.title,
        kind=quantity.kind,
        unit=quantity.unit,
        ucum=None if quantity.unit is None else UCUM[quantity.unit],
        range=quantity.range,
        words=quantity.vocabulary,
        method=quantity.method,
        places=quantity.places,
        judged=quantity.judged is not False,
        judged_places=tuple(place for place in quantity.places if quantity.judged_at(place)),
        u=book.usual_u.get(quantity_id, 0.0),
        eye_of=quantity.eye_of,
        also_at=quantity.also_at,
        own=quantity_id in own_quantities(book),
        how=quantity.how,
    )


def _criterion(book: Rulebook, criterion_id: str) -> CriterionView:
    criterion = book.criteria[criterion_id]
    return CriterionView(
        id=criterion_id,
        title=criterion.title,
        looks_at=criterion.looks_at,
        stages=criterion.stages,
        required_at=tuple(stage for stage, required in book.required.items() if criterion_id in required),
        required_when_hot_fitted=criterion_id in book.required_when_hot_fitted,
        needs=tuple(
            NeedView(any_of=need.any_of, at=_places(need), stages=need.stages or ()) for need in criterion.needs
        ),
        quantities=tuple(
            _quantity(book, quantity_id) for quantity_id, owner in book.criterion_of.items() if owner == criterion_id
        ),
    )


def _places(need: Need) -> tuple[str, ...]:
    if isinstance(need.at, str):
        return () if need.at == "anywhere" else (need.at.removeprefix("every_").removeprefix("each_"),)
    return need.at


def _source(book: Rulebook, source_id: str) -> NamedSource:
    return NamedSource(id=source_id, **book.sources[source_id].model_dump())


def _caution(book: Rulebook, caution_id: str) -> NamedCaution:
    caution = book.cautions[caution_id]
    return NamedCaution(id=caution_id, stops=caution.stops, text=caution.text)


def _eye_words(book: Rulebook) -> Iterator[EyeWordView]:
    for quantity, words in book.eye_words.items():
        for word, meaning in words.items():
            yield EyeWordView(quantity=quantity, word=word, **meaning.model_dump())
