"""What is told as a list of things: signs seen on the foot, dark patches of the imprint, holds of the hot shoe."""

from __future__ import annotations

from collections.abc import Iterator

from fitcheck.errors import BadInput, Problem
from fitcheck.fitting.foot_observations import HEATS, Scorch
from fitcheck.fitting.input_value import MeasuredValue, measured_value, only_a_word
from fitcheck.fitting.model_base import GAP_PLACES
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.observables import fields_of
from fitcheck.measure.by_limit import computed_by
from fitcheck.measure.results import Readings
from rules import Reading, Rulebook

__all__ = ["dark", "holds", "seen", "stated_times"]

[(_, _CONTACT_TIME)] = fields_of("contact_time")
[(_, _FURTHER_TIMES)] = fields_of("inside_temperature")


def seen(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Each thing seen, at its place: seen, deep, or examined."""
    for each in fitting.observations.seen or ():
        yield Reading(f"seen_{each.what}", each.place, each.word)


def dark(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """Whether the imprint is darker at each place, where dark patches were looked for at all."""
    scorch = fitting.observations.scorch
    if scorch is not None and scorch.dark is not None:
        for place in GAP_PLACES:
            yield Reading("dark_patch", place, "yes" if place in scorch.dark else "no")


def holds(fitting: Fitting, readings: Readings, book: Rulebook) -> Iterator[Reading]:
    """The longest hold, as the contact time, and the hottest heat, where the shoe's heat is not said otherwise.

    Also the longest hold (s) of those at which the shoe was dull, where each has its time.
    """
    scorch = fitting.observations.scorch
    if scorch is None or scorch.holds is None:
        return
    seconds = stated_times(scorch, book)
    if seconds:
        yield Reading("contact_time", "foot", *max(seconds))
        rule = computed_by("dull_hold", book)
        heats_of_dull = () if rule is None else (rule.with_ or {}).get("shoe_heat", ())
        dull = [each for each, hold in zip(seconds, scorch.holds, strict=True) if hold.heat in heats_of_dull]
        if dull:
            yield Reading("dull_hold", "foot", *max(dull))
    heats = [hold.heat for hold in scorch.holds if hold.heat is not None]
    if heats and scorch.shoe_heat is None:
        yield Reading("shoe_heat", "foot", max(heats, key=HEATS.index))


def stated_times(scorch: Scorch, book: Rulebook) -> list[MeasuredValue]:
    """How long each hold lasted (s); none where of any one there is but a word, so that none is left out.

    Raises fitcheck.errors.BadInput when further contact times stand without the longest, or exceed it.
    """
    if scorch.holds is not None:
        each = [hold.seconds for hold in scorch.holds]
        if any(only_a_word(seconds, "contact_time", book) for seconds in each):
            return []
        return [measured_value(seconds, "contact_time", book) for seconds in each]
    further = [measured_value(each, "contact_time", book) for each in scorch.further_contact_times or ()]
    if scorch.contact_time is None or only_a_word(scorch.contact_time, "contact_time", book):
        if further:
            problem = Problem(
                _CONTACT_TIME,
                None,
                "the longest single application, in s",
                "Further contact times are given without it: the heat cannot be added up.",
            )
            raise BadInput([problem])
        return []
    longest = measured_value(scorch.contact_time, "contact_time", book)
    problems = [
        Problem(
            f"{_FURTHER_TIMES}.{number}",
            time.value,
            f"at most contact_time, {longest.value:g} s",
            "contact_time is the longest single application: this one is longer.",
        )
        for number, time in enumerate(further)
        if time.value > longest.value
    ]
    if problems:
        raise BadInput(problems)
    return [longest, *further]
