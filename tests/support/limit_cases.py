"""The table of cases for the limits: what a case is, how its file is read, and where it stands to its limit."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from rules import Reading, Rulebook, Situation
from rules.limits import guard_factor
from rules.model.records import Clause, Limit, Rule, Scaled
from rules.situation import VOCABULARY, spot_of

__all__ = ["Case", "beyond", "ends_of", "limit_at", "load", "misplaced", "parse", "read_by"]

_CIRCUMSTANCES: Final = set(VOCABULARY) - {"side"}


class Strict(BaseModel):
    """Base of the tables: no unknown keys, no other types."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


class Read(Strict):
    """One reading; ``u``, its standard uncertainty in the quantity's own unit, belongs to a number."""

    quantity: str
    place: str
    value: float | str
    u: Annotated[float, Field(ge=0)] | None = None

    @model_validator(mode="after")
    def _a_number_has_its_u(self) -> Read:
        if isinstance(self.value, str) != (self.u is None):
            raise ValueError("a number, and only a number, has its u")
        return self


class Case(Strict):
    """One case.

    ``where``: below, at or above the limit of ``rule``; word; elsewhere (it would fire but for its context); joined (a
    joined rule fires); missing (its clause number ``clause``, and no other, does not hold).  ``end`` names the end of
    a two-sided limit, ``edge`` the guarded edge or the bare limit of a guarded one.  ``expect`` lists every finding
    as rule@place; ``silent`` the rules that the case is there to keep quiet.
    """

    name: str = Field(min_length=20)
    rule: str
    where: Literal["below", "at", "above", "word", "elsewhere", "joined", "missing"]
    source: str = Field(min_length=2)
    given: dict[str, str] = {}
    readings: list[Read] = Field(min_length=1)
    expect: list[str]
    silent: list[str] = []
    end: Literal["low", "high"] | None = None
    edge: Literal["guarded", "bare"] | None = None
    clause: Annotated[int, Field(ge=0)] | None = None

    @property
    def situation(self) -> Situation:
        """What holds for the whole foot; the words were checked on loading."""
        return Situation(**self.given)  # type: ignore[arg-type]

    @property
    def table(self) -> dict[tuple[str, str], Reading]:
        """The readings by quantity and place."""
        return {
            (each.quantity, each.place): Reading(each.quantity, each.place, each.value, each.u or 0.0)
            for each in self.readings
        }

    def fires(self, rule_id: str, at: str | None = None) -> bool:
        """Whether the rule is expected to fire (at ``at``, where ``nail`` stands for any nail)."""
        places = [place for rule, _, place in (found.partition("@") for found in self.expect) if rule == rule_id]
        return any(at in {None, place, spot_of(place)} for place in places)

    def reads(self, quantity: str, word: str | None = None) -> bool:
        """Whether the quantity is read at all (and is ``word``)."""
        return any(each.quantity == quantity and word in {None, each.value} for each in self.readings)


class _File(Strict):
    given: dict[str, str]
    case: list[Case]


def load(path: Path) -> list[Case]:
    """The cases of one file, each with the file's circumstances where it names none itself."""
    return parse(path.read_text(encoding="utf-8"))


def parse(text: str) -> list[Case]:
    """The cases of one file's text.  Raises ValueError for anything that the tables do not know."""
    file = _File.model_validate(tomllib.loads(text))
    cases = [case.model_copy(update={"given": {"stance": "regular"} | file.given | case.given}) for case in file.case]
    for case in cases:
        if set(case.given) != _CIRCUMSTANCES or any(word not in VOCABULARY[key] for key, word in case.given.items()):
            raise ValueError(f"{case.name}: {case.given} are not the circumstances of a foot")
        if len(case.table) != len(case.readings):
            raise ValueError(f"{case.name}: a reading stands twice")
    return cases


def ends_of(limited: Rule | Clause) -> tuple[str, ...]:
    """Which of low and high the rule or clause has."""
    return tuple(end for end, limit in (("low", limited.low), ("high", limited.high)) if limit is not None)


def limit_at(limited: Rule | Clause, end: str) -> Limit | None:
    """The limit at that end."""
    return limited.low if end == "low" else limited.high


def read_by(book: Rulebook, case: Case, rule_id: str) -> list[Reading]:
    """The readings of a single rule's quantity, wherever they were made."""
    return [reading for (quantity, _), reading in case.table.items() if quantity == book.rules[rule_id].quantity]


