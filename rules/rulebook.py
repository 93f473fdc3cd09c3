"""A loaded rulebook: every record by its id, and the few questions that the rest of the tool asks of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from rules.model.figures import EyeWord, Level, Parameter, Source, Uncertainty
from rules.model.records import (
    Caution,
    Criterion,
    JoinedRule,
    Judges,
    NextStep,
    Place,
    Quantity,
    Remedy,
    Rule,
    Stage,
    Standing,
    Step,
    Yes,
)

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

__all__ = ["Rulebook"]


@dataclass(frozen=True, eq=False, repr=False)
class Rulebook:
    """All records of one rulebook.

    ``quantities`` includes the dimensions of hoof and shoe and the cross-checks, which belong to no criterion;
    ``criterion_of`` names the criterion of the others.  ``digest`` is the SHA-256 of the book's files, as
    ``sha256:<hex>``.
    """

    id: str
    title: str
    version: str
    digest: str
    inherits: str | None
    """Id and version of the book that this one inherits; None for a book that is written out whole."""
    off: Mapping[str, str]
    """The inherited rules that this book switches off, each with the reason."""
    levels: Mapping[str, Level]
    judges: Judges
    decisions: Mapping[Stage, NextStep]
    """The step that follows each stage but the last; where none is said, every stage ends in a release."""
    required: Mapping[Stage, tuple[str, ...]]
    required_when_hot_fitted: tuple[str, ...]
    places: Mapping[str, Place]
    steps: Mapping[str, Step]
    sources: Mapping[str, Source]
    cautions: Mapping[str, Caution]
    standing: Mapping[str, Standing]
    methods: Mapping[str, Uncertainty]
    instruments: Mapping[str, Uncertainty]
    eye_words: Mapping[str, Mapping[str, EyeWord]]
    parameters: Mapping[str, Parameter]
    remarks: Mapping[str, Standing]
    criteria: Mapping[str, Criterion]
    quantities: Mapping[str, Quantity]
    criterion_of: Mapping[str, str]
    rules: Mapping[str, Rule]
    joined: Mapping[str, JoinedRule]
    marking_table: dict[str, Any]
    """The marking scheme as it is written; :func:`rules.marking_of` has it as records."""
    files: Mapping[str, str]
    """The file that each quantity and each rule, joined or single, stands in."""
    language: str = "en"
    """The language of the texts, as far as they are translated (BCP 47)."""
    languages: Traversable | None = None
    """The folder of the book's own translations, where there may be one."""
    original: Rulebook | None = None
    """For a book in another language, the book as it is written."""
    derived: dict[Any, Any] = field(default_factory=dict, init=False)
    """What other modules work out from the book once and keep with it; no part of the book itself."""

    @cached_property
    def rules_of(self) -> Mapping[str, tuple[tuple[str, Rule], ...]]:
        """The single rules of each quantity, with their ids."""
        table: dict[str, list[tuple[str, Rule]]] = {name: [] for name in self.quantities}
        for rule_id, rule in self.rules.items():
            table[rule.quantity].append((rule_id, rule))
        return {name: tuple(rules) for name, rules in table.items()}

    @cached_property
    def entering(self) -> frozenset[str]:
        """The quantities from which another, that rules look at, is computed."""
        return frozenset(
            source for quantity in self.quantities.values() if quantity.judged for source in quantity.computed_from
        )

    @cached_property
    def units(self) -> Mapping[str, str]:
        """The unit of each quantity that is a number."""
        return {name: quantity.unit for name, quantity in self.quantities.items() if quantity.unit is not None}

    @cached_property
    def eye_quantities(self) -> Mapping[str, Mapping[str, str]]:
        """For each number that a word of the eye may stand for, by place the quantity that judges the word."""
        table: dict[str, dict[str, str]] = {}
        for name, record in self.quantities.items():
            if record.eye_of is not None:
                table.setdefault(record.eye_of, {}).update(dict.fromkeys(record.places, name))
        return table

    def shown_as(self, quantity: str) -> str:
        """The quantity under which a reading is told: a word of the eye is one of the number that it stands for."""
        return self.quantities[quantity].eye_of or quantity

    @cached_property
    def usual_u(self) -> Mapping[str, float]:
        """The standard uncertainty of a reading of each quantity taken by its own method, in its own unit."""
        usual = {}
        for name, unit in self.units.items():
            if unit == "mm":
                usual[name] = self.methods[self.quantities[name].method or "rule"].u
            else:
                usual[name] = self.instruments[unit].u if unit in self.instruments else 0.0
        return usual

    @cached_property
    def spots_of(self) -> Mapping[str, frozenset[str]]:
        """The places at which each quantity is read, ``nail`` standing for every nail."""
        return {name: frozenset(quantity.places) for name, quantity in self.quantities.items()}

    def places_of(self, rule: Rule) -> tuple[str, ...]:
        """The places (``nail`` standing for every nail) at which ``rule`` looks."""
        return rule.places or self.quantities[rule.quantity].places

    @cached_property
    def quantities_of(self) -> Mapping[str, tuple[str, ...]]:
        """The quantities of each criterion."""
        return {
            criterion: tuple(name for name, owner in self.criterion_of.items() if owner == criterion)
            for criterion in self.criteria
        }

    def required_at(self, stage: Stage, hot_fitted: Yes) -> tuple[str, ...]:
        """The criteria that a stage requires: what only a hot shoe shows is required of no cold one."""
        required, hot = self.required[stage], self.required_when_hot_fitted
        if hot_fitted == "no":
            return tuple(name for name in required if name not in hot)
        return (*required, *(name for name in hot if stage == "finished" and name not in required))

    def remedy(self, rule_id: str) -> Remedy:
        """The single or joined rule of that id; KeyError when there is none."""
        return self.rules[rule_id] if rule_id in self.rules else self.joined[rule_id]

    def criterion_for(self, rule_id: str) -> str | None:
        """The criterion that a single or joined rule belongs to; None for a cross-check, which serves them all."""
        if rule_id in self.joined:
            return self.joined[rule_id].criterion
        return self.criterion_of.get(self.rules[rule_id].quantity)
