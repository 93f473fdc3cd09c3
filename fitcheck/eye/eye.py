"""How good a person's eye is, by quantity, side, fore and hind: figures, sentences, and what to practise next."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Final, Literal

from scipy.stats import kendalltau

from fitcheck.agreement import Share
from fitcheck.agreement.proportion import clustered_share
from fitcheck.eye.chance import curve_of
from fitcheck.eye.known import known, method, usual
from fitcheck.eye.models import (
    BesideAssessors,
    Curve,
    EyeFigure,
    EyeGroup,
    EyeQuantity,
    EyeTrend,
    EyeView,
    EyeVisit,
    EyeWordRange,
    LeftOutWords,
)
from fitcheck.eye.ordered_probit import Estimate, Look, ends_of, shift_of
from fitcheck.eye.pairs import Measures, Pair, Pairs, WordPair, measures_of, pairs_of
from fitcheck.eye.sentences import Sentences
from fitcheck.practice.outcome import MOST_SESSIONS, PracticeOutcome, outcome_of
from fitcheck.records import Store
from fitcheck.records.practice import PracticeSessions
from fitcheck.scales import Scale, scales
from rules import Rulebook
from rules.situation import side_of

__all__ = ["eye_of", "stored_eye", "version_of"]

_DIGITS: Final = 3
_FEWEST_WORDS: Final = 2
_Side = Literal["medial", "lateral"]
_Feet = Literal["fore", "hind"]


def eye_of(
    person: str,
    found: Pairs,
    book: Rulebook,
    measures: Measures | None = None,
    practice: PracticeOutcome | None = None,
    *,
    brief: bool = False,
) -> EyeView:
    """The eye of ``person`` by the pairs that were ``found``, in the language of ``book``.

    ``measures``: what anybody measured of each quantity, as :func:`fitcheck.eye.pairs.measures_of` has it.
    ``brief``: bias, spread and curve of all pairs of a quantity alone, without its words, sides and feet, nor practice.
    """
    maker = _Maker(book, measures or {}, brief=brief)
    names = dict.fromkeys([each.quantity for each in found.pairs] + [each.quantity for each in found.beside_assessors])
    order = [name for name in scales() if name in names]
    quantities = tuple(
        maker.quantity(
            name,
            [pair for pair in found.pairs if pair.quantity == name][-int(known().figure("most_pairs")) :],
            [each for each in found.beside_assessors if each.quantity == name],
        )
        for name in order
    )
    practise = _to_practise(quantities)
    return EyeView(
        person=person,
        version=version_of(quantities),
        scales=known().version,
        words=found.words,
        pairs=len(found.pairs),
        left_out=LeftOutWords(
            whole_group=found.left_out["whole_group"],
            perhaps_whole_group=found.left_out["perhaps_whole_group"],
            measured_before=found.left_out["measured_before"],
            not_measured=found.left_out["not_measured"],
        ),
        unread=found.unread,
        fewest_pairs=maker.fewest,
        quantities=quantities,
        practice=practice,
        practise=None if practise is None else practise[0].quantity,
        say=tuple(maker.sentences.whole(found, quantities, practise, maker.fewest)),
    )


def stored_eye(store: Store, person: str, book: Rulebook, *, until: str | None = None, brief: bool = False) -> EyeView:
    """The eye of ``person`` by what was kept before ``until``, in the language of ``book``; ``brief`` as in eye_of.

    Raises TooManyRecords and StoreError.
    """
    found = pairs_of(store, person, book.original or book, until=until)
    measures = measures_of(store, until=until) if found.pairs else None
    practice = None if brief else _practice(store, person, book, until)
    return eye_of(person, found, book, measures, practice, brief=brief)


def _practice(store: Store, person: str, book: Rulebook, until: str | None) -> PracticeOutcome | None:
    kept = PracticeSessions(store).of_person(person, limit=MOST_SESSIONS)
    sessions = [each.session for each in kept if until is None or each.created < until]
    return outcome_of(sessions, book) if sessions else None


def version_of(quantities: Iterable[EyeQuantity]) -> str:
    """What names the curves: the first 16 hexadecimal digits of the SHA-256 of all of them."""
    digest = hashlib.sha256(known().version.encode())
    for each in quantities:
        if each.curve is not None:
            digest.update(f"{each.quantity} {each.curve.model_dump_json(exclude_defaults=True)}".encode())
    return digest.hexdigest()[:16]


class _Maker:
    """Makes what is told of quantities by one rulebook's titles and language."""

    def __init__(self, book: Rulebook, measures: Measures, *, brief: bool) -> None:
        self.brief = brief
        self.measures = measures
        self.book = book
        self.sentences = Sentences(book)
        self.fewest = int(known().figure("fewest_pairs"))

    def quantity(self, name: str, pairs: Sequence[Pair], beside: Sequence[WordPair]) -> EyeQuantity:
        scale = scales()[name]
        unit = self.sentences.unit(name)
        title = self.sentences.title(name)
        groups = [self.group(pairs, name)]
        for side, feet in () if self.brief else _splits(pairs):
            part = [pair for pair in pairs if _is_of(pair, side, feet)]
            if self.fewest <= len(part) < len(pairs):
                groups.append(self.group(part, name, side, feet))
        by_assessors = [pair for pair in pairs if pair.by_assessor]
        visits = _visits(pairs)
        curve: Curve | None = None
        if len(pairs) >= self.fewest:
            measures = [(scale.on_line(value), scale.u_on_line(value, u)) for value, u in self.measures.get(name, ())]
            before = usual(in_proportion=scale.in_proportion)
            curve = curve_of(_looks(pairs, scale), scale.words, unit, method(), before, measures)
        if curve is not None and scale.in_proportion:
            curve = curve.model_copy(update={"in_proportion": True})
        return EyeQuantity(
            quantity=name,
            title=title,
            unit=unit,
            error_unit=self.sentences.error_unit(name),
            pairs=len(pairs),
            missing=max(0, self.fewest - len(pairs)),
            groups=tuple(groups),
            by_assessors=self.group(by_assessors, name)
            if 0 < len(by_assessors) < len(pairs) and not self.brief
            else None,
            beside_assessors=self.beside(beside, scale),
            visits=visits,
            trend=self.trend(visits),
            curve=curve,
        )

    def group(
        self,
        pairs: Sequence[Pair],
        quantity: str,
        side: _Side | None = None,
        feet: _Feet | None = None,
    ) -> EyeGroup:
        scale = scales()[quantity]
        horses = len({pair.horse for pair in pairs})
        missing = max(0, self.fewest - len(pairs))
        looks = _looks(pairs, scale)
        bias = spread = None
        separate, follows = False, True
        words: tuple[EyeWordRange, ...] = ()
        if not missing:
            shifted = shift_of(looks, len(scale.words), method(in_proportion=scale.in_proportion))
            used = sorted({look.word for look in looks})
            follows = _in_order(looks) and (shifted is None or shifted.lapse < known().figure("most_lapses"))
            if follows and shifted is not None:
                bias, spread = _error(shifted.ends[0], scale), _error(shifted.spread, scale)
                separate = shifted.separate
            if follows and len(used) >= _FEWEST_WORDS and not (self.brief and spread is not None):
                free = ends_of([look._replace(word=used.index(look.word)) for look in looks], len(used), method())
                if spread is None:
                    spread, separate = _error(free.spread, scale), free.separate
                words = tuple(_word_ranges(looks, scale, used, free.ends))
        made = EyeGroup(
            side=side,
            feet=feet,
            pairs=len(pairs),
            horses=horses,
            missing=missing,
            follows=follows,
            bias=bias,
            spread=spread,
            separate=separate,
            words=words,
            say=(),
        )
        return made.model_copy(update={"say": tuple(self.sentences.group(made, scale, quantity))})

    def beside(self, beside: Sequence[WordPair], scale: Scale) -> BesideAssessors:
        order = scale.words.index
        by_horse: dict[str, list[bool]] = {}
        for each in beside:
            by_horse.setdefault(each.horse, []).append(each.word == each.other)
        share = clustered_share([(sum(same), len(same)) for same in by_horse.values()])
        steps = [order(each.word) - order(each.other) for each in beside if {each.word, each.other} <= {*scale.words}]
        interval = share.interval if isinstance(share, Share) else None
        made = BesideAssessors(
            words=len(beside),
            same=sum(each.word == each.other for each in beside),
            share=share.value if isinstance(share, Share) else None,
            low=None if interval is None else interval.low,
            high=None if interval is None else interval.high,
            less=sum(step < 0 for step in steps),
            more=sum(step > 0 for step in steps),
            say="",
        )
        return made.model_copy(update={"say": self.sentences.beside(made)})

    def trend(self, visits: Sequence[EyeVisit]) -> EyeTrend:
        days = {visit.day for visit in visits}
        if len(visits) < known().figure("fewest_visits") or len(days) < _FEWEST_WORDS:
            return EyeTrend(way="too_few", visits=len(visits), chance=None, say=self.sentences.trend("too_few", visits))
        shares = [visit.right / visit.pairs for visit in visits]
        if len(set(shares)) == 1:
            return EyeTrend(way="not_shown", visits=len(visits), chance=None, say=self.sentences.trend("level", visits))
        order = sorted(days)
        found = kendalltau([order.index(visit.day) for visit in visits], shares)
        chance = float(found.pvalue)
        way: Literal["up", "down", "not_shown"] = "not_shown"
        if chance < 1 - method().level:
            way = "up" if found.statistic > 0 else "down"
        say = self.sentences.trend("level" if way == "not_shown" else way, visits)
        return EyeTrend(way=way, visits=len(visits), chance=round(chance, _DIGITS), say=say)


