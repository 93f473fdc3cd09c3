"""The analysis of a rulebook: the shipped book has no fault; each seeded fault is found, and its example shows it."""

from __future__ import annotations

import json
import shutil
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

import rules
from fitcheck.assessment.assess import assess
from fitcheck.cli import main
from fitcheck.errors import BadInput
from fitcheck.fitting.observables import STATED, observables
from fitcheck.fitting.readings import readings_of
from fitcheck.fitting.validation import parse_fitting
from fitcheck.rulebooks.examples import as_fitting
from rules import EngineFault, Firing, Rulebook, evaluator_for, load_rulebook, shipped_rulebook
from rules.analysis import Example, Fault, analyse
from rules.analysis.contexts import is_read
from tests.support.book_edits import Edit
from tests.support.counts import tries
from tests.support.paths import ROOT
from tests.support.random_fittings import random_cases

BOOK = Path(rules.__file__).parent / "book"
FOLDER = ROOT / "tests" / "faulty_books"
PATHS = sorted(FOLDER.glob("*.toml"))
TRIED = PATHS[:: tries(4, full=1)]
"""Every faulty book in a study, else every fourth."""
READINGS = tries(50, full=4_000)
SEED = 1897


@dataclass(frozen=True)
class Seeded:
    """A faulty copy of the shipped book: its edits, what must be found, and what an example must show.

    ``shows``: rules that ``fires`` on the example, that stay ``silent`` on it, and that ``never`` fire on anything that
    can be observed; ``reading``: no fitting gives it; ``refused``: the foot cannot be judged; ``needs``: it is not
    released for want of that; ``uncertainty``: that reading is taken as exact; ``unit``: it is given a wrong one.
    """

    what: str
    edits: tuple[Edit, ...]
    faults: tuple[dict[str, str], ...]
    shows: dict[str, Any] = field(default_factory=dict)

    @classmethod
    def read(cls, path: Path) -> Seeded:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
        what, also, faults, shows = (raw.pop(key, ()) for key in ("what", "also", "faults", "shows"))
        return cls(what, (Edit(**raw), *(Edit(**edit) for edit in also)), tuple(faults), dict(shows))

    def book(self, folder: Path) -> Rulebook:
        copied = Path(shutil.copytree(BOOK, folder / "book"))
        for edit in self.edits:
            edit.make(copied)
        return load_rulebook(copied)


_FOUND: dict[str, list[Fault]] = {}


def found(book: Rulebook) -> list[Fault]:
    """The faults of a book, analysed once however many tests ask."""
    if book.digest not in _FOUND:
        _FOUND[book.digest] = analyse(book, observables(), STATED)
    return _FOUND[book.digest]


def names(fault: Fault) -> dict[str, str]:
    return {"file": fault.file, "key": fault.key, "kind": fault.kind}


def the_one(book: Rulebook, wanted: dict[str, str]) -> Fault:
    matching = [fault for fault in found(book) if names(fault) == wanted]
    assert matching, f"not found: {wanted}, but {[str(fault) for fault in found(book)]}"
    return matching[0]


def firings(book: Rulebook, example: Example) -> list[Firing]:
    """What fires on the fitting of an example, or on its readings where no fitting has them."""
    fitting = as_fitting(example, book)
    if fitting is None:
        return evaluator_for(book).evaluate(example.situation, example.readings)
    return [Firing(each.rule, each.place) for each in assess(parse_fitting(fitting, book), book).findings]


def test_the_shipped_book_has_no_fault() -> None:
    assert found(shipped_rulebook()) == []


def test_there_are_fifteen_seeded_faults_and_more_each_its_own() -> None:
    seeded = [Seeded.read(path) for path in PATHS]
    assert len(seeded) >= 15
    assert len({each.what for each in seeded}) == len(seeded)
    assert len({(fault["file"], fault["key"], fault["kind"]) for each in seeded for fault in each.faults}) > 25


@pytest.mark.parametrize("path", TRIED, ids=lambda path: path.stem)
def test_a_seeded_fault_passes_the_loader_and_is_found_with_file_key_and_kind(path: Path, tmp_path: Path) -> None:
    seeded = Seeded.read(path)
    book = seeded.book(tmp_path)
    for wanted in seeded.faults:
        fault = the_one(book, wanted)
        assert str(fault) == f"{fault.file}: {fault.key}: {fault.message}. {fault.remedy}"
        assert len(fault.message) > 20
        assert fault.remedy[0].isupper()
        assert not fault.remedy.endswith(".")


SHOWING = [path for path in TRIED if Seeded.read(path).shows]


@pytest.mark.parametrize("path", SHOWING, ids=lambda path: path.stem)
def test_the_example_of_a_fault_shows_it(path: Path, tmp_path: Path) -> None:
    seeded = Seeded.read(path)
    book = seeded.book(tmp_path)
    example = the_one(book, seeded.faults[0]).example
    assert example is not None
    shows = dict(seeded.shows)
    if shows.pop("refused", False):
        with pytest.raises(EngineFault):
            evaluator_for(book).evaluate(example.situation, example.readings)
        return
    fitting = as_fitting(example, book)
    assert (fitting is None) == shows.pop("reading", False)
    if name := shows.pop("uncertainty", None):
        assert fitting is not None
        (reading,) = [each for each in readings_of(parse_fitting(fitting, book), book) if each.quantity == name]
        assert reading.u == 0
    if name := shows.pop("needs", None):
        assert fitting is not None
        assert book.quantities[name].how in {
            each.say for each in assess(parse_fitting(fitting, book), book).still_needed
        }
    if name := shows.pop("unit", None):
        assert fitting is not None
        (shown,) = [each for each in assess(parse_fitting(fitting, book), book).measurements if each.quantity == name]
        assert shown.unit != observables()[name, shown.place].unit
    fired = {firing.rule for firing in firings(book, example)}
    assert set(shows.pop("fires", ())) <= fired
    # What no fitting gives fires on the bare reading: the fault is that there never is one.
    assert fitting is None or not fired & set(shows.get("never", ()))
    assert not fired & set(shows.pop("silent", ()))
    shows.pop("never", None)
    assert shows == {}


