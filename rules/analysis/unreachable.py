"""Rules, contexts and texts that nothing ever comes to: no foot that can be read makes them count."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from rules.analysis.contexts import Situations, admitted, first_of, ordinary_first, places_on, read_at, stages_in
from rules.analysis.fault import Example, Fault
from rules.analysis.intervals import IntervalSet
from rules.engine.reading import Reading
from rules.model.records import STAGES, Context, Judges, Rule, Stage
from rules.number_line import middle_of, range_of, values_to_try, zone_of
from rules.rulebook import Rulebook
from rules.situation import Observables, Situation, side_of

__all__ = ["past", "reach"]

_Where = Mapping[str, Situations]
"""The situations at each place."""


def reach(book: Rulebook, observables: Observables, interval_sets: Iterable[IntervalSet]) -> Iterator[Fault]:
    """Single rules that no reading makes fire, words of contexts that never hold, actions for stages without a use."""
    fired = {
        rule_id
        for interval_set in interval_sets
        for point in interval_set.points
        for rule_id in interval_set.fired(point)
    }
    judges = book.judges
    read_of = {quantity: read_at(book, observables, quantity) for quantity in book.quantities}
    for rule_id, rule in book.rules.items():
        read = _read(book, rule, read_of)
        first = first_of(judges, read)
        if first is None:
            continue  # what cannot be read at all is told elsewhere
        applies = 0
        for place, situations in read.items():
            applies |= situations & admitted(judges, rule.applies, side_of(place))
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
                past(book, rule, *first),
            )
            continue
        yield from _contexts(file, key, rule.applies, read, judges, past(book, rule, *first))
        yield from _actions(file, key, rule.action, stages_in(judges, applies))
    # Places of a joined rule are those of what it rests on: any side may be met with.
    everywhere = (1 << len(ordinary_first(book))) - 1
    anywhere = dict.fromkeys(("foot", "medial_heel", "lateral_heel"), everywhere)
    for rule_id, joined in book.joined.items():
        yield from _contexts(book.files[rule_id], f"joined.{rule_id}", joined.applies, anywhere, judges, None)


def _read(book: Rulebook, rule: Rule, read_of: Mapping[str, _Where]) -> _Where:
    """Where the rule's quantity can be read at the rule's places, with all the words that it is joined with."""
    read: dict[str, Situations] = {}
    for spot in book.places_of(rule):
        for place in places_on(spot):
            read[place] = read_of[rule.quantity].get(place, 0)
            for name in rule.with_ or ():
                read[place] &= read_of[name].get(place, 0)
    return read


def _contexts(
    file: str,
    key: str,
    contexts: tuple[Context, ...] | None,
    read: _Where,
    judges: Judges,
    example: Example | None,
) -> Iterator[Fault]:
    for number, context in enumerate(contexts or ()):
        for name, words in context.model_dump(exclude_none=True).items():
            for word in words:
                narrowed = (context.model_copy(update={name: (word,)}),)
                if not any(admitted(judges, narrowed, side_of(place)) & read[place] for place in read):
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
