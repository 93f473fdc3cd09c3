"""What was not observed: missing is never taken as good."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import Final

from fitcheck.assessment.expected import ExpectedQuantity, Key, Needed, expected_in, field_in
from fitcheck.assessment.models import Conforming, StillNeeded, Unassessed
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.observables import OF_A_CLIP, row_of
from rules import Firing, Reading, Rulebook, Situation
from rules.model.records import Need
from rules.situation import spot_of

__all__ = ["Completeness", "completeness_of", "field_of"]

Table = Mapping[Key, Reading]

_BRANCHES: Final = ("nail:medial", "nail:lateral")


def field_of(quantity: str, place: str, nails: Sequence[str], *, cold: bool = False, nailed: bool = True) -> str:
    """The field of the fitting in which a quantity at a place is given, as a dotted path; ``nails`` in their order.

    ``cold``: the shoe is fitted cold, so that nothing is given of its scorch; not ``nailed``: it has holes alone.
    """
    number = nails.index(place) if place in nails else 0
    return field_in(row_of(quantity, spot_of(place), cold=cold, nailed=nailed), quantity, place, number)


def completeness_of(fitting: Fitting, situation: Situation, table: Table, book: Rulebook) -> Completeness:
    """What of ``fitting`` was observed and could be judged; ``table`` has every reading by quantity and place."""
    observations = fitting.observations
    clips = None if observations.toe_fit is None else observations.toe_fit.clips
    return Completeness(
        [nail.place for nail in observations.nails or ()],
        [clip.at for clip in clips or ()],
        situation,
        table,
        book,
    )


class Completeness:
    """What was observed and could be judged, and what was not."""

    def __init__(
        self, nails: Sequence[str], clips: Sequence[str], situation: Situation, table: Table, book: Rulebook
    ) -> None:
        self._book, self._table = book, table
        self._expected = expected = expected_in(book, situation)
        self._nails = nails
        self._number_of = {nail: number for number, nail in enumerate(nails)}
        self._clips = clips or ("toe",)
        self._seen = {quantity for quantity, _ in table}
        self._readings = [(key, expected.readings[key]) for key in table]
        self.unjudged: dict[tuple[str, str, str], None] = {}
        """(quantity, place, dimension): a limit on that reading follows a dimension that is not known."""
        self._unread: dict[Key, None] = {}
        """The words that limits on the readings look at as well, and that were not read."""
        for (quantity, place), each in self._readings:
            for size in each.dimensions:
                if size not in table:
                    self.unjudged[quantity, place, size[0]] = None
            for word in each.words:
                if word not in table:
                    self._unread[word] = None

    def still_needed(self) -> tuple[StillNeeded, ...]:
        """Every observation that is missing of the required criteria; a release needs this to be empty."""
        needed = [*self._expected.beyond]
        for each in self._expected.needs:
            places = self._places_lacking(each)
            if places or self.unjudged:
                needed += self._missing(each, places)
        return tuple({item.field: item for item in needed}.values())

    def _missing(self, needed: Needed, places: Iterable[str]) -> Iterator[StillNeeded]:
        criterion, need, first, _, say = needed
        for place in places:
            of_a_branch = need.at == "each_branch"
            field = self._expected.missing.at_some_nail(first[0]).field if of_a_branch else self._field(first[0], place)
            yield StillNeeded(criterion=criterion, field=field, say=say)
        for quantity, place, dimension in self.unjudged:
            if quantity in need.any_of and _covers(need, place):
                yield StillNeeded(
                    criterion=criterion,
                    field=self._field(dimension, "foot"),
                    say=self._book.quantities[dimension].how,
                )

    def _places_lacking(self, needed: Needed) -> list[str]:
        need = needed.need
        if need.at == "anywhere":
            return [needed.first[1]] if self._seen.isdisjoint(need.any_of) else []
        if need.at == "each_branch":
            of = {place.rpartition(":")[0] for quantity, place in self._table if quantity in need.any_of}
            return [] if of.issuperset(_BRANCHES) else ["nail"]
        places: Sequence[str] = need.at
        if need.at == "every_clip":
            places = self._clips
        elif need.at == "every_nail":
            places = self._nails or ("nail",)
        read, at = self._table.keys(), needed.at
        return [place for place in places if read.isdisjoint(at[place])]

    def _field(self, quantity: str, place: str) -> str:
        return self._entry(quantity, place).field

    def _entry(self, quantity: str, place: str) -> Unassessed:
        return self._expected.missing[quantity, place, self._number_of.get(place, 0)]

    @property
    def not_assessed(self) -> tuple[str, ...]:
        """Criteria, and single quantities of observed criteria, that were not observed or could not be judged."""
        return tuple(self._lines)

    @property
    def unassessed(self) -> dict[Key, Unassessed]:
        """What :attr:`not_assessed` comes to, each quantity at each place."""
        lacking = {(each.quantity, each.place): each for told in self._lines.values() for each in told}
        for quantity, place in self._unread:
            lacking[quantity, place] = self._entry(quantity, place)
        for quantity, place, dimension in self.unjudged:
            how = self._book.quantities[dimension].how
            field = self._field(dimension, "foot")
            lacking[quantity, place] = Unassessed(field, quantity, place, "cannot_be_computed", how)
        return lacking

    @cached_property
    def _lines(self) -> dict[str, Sequence[Unassessed]]:
        """Each line of what was not assessed, and what is told of its readings one by one."""
        lines: dict[str, Sequence[Unassessed]] = {}
        seen, partly, criterion_of = self._seen, self._partly_read(), self._book.criterion_of
        for name, needed, is_due, quantities in self._expected.criteria:
            if not seen.isdisjoint(needed):
                for each in quantities:
                    if each.name in seen:
                        if each.name in partly:
                            lines.update(self._lines_of(each, partly[each.name]))
                    elif each.is_plain or self._is_missed(each):
                        lines[each.line] = self._nothing_of(each)
            elif is_due and any(each.told or self._judged_at(each.name) for each in quantities):
                lines[name] = [told for each in quantities for told in self._nothing_of(each)]
        besides = {name: [self._expected.missing.at_some_nail(name)] for name in self._lacking_of_a_branch()}
        besides.update((name, self._unread_of(name)) for name, _ in self._unread)
        for name, told in besides.items():
            lines.setdefault(f"{criterion_of[name]}.{name}", told)
        for name, place, _ in self.unjudged:
            lines.setdefault(f"{criterion_of[name]}.{name}@{place}", self._entries(name, [place]))
        return lines

    def _lacking_of_a_branch(self) -> Iterator[str]:
        """What is required of each branch and was read on one of them at most."""
        for needed in self._expected.needs:
            if needed.need.at == "each_branch" and self._places_lacking(needed):
                yield needed.first[0]

    def _partly_read(self) -> dict[str, list[str]]:
        """The places at which a quantity would be judged and was not read, where it was at others."""
        expected, table, seen, clips = self._expected, self._table, self._seen, self._clips
        lacking = [key for key in expected.keys if key not in table and key[0] in seen]
        lacking += [key for key in expected.of_clips if key[1] in clips and key not in table and key[0] in seen]
        for nail in self._nails:
            lacking += [key for key in expected.of_nails[nail] if key not in table and key[0] in seen]
        partly: dict[str, list[str]] = {}
        for quantity, place in lacking:
            partly.setdefault(quantity, []).append(place)
        return partly

    def _is_missed(self, each: ExpectedQuantity) -> bool:
        """Whether a quantity of which nothing was read is missed in a criterion that was looked at."""
        seen = self._seen
        if each.by_eye or each.instead_of in seen:
            return False
        if each.sources and seen.isdisjoint(each.sources) and any(map(self._judged_at, each.sources)):
            return False  # what it is computed from is told as lacking
        if each.told is not None and not each.eye:
            return True
        return any((each.eye.get(spot_of(place)), place) not in self._table for place in self._judged_at(each.name))

    def _lines_of(self, each: ExpectedQuantity, lacking: Sequence[str]) -> Iterator[tuple[str, Sequence[Unassessed]]]:
        """What is told of a quantity that was read and not at all its places, in a criterion that was looked at."""
        if each.by_eye or each.once or each.instead_of in self._seen:
            return
        places = [place for place in lacking if (each.eye.get(spot_of(place)), place) not in self._table]
        if not places:
            return
        if len(lacking) == len(self._judged_at(each.name)):
            yield each.line, self._entries(each.name, lacking)
        else:
            yield from ((f"{each.line}@{place}", self._entries(each.name, [place])) for place in places)

    def _nothing_of(self, each: ExpectedQuantity) -> Sequence[Unassessed]:
        """What is told of a quantity of which nothing was read."""
        if each.name in self._seen or each.told is None:
            return self._unread_of(each.name)
        return each.told

    def _unread_of(self, quantity: str) -> list[Unassessed]:
        """What is told of the places at which a quantity would be judged and was not read."""
        judged = self._judged_at(quantity)
        if not judged and quantity in self._expected.at_some_nail:
            judged = ("nail",)
        return self._entries(quantity, [place for place in judged if (quantity, place) not in self._table])

    def _entries(self, quantity: str, places: Sequence[str]) -> list[Unassessed]:
        return [*self._expected.missing.each(quantity, places, self._number_of)]

    def _judged_at(self, quantity: str) -> tuple[str, ...]:
        """The places at which any rule would judge the quantity in this situation."""
        force = self._expected.force
        places = force.places(quantity)
        if quantity in OF_A_CLIP:
            places = tuple(place for place in places if place in self._clips)
        if quantity not in self._expected.at_nails:
            return places
        return (*places, *(nail for nail in self._nails if force.judging(quantity, nail)))

    def not_judged(self) -> list[Key]:
        """The readings that no rule judges here, but for those that enter computations."""
        return [key for key, each in self._readings if not each.is_judged]

    def conforms(self, firings: Iterable[Firing]) -> tuple[Conforming, ...]:
        """Every reading that a limit judged, wholly, and on which none fired."""
        rules, shown_as = self._book.rules, self._book.shown_as
        other = {(shown_as(rules[firing.rule].quantity), firing.place) for firing in firings if firing.rule in rules}
        other.update((shown_as(quantity), place) for quantity, place, _ in self.unjudged)
        return tuple(
            [each.conforming for _, each in self._readings if each.conforming is not None and each.told_as not in other]
        )


def _covers(need: Need, place: str) -> bool:
    return (
        need.at == "anywhere"
        or (need.at in {"every_nail", "each_branch"} and spot_of(place) == "nail")
        or need.at == "every_clip"
        or place in need.at
    )