@pytest.mark.parametrize(
    "path", [path for path in SHOWING if "never" in Seeded.read(path).shows], ids=lambda path: path.stem
)
def test_what_is_said_never_to_fire_never_does_on_many_random_feet(path: Path, tmp_path: Path) -> None:
    seeded = Seeded.read(path)
    book = seeded.book(tmp_path)
    unfed_limits, never = observables(), set(seeded.shows["never"])
    seen = set()
    for case in random_cases(tmp_path / "book", SEED, READINGS):
        situation = rules.Situation(**case.situation)  # type: ignore[arg-type]  # closed words of the vocabulary
        readings = [rules.Reading(*read) for read in case.readings]
        readings = [each for each in readings if is_read(book, unfed_limits, each.quantity, each.place, situation)]
        seen |= {firing.rule for firing in evaluator_for(book).evaluate(situation, readings)}
    assert len(seen) > 50
    assert not seen & never


@pytest.mark.parametrize("name", ["overlap-of-words", "source-unused"])
def test_the_command_prints_every_fault_with_its_example_and_leaves_with_65(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = Seeded.read(FOLDER / f"{name}.toml").book(tmp_path)
    assert main(["rules", "check", str(tmp_path / "book")]) == 65
    said = capsys.readouterr()
    assert said.out == ""
    lines = said.err.splitlines()
    faults = found(book)
    assert [line for line in lines if not line.startswith("{")] == [
        *map(str, faults),
        f"{book.title}, version {book.version}: 1 fault found.",
    ]
    examples = [json.loads(line) for line in lines if line.startswith("{")]
    assert examples == [as_fitting(fault.example, book) for fault in faults if fault.example]
    for example in examples:
        assert assess(parse_fitting(example, book), book).findings


def test_the_command_lists_all_faults_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    book = Seeded.read(FOLDER / "overlap-in-one-context-only.toml").book(tmp_path)
    assert main(["rules", "check", "--json", str(tmp_path / "book")]) == 65
    document = json.loads(capsys.readouterr().out)
    assert document["book"]["digest"] == book.digest
    assert len(document["faults"]) == len(found(book)) > 1
    assert set(document["faults"][0]) == {"file", "line", "key", "kind", "message", "remedy", "example"}


def test_a_book_that_does_not_load_has_one_fault_as_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "check", "--json", str(tmp_path)]) == 65
    document = json.loads(capsys.readouterr().out)
    assert document["book"] is None
    assert [fault["kind"] for fault in document["faults"]] == ["loading"]


def test_the_shipped_book_as_json_has_no_faults(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "check", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["faults"] == []


def test_a_foot_with_a_word_that_the_book_lacks_is_refused_and_not_judged(tmp_path: Path) -> None:
    book = Seeded.read(FOLDER / "word-of-an-observation-unknown.toml").book(tmp_path)
    raw = {"foot": "left_fore", "stage": "hot_fit", "work": "draught", "observations": {"toe_fit": {"clip": "proud"}}}
    with pytest.raises((EngineFault, BadInput)):
        assess(parse_fitting(raw, book), book)


YARD = """[book]
id = "low-meadow"
title = "Low Meadow, own book"
version = "0.1"
inherits = "shipped"
inherits_version = "2"
"""
OURS = 'status = "common practice"\nsources = ["trade"]\nbasis = "Common practice of the yard."\n'


def yard(folder: Path, **files: str) -> Rulebook:
    for name, text in {"book": YARD, **files}.items():
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return load_rulebook(folder)


def off(*rule_ids: str) -> str:
    return "".join(f'[rules.{rule_id}]\noff = true\nbasis = "Not judged in this yard."\n' for rule_id in rule_ids)


@pytest.mark.parametrize(
    "files",
    [
        {},
        {
            "history": off("interval-long", "interval-overdue"),  # their source is cited no more
            "joined": off("heels-contraction-risk", "shoe-on-too-long").replace("[rules", "[joined"),
        },
        {"toe_fit": off("toe-set-back-past-allowance")},  # riding work is left out on purpose
    ],
    ids=["nothing changed", "a source left without a use", "a side switched off in one work"],
)
def test_what_a_yard_leaves_out_of_the_inherited_book_is_its_own_say(files: dict[str, str], tmp_path: Path) -> None:
    assert found(yard(tmp_path, **files)) == []


@pytest.mark.parametrize(
    ("files", "key"),
    [
        ({"sources": '[sources.LM]\ntitle = "Rules of the yard"\n'}, "sources.LM"),
        ({"heel_fit": f"[rules.heel-width-close]\nlow = 3.4\n{OURS}"}, "rules.heel-width-wide.high"),
    ],
    ids=["a source of its own without a use", "limits that cross an inherited one"],
)
def test_what_a_yard_writes_itself_is_looked_at_like_any_other_book(
    files: dict[str, str], key: str, tmp_path: Path
) -> None:
    assert key in {fault.key for fault in found(yard(tmp_path, **files))}
