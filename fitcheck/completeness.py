"""What was not observed: missing is never taken as good."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from fitcheck.assessment import Conforming, StillNeeded
from fitcheck.fitting import Fitting
from fitcheck.observe import nail_place
from rules import Firing, Reading, Rulebook, Situation
from rules.model import Limit, Need, Scaled
from rules.situation import side_of, spot_of

__all__ = ["Completeness"]

Table = Mapping[tuple[str, str], Reading]

_FIELDS: Final = {
    "length": "observations.heel_fit.{side}.length",
    "width": "observations.heel_fit.{side}.width",
    "frog_gap": "observations.heel_fit.{side}.frog_gap",
    "clip": "observations.toe_fit.clip",
    "clip_height": "observations.toe_fit.clip_height",
    "wall_rasped_back": "observations.toe_fit.wall_rasped_back",
    "gap": "observations.levelness.gaps",
    "rocks": "observations.levelness.rocks",
    "coverage": "observations.scorch.coverage",
    "bare_arc": "observations.scorch.arcs",
    "sole_scorch": "observations.scorch.sole_scorch",
    "sole_pressure": "observations.scorch.sole_pressure",
    "contact_time": "observations.scorch.contact_time",
    "shoe_heat": "observations.scorch.shoe_heat",
    "hand": "observations.finish.hand",
    "rasped_above_clinches": "observations.finish.rasped_above_clinches",
    "trot_up": "observations.soundness.trot_up",
    "days_since_shod": "observations.history.last_shod",
    "shoe_thickness": "shoe.thickness",
    "wall_thickness": "hoof.wall_thickness",
}
_OVERHANG: Final = {"toe": "overhang", "medial_quarter": "medial_overhang", "lateral_quarter": "lateral_overhang"}


def field_of(quantity: str, place: str, fitting: Fitting) -> str:
    """The field of the fitting in which a quantity at a place is given, as a dotted path."""
    if place.startswith("nail"):
        for number, nail in enumerate(fitting.observations.nails or ()):
            if nail_place(nail) == place:
                return f"observations.nails.{number}.{quantity}"
        return f"observations.nails.0.{quantity}"
    if quantity == "overhang":
        return f"observations.toe_fit.{_OVERHANG[place]}"
    return _FIELDS.get(quantity, f"observations.{quantity}").format(side=side_of(place))


class Completeness:
    """What of one fitting was observed and could be judged, and what was not."""

    def __init__(self, fitting: Fitting, situation: Situation, table: Table, book: Rulebook) -> None:
        self._fitting = fitting
        self._situation = situation
        self._table = table
        self._book = book
        self._nails = [nail_place(nail) for nail in fitting.observations.nails or ()]
        self.unjudged = tuple(dict.fromkeys(self._unjudged()))
        """(quantity, place, dimension): a limit on that reading follows a dimension that is not known."""

    def _unjudged(self) -> Iterator[tuple[str, str, str]]:
        for quantity, place in self._table:
            for _, rule in self._book.applicable(quantity, place, self._situation):
                for limit in (rule.low, rule.high):
                    dimension = self._unknown(limit)
                    if dimension is not None:
                        yield quantity, place, dimension

    def _unknown(self, limit: Limit | None) -> str | None:
        if isinstance(limit, Scaled) and (limit.of, "foot") not in self._table:
            return limit.of
        return None

    def required(self) -> tuple[str, ...]:
        """The criteria that this stage requires."""
        stage = self._situation.stage
        required = self._book.required[stage]
        if stage == "finished" and self._situation.hot_fitted == "yes":
            required += tuple(name for name in self._book.required_when_hot_fitted if name not in required)
        return required

    def still_needed(self) -> tuple[StillNeeded, ...]:
        """Every observation that is missing of the required criteria; a release needs this to be empty."""
        needed = (item for criterion in self.required() for item in self._missing(criterion))
        return tuple({item.field: item for item in needed}.values())

    def _missing(self, criterion: str) -> Iterator[StillNeeded]:
        for need in self._needs(criterion):
            for place in self._places_lacking(need):
                quantity = need.any_of[0]
                yield StillNeeded(
                    criterion=criterion,
                    field=field_of(quantity, place, self._fitting),
                    say=" Or: ".join(self._book.quantities[name].how for name in need.any_of),
                )
            for quantity, place, dimension in self.unjudged:
                if quantity in need.any_of and self._covers(need, place):
                    yield StillNeeded(
                        criterion=criterion,
                        field=field_of(dimension, "foot", self._fitting),
                        say=self._book.quantities[dimension].how,
                    )

    def _needs(self, criterion: str) -> Iterator[Need]:
        for need in self._book.criteria[criterion].needs:
            if need.stages is None or self._situation.stage in need.stages:
                yield need

    def _covers(self, need: Need, place: str) -> bool:
        return need.at == "anywhere" or (need.at == "every_nail" and spot_of(place) == "nail") or place in need.at

    def _places_lacking(self, need: Need) -> list[str]:
        if need.at == "anywhere":
            seen = any(quantity in need.any_of for quantity, _ in self._table)
            return [] if seen else [self._book.quantities[need.any_of[0]].places[0]]
        places = (self._nails or ["nail"]) if need.at == "every_nail" else list(need.at)
        return [place for place in places if not any((quantity, place) in self._table for quantity in need.any_of)]

    def not_assessed(self) -> tuple[str, ...]:
        """Criteria, and single quantities of observed criteria, that were not observed or could not be judged."""
        lines: list[str] = []
        stage = self._situation.stage
        for criterion_id, criterion in self._book.criteria.items():
            quantities = [name for name, owner in self._book.criterion_of.items() if owner == criterion_id]
            seen = [name for name in quantities if any(quantity == name for quantity, _ in self._table)]
            if not any(name in seen for need in criterion.needs for name in need.any_of):
                if stage in criterion.stages and self._can_be_judged(quantities):
                    lines.append(criterion_id)
                continue
            for name in quantities:
                lines.extend(self._quantity_lacking(criterion_id, name))
            lines.extend(f"{criterion_id}.{name}" for name in self._unread_companions(seen))
        for quantity, place, _ in self.unjudged:
            lines.append(f"{self._book.criterion_of[quantity]}.{quantity}@{place}")
        return tuple(dict.fromkeys(lines))

    def _unread_companions(self, seen: list[str]) -> Iterator[str]:
        """Words that limits on the readings look at as well, and that were not read."""
        for quantity, place in self._table:
            if quantity in seen:
                for _, rule in self._book.applicable(quantity, place, self._situation):
                    yield from (name for name in rule.with_ or {} if (name, place) not in self._table)

    def _can_be_judged(self, quantities: list[str]) -> bool:
        return any(self._judged_at(name) for name in quantities)

    def _judged_at(self, quantity: str) -> list[str]:
        """The places at which any rule would judge the quantity in this situation."""
        places: list[str] = []
        for place in self._book.quantities[quantity].places:
            each = self._nails if place == "nail" else [place]
            places.extend(name for name in each if self._book.applicable(quantity, name, self._situation))
        return places

    def _quantity_lacking(self, criterion: str, quantity: str) -> Iterator[str]:
        places = self._judged_at(quantity)
        lacking = [place for place in places if (quantity, place) not in self._table]
        if not lacking:
            return
        if len(lacking) == len(places):
            yield f"{criterion}.{quantity}"
            return
        for place in lacking:
            yield f"{criterion}.{quantity}@{place}"

    def conforms(self, firings: list[Firing]) -> tuple[Conforming, ...]:
        """Every reading that a limit judged, wholly, and on which none fired."""
        fired = {
            (self._book.rules[firing.rule].quantity, firing.place)
            for firing in firings
            if firing.rule in self._book.rules
        }
        doubtful = {(quantity, place) for quantity, place, _ in self.unjudged}
        return tuple(
            Conforming(criterion=self._book.criterion_of[quantity], quantity=quantity, place=place)
            for quantity, place in self._table
            if (quantity, place) not in fired
            and (quantity, place) not in doubtful
            and quantity in self._book.criterion_of
            and self._book.applicable(quantity, place, self._situation)
        )
