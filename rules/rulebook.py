"""A loaded rulebook: every record by its id, and the few questions that the rest of the tool asks of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from importlib.resources.abc import Traversable
from typing import TYPE_CHECKING, Any, TypeVar

from rules.in_force import InForce
from rules.model import (
    Caution,
    Criterion,
    EyeWord,
    JoinedRule,
    Level,
    Limit,
    Parameter,
    Place,
    Quantity,
    Remedy,
    Rule,
    Scaled,
    Source,
    Stage,
    Standing,
    Step,
    Uncertainty,
)
from rules.situation import Situation

if TYPE_CHECKING:
    from rules.marking import Marking

__all__ = ["Rulebook", "resolve"]

_T = TypeVar("_T")


@dataclass(frozen=True)
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
    marking_table: dict[str, Any] = field(repr=False)
    """The marking scheme as it is written; :attr:`marking` has it as records."""
    files: Mapping[str, str] = field(repr=False)
    """The file that each quantity and each rule, joined or single, stands in."""
    language: str = "en"
    """The language of the texts, as far as they are translated (BCP 47)."""
    languages: Traversable | None = field(default=None, repr=False, compare=False)
    """The folder of the book's own translations, where there may be one."""
    original: Rulebook | None = field(default=None, repr=False, compare=False)
    """For a book in another language, the book as it is written."""

    def in_language(self, language: str) -> Rulebook:
        """The same book with its texts in ``language``, and in its own where they are not translated.

        Rules, limits, version and digest are the same, so the decisions are, and so is the evaluator.  Raises
        RulebookError for a language that there is not, or whose files are faulty: see :mod:`rules.languages`.
        """
        if language == self.language:
            return self
        own = self.original or self
        known = own._in_languages.get(language)  # noqa: SLF001  (of this class)
        if known is None:
            from rules.languages import translated  # noqa: PLC0415  (only for who asks: a cold start is quick)

            known = own._in_languages[language] = translated(own, language)  # noqa: SLF001  (of this class)
        return known

    @cached_property
    def _in_languages(self) -> dict[str, Rulebook]:
        """Answers of :meth:`in_language`."""
        return {}

    @cached_property
    def rules_of(self) -> Mapping[str, tuple[tuple[str, Rule], ...]]:
        """The single rules of each quantity, with their ids."""
        table: dict[str, list[tuple[str, Rule]]] = {name: [] for name in self.quantities}
        for rule_id, rule in self.rules.items():
            table[rule.quantity].append((rule_id, rule))
        return {name: tuple(rules) for name, rules in table.items()}

    @cached_property
    def units(self) -> Mapping[str, str]:
        """The unit of each quantity that is a number."""
        return {name: quantity.unit for name, quantity in self.quantities.items() if quantity.unit is not None}

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

    def places_of(self, rule: Rule) -> tuple[str, ...]:
        """The places (``nail`` standing for every nail) at which ``rule`` looks."""
        return rule.places or self.quantities[rule.quantity].places

    def in_force(self, situation: Situation) -> InForce:
        """The single rules in force in ``situation``."""
        known = self._in_force.get(situation)
        if known is None:
            known = self._in_force[situation] = InForce(self, situation)
        return known

    def one_of(self, value: _T) -> _T:
        """The one object that equals ``value``: what many situations have in common lies in memory once, and nearer."""
        known: _T = self._ones.setdefault(value, value)
        return known

    @cached_property
    def _ones(self) -> dict[Any, Any]:
        """Answers of :meth:`one_of`, which is asked only about what follows from the book."""
        return {}

    @cached_property
    def _in_force(self) -> dict[Situation, InForce]:
        """Answers of :meth:`in_force`; there are only so many situations."""
        return {}

    @cached_property
    def quantities_of(self) -> Mapping[str, tuple[str, ...]]:
        """The quantities of each criterion."""
        return {
            criterion: tuple(name for name, owner in self.criterion_of.items() if owner == criterion)
            for criterion in self.criteria
        }

    @cached_property
    def marking(self) -> Marking:
        """The marking scheme.  Raises RulebookError where it is faulty."""
        from rules.loader import marking_of  # noqa: PLC0415  (only for marks: a cold start is quick)

        return marking_of(self)

    def remedy(self, rule_id: str) -> Remedy:
        """The single or joined rule of that id; KeyError when there is none."""
        return self.rules[rule_id] if rule_id in self.rules else self.joined[rule_id]

    def criterion_for(self, rule_id: str) -> str | None:
        """The criterion that a single or joined rule belongs to; None for a cross-check, which serves them all."""
        if rule_id in self.joined:
            return self.joined[rule_id].criterion
        return self.criterion_of.get(self.rules[rule_id].quantity)


def resolve(limit: Limit | None, dimensions: Mapping[str, float]) -> float | None:
    """``limit`` as a number, in its unit; None where there is none or the dimension that it follows is not known.

    >>> resolve(Scaled(times=2.0, of="shoe_thickness"), {"shoe_thickness": 11.0})
    22.0
    """
    if limit is None or not isinstance(limit, Scaled):
        return limit
    if limit.of not in dimensions:
        return None
    return limit.times * dimensions[limit.of] + limit.plus
