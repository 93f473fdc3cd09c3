"""A second evaluator of the rulebook: CLIPS, fed from the same TOML files and from nothing else.

It was written from the description of the rulebook's format and shares no code with ``rules`` or ``fitcheck``: it
parses the files itself, finds its own quantile of the normal distribution, and leaves every comparison, every
silencing and every joining to CLIPS.  Where two evaluators made in different ways agree, a fault would have to have
been made twice.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from pathlib import Path
from statistics import NormalDist
from typing import Any, Final

import clips

__all__ = ["ClipsEvaluator", "Findings", "quantile"]

Findings = dict[tuple[str, str], frozenset[str]]
"""What was found: (rule, place), and for a joined rule all that it rests on, as ``name@place``."""

Table = dict[str, Any]

_SITUATION: Final = ("foot", "stage", "work", "hoof_form", "stance", "hot_fitted")
_MILLION: Final = 1_000_000
_WIDTH: Final = 3  # items of a finding in CLIPS's report

_CONSTRUCTS: Final = (
    "(deftemplate situation (slot foot) (slot stage) (slot work) (slot hoof_form) (slot stance) (slot hot_fitted))",
    "(deftemplate reading (slot quantity) (slot place) (slot spot) (slot side) (slot value) (slot u))",
    "(deftemplate finding (slot rule) (slot place) (slot spot))",
    "(deftemplate basis (slot rule) (slot place) (slot on))",
    # Every nail is at the spot 'nail'; any other place is its own spot.
    """(deffunction spot-of (?place)
         (if (eq (sub-string 1 5 ?place) "nail:") then nail else ?place))""",
    """(deffunction side-of (?place)
         (bind ?name (if (eq (spot-of ?place) nail) then (sub-string 6 (str-length ?place) ?place) else ?place))
         (if (eq (str-index "medial" ?name) 1) then (return medial))
         (if (eq (str-index "lateral" ?name) 1) then (return lateral))
         none)""",
    """(deffunction feed (?foot ?stage ?work ?hoof-form ?stance ?hot-fitted $?given)
         (assert (situation (foot ?foot) (stage ?stage) (work ?work) (hoof_form ?hoof-form)
                            (stance ?stance) (hot_fitted ?hot-fitted)))
         (loop-for-count (?number 1 (div (length$ ?given) 4))
           (bind ?last (* 4 ?number))
           (bind ?place (nth$ (- ?last 2) ?given))
           (assert (reading (quantity (nth$ (- ?last 3) ?given)) (place ?place)
                            (spot (spot-of ?place)) (side (side-of ?place))
                            (value (nth$ (- ?last 1) ?given)) (u (nth$ ?last ?given))))))""",
    """(deffunction report ()
         (bind ?lines (create$))
         (do-for-all-facts ((?f finding)) TRUE (bind ?lines (create$ ?lines ?f:rule ?f:place nil)))
         (do-for-all-facts ((?b basis)) TRUE (bind ?lines (create$ ?lines ?b:rule ?b:place ?b:on)))
         ?lines)""",
)


def quantile(probability: float) -> float:
    """The k for which a standard normal variable exceeds k with ``probability`` (at most 0.5), by bisection.

    >>> round(quantile(0.05), 6), round(quantile(0.5), 6)
    (1.644854, 0.0)
    """
    least, most = 0.0, 40.0
    for _ in range(200):
        middle = (least + most) / 2
        if math.erfc(middle / math.sqrt(2)) / 2 > probability:
            least = middle
        else:
            most = middle
    return most


class ClipsEvaluator:
    """The rulebook in ``folder`` as CLIPS rules.  The environment is kept; each evaluation starts from no facts."""

    def __init__(self, folder: Path) -> None:
        self._env = clips.Environment()
        self._symbols: dict[str, clips.Symbol] = {}
        writer = _Writer(folder)
        self._two_ended = writer.two_ended
        for construct in (*_CONSTRUCTS, *writer.rules()):
            self._env.build(construct)

    def evaluate(
        self, situation: Mapping[str, str], readings: Iterable[tuple[str, str, float | str, float]]
    ) -> Findings:
        """What is found in ``situation`` on ``readings``: tuples of quantity, place, number or word, and u."""
        given: list[Any] = [self._symbol(situation[key]) for key in _SITUATION]
        for quantity, place, value, u in readings:
            shown = self._symbol(value) if isinstance(value, str) else float(value)
            given += (self._symbol(quantity), self._symbol(place), shown, float(u))
            # CLIPS knows no normal distribution: the chance is told to it as a reading more.
            for rule_id, low, high in self._two_ended.get(quantity, ()):
                likely = _outside(float(value), float(u), low, high)
                given += (self._symbol(_chance_of(rule_id)), self._symbol(place), likely, 0.0)
        self._env.reset()
        # One call for all facts: clipspy keeps every fact that it hands to Python, and slows down with them.
        self._env.call("feed", *given)
        self._env.run()
        return _collected(self._env.call("report"))

    def _symbol(self, word: str) -> clips.Symbol:
        if word not in self._symbols:
            self._symbols[word] = clips.Symbol(word)
        return self._symbols[word]


def _chance_of(rule_id: str) -> str:
    return f"chance-of-{rule_id}"


def _outside(value: float, u: float, low: float, high: float) -> float:
    """The chance that a normal variable lies outside two ends; none of it where its mean is on one of them."""
    if min(abs(value - low), abs(value - high)) <= 1e-9:
        return 0.0
    if u == 0:
        return 0.0 if low < value < high else 1.0
    spread = NormalDist(value, u)
    return spread.cdf(low) + 1 - spread.cdf(high)


def _collected(lines: tuple[str, ...]) -> Findings:
    rests: dict[tuple[str, str], set[str]] = {}
    for start in range(0, len(lines), _WIDTH):
        rule, place, on = lines[start : start + _WIDTH]
        known = rests.setdefault((str(rule), str(place)), set())
        if on != "nil":
            known.add(str(on))
    return {found: frozenset(on) for found, on in rests.items()}


class _Writer:
    """Writes a rulebook's rules as CLIPS constructs."""

    def __init__(self, folder: Path) -> None:
        self._quantities: Table = {}
        self._single: Table = {}
        self._joined: Table = {}
        probability = Decimal(0)
        for file in sorted(folder.glob("*.toml")):
            # Decimals, so that a limit is the very figure that the file shows.
            table = tomllib.loads(file.read_text(encoding="utf-8"), parse_float=Decimal)
            self._quantities |= table.get("quantities", {})
            self._single |= table.get("rules", {})
            self._joined |= table.get("joined", {})
            probability = table.get("levels", {}).get("guarded", {}).get("probability", probability)
        self._k = quantile(float(probability))
        book = tomllib.loads((folder / "book.toml").read_text(encoding="utf-8"))
        self.two_ended: dict[str, list[tuple[str, float, float]]] = {}
        """Of a book that judges by chance: the rules on a quantity that have two ends, each with these."""
        for rule_id, rule in self._single.items() if book.get("judges", {}).get("by_chance") else ():
            if "low" in rule and "high" in rule and rule["fires"] == "simple":
                if isinstance(rule["low"], dict) or isinstance(rule["high"], dict):
                    raise ValueError(f"{rule_id}: of two ends each is a plain number")
                ends = float(_in_mm(rule["low"])), float(_in_mm(rule["high"]))
                self.two_ended.setdefault(rule["quantity"], []).append((rule_id, *ends))

    def rules(self) -> Iterator[str]:
        """Every defrule: one for each rule, end of its range and context; one for each joined rule and context."""
        for rule_id, rule in self._single.items():
            for number, context in enumerate(_contexts(rule)):
                likely = any(rule_id == each for each, _, _ in self.two_ended.get(rule["quantity"], ()))
                for end in ("is",) if "is" in rule else ("low", "high", "chance"):
                    if end in rule or (end == "chance" and likely):
                        yield self._single_rule(f"{rule_id}.{end}.{number}", rule_id, end, context)
        for rule_id, joined in self._joined.items():
            for number, context in enumerate(_contexts(joined)):
                yield self._joined_rule(f"{rule_id}.joined.{number}", rule_id, context)

    def _single_rule(self, name: str, rule_id: str, end: str, context: Table) -> str:
        rule = self._single[rule_id]
        places = rule.get("places") or self._quantities[rule["quantity"]]["places"]
        side = f"(side {_any(context['side'])})" if "side" in context else ""
        value = f"(value {_any(rule['is'])})" if end == "is" else "(value ?v0) (u ?u0)"
        parts = [f"(reading (quantity {rule['quantity']}) (spot {_any(places)}) {side} (place ?p) {value})"]
        if end == "chance":
            parts[0] = parts[0].replace(f"(quantity {rule['quantity']})", f"(quantity {_chance_of(rule_id)})")
            parts.append("(test (> (round (* 1000000 ?v0)) 500000))")
        elif end != "is":
            parts += self._past(rule, end)
        parts += [
            f"(reading (quantity {quantity}) (place ?p) (value {_any(words)}))"
            for quantity, words in rule.get("with", {}).items()
        ]
        for number, (quantity, words) in enumerate(rule.get("without", {}).items()):
            value = f"(value {_any(words)})" if words else ""
            place = f"(place ?b{number}&:(or (eq ?b{number} ?p) (eq ?b{number} foot)))"
            parts.append(f"(not (reading (quantity {quantity}) {place} {value}))")
        parts.append(_situation(context))
        # A graver rule has the higher salience, so that it has spoken before this one may.
        parts += [f"(not (finding (rule {graver}) (place ?p)))" for graver in rule.get("unless", ())]
        found = f"(assert (finding (rule {rule_id}) (place ?p) (spot (spot-of ?p))))"
        return _defrule(name, -self._waits_for(rule_id), parts, [found])

    def _joined_rule(self, name: str, rule_id: str, context: Table) -> str:
        joined = self._joined[rule_id]
        if "side" in context:
            raise ValueError(f"{rule_id}: a joined rule looks at the whole foot, which has no side")
        parts, bases = [_situation(context)], []
        for number, clause in enumerate(joined["when"]):
            rule, place, at = f"?r{number}", f"?p{number}", clause.get("at")
            if "findings" in clause:
                where = f"(spot {at})" if at else ""
                parts.append(f"(finding (rule {rule}&{_any(clause['findings'])}) (place {place}) {where})")
                bases.append((rule, place))
                continue
            parts.append(
                f"(reading (quantity {clause['reading']}) (place {place}&{at}) (value ?v{number}) (u ?u{number}))"
            )
            bases.append((clause["reading"], place))
            if "clear_of" in clause:
                parts.append(f"(not (finding (rule {_any(clause['clear_of'])}) (place {at})))")
                continue
            ends = [end for end in ("low", "high") if end in clause]
            if len(ends) != 1:
                raise ValueError(f"{rule_id}: a clause looks at one end of a range")
            parts += self._past(clause, ends[0], number)
        place = "?p0" if joined["place"] == "of_first" else joined["place"]
        found = [f"(assert (finding (rule {rule_id}) (place {place}) (spot (spot-of {place}))))"]
        found += [
            f'(assert (basis (rule {rule_id}) (place {place}) (on (sym-cat {what} "@" {where}))))'
            for what, where in bases
        ]
        return _defrule(name, -100 - self._waits_for(rule_id), parts, found)

    def _past(self, limited: Table, end: str, number: int = 0) -> list[str]:
        """Patterns and tests that hold where reading ``number`` lies past that end; whole millionths compare."""
        limit, value, u = limited[end], f"?v{number}", f"?u{number}"
        parts = []
        if isinstance(limit, dict):
            times = float(limit["times"])
            dimension, its_u = f"?d{number}", f"?du{number}"
            parts.append(f"(reading (quantity {limit['of']}) (place foot) (value {dimension}) (u {its_u}))")
            value = f"(- {value} (* {times!r} {dimension}))"
            u = f"(sqrt (+ (* {u} {u}) (** (* {times!r} {its_u}) 2)))"
            limit = limit.get("plus", 0)
        limit = _in_mm(limit)
        if limited["fires"] == "guarded":
            value = f"({'-' if end == 'low' else '+'} {value} (* {self._k!r} {u}))"
        operator = ("<" if end == "low" else ">") + ("=" if limited.get("edge") == "fires" else "")
        parts.append(f"(test ({operator} (round (* {_MILLION} {value})) {_millionths(limit)}))")
        return parts

    def _waits_for(self, rule_id: str) -> int:
        """How many steps must have been taken before ``rule_id`` can know that it stands."""
        if rule_id in self._single:
            before = self._single[rule_id].get("unless", ())
        else:
            clauses = self._joined[rule_id]["when"]
            before = [name for clause in clauses for name in clause.get("findings", ()) if name in self._joined]
        return max((1 + self._waits_for(name) for name in before), default=0)


