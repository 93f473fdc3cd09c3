"""Which two feet can be held together, and what comes of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from fitcheck.assessment.actions import working_order
from fitcheck.assessment.assess import cautions_of, measurements_of
from fitcheck.assessment.findings import build_findings
from fitcheck.assessment.joint import standing
from fitcheck.assessment.models import Conforming, RulebookIdentity
from fitcheck.assessment.too_uncertain import too_uncertain
from fitcheck.fitting.models import FittedFoot, Fitting
from fitcheck.fitting.pair_rows import PAIR_ROWS, PairRow
from fitcheck.fitting.readings import readings_of, situation_of
from fitcheck.measure import measured
from fitcheck.pairs.differences import Lacking, Table, difference
from fitcheck.pairs.models import NotCompared, PairAssessment, Reason
from fitcheck.text.catalogue import Messages, messages_of
from rules import Firing, Reading, Rulebook, Situation, evaluator_for, in_force, shipped_rulebook, table_of, verify
from rules.model.records import Foot
from rules.situation import admits, side_of

__all__ = ["FEET", "PAIRS", "assess_pair", "pairs_of"]

PAIRS: Final[Mapping[Foot, tuple[FittedFoot, FittedFoot]]] = {
    "fore": ("left_fore", "right_fore"),
    "hind": ("left_hind", "right_hind"),
}
"""The left foot and the right one of each pair."""

FEET: Final[tuple[FittedFoot, ...]] = tuple(foot for feet in PAIRS.values() for foot in feet)
"""The four feet."""

_ALL: Final = "pair"
_LIKENESS: Final[tuple[Reason, ...]] = ("stage", "work", "hoof_form")
"""What both feet must have alike."""


def pairs_of(fittings: Iterable[Fitting], book: Rulebook | None = None) -> tuple[PairAssessment, ...]:
    """The fore pair and the hind pair among the ``fittings`` of one visit, by ``book`` (the shipped one when None).

    Of several fittings of one foot the last counts.  A pair that cannot be compared says why.  Raises what
    :func:`assess_pair` raises.
    """
    book = book or shipped_rulebook()
    latest = {fitting.foot: fitting for fitting in fittings}
    return tuple(_pair(pair, latest, book) for pair in PAIRS)


def _pair(pair: Foot, latest: Mapping[FittedFoot, Fitting], book: Rulebook) -> PairAssessment:
    left, right = (latest.get(foot) for foot in PAIRS[pair])
    if left is not None and right is not None:
        return assess_pair(left, right, book)
    seen = [fitting for fitting in (left, right) if fitting is not None]
    missing = tuple(foot for foot in PAIRS[pair] if foot not in latest)
    messages = messages_of(book)
    if seen:
        say = messages.say("pair.one_foot", missing=_called(missing[0], messages), seen=_called(seen[0].foot, messages))
        return _apart(pair, seen, book, NotCompared(what=_ALL, reason="one_foot", feet=missing, say=say))
    say = messages.say(f"pair.not_seen_{pair}")
    return _apart(pair, seen, book, NotCompared(what=_ALL, reason="not_seen", feet=missing, say=say))


def assess_pair(left: Fitting, right: Fitting, book: Rulebook | None = None) -> PairAssessment:
    """Hold the ``left`` foot against the ``right`` one by ``book`` (the shipped rulebook when None).

    Only feet of one horse and visit, of the same stage, work and hoof form are compared; for others the answer says why
    not.  Where one of the two was fitted hot, the limits of hot shoes apply.

    Raises ValueError when the two are not the left and the right foot of a pair, fitcheck.errors.BadInput when a trace
    or a set of points cannot be measured, and rules.EngineFault when the rules engine did not finish properly.
    """
    book = book or shipped_rulebook()
    pair = next((name for name, feet in PAIRS.items() if feet == (left.foot, right.foot)), None)
    if pair is None:
        raise ValueError(f"{left.foot} and {right.foot} are not the left and the right foot of a pair")
    why = next(_unlike(left, right, book), None)
    if why is not None:
        return _apart(pair, (left, right), book, why)
    return _Comparison(left, right, book).assessment(pair)


def _unlike(left: Fitting, right: Fitting, book: Rulebook) -> Iterator[NotCompared]:
    """Why the two feet as a whole are not compared."""
    feet, messages = (left.foot, right.foot), messages_of(book)
    if not any(row.quantity in book.quantities for row in PAIR_ROWS):
        yield NotCompared(what=_ALL, reason="no_limits", feet=(), say=messages.say("pair.no_limits"))
    if _horses_differ(left, right):
        yield NotCompared(what=_ALL, reason="horse", feet=feet, say=messages.say("pair.horse"))
    if left.visit is not None and right.visit is not None and left.visit != right.visit:
        yield NotCompared(what=_ALL, reason="visit", feet=feet, say=messages.say("pair.visit"))
    for name in _LIKENESS:
        if _likened(left, name) != _likened(right, name):
            one, other = (_in_words(fitting, name, messages) for fitting in (left, right))
            say = messages.say(f"pair.{name}", left=one, right=other)
            yield NotCompared(what=_ALL, reason=name, feet=feet, say=say)


def _likened(fitting: Fitting, name: Reason) -> object:
    """What must be alike: of the hoof form the stance too, whichever way it was sent."""
    return fitting.form_and_stance if name == "hoof_form" else getattr(fitting, name)


def _in_words(fitting: Fitting, name: Reason, messages: Messages) -> str:
    words = (fitting.hoof_form, fitting.stance) if name == "hoof_form" else (getattr(fitting, name),)
    return ", ".join(messages.word(word) for word in words if word is not None)


def _horses_differ(left: Fitting, right: Fitting) -> bool:
    if left.horse is None or right.horse is None:
        return False
    names = ((getattr(left.horse, key), getattr(right.horse, key)) for key in ("id", "ueln", "transponder"))
    return any(one is not None and other is not None and one != other for one, other in names)


def _apart(pair: Foot, seen: Iterable[Fitting], book: Rulebook, why: NotCompared) -> PairAssessment:
    return PairAssessment(
        pair=pair,
        feet=tuple(fitting.foot for fitting in seen),
        stage=None,
        rulebook=RulebookIdentity.of(book),
        compared=False,
        findings=(),
        actions=(),
        conforms=(),
        not_assessed=(why.what,),
        not_compared=(why,),
        measurements=(),
        cautions=(),
    )


class _Comparison:
    """Two feet that can be held together."""

    def __init__(self, left: Fitting, right: Fitting, book: Rulebook) -> None:
        self._left = left
        self._right = right
        self._book = book
        self._situation = _situation(left, right, book)
        self._in_force = in_force(book, self._situation)

    def assessment(self, pair: Foot) -> PairAssessment:
        book, stage = self._book, self._left.stage
        table, lacking = self._differences()
        firings = evaluator_for(book).evaluate(self._situation, table)
        verify(firings, table, self._situation, book)
        firings, chances = standing(firings, table, table, self._situation, book)
        findings = build_findings(firings, chances, table, stage, book)
        unsure = too_uncertain(table, firings, self._situation, book)
        lacking += (self._too_uncertain(*key) for key in unsure)
        return PairAssessment(
            pair=pair,
            feet=(self._left.foot, self._right.foot),
            stage=stage,
            rulebook=RulebookIdentity.of(book),
            compared=True,
            findings=tuple(findings),
            actions=working_order(findings, stage, book),
            conforms=tuple(self._conforms((key for key in table if key not in unsure), firings)),
            not_assessed=tuple(each.what for each in lacking),
            not_compared=tuple(lacking),
            measurements=tuple(measurements_of(table.values(), book)),
            cautions=cautions_of(findings, book),
        )

    def _differences(self) -> tuple[dict[tuple[str, str], Reading], list[NotCompared]]:
        """Every difference that could be taken, and for every limit what could not."""
        left, right = self._table(self._left), self._table(self._right)
        table: dict[tuple[str, str], Reading] = {}
        lacking: list[NotCompared] = []
        for row, place in self._compared():
            found = difference(row, place, left, right, self._book.language)
            if isinstance(found, Reading):
                table[row.quantity, place] = found
            elif self._in_force.judging(row.quantity, place):
                lacking.append(self._not_read(row, place, found))
        return table, lacking

    def _table(self, fitting: Fitting) -> Table:
        table, _ = measured(fitting, table_of(readings_of(fitting, self._book)), self._book)
        return table

    def _compared(self) -> Iterator[tuple[PairRow, str]]:
        """What the book knows of a pair at this stage."""
        for row in PAIR_ROWS:
            quantity = self._book.quantities.get(row.quantity)
            for place in row.at:
                known = quantity is not None and place in quantity.places
                if known and admits(row.where, self._situation, side_of(place)):
                    yield row, place

    def _not_read(self, row: PairRow, place: str, lacking: Lacking) -> NotCompared:
        feet = tuple(
            fitting.foot for fitting, lacks in ((self._left, lacking.left), (self._right, lacking.right)) if lacks
        )
        messages = messages_of(self._book)
        names = [_called(foot, messages) for foot in feet]
        message_id = ("pair.no_hole", "pair.not_read", "pair.neither_read")[len(names)]
        why = messages.say(message_id, first=names[0] if names else "", last=names[-1] if names else "")
        return NotCompared(
            what=f"{self._book.criterion_of.get(row.quantity, _ALL)}.{row.quantity}@{place}",
            reason="not_read" if feet else "no_hole_in_common",
            feet=feet,
            say=f"{why} {self._book.quantities[row.quantity].how}",
        )

    def _too_uncertain(self, quantity: str, place: str) -> NotCompared:
        return NotCompared(
            what=f"{self._book.criterion_of.get(quantity, _ALL)}.{quantity}@{place}",
            reason="too_uncertain",
            feet=(self._left.foot, self._right.foot),
            say=f"{messages_of(self._book).say('pair.too_uncertain')} {self._book.quantities[quantity].how}",
        )

    def _conforms(self, table: Iterable[tuple[str, str]], firings: Iterable[Firing]) -> Iterator[Conforming]:
        """Every difference that a limit judged and on which none fired."""
        rules = self._book.rules
        other = {(rules[firing.rule].quantity, firing.place) for firing in firings if firing.rule in rules}
        for quantity, place in table:
            criterion = self._book.criterion_of.get(quantity)
            if criterion and (quantity, place) not in other and self._in_force.judging(quantity, place):
                yield Conforming(criterion=criterion, quantity=quantity, place=place)


def _situation(left: Fitting, right: Fitting, book: Rulebook) -> Situation:
    one, other = situation_of(left, book), situation_of(right, book)
    return one._replace(hot_fitted="yes" if "yes" in {one.hot_fitted, other.hot_fitted} else "no")


def _called(foot: FittedFoot, messages: Messages) -> str:
    return messages.named("foot", foot)
