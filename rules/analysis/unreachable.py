"""Rules, contexts and texts that nothing ever comes to: no foot that can be read makes them count."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rules.analysis.contexts import is_read, ordinary_first, places_on, read_at
from rules.analysis.fault import Example, Fault
from rules.analysis.intervals import IntervalSet
from rules.engine.reading import Reading
from rules.model.records import STAGES, Context, Rule, Stage
from rules.number_line import middle_of, range_of, values_to_try, zone_of
from rules.rulebook import Rulebook
from rules.situation import Observables, Situation, admits, side_of

__all__ = ["past", "reach"]

Where = tuple[str, Situation]


def reach(book: Rulebook, observables: Observables, interval_sets: Iterable[IntervalSet]) -> Iterator[Fault]:
    """Single rules that no reading makes fire, words of contexts that never hold, actions for stages without a use."""
    fired = {
        rule_id
        for interval_set in interval_sets
        for point in interval_set.points
        for rule_id in interval_set.fired(point)
    }
    read_of = {quantity: [*read_at(book, observables, quantity)] for quantity in book.quantities}
    for rule_id, rule in book.rules.items():
        read = _read(book, observables, rule, read_of[rule.quantity])
        if not read:
            continue  # what cannot be read at all is told elsewhere
        applies = [(place, situation) for place, situation in read if admits(rule.applies, situation, side_of(place))]
        file, key = book.files[rule_id], f"rules.{rule_id}"
        if rule_id not in fired:
            yield Fault(
                file,
                f"{key}.applies"
                if not applies
                else f"{key}.{'is' if rule.is_ else 'high' if rule.low is None else 'low'}",
                "unreachable",
                "no reading ever makes this rule fire: "
                + (
                    "its quantity is never read where it applies"
                    if not applies
                    else "wherever it would, it is silenced"
                ),
                "Correct applies" if not applies else "Correct the limit or unless",
                past(book, rule, *read[0]),
            )
            continue
        yield from _contexts(file, key, rule.applies, read, past(book, rule, *read[0]))
        yield from _actions(file, key, rule.action, {situation.stage for _, situation in applies})
    for rule_id, joined in book.joined.items():
        # Places of a joined rule are those of what it rests on: any side may be met with.
        anywhere = [
            (place, situation)
            for situation in ordinary_first(book)
            for place in ("foot", "medial_heel", "lateral_heel")
        ]
        yield from _contexts(book.files[rule_id], f"joined.{rule_id}", joined.applies, anywhere, None)


def _read(book: Rulebook, observables: Observables, rule: Rule, read: Iterable[Where]) -> list[Where]:
    """Where of all that ``read`` has, the rule's quantity can be read at the rule's places."""
    places = {place for spot in book.places_of(rule) for place in places_on(spot)}
    return [
        (place, situation)
        for place, situation in read
        if place in places and all(is_read(book, observables, name, place, situation) for name in rule.with_ or ())
    ]


def _contexts(
    file: str, key: str, contexts: tuple[Context, ...] | None, read: list[Where], example: Example | None
) -> Iterator[Fault]:
    for number, context in enumerate(contexts or ()):
        for name, words in context.model_dump(exclude_none=True).items():
            for word in words:
                narrowed = (context.model_copy(update={name: (word,)}),)
                if not any(admits(narrowed, situation, side_of(place)) for place, situation in read):
                    yield Fault(
                        file,
                        f"{key}.applies.{number}.{name}",
                        "context-never-holds",
                        f"nothing is ever read where {name} is {word!r} and the rest of this context holds",
                        f"Take {word!r} out, or this context",
                        example,
                    )


def _actions(file: str, key: str, actions: Iterable[Stage], stages: set[Stage]) -> Iterator[Fault]:
    for stage in STAGES:
        if stage in actions and stage not in stages:
            yield Fault(
                file,
                f"{key}.action.{stage}",
                "action-never-said",
                f"the rule never applies at the stage {stage}, so this action is never said",
                "Take it out, or widen applies or the criterion's stages",
            )


def past(book: Rulebook, rule: Rule, place: str, situation: Situation) -> Example | None:
    """A foot with a reading past the rule's limit, whatever else is in force there; None where none is possible."""
    with_ = [Reading(name, place, words[0]) for name, words in (rule.with_ or {}).items()]
    if rule.is_ is not None:
        return Example(situation, (Reading(rule.quantity, place, rule.is_[0]), *with_))
    zone = zone_of(rule)
    sizes = {name: middle_of(book.quantities[name]) for line in zone.lines if (name := line.of) is not None}
    dimensions = tuple(Reading(name, "foot", float(size)) for name, size in sizes.items())
    for value in values_to_try(zone.lines, sizes, *range_of(book.quantities[rule.quantity])):
        if zone.end(value, sizes):
            return Example(situation, (*dimensions, Reading(rule.quantity, place, float(value)), *with_))
    return None
