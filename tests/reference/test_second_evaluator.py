"""The rules engine against a second evaluator of the same rulebook, made in another way: CLIPS.

Both judge the same random feet; every finding, and all that a joined finding rests on, must be the same.  Then the
rulebook is broken in many ways for one of the two, to show that the cases would tell.
"""

from __future__ import annotations

import ast
import json
import re
import shutil
import sys
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import pytest

import rules
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import readings_of, situation_of
from fitcheck.measure import measured
from fitcheck.pairs import assess_pair
from rules import Evaluator, Reading, Rulebook, Situation, evaluator_for, load_rulebook, shipped_rulebook, table_of
from rules.model.records import Limit, Rule, Scaled
from tests.support import clips_evaluator
from tests.support.clips_evaluator import ClipsEvaluator, Findings, quantile
from tests.support.counts import tries
from tests.support.limit_cases import load
from tests.support.random_fittings import SITUATIONS, Case, Read, edges_of, random_cases, random_fittings

BOOK = Path(rules.__file__).parent / "book"
SEED = 1914
CASES = tries(300, full=10_000)
FITTINGS = tries(80, full=3_000)
PAIRS = tries(50, full=3_000)
CONTROL = tries(100, full=500)
SHOWN = 3
TABLES = Path(__file__).parents[1] / "cases"
A_MILLIONTH = 1e-6
A_HAIR = 2e-6  # two of the millionths in which limits are compared

Judged = tuple[tuple[Case, Findings], ...]


def first_engine(evaluator: Evaluator, case: Case) -> Findings:
    situation = Situation(**case.situation)  # type: ignore[arg-type]  # closed words, drawn from the vocabulary
    firings = evaluator.evaluate(situation, [Reading(*read) for read in case.readings])
    return {(firing.rule, firing.place): frozenset(map(str, firing.rests_on)) for firing in firings}


def differences(evaluator: Evaluator, judged: Iterable[tuple[Case, Findings]]) -> Iterator[str]:
    """What the first engine says otherwise than CLIPS did, foot by foot, with the readings to repeat it."""
    for case, by_clips in judged:
        by_first = first_engine(evaluator, case)
        if by_first != by_clips:
            yield (
                f"rules engine only: {dict(by_first.items() - by_clips.items())}, "
                f"CLIPS only: {dict(by_clips.items() - by_first.items())}, in {case}"
            )


def first_few(lines: Iterator[str]) -> list[str]:
    return [line for line, _ in zip(lines, range(SHOWN), strict=False)]


@pytest.fixture(scope="module")
def judged() -> Judged:
    """Random readings and the table's own, and what CLIPS finds in them by the shipped rulebook."""
    second = ClipsEvaluator(BOOK)
    cases = (*random_cases(BOOK, SEED, CASES), *at_every_limit())
    return tuple((case, second.evaluate(*case)) for case in cases)


def at_every_limit() -> Iterator[Case]:
    """The table of limits' own cases, those that lie on a limit also a millionth to either side."""
    for name in (*shipped_rulebook().criteria, "cross_checks"):
        for each in load(TABLES / f"{name}.toml"):
            readings = tuple(Read(read.quantity, read.place, read.value, read.u or 0.0) for read in each.readings)
            yield Case(each.given, readings)
            *others, last = readings
            if each.where == "at" and not isinstance(last.value, str):
                for hair in (-A_MILLIONTH, A_MILLIONTH):
                    yield Case(each.given, (*others, last._replace(value=last.value + hair)))


def test_both_evaluators_find_the_same_on_thousands_of_random_sets_of_readings(judged: Judged) -> None:
    assert len(judged) > CASES
    assert first_few(differences(evaluator_for(shipped_rulebook()), judged)) == []


def test_both_evaluators_find_the_same_on_thousands_of_random_fittings() -> None:
    book, second = shipped_rulebook(), ClipsEvaluator(BOOK)
    cases = []
    for document in random_fittings(SEED, FITTINGS):
        fitting = Fitting.model_validate_json(json.dumps(document))
        table, _ = measured(fitting, table_of(readings_of(fitting, book)), book)
        situation = situation_of(fitting, book)
        named = {key: getattr(situation, key) for key in SITUATIONS}
        cases.append(Case(named, tuple(Read(each.quantity, each.place, each.value, each.u) for each in table.values())))
    judged = [(case, second.evaluate(*case)) for case in cases]
    assert sum(bool(findings) for _, findings in judged) > FITTINGS / 2
    assert first_few(differences(evaluator_for(book), judged)) == []