def _stands(book: Rulebook, case: Case, limited: Rule | Clause, reading: Reading, end: str) -> str:
    """Whether ``reading`` is below, at or above the limit, to a millionth of its unit.

    A guarded limit is taken at its guarded edge (JCGM 106) unless the case is about the bare limit.
    """
    limit = limit_at(limited, end)
    value, u = float(reading.value), reading.u
    if isinstance(limit, Scaled):
        dimension = case.table[limit.of, "foot"]
        value -= limit.times * float(dimension.value)
        u = math.hypot(u, limit.times * dimension.u)
        limit = limit.plus
    if limited.fires == "guarded" and case.edge != "bare":
        value += guard_factor(book.levels["guarded"].probability) * u * (-1 if end == "low" else 1)
    past = round((value - (limit or 0.0)) * 1_000_000)
    return "at" if past == 0 else "below" if past < 0 else "above"


def beyond(book: Rulebook, case: Case, rule: Rule, reading: Reading) -> bool:
    """Whether ``rule`` would fire on ``reading`` if it looked there; an unknown dimension is no obstacle."""
    if rule.is_ is not None:
        return reading.value in rule.is_
    for end in ends_of(rule):
        limit = limit_at(rule, end)
        if isinstance(limit, Scaled) and (limit.of, "foot") not in case.table:
            return True
        position = _stands(book, case, rule, reading, end)
        if position == ("below" if end == "low" else "above") or (rule.edge is not None and position == "at"):
            return True
    return False


def misplaced(book: Rulebook, case: Case) -> Iterator[str]:
    """What is wrong with the case's own account of itself: ``where``, ``end``, ``edge``, ``clause``, ``silent``."""
    if any(case.fires(rule_id) for rule_id in case.silent):
        yield "a rule is to fire and to be silent at once"
    if case.rule in book.joined:
        yield from _misplaced_joined(book, case)
        return
    rule = book.rules[case.rule]
    readings = read_by(book, case, case.rule)
    if len(readings) != 1 or case.clause is not None:
        yield "a case of a single rule has one reading of its quantity"
    elif case.where == "elsewhere":
        if not beyond(book, case, rule, readings[0]) or case.fires(case.rule):
            yield "elsewhere, a rule would fire but for its context"
    elif (case.where == "word") != (rule.is_ is not None):
        yield f"{case.where} does not suit this kind of rule"
    elif rule.is_ is None:
        yield from _misplaced_number(book, case, rule, readings[0])


def _misplaced_number(book: Rulebook, case: Case, limited: Rule | Clause, reading: Reading) -> Iterator[str]:
    ends = ends_of(limited)
    if (case.end is None) != (len(ends) == 1) or (case.edge is None) != (limited.fires != "guarded"):
        yield "end is for two-sided limits, edge for guarded ones"
    elif _stands(book, case, limited, reading, case.end or ends[0]) != case.where:
        yield f"the reading is not {case.where} the limit"


def _misplaced_joined(book: Rulebook, case: Case) -> Iterator[str]:
    joined = book.joined[case.rule]
    if case.where == "joined":
        if not case.fires(case.rule):
            yield "joined, yet it is not expected to fire"
    elif case.clause is None:
        yield "the clause is not named"
    elif case.where == "missing":
        held = [_holds(book, case, clause) for clause in joined.when]
        if held != [number != case.clause for number in range(len(held))] or case.fires(case.rule):
            yield f"clause {case.clause}, and no other, must be missing; held: {held}"
    else:
        clause = joined.when[case.clause]
        yield from _misplaced_number(book, case, clause, case.table[clause.reading or "", clause.at or ""])


def _holds(book: Rulebook, case: Case, clause: Clause) -> bool:
    if clause.findings is not None:
        return any(case.fires(rule_id, clause.at) for rule_id in clause.findings)
    reading = case.table.get((clause.reading or "", clause.at or ""))
    if reading is None:
        return False
    if clause.clear_of is not None:
        return not any(case.fires(rule_id, clause.at) for rule_id in clause.clear_of)
    past: dict[str, Any] = {"low": "below", "high": "above"}
    return any(_stands(book, case, clause, reading, end) == past[end] for end in ends_of(clause))
