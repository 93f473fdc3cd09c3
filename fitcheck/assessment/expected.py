"""What a rulebook asks of a fitting in one situation, gathered once for each: for a fitting only looking up is left.

Book and situation say what is to be read where and what is told of it when it is not; the readings, the nails and the
clips are the fitting's own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

from fitcheck.assessment.models import Conforming, StillNeeded, Unassessed, Why
from fitcheck.fitting.observables import OF_A_CLIP, row_of
from fitcheck.fitting.row import Row
from fitcheck.text.catalogue import Messages, capital, messages_of
from rules import Rulebook, Situation, in_force
from rules.engine.in_force import InForce
from rules.model.records import Need
from rules.situation import spot_of

__all__ = ["BEFORE_NAILS", "Expected", "ExpectedQuantity", "Key", "MissingEntries", "Needed", "expected_in", "field_in"]

Key = tuple[str, str]
"""A reading, by quantity and place."""

_DERIVED: Final = "expected"
_MISSING: Final = "missing entries"
BEFORE_NAILS: Final = ("dressed", "hot_fit")
"""Stages at which a shoe has holes alone."""


class OfReading(NamedTuple):
    """What comes of one reading."""

    told_as: Key
    """As what it is told: a word of the eye as the number that it stands for."""
    conforming: Conforming | None
    """What is said where no limit finds fault with it; None where no limit of a criterion judges it."""
    dimensions: tuple[Key, ...]
    """The sizes that its limits follow."""
    words: tuple[Key, ...]
    """The words that its limits look at as well."""
    is_judged: bool
    """Whether a rule judges it here, or it enters what rules judge."""


class Needed(NamedTuple):
    """One need of a required criterion."""

    criterion: str
    need: Need
    first: Key
    """What is asked for where nothing of it was read anywhere."""
    at: dict[str, tuple[Key, ...]]
    """By place the readings any of which will do there."""
    say: str


class ExpectedQuantity(NamedTuple):
    """One quantity of a criterion that is judged somewhere in this situation."""

    name: str
    line: str
    told: tuple[Unassessed, ...] | None
    """What is told where nothing of it was read; None where that hangs on the nails and clips."""
    is_plain: bool
    """Whether that is told whatever else was read."""
    by_eye: bool
    """Its words stand for another quantity, and that one is missed instead."""
    once: bool
    instead_of: str | None
    sources: tuple[str, ...]
    eye: Mapping[str, str]
    """By kind of place the quantity that judges the word of the eye in its stead."""


class ExpectedCriterion(NamedTuple):
    """One criterion of a foot."""

    name: str
    needed: frozenset[str]
    """The quantities any of which shows that it was looked at."""
    is_due: bool
    """Whether it is looked at at this stage."""
    quantities: tuple[ExpectedQuantity, ...]


def expected_in(book: Rulebook, situation: Situation) -> Expected:
    """What ``book`` asks for in ``situation``."""
    key = (_DERIVED, situation)
    known: Expected | None = book.derived.get(key)
    if known is None:
        known = book.derived[key] = Expected(book, situation)
    return known


class Expected:
    """What is asked for in one situation."""

    def __init__(self, book: Rulebook, situation: Situation) -> None:
        self._book = book
        self.force = force = in_force(book, situation)
        is_nailed = situation.stage not in BEFORE_NAILS
        self.missing = _missing_entries(book, cold=situation.hot_fitted == "no", nailed=is_nailed)
        self.readings: dict[Key, OfReading] = _Readings(book, force)
        """Every reading that there can be, by its key."""
        of_pairs = {name for name, criterion in book.criteria.items() if criterion.of != "foot"}
        of_a_foot = [name for name in book.quantities if book.criterion_of.get(name) not in of_pairs]
        at_nails = [name for name in of_a_foot if "nail" in book.quantities[name].places]
        self.at_some_nail = frozenset(name for name in at_nails if force.judging(name, "nail"))
        """What would be judged at a nail where none is given."""
        self.of_nails: dict[str, tuple[Key, ...]] = _OfNails(at_nails, force)
        """What is judged at a nail, by its place."""
        self.at_nails = frozenset(at_nails)
        """What may be read at nails."""
        keys = [(name, place) for name in of_a_foot for place in force.places(name)]
        self.keys = tuple(key for key in keys if key[0] not in OF_A_CLIP)
        """What is judged at places that every foot has."""
        self.of_clips = tuple(key for key in keys if key[0] in OF_A_CLIP)
        """What is judged at clips, wherever there may be one."""
        self.criteria = tuple(
            ExpectedCriterion(
                name,
                frozenset(
                    each
                    for need in criterion.needs
                    for each in need.any_of
                    if book.criterion_of.get(each) == name or need.at != "each_branch"
                ),
                situation.stage in criterion.stages,
                tuple(map(self._quantity, filter(self._may_be_judged, book.quantities_of[name]))),
            )
            for name, criterion in book.criteria.items()
            if criterion.of == "foot"  # one foot alone never lacks what two feet show
        )
        self.needs = tuple(_needs_of(book, situation))
        self.beyond = tuple(_beyond(book, situation))
        """The stage or the hoof form where the book does not judge it: then whatever was observed is not enough."""

    def _may_be_judged(self, name: str) -> bool:
        return name in self.at_nails or bool(self.force.places(name))

    def _quantity(self, name: str) -> ExpectedQuantity:
        record, eye = self._book.quantities[name], self._book.eye_quantities.get(name, {})
        everywhere = name not in self.at_nails and name not in OF_A_CLIP
        conditions = record.eye_of, record.instead_of, *record.computed_from, *eye
        return ExpectedQuantity(
            name,
            f"{self._book.criterion_of[name]}.{name}",
            tuple(self.missing.each(name, self.force.places(name), {})) if everywhere else None,
            everywhere and not any(conditions),
            record.eye_of is not None,
            record.once,
            record.instead_of,
            record.computed_from,
            eye,
        )


def _either(ways: Sequence[str], messages: Messages) -> str:
    """Ways to observe one thing, with a word between them; a way that begins with that word has it once."""
    word = f"{messages.joined(('', ''), 'needed').strip(' :')} "
    first, *others = ways
    more = [way if way.startswith(word) else messages.joined(("", way), "needed").strip() for way in others]
    return " ".join([capital(first.removeprefix(word)), *more])


def _needs_of(book: Rulebook, situation: Situation) -> Iterator[Needed]:
    for criterion in book.required_at(situation.stage, situation.hot_fitted):
        for need in book.criteria[criterion].needs:
            if need.stages is None or situation.stage in need.stages:
                first, messages = need.any_of[0], messages_of(book)
                say = _either([book.quantities[name].how for name in need.any_of], messages)
                if need.at == "each_branch":
                    say = messages.say("needed.each_branch", say=say)
                yield Needed(criterion, need, (first, book.quantities[first].places[0]), _AnyOf(need.any_of), say)


def _beyond(book: Rulebook, situation: Situation) -> Iterator[StillNeeded]:
    messages = messages_of(book)
    for field, judged in (("stage", book.judges.stages), ("hoof_form", book.judges.hoof_forms)):
        word = getattr(situation, field)
        if word not in judged:
            say = messages.say(f"needed.{field}", word=messages.word(word))
            yield StillNeeded(criterion=field, field=field, say=say)


class _Readings(dict[Key, OfReading]):
    """What comes of each reading, worked out when one is first asked for."""

    def __init__(self, book: Rulebook, force: InForce) -> None:
        self._book, self._force = book, force

    def __missing__(self, key: Key) -> OfReading:
        book, (quantity, place) = self._book, key
        dependencies = self._force.dependencies(quantity, place)
        criterion = book.criterion_of.get(quantity)
        told_as = book.shown_as(quantity), place
        self[key] = known = OfReading(
            told_as,
            None if dependencies is None or criterion is None else Conforming(criterion, *told_as),
            () if dependencies is None else tuple((name, "foot") for name in dependencies.dimensions),
            () if dependencies is None else tuple((name, place) for name in dependencies.words),
            quantity in book.entering or self._is_judged(quantity, place),
        )
        return known

    def _is_judged(self, quantity: str, place: str) -> bool:
        if not self._book.quantities[quantity].judged_at(spot_of(place)):
            return False
        return not self._book.rules_of[quantity] or bool(self._force.judging(quantity, place))


class _OfNails(dict[str, tuple[Key, ...]]):
    """What is judged at each nail, worked out when one is first asked for."""

    def __init__(self, quantities: list[str], force: InForce) -> None:
        self._quantities, self._force = quantities, force

    def __missing__(self, nail: str) -> tuple[Key, ...]:
        self[nail] = known = tuple((name, nail) for name in self._quantities if self._force.judging(name, nail))
        return known


class _AnyOf(dict[str, tuple[Key, ...]]):
    """By place the readings of any of ``quantities``."""

    def __init__(self, quantities: tuple[str, ...]) -> None:
        self._quantities = quantities

    def __missing__(self, place: str) -> tuple[Key, ...]:
        self[place] = known = tuple((name, place) for name in self._quantities)
        return known


class MissingEntries(dict[tuple[str, str, int], Unassessed]):
    """What is told of a quantity that was not read at a place; ``number`` is the place's own in a list.

    ``cold``: the shoe is fitted cold, so that nothing is given of its scorch; not ``nailed``: it has holes alone.
    """

    def __init__(self, book: Rulebook, *, cold: bool, nailed: bool) -> None:
        self._book, self._cold, self._nailed = book, cold, nailed
        self._together: dict[Key, Unassessed | None] = {}

    def __missing__(self, key: tuple[str, str, int]) -> Unassessed:
        quantity, place, number = key
        row = self._row(quantity, place)
        self[key] = known = self._entry(row, quantity, place, field_in(row, quantity, place, number))
        return known

    def each(self, quantity: str, places: Sequence[str], numbers: Mapping[str, int]) -> Iterator[Unassessed]:
        """What is told of ``places`` at none of which it was read: one thing where one field has several of them.

        Nothing of a place that no field is for.
        """
        if len(places) > 1 and spot_of(places[0]) == "nail":  # nails come last, so all of them are
            together = self._for_all(quantity, places[0])
            if together is not None:
                yield together
                return
        fields: dict[str, list[str]] = {}
        for place in places:
            row = self._row(quantity, place)
            if row is not None:
                fields.setdefault(row.field, []).append(place)
        for of_one_field in fields.values():
            together = self._for_all(quantity, of_one_field[0]) if len(of_one_field) > 1 else None
            if together is None:
                yield from (self[quantity, place, numbers.get(place, 0)] for place in of_one_field)
            else:
                yield together

    def at_some_nail(self, quantity: str) -> Unassessed:
        """What is told of a quantity that is to be read at some nail or hole, whichever."""
        return self._for_all(quantity, "nail") or self[quantity, "nail", 0]

    def _for_all(self, quantity: str, place: str) -> Unassessed | None:
        """What is told of all places of one field at once; None where each has its own field."""
        key = quantity, spot_of(place)
        if key not in self._together:
            row = self._row(quantity, place)
            together = None if row is None else row.together
            self._together[key] = None if together is None else self._entry(row, quantity, together[1], together[0])
        return self._together[key]

    def _row(self, quantity: str, place: str) -> Row | None:
        return row_of(quantity, spot_of(place), cold=self._cold, nailed=self._nailed)

    def _entry(self, row: Row | None, quantity: str, place: str, field: str) -> Unassessed:
        why: Why = "cannot_be_computed" if row is not None and row.is_computed else "not_observed"
        return Unassessed(field, quantity, place, why, self._book.quantities[quantity].how)


def _missing_entries(book: Rulebook, *, cold: bool, nailed: bool) -> MissingEntries:
    key = (_MISSING, cold, nailed)
    known: MissingEntries | None = book.derived.get(key)
    if known is None:
        known = book.derived[key] = MissingEntries(book, cold=cold, nailed=nailed)
    return known


def field_in(row: Row | None, quantity: str, place: str, number: int) -> str:
    """The path of the field that gives the quantity at the place."""
    return f"observations.{quantity}" if row is None else row.needed_at(place, number)