def test_both_evaluators_find_the_same_on_hundreds_of_random_pairs_of_feet() -> None:
    book, second = shipped_rulebook(), ClipsEvaluator(BOOK)
    documents = list(random_fittings(SEED + 2, 2 * PAIRS))
    fired: set[str] = set()
    for one, other in zip(documents[::2], documents[1::2], strict=True):
        alike = {key: one.get(key, "regular") for key in ("work", "hoof_form")} | {"stage": "finished"}
        hot = {"hot_fitted": None, "horse": None, "visit": None}
        left, right = (
            Fitting.model_validate_json(json.dumps({**document, **alike, **hot, "foot": f"{side}_fore"}))
            for side, document in (("left", one), ("right", other))
        )
        said = assess_pair(left, right, book)
        assert said.compared
        situation = situation_of(left, book)
        named = {key: getattr(situation, key) for key in SITUATIONS}
        readings = tuple(Read(each.quantity, each.place, each.value, each.u) for each in said.measurements)
        found = {(finding.rule, finding.place) for finding in said.findings}
        assert found == set(second.evaluate(named, readings)), readings
        fired |= {rule for rule, _ in found}
    # Random feet give no slope of the wall.
    assert fired == {
        rule_id
        for rule_id, rule in book.rules.items()
        if book.criterion_for(rule_id) == "pair" and rule.quantity != "wall_angle_apart"
    }


def test_the_second_evaluator_shares_no_code_with_the_first() -> None:
    nodes = list(ast.walk(ast.parse(Path(clips_evaluator.__file__).read_text(encoding="utf-8"))))
    imported = {alias.name for node in nodes if isinstance(node, ast.Import) for alias in node.names}
    imported |= {node.module or "." for node in nodes if isinstance(node, ast.ImportFrom)}
    assert {name.split(".")[0] for name in imported} - sys.stdlib_module_names == {"clips"}


def test_the_quantile_of_the_second_evaluator_is_that_of_the_normal_distribution() -> None:
    # JCGM 106:2012: 1.4 standard uncertainties inside a one-sided limit conform with probability 0.919243.
    assert quantile(1 - 0.919243) == pytest.approx(1.4, abs=5e-6)


def test_every_single_rule_fires_and_stays_silent_on_what_it_looks_at(judged: Judged) -> None:
    book = shipped_rulebook()
    fired: set[str] = set()
    silent: set[str] = set()
    for case, findings in judged:
        here = {rule_id for rule_id, _ in findings}
        read = {reading.quantity for reading in case.readings}
        fired |= here
        silent |= {rule_id for rule_id, rule in book.rules.items() if rule.quantity in read} - here
    assert set(book.rules) - fired == set()
    assert set(book.rules) - silent == set()


def test_every_joined_rule_fires_and_stays_silent_though_one_of_its_findings_stands(judged: Judged) -> None:
    book = shipped_rulebook()
    grounds = {
        rule_id: {name for clause in joined.when for name in clause.findings or ()}
        for rule_id, joined in book.joined.items()
    }
    found = [{rule_id for rule_id, _ in findings} for _, findings in judged]
    assert set(book.joined) - set().union(*found) == set()
    assert {
        rule_id for rule_id in grounds if any(grounds[rule_id] & here and rule_id not in here for here in found)
    } == set(book.joined)


def test_every_plain_limit_of_the_book_is_met_exactly_and_missed_by_a_hair_on_either_side(judged: Judged) -> None:
    book = shipped_rulebook()
    tables = {
        "quantities": dict.fromkeys(book.quantities),
        "rules": {rule_id: _limited(rule) for rule_id, rule in book.rules.items()},
        "joined": {},
    }
    wanted = {
        (quantity, round(edge.plus * 1e6) + hair)
        for quantity, edges in edges_of(tables).items()
        for edge in edges
        if edge.of is None
        for hair in (-1, 0, 1)
        if book.quantities[quantity].range[0] * 1e6 <= round(edge.plus * 1e6) + hair  # type: ignore[index]
    }
    met = {
        (read.quantity, round(read.value * 1e6))
        for case, _ in judged
        for read in case.readings
        if not isinstance(read.value, str)
    }
    assert wanted - met == set()


def _limited(rule: Rule) -> dict[str, Any]:
    return {"quantity": rule.quantity, **rule.model_dump(include={"low", "high"}), "fires": "simple"}


# One change at a time to every rule.  A changed rule is judged alone, with the graver ones that silence it, on the
# readings that it looks at: that is quick, and a single rule sees nothing else.


