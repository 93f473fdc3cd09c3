"""Pairs of kept records: a person's word of the eye, and a measure of the same thing in the same state of the foot.

A word is that of the assessor whom its record names, or else of the person.  It counts once for each state of a foot:
as it was first said there, unless the same reader had measured the thing before.  The measure stands in the same record
(traced, or read besides), or in another one of the same horse, visit, foot and stage, read by the same person or by an
assessor; of several the surest counts.  A number that was judged by eye is no measure.

The state of a foot at a stage ends where something was to be put right and it is then looked at anew: by a second try
that follows, or by the same reader.  What a record carried from one before, and records that were corrected or erased,
are no part of anything here.

What was said good of a whole group with one button (``good_as_a_whole``) is never a pair.  A record that does not say
how its words were said (its client was another one, or older) may have been made with that button: then a word counts
only where something else of its criterion was not looked at, since the button leaves nothing out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal, NamedTuple

from fitcheck.assessment.following import Following, carried_readings
from fitcheck.eye.known import known
from fitcheck.fitting.models import FittedFoot
from fitcheck.fitting.readings import fields_sent, readings_as_sent, situation_of, words_sent
from fitcheck.records import Record, RecordFilter, Store
from fitcheck.scales import ends_by_book, scales
from fitcheck.stored import StoredFoot, Unreadable, assessment_of, foot_of
from fitcheck.stored.visit import MOST_OF_A_VISIT
from rules import Rulebook, shipped_rulebook
from rules.situation import spot_of

__all__ = ["MOST_RECORDS", "LeftOut", "Measures", "Pair", "Pairs", "WordPair", "measures_of", "pairs_of"]

MOST_RECORDS: Final = 5000
"""Records of one person that are gone through at once."""

LeftOut = Literal["whole_group", "perhaps_whole_group", "measured_before", "not_measured"]
"""Why a word is no pair: said of a whole group; perhaps so; the reader had measured it already; nobody measured it."""

_Key = tuple[str, str]
"""Number and place."""
_TO_PUT_RIGHT: Final = ("put_right", "stop_and_refer")


class Pair(NamedTuple):
    """One word beside one measure."""

    quantity: str
    """That of the words, such as width_by_eye."""
    place: str
    foot: FittedFoot
    word: str
    value: float
    u: float
    unit: str
    ends: tuple[float | None, ...]
    """Where the words end by the rulebook that judged, in ``unit``."""
    horse: str
    """What looks of one horse share; a record without a horse stands alone."""
    visit: str
    day: str
    record: str
    """Of the word."""
    measured_in: str
    """The record of the measure."""
    by_assessor: bool
    """Whether an assessor took the measure, and the person is another one."""


class WordPair(NamedTuple):
    """A person's word, and an assessor's of the same thing in the same state."""

    quantity: str
    place: str
    foot: FittedFoot
    word: str
    other: str
    assessor: str
    horse: str


@dataclass
class Pairs:
    """All pairs of a person, the earliest first, and what became of the other words."""

    pairs: list[Pair] = field(default_factory=list)
    beside_assessors: list[WordPair] = field(default_factory=list)
    words: int = 0
    """Words of the eye that the person said, each once for each state of a foot."""
    left_out: Counter[LeftOut] = field(default_factory=Counter)
    unread: int = 0
    """Records that this version does not read."""


@dataclass
class _Looked:
    """What one record says of one foot: words and measures by number and place."""

    record: Record
    foot: StoredFoot
    words: Mapping[_Key, str]
    measures: Mapping[_Key, tuple[float, float, str]]
    out: Mapping[_Key, LeftOut]

    @property
    def reader(self) -> str | None:
        return self.record.assessor or self.record.person


def pairs_of(store: Store, person: str, book: Rulebook, *, until: str | None = None) -> Pairs:
    """The pairs of ``person`` in records kept before ``until``; a record is read by the book that judged it.

    Raises TooManyRecords where there are more than MOST_RECORDS, and StoreError.
    """
    found = Pairs()
    cache: dict[str, _Looked | None] = {}
    seen: set[tuple[str, str, str, str] | str] = set()
    for record in _records(store, person, until):
        same = _same_of(record)
        if same in seen:
            continue
        seen.add(same)
        of_visit = [record] if isinstance(same, str) else _of_visit(store, record, until)
        looked = [each for one in of_visit if (each := _looked(one, book, cache)) is not None]
        for state in _states(looked):
            _pair_up(state, person, found)
    found.unread = sum(each is None for each in cache.values())
    found.pairs.sort(key=lambda pair: pair.day)
    return found


Measures = Mapping[str, Sequence[tuple[float, float]]]
"""By quantity of words, what was measured of it by anybody, each with its standard uncertainty."""


def measures_of(store: Store, *, until: str | None = None) -> Measures:
    """What the latest records measured, kept before ``until``. Raises StoreError."""
    by_eye = shipped_rulebook().eye_quantities
    most = int(known().figure("most_measured"))
    record_filter = RecordFilter(kind="assessment", superseded=False, until=until)
    found: dict[str, list[tuple[float, float]]] = {}
    for record in store.records(record_filter, limit=most):
        try:
            measurements = () if record.erased else assessment_of(record).measurements
        except Unreadable:
            continue
        for each in measurements:
            name = by_eye.get(each.quantity, {}).get(spot_of(each.place))
            if name is not None and not each.carried:
                found.setdefault(name, []).append((each.value, each.u))
    return found


def _records(store: Store, person: str, until: str | None) -> list[Record]:
    filters = (
        RecordFilter(person=person, kind="assessment", superseded=False, until=until),
        RecordFilter(assessor=person, kind="assessment", superseded=False, until=until),
    )
    found = {record.id: record for each in filters for record in store.each_record(each, most=MOST_RECORDS)}
    theirs = (record for record in found.values() if not record.erased and _reader(record) == person)
    return sorted(theirs, key=lambda record: record.number)


def _reader(record: Record) -> str | None:
    return record.assessor or record.person


def _same_of(record: Record) -> tuple[str, str, str, str] | str:
    """What records of one foot at one stage of a visit share; the id of one that does not name its horse and visit."""
    if record.horse is None or record.visit is None:
        return record.id
    return record.horse, record.visit, record.foot or "", record.stage or ""


def _of_visit(store: Store, record: Record, until: str | None) -> list[Record]:
    """The records of the same foot at the same stage, in the order of keeping."""
    # By the visit alone: a database that may choose might go through all that a horse ever had.
    record_filter = RecordFilter(visit=record.visit, kind="assessment", superseded=False, until=until)
    found = store.records(record_filter, newest_first=False, limit=MOST_OF_A_VISIT)
    same = _same_of(record)
    return [each for each in found if not each.erased and _same_of(each) == same]


def _looked(record: Record, book: Rulebook, cache: dict[str, _Looked | None]) -> _Looked | None:
    if record.id not in cache:
        try:
            cache[record.id] = _look(record, foot_of(record, book))
        except Unreadable:
            cache[record.id] = None
    return cache[record.id]


def _look(record: Record, foot: StoredFoot) -> _Looked:
    by_eye = shipped_rulebook().eye_quantities
    sent = readings_as_sent(foot.fitting)
    words = {(quantity, place): word for quantity, place, word in words_sent(foot.fitting, by_eye)}
    if isinstance(foot.to_assess, Following):
        carried = set(carried_readings(foot.to_assess, [*words]))
        words = {key: word for key, word in words.items() if key not in carried}
    measures = {}
    for each in foot.assessment.measurements:
        key = (each.quantity, each.place)
        stated = sent.get(key)
        is_seen = stated is not None and stated.method == "eye" and stated.value is not None
        # A book of the first contract makes a number of the word itself.
        is_word = stated is not None and stated.word in foot.book.eye_words.get(each.quantity, ())
        if not (each.carried or is_seen or is_word):
            measures[key] = (each.value, each.u, each.unit)
    return _Looked(record, foot, words, measures, dict(_left_out(foot, words)))


def _left_out(foot: StoredFoot, words: Mapping[_Key, str]) -> Iterator[tuple[_Key, LeftOut]]:
    whole = foot.fitting.good_as_a_whole
    if whole is not None:
        stated = {(quantity, place) for path, quantity, place in fields_sent(foot.fitting, [*words]) if path in whole}
        yield from ((key, "whole_group") for key in words if key in stated)
        return
    gaps = _not_looked_at(foot)
    criteria = foot.book.criterion_of
    for quantity, place in words:
        if criteria.get(quantity) not in gaps:
            yield (quantity, place), "perhaps_whole_group"


def _not_looked_at(foot: StoredFoot) -> Collection[str | None]:
    """The criteria of which something that a word of the eye could have said was not looked at."""
    by_eye = shipped_rulebook().eye_quantities
    names = {*by_eye, *(name for places in by_eye.values() for name in places.values())}
    found: set[str | None] = set()
    for name in foot.assessment.not_assessed:
        criterion, _, rest = name.partition(".")
        quantity = rest.partition("@")[0]
        if not quantity or quantity in names:
            found.add(criterion)
    return found


def _states(looked: Iterable[_Looked]) -> list[list[_Looked]]:
    """The looks at one foot and stage, state by state."""
    states: list[list[_Looked]] = [[]]
    for look in looked:
        worked_on = any(
            before.record.decision in _TO_PUT_RIGHT
            and (before.reader == look.reader or look.foot.fitting.follows is not None)
            for before in states[-1]
        )
        if worked_on:
            states.append([])
        states[-1].append(look)
    return states


def _pair_up(state: list[_Looked], person: str, found: Pairs) -> None:
    measured_before: set[_Key] = set()
    done: set[_Key] = set()
    for look in state:
        for key, word in look.words.items() if look.reader == person else ():
            if key in done:
                continue
            done.add(key)
            found.words += 1
            reason: LeftOut | None = look.out.get(key) or ("measured_before" if key in measured_before else None)
            if reason is None:
                found.beside_assessors += _beside(state, look, key, word, person)
                pair = _pair(state, look, key, word, person)
                if pair is not None:
                    found.pairs.append(pair)
                    continue
                reason = "not_measured"
            found.left_out[reason] += 1
        if look.reader == person:
            measured_before |= look.measures.keys()


def _pair(state: list[_Looked], look: _Looked, key: _Key, word: str, person: str) -> Pair | None:
    near = [
        other
        for other in state
        if key in other.measures and (other is look or other.reader == person or other.record.assessor is not None)
    ]
    if not near:
        return None
    best = min(near, key=lambda other: other.measures[key][1])
    value, u, unit = best.measures[key]
    quantity, place = key
    name = shipped_rulebook().eye_quantities[quantity][spot_of(place)]
    scale = scales().get(name)
    if scale is None or word not in scale.words:
        return None
    fitting, book, record = look.foot.fitting, look.foot.book, look.record
    sizes = {each.quantity: each.value for each in look.foot.assessment.measurements if each.place == "foot"}
    return Pair(
        quantity=name,
        place=place,
        foot=fitting.foot,
        word=word,
        value=value,
        u=u,
        unit=unit,
        ends=ends_by_book(scale, place, situation_of(fitting, book), sizes, book),
        horse=record.horse or record.id,
        visit=record.visit or record.id,
        day=record.fitted or record.created[:10],
        record=record.id,
        measured_in=best.record.id,
        by_assessor=best.reader != person,
    )


def _beside(state: list[_Looked], look: _Looked, key: _Key, word: str, person: str) -> Iterator[WordPair]:
    """The same thing in an assessor's words, the first that one said of it."""
    quantity, place = key
    name = shipped_rulebook().eye_quantities[quantity][spot_of(place)]
    for other in state:
        assessor = other.record.assessor
        if assessor is not None and assessor != person and key in other.words and key not in other.out:
            horse = look.record.horse or look.record.id
            yield WordPair(name, place, look.foot.fitting.foot, word, other.words[key], assessor, horse)
            return
