"""What the book asks and what can be observed, held against each other, both ways."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Final

from rules.analysis.contexts import is_read, ordinary_first, places_on, stages_of
from rules.analysis.fault import Example, Fault
from rules.analysis.unreachable import past
from rules.engine.reading import Reading
from rules.model.records import Clause, Limit, Need, Quantity, Rule, Scaled
from rules.number_line import exact, middle_of, range_of, values_to_try, zone_of
from rules.rulebook import Rulebook
from rules.situation import Observable, Observables, Situation, admits, side_of

__all__ = ["known", "unfed_limits"]

_BOOK: Final = "(book)"


def unfed_limits(book: Rulebook, observables: Observables) -> Iterator[Fault]:
    """Limits, words, clauses and needs that no observation can feed."""
    for rule_id, rule in book.rules.items():
        yield from _rule(book, observables, rule_id, rule)
    for rule_id, joined in book.joined.items():
        for number, clause in enumerate(joined.when):
            if clause.reading is not None:
                yield from _clause(book, observables, book.files[rule_id], f"joined.{rule_id}.when.{number}", clause)
    for criterion_id, criterion in book.criteria.items():
        for number, need in enumerate(criterion.needs):
            yield from _need(book, observables, criterion_id, f"criterion.needs.{number}", need)


def _rule(book: Rulebook, observables: Observables, rule_id: str, rule: Rule) -> Iterator[Fault]:
    file, key = book.files[rule_id], f"rules.{rule_id}"
    spots = book.places_of(rule)
    example = past(book, rule, places_on(spots[0])[0], ordinary_first(book)[0])
    observable_at = [spot for spot in spots if (rule.quantity, spot) in observables]
    if not observable_at:
        places = ", ".join(spots)
        yield Fault(
            file,
            f"{key}.{'quantity' if rule.places is None else 'places'}",
            "not-fed",
            f"no observation gives {rule.quantity} at {places}, so this rule can never fire",
            "Take the rule out, or let it look at what is observed",
            example,
        )
        return
    stated = {word for spot in observable_at for word in observables[rule.quantity, spot].words}
    for word in rule.is_ or ():
        if word not in stated:
            yield Fault(
                file,
                f"{key}.is",
                "not-fed",
                f"no observation of {rule.quantity} can be {word!r}",
                f"Write one of {', '.join(sorted(stated))}",
                Example(ordinary_first(book)[0], (Reading(rule.quantity, places_on(observable_at[0])[0], word),)),
            )
    for name in rule.with_ or ():
        if not any((name, spot) in observables for spot in observable_at):
            yield Fault(
                file,
                f"{key}.with.{name}",
                "not-fed",
                f"no observation gives {name} there, so this rule can never fire",
                "Ask for what is observed at the rule's places",
                example,
            )
    to = rule.amount.to if rule.amount else None
    yield from _limits(observables, file, key, {"low": rule.low, "high": rule.high, "amount.to": to}, example)


def _limits(
    observables: Observables, file: str, key: str, limits: Mapping[str, Limit | None], example: Example | None
) -> Iterator[Fault]:
    for end, limit in limits.items():
        if isinstance(limit, Scaled) and (limit.of, "foot") not in observables:
            yield Fault(
                file,
                f"{key}.{end}.of",
                "not-fed",
                f"no observation gives {limit.of}, so this is never known",
                "Follow a dimension that is observed",
                example,
            )


def _clause(book: Rulebook, observables: Observables, file: str, key: str, clause: Clause) -> Iterator[Fault]:
    reading, at = clause.reading or "", clause.at or ""
    example = _clause_example(book, reading, at, clause)
    if (reading, at) not in observables:
        yield Fault(
            file,
            f"{key}.reading",
            "not-fed",
            f"no observation gives {reading} at {at}, so the rule can never fire",
            "Rest it on what is observed",
            example,
        )
        return
    yield from _limits(observables, file, key, {"low": clause.low, "high": clause.high}, example)


def _clause_example(book: Rulebook, reading: str, at: str, clause: Clause) -> Example:
    quantity = book.quantities[reading]
    value = _past(quantity, clause) if quantity.kind == "number" else quantity.vocabulary[0]
    return Example(ordinary_first(book)[0], (Reading(reading, places_on(at)[0], value),))


def _past(quantity: Quantity, clause: Clause) -> float:
    zone = zone_of(clause)
    plain = [line for line in zone.lines if line.of is None]
    values = values_to_try(plain, {}, *range_of(quantity))
    sizes = {line.of: exact(0.0) for line in zone.lines if line.of is not None}
    return float(next((value for value in values if zone.end(value, sizes)), values[0]))


def _need(book: Rulebook, observables: Observables, criterion_id: str, key: str, need: Need) -> Iterator[Fault]:
    if need.at in {"anywhere", "every_clip"}:
        choices_needed = [[(name, spot) for name in need.any_of for spot in book.quantities[name].places]]
    elif need.at in {"every_nail", "each_branch"}:
        choices_needed = [[(name, "nail") for name in need.any_of]]
    else:
        choices_needed = [[(name, spot) for name in need.any_of] for spot in need.at]
    for choices in choices_needed:
        for situation in ordinary_first(book):
            if not _needs_here(book, criterion_id, need, situation):
                continue
            if not any(
                is_read(book, observables, name, place, situation)
                for name, spot in choices
                for place in places_on(spot)
            ):
                names = " or ".join(dict.fromkeys(f"{name} at {spot}" for name, spot in choices))
                yield Fault(
                    f"{criterion_id}.toml",
                    key,
                    "not-fed",
                    f"no observation gives {names}, so no foot could ever be released",
                    "Need what is observed",
                    Example(situation, ()),
                )
                break


def _needs_here(book: Rulebook, criterion_id: str, need: Need, situation: Situation) -> bool:
    """Whether a foot in ``situation`` is not released without what ``need`` names."""
    stage = situation.stage
    return criterion_id in book.required_at(stage, situation.hot_fitted) and (
        need.stages is None or stage in need.stages
    )


def known(book: Rulebook, observables: Observables, stated: Mapping[str, str]) -> Iterator[Fault]:
    """What can be observed and the book does not know, so that a foot on which it was observed could not be judged."""
    for (name, spot), observable in observables.items():
        here = name in book.quantities and spot in book.quantities[name].places
        if not (observable.in_every_book or here):
            continue
        if name not in book.quantities:
            yield _unknown(_BOOK, f"quantities.{name}", f"no file has the quantity {name}", f"Add [quantities.{name}]")
        else:
            yield from _known(book, name, spot, observable)
    for name, unit in stated.items():
        if name not in book.quantities:
            yield _unknown(_BOOK, f"quantities.{name}", f"no file has the quantity {name}", f"Add [quantities.{name}]")
        else:
            yield from _unit(book, name, Observable(stated=True, unit=unit), None)


def _known(book: Rulebook, name: str, spot: str, observable: Observable) -> Iterator[Fault]:
    quantity = book.quantities[name]
    file, key = book.files[name], f"quantities.{name}"
    if spot not in quantity.places:
        yield _unknown(file, f"{key}.places", f"{name} is observed at {spot}, which is missing", f"Add {spot!r}")
    if (quantity.kind == "number") != (not observable.words):
        kind = "word" if observable.words else "number"
        yield _unknown(file, f"{key}.kind", f"{name} is observed as a {kind}", "Change the kind")
        return
    for word in observable.words:
        if word not in quantity.vocabulary:
            problem = f"{name} can be observed to be {word!r}, which is missing"
            example = _one(book, observable, name, spot, word)
            yield _unknown(file, f"{key}.words", problem, f"Add {word!r}", example)
    if observable.unit is not None:
        yield from _unit(book, name, observable, _one(book, observable, name, spot, float(middle_of(quantity))))


def _unit(book: Rulebook, name: str, observable: Observable, example: Example | None) -> Iterator[Fault]:
    quantity = book.quantities[name]
    if quantity.unit != observable.unit:
        yield Fault(
            book.files[name],
            f"quantities.{name}.unit",
            "unit",
            f"{name} is observed in {observable.unit}, and would be taken as {quantity.unit}",
            f"Write {observable.unit!r}, for its rules too",
            example,
        )
    elif observable.stated and observable.unit != "mm" and observable.unit not in book.instruments:
        yield Fault(
            "readings.toml",
            f"instruments.{observable.unit}",
            "no-uncertainty",
            f"{name} can be stated in {observable.unit}, for which no uncertainty is given: it would be taken as exact",
            f'Add [instruments."{observable.unit}"]',
            None if example is None else replace(example, exact=False),
        )


def _one(book: Rulebook, observable: Observable, name: str, spot: str, value: float | str) -> Example:
    place = places_on(spot)[0]
    situation = next(
        each
        for each in ordinary_first(book)
        if each.stage in stages_of(book, name) and admits(observable.where, each, side_of(place))
    )
    return Example(situation, (Reading(name, place, value),))


def _unknown(file: str, key: str, problem: str, remedy: str, example: Example | None = None) -> Fault:
    return Fault(file, key, "not-known", f"{problem}, so a foot with it could not be judged", remedy, example)
