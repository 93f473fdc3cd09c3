"""The rulebook as clients see it."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

from fitcheck.assessment.models import RulebookIdentity
from rules.model import Grade, Order, Stage, Status

__all__ = [
    "ClauseView",
    "CriterionView",
    "EyeWordView",
    "LevelView",
    "NamedCaution",
    "NamedSource",
    "QuantityView",
    "RuleLimit",
    "RuleSummary",
    "RuleView",
    "RulebookDocument",
    "ScaledLimit",
    "SwitchedOff",
    "UncertaintyView",
]


class View(BaseModel):
    """Base of what is shown."""

    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)


class NamedSource(View):
    """A source; trade: common practice without a published source; memory: a figure still to be checked."""

    id: str
    title: str
    authors: str | None
    year: str | None
    note: str | None
    licence: str | None


class NamedCaution(View):
    """A caution; ``stops`` marks those that go with critical findings."""

    id: str
    stops: bool
    text: str


class LevelView(View):
    """At which probability of lying beyond its limit a reading makes a rule fire."""

    id: str
    probability: float
    meaning: str
    status: Status
    sources: tuple[str, ...]
    basis: str


class UncertaintyView(View):
    """The standard uncertainty taken for one way of reading, unless the fitting states another."""

    id: str
    title: str
    u: float
    unit: str
    status: Status
    sources: tuple[str, ...]
    basis: str


class EyeWordView(View):
    """What a word of the eye stands for."""

    quantity: str
    word: str
    value: float
    u: float
    unit: str
    status: Status
    sources: tuple[str, ...]
    basis: str


class QuantityView(View):
    """Something that can be observed: where, in which unit or words, and how."""

    id: str
    title: str
    kind: str
    """number, word or flag (yes or no)."""
    unit: str | None
    range: tuple[float, float] | None
    """What is physically possible; a reading outside is refused."""
    words: tuple[str, ...]
    method: str | None
    """How it is read unless the fitting states otherwise."""
    places: tuple[str, ...]
    how: str


class CriterionView(View):
    """One criterion, when it can be observed, at which stages it is required, and its quantities."""

    id: str
    title: str
    looks_at: str
    stages: tuple[Stage, ...]
    required_at: tuple[Stage, ...]
    required_when_hot_fitted: bool
    quantities: tuple[QuantityView, ...]


class ScaledLimit(View):
    """A limit that follows a dimension: ``times`` x the dimension ``of`` + ``plus``."""

    times: float
    of: str
    plus: float


class RuleLimit(View):
    """The rule fires outside low to high, or on one of the words."""

    low: float | ScaledLimit | None
    high: float | ScaledLimit | None
    edge_fires: bool
    """Whether the rule fires on the limit itself too."""
    words: tuple[str, ...]


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


class ClauseView(View):
    """One of the things that hold together in a joined rule: any of these findings, or a reading."""

    findings: tuple[str, ...]
    """Any of these rules has fired."""
    reading: str | None
    at: str | None
    clear_of: tuple[str, ...]
    """None of these rules fires on the reading."""
    limit: RuleLimit | None
    """The reading lies beyond this limit."""
    unit: str | None


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
    only_with: dict[str, tuple[str, ...]]
    """Words that other quantities at the same place must have."""
    silent_when: tuple[str, ...]
    """Graver rules; where one of them fires, this one stays silent."""
    when: tuple[ClauseView, ...]
    """For a joined rule: all these hold together."""
    basis: str
    sources_in_full: tuple[NamedSource, ...]
    finding: str
    actions: dict[Stage, str]
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
    levels: tuple[LevelView, ...]
    criteria: tuple[CriterionView, ...]
    dimensions: tuple[QuantityView, ...]
    """Dimensions of hoof and shoe, which limits may follow."""
    rules: tuple[RuleSummary, ...]
    sources: tuple[NamedSource, ...]
    cautions: tuple[NamedCaution, ...]
    standing_cautions: tuple[str, ...]
    """Shown with every assessment."""
    uncertainties: tuple[UncertaintyView, ...]
    eye_words: tuple[EyeWordView, ...]
