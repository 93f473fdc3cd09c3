"""json-logic in Rust (datalogic-py), used as fast as was found: one list of values and one evaluation a fitting.

Most of what a case costs here is making the facts in Python and handing them over.  A list goes over six times as fast
as an object with names, and one expression that answers with what fired takes half the time of rules one by one.
So there is a form for each set of readings that was met, kept for the next fitting with the same set: where each
reading stands in the list, and all rules of these readings as one compiled expression.  Tried and slower: an object and
``Session.evaluate_many`` for each place, an object for the foot, one expression a place, whether any rule holds asked
first, one expression for all readings that there can be.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from operator import itemgetter
from typing import Any, Final, NamedTuple

from datalogic_py import DataHandle, Engine, Session

from benchmarks.json_logic_form import json_logic
from benchmarks.peer_rules import MILLION, Expression, Findings, Layers
from rules import Reading, Rulebook
from rules.situation import side_of, spot_of

__all__ = ["DatalogicPeer"]

_KEY: Final = itemgetter(0, 1)
_VALUE: Final = 2
_KNOWN: Final = "known_"


class _Moved(NamedTuple):
    """A number that is more than a reading's value: moved by ``shift`` uncertainties, less ``times`` a dimension."""

    reading: int
    shift: float
    times: float
    size: int | None


class _Form(NamedTuple):
    """One set of readings: by their number, what is a word, a plain number and a moved one; what each answer means."""

    words: list[int]
    plain: list[int]
    moved: list[_Moved]
    meant: list[tuple[str, str]]
    ask: Callable[[DataHandle], Any]


class DatalogicPeer(Layers):
    """``book`` in one session."""

    def __init__(self, book: Rulebook) -> None:
        engine = Engine()
        session: Session = engine.session()
        super().__init__(book, lambda expression: expression, session.evaluate, list)
        self._engine, self._session = engine, session
        # Single rules stay as they are, to become part of forms; second-layer rules are asked one by one.
        self._second = [each._replace(form=engine.compile(json_logic(each.form))) for each in self._second]
        self._forms: dict[tuple[tuple[str, str], ...], _Form] = {}

    def evaluate(self, situation: Mapping[str, str], readings: Iterable[Reading]) -> Findings:
        """Every (rule, place) that is found."""
        taken: list[Any] = list(readings)
        key = tuple(map(_KEY, taken))
        form = self._forms.get(key)
        if form is None:
            form = self._forms[key] = self._form(tuple(situation), taken)
        values: list[Any] = list(situation.values())
        values += [taken[number][_VALUE] for number in form.words]
        values += [round(taken[number][_VALUE] * MILLION) for number in form.plain]
        for number, shift, times, of in form.moved:
            _, _, value, u, _, _ = taken[number]
            if of is not None:
                size = taken[of]
                value -= times * size.value
                u = math.hypot(u, times * size.u)
            values.append(round((value + shift * u) * MILLION))
        meant = form.meant
        found = {meant[number] for number in form.ask(DataHandle(values))}
        if found:
            self._join(situation, taken, found)
        return found

    def _form(self, circumstances: tuple[str, ...], readings: list[Reading]) -> _Form:
        sizes = {
            each.quantity: number
            for number, each in enumerate(readings)
            if each.place == "foot" and each.quantity in self._dimensions
        }
        words, plain, moved = self._columns(readings, sizes)
        stands = {each: number for number, each in enumerate([*words, *plain, *moved], len(circumstances))}

        def given(place: str, field: str) -> Any:
            if field in circumstances:
                return {"var": circumstances.index(field)}
            if field == "side":
                return side_of(place) or "none"
            if field.startswith(_KNOWN):
                return "yes" if field.removeprefix(_KNOWN) in sizes else "no"
            if field in self._bars:
                return _barred(place, *self._bars[field], readings, stands)
            at = stands.get((field, place))
            return None if at is None else {"var": at}

        asked: list[tuple[tuple[str, str], Expression]] = [
            ((rule_id, place), expression)
            for quantity, place, *_ in readings
            for rule_id, expression in self._asked.get((quantity, spot_of(place)), ())
        ]
        fired = [
            {"if": [json_logic(expression, partial(given, place)), number, []]}
            for number, ((_, place), expression) in enumerate(asked)
        ]
        rule = self._engine.compile({"merge": fired})
        return _Form(
            list(words.values()),
            list(plain.values()),
            list(moved.values()),
            [meant for meant, _ in asked],
            partial(self._session.evaluate_data, rule),
        )

    def _columns(
        self, readings: list[Reading], sizes: Mapping[str, int]
    ) -> tuple[dict[tuple[str, str], int], dict[tuple[str, str], int], dict[tuple[str, str], _Moved]]:
        """By field and place, what is a word, a plain number and a moved one."""
        words: dict[tuple[str, str], int] = {}
        plain: dict[tuple[str, str], int] = {}
        moved: dict[tuple[str, str], _Moved] = {}
        for number, (quantity, place, value, _, _, _) in enumerate(readings):
            if isinstance(value, str):
                words[quantity, place] = number
                continue
            for field, times, of, shift in self._terms.get(quantity, ()):
                if of is None and not shift:
                    plain[field, place] = number
                elif of is None or of in sizes:
                    moved[field, place] = _Moved(number, shift, times, None if of is None else sizes[of])
        return words, plain, moved


def _barred(
    place: str,
    quantity: str,
    words: tuple[str, ...],
    readings: Iterable[Reading],
    stands: Mapping[tuple[str, str], int],
) -> Any:
    """Whether the quantity was read at the place or of the foot, as one of ``words`` where there are any: yes or no."""
    read = {(each.quantity, each.place) for each in readings}
    where = next(((quantity, each) for each in (place, "foot") if (quantity, each) in read), None)
    if where is None or not words:
        return "no" if where is None else "yes"
    return {"if": [{"in": [{"var": stands[where]}, list(words)]}, "yes", "no"]}
