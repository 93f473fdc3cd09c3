"""The parts of a rulebook as clients see it: sources, cautions, levels, quantities, needs, limits and clauses."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

from rules.model.figures import Status
from rules.model.records import Stage

__all__ = [
    "ClauseView",
    "CriterionView",
    "EyeWordView",
    "LevelView",
    "NamedCaution",
    "NamedSource",
    "NeedView",
    "QuantityView",
    "RuleLimit",
    "ScaledLimit",
    "UncertaintyView",
    "View",
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
    standard_uncertainties: float
    """How many of them before its limit a reading makes a rule fire; 0 where it is taken at its face."""
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


class ParameterView(View):
    """A figure or range that computations reckon with, on the page too: ``value``, or from ``low`` to ``high``."""

    id: str
    title: str
    unit: str
    low: float | None
    high: float | None
    value: float | None
    status: Status
    sources: tuple[str, ...]


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
    ucum: str | None
    """The unit in UCUM (the Unified Code for Units of Measure)."""
    range: tuple[float, float] | None
    """What is physically possible; a reading outside is refused."""
    words: tuple[str, ...]
    method: str | None
    """How it is read unless the fitting states otherwise."""
    places: tuple[str, ...]
    judged: bool
    """Whether rules may look at it; otherwise it is asked for and kept."""
    judged_places: tuple[str, ...]
    """The places at which rules may look at it."""
    u: float
    """Standard uncertainty of a number, in its unit, unless a reading states its own or a method; 0 of a word."""
    eye_of: str | None
    """The number that these words of the eye stand in the place of."""
    also_at: tuple[Stage, ...]
    """Stages besides those of its criterion at which it is observed."""
    own: bool
    """Whether the book has it of its own: a fitting gives it as `observations.own.ID.PLACE`."""
    how: str


class NeedView(View):
    """What must be read before a criterion counts as observed: any of these quantities at each of these places."""

    any_of: tuple[str, ...]
    at: tuple[str, ...]
    """Places; nail and clip stand for every one, branch for one nail or hole of each branch, and none for anywhere."""
    stages: tuple[Stage, ...]
    """At which stages; at every one when empty."""


class CriterionView(View):
    """One criterion, when it can be observed, at which stages it is required, and its quantities."""

    id: str
    title: str
    looks_at: str
    stages: tuple[Stage, ...]
    required_at: tuple[Stage, ...]
    required_when_hot_fitted: bool
    needs: tuple[NeedView, ...]
    """What is missing of a required criterion keeps the foot from going on."""
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
    level: str
    """The level at which it counts as beyond."""
    unit: str | None
