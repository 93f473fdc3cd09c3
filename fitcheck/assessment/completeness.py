"""What was not observed: missing is never taken as good."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from threading import Lock
from typing import Final

from fitcheck.assessment.models import Conforming, StillNeeded, Unassessed, Why
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.observables import OF_A_CLIP, row_of
from fitcheck.fitting.readings import nail_place
from fitcheck.fitting.row import Row
from fitcheck.text.catalogue import messages_of
from rules import Firing, Reading, Rulebook, Situation, in_force
from rules.model.records import Need
from rules.situation import spot_of

__all__ = ["Completeness", "completeness_of", "field_of"]

Table = Mapping[tuple[str, str], Reading]


def field_of(quantity: str, place: str, nails: Sequence[str], *, cold: bool = False) -> str:
    """The field of the fitting in which a quantity at a place is given, as a dotted path; ``nails`` in their order.

    ``cold``: the shoe is fitted cold, so that nothing is given of its scorch.
    """
    return _field_in(row_of(quantity, spot_of(place), cold=cold), quantity, place, nails)


def _field_in(row: Row | None, quantity: str, place: str, nails: Sequence[str]) -> str:
    if row is None:
        return f"observations.{quantity}"
    return row.needed_at(place, nails.index(place) if place in nails else 0)


_SHAPES: Final = 256
_Key = tuple[str, str, Situation, tuple[str, ...], tuple[str, ...], tuple[tuple[str, str], ...]]
_shapes: dict[_Key, Completeness] = {}
_shapes_lock = Lock()


def completeness_of(fitting: Fitting, situation: Situation, table: Table, book: Rulebook) -> Completeness:
    """What of ``fitting`` was observed and could be judged; ``table`` has every reading by quantity and place.

    It hangs only on which readings there are, and a yard's fittings have few such shapes: the newest are kept, which
    saves a sixth of an assessment (benchmark simplicity).
    """
    nails = tuple(nail_place(nail) for nail in fitting.observations.nails or ())
    toe_fit = fitting.observations.toe_fit
    clips = tuple(clip.at for clip in (None if toe_fit is None else toe_fit.clips) or ())
    key = (book.digest, book.language, situation, nails, clips, tuple(table))
    known = _shapes.get(key)
    if known is None:
        known = Completeness(nails, situation, key[-1], book, clips)
        with _shapes_lock:
            while len(_shapes) >= _SHAPES:
                del _shapes[next(iter(_shapes))]
            _shapes[key] = known
    return known


class Completeness:
    """What was observed and could be judged, and what was not, by the places of the nails and the readings taken."""

    def __init__(
        self,
        nails: tuple[str, ...],
        situation: Situation,
        readings: Iterable[tuple[str, str]],
        book: Rulebook,
        clips: tuple[str, ...] = (),
    ) -> None:
        self._situation = situation
        self._table = table = dict.fromkeys(readings)
        self._book = book
        self._in_force = in_force(book, situation)
        self._nails = nails
        self._clips = clips
        self._seen = {quantity for quantity, _ in table}
        self._judged: list[tuple[str, str]] = []
        self._taken: dict[str, int] = {}
        unjudged: dict[tuple[str, str, str], None] = {}
        unread: dict[tuple[str, str], None] = {}
        for quantity, place in table:
            dependencies = self._in_force.dependencies(quantity, place)
            if dependencies is None:
                continue
            if quantity in book.criterion_of:
                self._judged.append((quantity, place))
                self._taken[quantity] = self._taken.get(quantity, 0) + 1
            for dimension in dependencies.dimensions:
                if (dimension, "foot") not in table:
                    unjudged[quantity, place, dimension] = None
            for word in dependencies.words:
                if (word, place) not in table:
                    unread[word, place] = None
        self.unjudged = tuple(unjudged)
        """(quantity, place, dimension): a limit on that reading follows a dimension that is not known."""
        self._unread = tuple(unread)
        """(quantity, place) of the words that limits on the readings look at as well, and that were not read."""

    def required(self) -> tuple[str, ...]:
        """The criteria that this stage requires."""
        return self._book.required_at(self._situation.stage, self._situation.hot_fitted)

    @cached_property
    def still_needed(self) -> tuple[StillNeeded, ...]:
        """Every observation that is missing of the required criteria; a release needs this to be empty."""
        needed = [*self._unjudged_situation()]
        needed += (item for criterion in self.required() for item in self._missing(criterion))
        return tuple({item.field: item for item in needed}.values())

    def _unjudged_situation(self) -> Iterator[StillNeeded]:
        """The stage or the hoof form where the book does not judge it: then whatever was observed, it is not enough."""
        judges, messages = self._book.judges, messages_of(self._book)
        for field, judged in (("stage", judges.stages), ("hoof_form", judges.hoof_forms)):
            word = getattr(self._situation, field)
            if word not in judged:
                say = messages.say(f"needed.{field}", word=messages.word(word))
                yield StillNeeded(criterion=field, field=field, say=say)

    def _missing(self, criterion: str) -> Iterator[StillNeeded]:
        for need in self._needs(criterion):
            for place in self._places_lacking(need):
                yield StillNeeded(
                    criterion=criterion,
                    field=self._field(need.any_of[0], place),
                    say=messages_of(self._book).joined(
                        (self._book.quantities[name].how for name in need.any_of), "needed"
                    ),
                )
            for quantity, place, dimension in self.unjudged:
                if quantity in need.any_of and self._covers(need, place):
                    yield StillNeeded(
                        criterion=criterion,
                        field=self._field(dimension, "foot"),
                        say=self._book.quantities[dimension].how,
                    )

    def _field(self, quantity: str, place: str) -> str:
        return field_of(quantity, place, self._nails, cold=self._situation.hot_fitted == "no")

    def _needs(self, criterion: str) -> Iterator[Need]:
        for need in self._book.criteria[criterion].needs:
            if need.stages is None or self._situation.stage in need.stages:
                yield need

    def _covers(self, need: Need, place: str) -> bool:
        return (
            need.at == "anywhere"
            or (need.at == "every_nail" and spot_of(place) == "nail")
            or need.at == "every_clip"
            or place in need.at
        )

    def _places_lacking(self, need: Need) -> list[str]:
        if need.at == "anywhere":
            seen = any(name in self._seen for name in need.any_of)
            return [] if seen else [self._book.quantities[need.any_of[0]].places[0]]
        if need.at == "every_clip":
            places = list(self._clips or ("toe",))
        else:
            places = list(self._nails or ("nail",)) if need.at == "every_nail" else list(need.at)
        return [place for place in places if not any((name, place) in self._table for name in need.any_of)]

    @cached_property
    def not_assessed(self) -> tuple[str, ...]:
        """Criteria, and single quantities of observed criteria, that were not observed or could not be judged."""
        lines: dict[str, None] = {}
        for criterion_id, criterion in self._book.criteria.items():
            if criterion.of != "foot":
                continue  # one foot alone never lacks what two feet show
            quantities = self._book.quantities_of[criterion_id]
            if any(name in self._seen for need in criterion.needs for name in need.any_of):
                for name in quantities:
                    lines |= dict.fromkeys(self._quantity_lacking(criterion_id, name))
            elif self._situation.stage in criterion.stages and any(map(self._judged_at, quantities)):
                lines[criterion_id] = None
        lines |= {f"{self._book.criterion_of[name]}.{name}": None for name, _ in self._unread}
        for quantity, place, _ in self.unjudged:
            lines[f"{self._book.criterion_of[quantity]}.{quantity}@{place}"] = None
        return tuple(lines)

    @cached_property
    def unassessed(self) -> tuple[Unassessed, ...]:
        """What :attr:`not_assessed` comes to, each quantity at each place."""
        book = self._book
        lacking: dict[tuple[str, str], Unassessed] = {}
        for line in self.not_assessed:
            name, _, place = line.partition("@")
            criterion, _, quantity = name.partition(".")
            if place:
                row = self._row(quantity, place)
                if row is not None:
                    lacking[quantity, place] = self._at(row, quantity, place)
            else:
                for each in (quantity,) if quantity else book.quantities_of[criterion]:
                    lacking |= dict(self._wholly_lacking(each))
        for quantity, place in self._unread:
            lacking[quantity, place] = self._at(self._row(quantity, place), quantity, place)
        for quantity, place, dimension in self.unjudged:
            field = self._field(dimension, "foot")
            how = book.quantities[dimension].how
            lacking[quantity, place] = Unassessed(field, quantity, place, "cannot_be_computed", how)
        return tuple(lacking.values())

    def _wholly_lacking(self, quantity: str) -> Iterator[tuple[tuple[str, str], Unassessed]]:
        """A quantity that nothing was read of: once for every nail, and once where one field has all its places."""
        places: dict[Row, list[str]] = {}
        for place in self._judged_at(quantity) or self._judged_anywhere(quantity):
            row = self._row(quantity, place)
            if row is not None and (quantity, place) not in self._table:
                places.setdefault(row, []).append(place)
        for row, lacking in places.items():
            together = row.together if len(lacking) > 1 else None
            if together is None:
                yield from (((quantity, place), self._at(row, quantity, place)) for place in lacking)
            else:
                field, place = together
                yield (quantity, place), self._entry(row, quantity, place, field)

    @cached_property
    def not_judged(self) -> tuple[tuple[str, str], ...]:
        """The readings that no rule judges here, but for those that enter computations."""
        entering = self._book.entering
        return tuple(key for key in self._table if key[0] not in entering and not self._is_judged(*key))

    def _is_judged(self, quantity: str, place: str) -> bool:
        if not self._book.quantities[quantity].judged_at(spot_of(place)):
            return False
        return not self._book.rules_of[quantity] or bool(self._in_force.judging(quantity, place))

    def _row(self, quantity: str, place: str) -> Row | None:
        return row_of(quantity, spot_of(place), cold=self._situation.hot_fitted == "no")

    def _at(self, row: Row | None, quantity: str, place: str) -> Unassessed:
        return self._entry(row, quantity, place, _field_in(row, quantity, place, self._nails))

    def _entry(self, row: Row | None, quantity: str, place: str, field: str) -> Unassessed:
        why: Why = "cannot_be_computed" if row is not None and row.is_computed else "not_observed"
        return Unassessed(field, quantity, place, why, self._book.quantities[quantity].how)

    def _judged_anywhere(self, quantity: str) -> list[str]:
        """Where no nail is given, any nail at which the quantity would be judged."""
        nail = "nail" in self._book.quantities[quantity].places
        return ["nail"] if nail and self._in_force.judging(quantity, "nail") else []

    def _judged_at(self, quantity: str) -> list[str]:
        """The places at which any rule would judge the quantity in this situation."""
        places = list(self._in_force.places(quantity))
        if quantity in OF_A_CLIP:
            places = [place for place in places if place in (self._clips or ("toe",))]
        if "nail" in self._book.quantities[quantity].places:
            places += [place for place in self._nails if self._in_force.judging(quantity, place)]
        return places

    def _quantity_lacking(self, criterion: str, quantity: str) -> list[str]:
        record = self._book.quantities[quantity]
        if record.eye_of is not None or record.instead_of in self._seen or (record.once and quantity in self._seen):
            return []
        sources = record.computed_from
        if sources and self._seen.isdisjoint(sources) and any(map(self._judged_at, sources)):
            return []  # what it is computed from is told as lacking
        places = [place for place in self._judged_at(quantity) if not self._judged_by_eye(quantity, place)]
        if len(places) == self._taken.get(quantity, 0):
            return []
        lacking = [place for place in places if (quantity, place) not in self._table]
        if len(lacking) == len(places):
            return [f"{criterion}.{quantity}"]
        return [f"{criterion}.{quantity}@{place}" for place in lacking]

    def _judged_by_eye(self, quantity: str, place: str) -> bool:
        seen = self._book.eye_quantities.get(quantity, {}).get(spot_of(place))
        return seen is not None and (seen, place) in self._table and (quantity, place) not in self._table

    def conforms(self, firings: list[Firing]) -> tuple[Conforming, ...]:
        """Every reading that a limit judged, wholly, and on which none fired."""
        rules = self._book.rules
        shown_as = self._book.shown_as
        other = {(shown_as(rules[firing.rule].quantity), firing.place) for firing in firings if firing.rule in rules}
        other.update((shown_as(quantity), place) for quantity, place, _ in self.unjudged)
        if not other:
            return self._all_conforming
        return tuple(each for each in self._all_conforming if (each.quantity, each.place) not in other)

    @cached_property
    def _all_conforming(self) -> tuple[Conforming, ...]:
        return tuple(
            Conforming(criterion=self._book.criterion_of[quantity], quantity=self._book.shown_as(quantity), place=place)
            for quantity, place in self._judged
        )