def test_the_cases_tell_every_small_change_to_every_single_rule(judged: Judged) -> None:
    """In a study to every rule, else to every ninth."""
    book = shipped_rulebook()
    untold = [
        f"{rule_id}: {change}"
        for rule_id, rule in list(book.rules.items())[:: tries(9, full=1)]
        for change, changed in _changes(book, rule)
        if not _told(book, rule_id, changed, judged)
    ]
    assert untold == []


def test_the_cases_tell_nothing_of_a_rule_that_was_not_changed(judged: Judged) -> None:
    book = shipped_rulebook()
    told = [rule_id for rule_id, rule in book.rules.items() if _told(book, rule_id, rule, judged[:CONTROL])]
    assert told == []


def _changes(book: Rulebook, rule: Rule) -> Iterator[tuple[str, Rule]]:
    yield from _limit_changes(book, rule)
    if rule.places is not None and set(rule.places) != set(book.quantities[rule.quantity].places):
        yield "every place", rule.model_copy(update={"places": None})
    if rule.applies is not None:
        yield "every context", rule.model_copy(update={"applies": None})
    for number in range(len(rule.applies or ())):
        rest = tuple(context for at, context in enumerate(rule.applies or ()) if at != number)
        if rest:
            yield f"without context {number}", rule.model_copy(update={"applies": rest})
    if rule.with_ is not None:
        yield "without 'with'", rule.model_copy(update={"with_": None})
    if rule.unless:
        yield "without 'unless'", rule.model_copy(update={"unless": ()})


def _limit_changes(book: Rulebook, rule: Rule) -> Iterator[tuple[str, Rule]]:
    if rule.is_ is not None:
        words = tuple(word for word in book.quantities[rule.quantity].vocabulary if word not in rule.is_)
        yield "the other words", rule.model_copy(update={"is_": words})
        return
    for end in ("low", "high"):
        limit: Limit | None = getattr(rule, end)
        if limit is not None:
            yield f"{end} a hair higher", rule.model_copy(update={end: _moved(limit, A_HAIR)})
            yield f"{end} a hair lower", rule.model_copy(update={end: _moved(limit, -A_HAIR)})
            if isinstance(limit, Scaled):
                scaled = limit.model_copy(update={"times": limit.times * 1.01})
                yield f"{end} scaled otherwise", rule.model_copy(update={end: scaled})
    yield "edge turned", rule.model_copy(update={"edge": None if rule.edge else "fires"})
    other = "guarded" if rule.fires == "simple" else "simple"
    yield f"{other} instead", rule.model_copy(update={"fires": other})


def _moved(limit: Limit, by: float) -> Limit:
    return limit.model_copy(update={"plus": limit.plus + by}) if isinstance(limit, Scaled) else limit + by


def _told(book: Rulebook, rule_id: str, changed: Rule, judged: Judged) -> bool:
    alone = _with_graver(book, {rule_id: changed})
    evaluator = Evaluator(replace(book, rules=alone, joined={}))
    looked_at = {changed.quantity, *(book.rules[rule_id].with_ or {})}
    looked_at |= {name for rule in alone.values() for name in rule.without or ()}
    limits = [limit for rule in alone.values() for limit in (rule.low, rule.high)]
    looked_at |= {limit.of for limit in limits if isinstance(limit, Scaled)}
    for case, by_clips in judged:
        seen = tuple(read for read in case.readings if read.quantity in looked_at)
        if any(read.quantity == changed.quantity for read in seen):
            by_first = first_engine(evaluator, Case(case.situation, seen))
            if {key for key in by_first if key[0] == rule_id} != {key for key in by_clips if key[0] == rule_id}:
                return True
    return False


def _with_graver(book: Rulebook, alone: dict[str, Rule]) -> dict[str, Rule]:
    graver = {name: book.rules[name] for rule in alone.values() for name in rule.unless if name not in alone}
    return _with_graver(book, alone | graver) if graver else alone


class Broken(NamedTuple):
    """A change to the text of one record of the book: each pattern is found once and replaced."""

    file: str
    record: str
    edits: tuple[tuple[str, str], ...]


