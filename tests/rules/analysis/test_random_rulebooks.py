"""Books with small random edits of their limits: each loads and is clean, or what is wrong with it is told.

For clean ones the real engine is asked: no reading makes two rules of one quantity fire at one place that ask for the
same other words.  For overlaps that are told, the example makes both fire.
"""

from __future__ import annotations

import random
import shutil
from collections import Counter
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

import pytest

import rules
from fitcheck.fitting.observables import STATED, observables
from rules import Evaluator, Reading, Rulebook, RulebookError, Situation, load_rulebook, shipped_rulebook
from rules.analysis import Fault, analyse
from rules.analysis.contexts import is_read
from rules.model.records import Rule, Scaled
from tests.support.book_edits import Edit
from tests.support.counts import tries
from tests.support.random_fittings import random_cases

BOOK = Path(rules.__file__).parent / "book"
SEED = 1903
EDITED = tries(6, full=400)
COMPILED = 8  # what the engine has registered is never given back
FEET = tries(100, full=3_000)
STEPS = (0.01, 0.1, 0.5, 1, 1.6, 3, 5)


@dataclass
class Edited:
    """A book with its edits, and either what the loader says or what the analysis does."""

    folder: Path
    book: Rulebook | None
    refusal: RulebookError | None
    faults: list[Fault]


def edited(folder: Path, rng: random.Random) -> Edited:
    shutil.copytree(BOOK, folder)
    shipped = shipped_rulebook()
    bounded = [rule_id for rule_id, rule in shipped.rules.items() if rule.is_ is None]
    for rule_id in rng.sample(bounded, rng.choice((1, 1, 2, 3))):
        change(shipped.files[rule_id], rule_id, shipped.rules[rule_id], rng).make(folder)
    try:
        book = load_rulebook(folder)
    except RulebookError as error:
        return Edited(folder, None, error, [])
    return Edited(folder, book, None, analyse(book, observables(), STATED))


def change(file: str, rule_id: str, rule: Rule, rng: random.Random) -> Edit:
    """One small edit: a limit moved, the edge made to fire or to be let pass, a silencing rule forgotten."""
    kind, table = rng.random(), f"rules.{rule_id}"
    if kind < 0.1 and rule.unless:
        return Edit(file, table=table, remove="unless")
    if kind < 0.25:
        return Edit(file, table=table, remove="edge") if rule.edge else Edit(file, table=table, set='edge = "fires"')
    end = rng.choice([name for name in ("low", "high") if getattr(rule, name) is not None])
    limit, step = getattr(rule, end), rng.choice(STEPS) * rng.choice((-1, 1))
    if rule.unit == "1":
        step /= 20
    if isinstance(limit, Scaled):
        times, plus = rng.choice((limit.times, 1, 1.5, 2)), round(limit.plus + step, 6)
        return Edit(file, table=table, set=f'{end} = {{times = {times}, of = "{limit.of}", plus = {plus}}}')
    return Edit(file, table=table, set=f"{end} = {round(limit + step, 6)}")


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> list[Edited]:
    rng = random.Random(SEED)
    folder = tmp_path_factory.mktemp("books")
    return [edited(folder / str(number), rng) for number in range(EDITED)]


def clashes(evaluator: Evaluator, folder: Path, seed: int) -> list[str]:
    """Pairs of rules of one quantity, with the same other words, that fired at one place on what can be observed."""
    book, unfed_limits, found = evaluator.book, observables(), []
    for case in random_cases(folder, seed, FEET):
        situation = Situation(**case.situation)  # type: ignore[arg-type]  # closed words of the vocabulary
        readings = [Reading(*read) for read in case.readings]
        readings = [each for each in readings if is_read(book, unfed_limits, each.quantity, each.place, situation)]
        fired = [each for each in evaluator.evaluate(situation, readings) if each.rule in book.rules]
        for one, other in combinations(fired, 2):
            first, second = book.rules[one.rule], book.rules[other.rule]
            same = one.place == other.place and first.quantity == second.quantity and first.with_ == second.with_
            if same:
                found.append(f"{one.rule} and {other.rule} at {one.place}: {case}")
    return found


def test_the_edits_make_books_of_every_kind(books: list[Edited]) -> None:
    kinds = Counter("refused" if each.refusal else "faulty" if each.faults else "clean" for each in books)
    assert min(kinds[kind] for kind in ("refused", "faulty", "clean")) >= tries(1, full=3), kinds


def test_in_a_clean_book_no_reading_makes_two_rules_of_one_quantity_fire_at_one_place(books: list[Edited]) -> None:
    clean = [each for each in books if each.book is not None and not each.faults][:COMPILED]
    assert len(clean) >= tries(1, full=3)
    for number, each in enumerate(clean):
        assert each.book is not None
        assert clashes(Evaluator(each.book), each.folder, SEED + number)[:3] == []


def test_an_overlap_that_is_told_is_one_in_the_engine_too(books: list[Edited]) -> None:
    overlapping = [
        (each.book, fault)
        for each in books
        if each.book is not None
        for fault in each.faults
        if fault.kind in {"overlap", "lesser-beyond-graver"}
    ][:COMPILED]
    assert overlapping
    for book, fault in overlapping:
        assert fault.example is not None
        rule_id = fault.key.split(".")[1]
        fired = Evaluator(book).evaluate(fault.example.situation, fault.example.readings)
        same = [each.rule for each in fired if each.rule in book.rules]
        quantities = [book.rules[name].quantity for name in same]
        assert rule_id in same
        assert quantities.count(book.rules[rule_id].quantity) > 1


def test_the_cases_would_show_an_overlap_that_was_missed(books: list[Edited]) -> None:
    """A control: in a book with a known overlap the same random feet do make two rules fire at one place."""
    folder = books[0].folder.parent / "control"
    shutil.copytree(BOOK, folder)
    Edit("heel_fit.toml", table="rules.heel-width-close", remove="unless").make(folder)
    assert clashes(Evaluator(load_rulebook(folder)), folder, SEED)