def _splits(pairs: Sequence[Pair]) -> Iterator[tuple[_Side | None, _Feet | None]]:
    sides: tuple[_Side | None, ...] = (None, "medial", "lateral")
    if not any(side_of(pair.place) for pair in pairs):
        sides = (None,)
    feet: tuple[_Feet | None, ...] = (None, "fore", "hind")
    yield from ((side, foot) for side in sides for foot in feet if side or foot)


def _is_of(pair: Pair, side: _Side | None, feet: _Feet | None) -> bool:
    return (side is None or side_of(pair.place) == side) and (feet is None or pair.foot.endswith(feet))


def _looks(pairs: Sequence[Pair], scale: Scale) -> list[Look]:
    """Those of the pairs, on the line on which an eye errs alike everywhere."""
    return [
        Look(
            scale.on_line(pair.value),
            scale.u_on_line(pair.value, pair.u),
            scale.words.index(pair.word),
            pair.horse,
            scale.ends_on_line(pair.ends),
        )
        for pair in pairs
    ]


def _in_order(looks: Sequence[Look]) -> bool:
    """Whether greater measures have the greater words, more than smaller ones have; so of one word alone."""
    if len({look.word for look in looks}) < _FEWEST_WORDS:
        return True
    return bool(kendalltau([look.value for look in looks], [look.word for look in looks]).statistic > 0)