def _contexts(rule: Table) -> list[Table]:
    """The contexts of a rule, the full and the close side written out by stance."""
    by_stance = {"full": ("lateral", "medial"), "close": ("medial", "lateral")}
    contexts: list[Table] = []
    for context in rule.get("applies", [{}]):
        named = [side for side in context.get("side", ()) if side in by_stance]
        contexts += [context] if not named else []
        for side in named:
            for stance, branch in zip(("base_narrow", "base_wide"), by_stance[side], strict=True):
                contexts.append({**context, "stance": [stance], "side": [branch]})
    return contexts


def _in_mm(limit: Decimal | int | str) -> Decimal | int:
    """A limit in inches, such as "1 5/8 in", in mm."""
    if not isinstance(limit, str):
        return limit
    whole, _, fraction = limit.lstrip("-").removesuffix(" in").rpartition(" ")
    over, under = fraction.split("/")
    inches = Decimal(whole or 0) + Decimal(over) / Decimal(under)
    return inches * Decimal("25.4") * (-1 if limit.startswith("-") else 1)


def _defrule(name: str, salience: int, parts: list[str], found: list[str]) -> str:
    return f"(defrule {name} (declare (salience {salience})) {' '.join(parts)} => {' '.join(found)})"


def _situation(context: Table) -> str:
    slots = [f"({key} {_any(words)})" for key, words in context.items() if key != "side"]
    return f"(situation {' '.join(slots)})"


def _any(words: Iterable[str]) -> str:
    return "|".join(words)


def _millionths(limit: Decimal | int) -> int:
    scaled = Decimal(limit) * _MILLION
    if scaled != int(scaled):
        raise ValueError(f"the limit {limit} is finer than a millionth")
    return int(scaled)