BROKEN = {
    "a limit is moved by a tenth of a millimetre": Broken(
        "heel_fit.toml", "rules.heel-width-close", ((r"^low = .*$", "low = 1.7"),)
    ),
    "a limit is moved by two millionths of a millimetre": Broken(
        "nails.toml", "rules.nail-low", ((r"^low = .*$", "low = 15.900002"),)
    ),
    "an edge that fires is left out": Broken("heel_fit.toml", "rules.frog-gap-closed", ((r'^edge = "fires"\n', ""),)),
    "an edge fires that should be let pass": Broken(
        "heel_fit.toml", "rules.heel-not-covered", ((r"^low = 0$", 'low = 0\nedge = "fires"'),)
    ),
    "a limit of the fore foot is put on the hind foot too": Broken(
        "nails.toml", "rules.nail-too-far-back-fore", ((r"^applies = .*\n", ""),)
    ),
    "a limit of the hot shoe is put on the cold shoe too": Broken(
        "scorch.toml", "rules.imprint-poor", ((r"^applies = .*\n", ""),)
    ),
    "a minor finding is made beside the graver one": Broken(
        "toe_fit.toml", "rules.toe-full", ((r"^unless = .*\n", ""),)
    ),
    "a guarded limit is taken at its face": Broken(
        "scorch.toml",
        "rules.horn-heated",
        ((r'^fires = "guarded"$', 'fires = "simple"'),),
    ),
    "the guarded level is moved from one in twenty to one in ten": Broken(
        "book.toml", "levels.guarded", ((r"^probability = 0.05$", "probability = 0.1"),)
    ),
    "twice the thickness of the shoe becomes a little more": Broken(
        "heel_fit.toml", "rules.heel-too-long", ((r"^high = \{times = 2\.0,", "high = {times = 2.1,"),)
    ),
    "a scaled limit forgets its allowance": Broken(
        "heel_fit.toml", "rules.heel-long", ((r"^(high = .*)plus = 3\}", r"\1plus = 0}"),)
    ),
    "the limit of a dull shoe is put on a bright one too": Broken(
        "scorch.toml", "rules.dull-shoe-held", ((r"^with = .*\n", ""),)
    ),
    "a place is left out": Broken("levelness.toml", "rules.gap-seen", ((r"^places = .*$", 'places = ["toe"]'),)),
    "the wrong word fires": Broken("going.toml", "rules.trot-lame", ((r"^is = .*$", 'is = ["uneven"]'),)),
    "a joined finding looks at another place": Broken(
        "joined.toml",
        "joined.heels-both-tight",
        (
            (r'^at = "toe"$', 'at = "medial_quarter"'),
            (r"^clear_of = .*$", 'clear_of = ["nail-line-full", "nail-line-over"]'),
        ),
    ),
    "a joined finding looks at one heel only": Broken(
        "joined.toml",
        "joined.heels-contraction-risk",
        ((r'^findings = \["heel-width-tight", (.*)\]$', r'findings = ["heel-width-tight", \1]\nat = "medial_heel"'),),
    ),
    "a joined finding takes a toe that is set back for a good one": Broken(
        "joined.toml", "joined.heels-both-tight", ((r"^clear_of = .*$", 'clear_of = ["toe-full", "toe-over"]'),)
    ),
    "a joined finding misses one of its grounds": Broken(
        "joined.toml", "joined.foot-unlevel", ((r'^(findings = .*)"bare-arc", ', r"\1"),)
    ),
}


def broken_book(broken: Broken, folder: Path) -> Path:
    """A copy of the shipped book in ``folder`` with that change."""
    copy = folder / "book"
    shutil.copytree(BOOK, copy)
    file = copy / broken.file
    before, header, rest = file.read_text(encoding="utf-8").partition(f"[{broken.record}]\n")
    assert header, f"{broken.record} no longer stands in {broken.file}"
    # The record ends at the next table that is not its own (action, when).
    following = re.search(rf"^\[+(?!\[|{re.escape(broken.record)}[.\]])", rest, re.MULTILINE)
    end = following.start() if following else len(rest)
    record = rest[:end]
    for pattern, replacement in broken.edits:
        record, times = re.subn(pattern, replacement, record, flags=re.MULTILINE)
        assert times == 1, f"{pattern} stands {times} times in {broken.record}"
    file.write_text(before + header + record + rest[end:], encoding="utf-8")
    return copy


TRIED = dict(list(BROKEN.items())[:: tries(9, full=1)])
"""Every broken book in a study, else every ninth."""


@pytest.mark.parametrize("broken", TRIED.values(), ids=TRIED.keys())
def test_the_cases_tell_a_book_in_which(broken: Broken, tmp_path: Path, judged: Judged) -> None:
    evaluator = Evaluator(load_rulebook(broken_book(broken, tmp_path)))
    assert next(differences(evaluator, judged), None) is not None


@pytest.mark.parametrize("broken", TRIED.values(), ids=TRIED.keys())
def test_both_evaluators_agree_also_on_a_book_in_which(broken: Broken, tmp_path: Path) -> None:
    folder = broken_book(broken, tmp_path)
    second = ClipsEvaluator(folder)
    judged = [(case, second.evaluate(*case)) for case in random_cases(folder, SEED + 1, tries(60, full=2_000))]
    assert first_few(differences(Evaluator(load_rulebook(folder)), judged)) == []