def _figure(estimate: Estimate, by: Callable[[float], float], least: float, most: float) -> EyeFigure:
    """The ``estimate``, each figure of it ``by`` what brings it from the line of looks to a unit.

    Open where it lies below ``least`` or above ``most`` on that line.
    """
    figures = (estimate.value, estimate.low, estimate.high)
    value, low, high = (
        None if figure is None or not least <= figure <= most else round(by(figure), _DIGITS) + 0.0
        for figure in figures
    )
    return EyeFigure(value=value, low=low, high=high)


def _room(scale: Scale) -> float:
    """How far beyond all measures a figure may lie on their line; of what errs in proportion, also from none."""
    return math.log(known().figure("most_factor")) if scale.in_proportion else math.inf


def _error(estimate: Estimate, scale: Scale) -> EyeFigure:
    """A bias or spread in the unit of errors: per cent of what there is, where the eye errs in proportion to it."""
    return _figure(estimate, scale.error_of, -_room(scale), _room(scale))


def _word_ranges(
    looks: Sequence[Look], scale: Scale, used: Sequence[int], ends: Sequence[Estimate]
) -> Iterator[EyeWordRange]:
    least, most = (end(look.value for look in looks) for end in (min, max))
    bounds = least - _room(scale), most + _room(scale)
    for number, word in enumerate(scale.words):
        at = used.index(number) if number in used else None
        yield EyeWordRange(
            word=word,
            count=sum(look.word == number for look in looks),
            begins=None if at is None or at == 0 else _figure(ends[at - 1], scale.measure_of, *bounds),
            ends=None if at is None or at == len(ends) else _figure(ends[at], scale.measure_of, *bounds),
        )


def _visits(pairs: Sequence[Pair]) -> tuple[EyeVisit, ...]:
    by_visit: dict[tuple[str, str], list[Pair]] = {}
    for pair in pairs:
        by_visit.setdefault((pair.day, pair.visit), []).append(pair)
    return tuple(
        EyeVisit(day=day, visit=visit, pairs=len(of_visit), right=sum(map(_is_right, of_visit)))
        for (day, visit), of_visit in sorted(by_visit.items())
    )


def _is_right(pair: Pair) -> bool:
    """Whether the measure lies where the book has the word; an end that the book does not have is passed."""
    number = scales()[pair.quantity].words.index(pair.word)
    begin = next((end for end in reversed(pair.ends[:number]) if end is not None), None)
    end = next((end for end in pair.ends[number:] if end is not None), None)
    return (begin is None or pair.value >= begin) and (end is None or pair.value <= end)


def _to_practise(quantities: Sequence[EyeQuantity]) -> tuple[EyeQuantity, EyeGroup] | None:
    """What words do not follow; else where a bias is surest, or the spread is greatest against what there is to see."""
    for quantity in quantities:
        if not quantity.missing and not quantity.groups[0].follows:
            return quantity, quantity.groups[0]
    biased = [
        (distance / (quantity.curve.width or 1), quantity, group)
        for quantity in quantities
        for group in quantity.groups
        if quantity.curve is not None and (distance := _surely_off(group.bias, scales()[quantity.quantity])) > 0
    ]
    if biased:
        _, quantity, group = max(biased, key=lambda each: each[0])
        return quantity, group
    blurred = [
        (
            scales()[quantity.quantity].error_on_line(quantity.groups[0].spread.value) / quantity.curve.width,
            quantity,
            quantity.groups[0],
        )
        for quantity in quantities
        if quantity.curve is not None
        and quantity.groups[0].spread is not None
        and quantity.groups[0].spread.value is not None
    ]
    if not blurred:
        return None
    _, quantity, group = max(blurred, key=lambda each: each[0])
    return quantity, group


def _surely_off(bias: EyeFigure | None, scale: Scale) -> float:
    """How far from none, on the line of looks, the nearer end of an interval lies; 0 where the interval holds none."""
    if bias is None:
        return 0.0
    if bias.low is not None and bias.low > 0:
        return scale.error_on_line(bias.low)
    return -scale.error_on_line(bias.high) if bias.high is not None and bias.high < 0 else 0.0
