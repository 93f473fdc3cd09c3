"""The marking scheme in the rulebook: whole, inherited, compared, on the page, and no business of an assessment."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from fitcheck.report.difference_text import difference_lines
from fitcheck.report.markdown import escaped
from fitcheck.report.rulebook_page import rulebook_page
from rules import RulebookError, load_rulebook, marking_of, shipped_rulebook
from rules.analysis.difference import difference
from tests.support.yard_books import IDENTITY, yard_folder

SHIPPED = shipped_rulebook()
OURS = 'status = "own choice"\nsources = ["own"]\nbasis = "So it is marked in this yard."\n'
Yard = Callable[..., Path]


@pytest.fixture
def yard(tmp_path: Path) -> Yard:
    """Makes the folder of a yard's book from the texts of its files."""
    return partial(yard_folder, tmp_path)


def test_every_criterion_has_marks_and_those_of_a_foot_add_up() -> None:
    marking = marking_of(SHIPPED)
    assert set(marking.marks) == set(SHIPPED.criteria)
    of_foot = [name for name, criterion in SHIPPED.criteria.items() if criterion.of == "foot"]
    assert sum(marking.marks[name].marks for name in of_foot) == marking.scheme.total == 100


def test_no_figure_of_the_scheme_claims_a_published_source() -> None:
    for record in marking_of(SHIPPED).chosen:
        assert record.status in {"common practice", "own choice"}
        assert set(record.sources) <= {"trade", "own"}


def test_no_limit_rests_on_a_choice_of_our_own() -> None:
    for rule_id in (*SHIPPED.rules, *SHIPPED.joined):
        assert "own" not in SHIPPED.remedy(rule_id).sources


def test_a_critical_finding_has_no_price_in_any_book(yard: Yard) -> None:
    with pytest.raises(RulebookError) as caught:
        load_rulebook(yard(marking=f"[deductions.critical]\npercent = 50\n{OURS}"))
    assert (caught.value.file, caught.value.key) == ("marking.toml", "deductions.critical")


REFUSED: dict[str, tuple[str, str, str]] = {
    "marks without a source of their own": (
        "[marks.finish]\nmarks = 7\n",
        "marks.finish.status",
        "the inherited status would stand beside your figure",
    ),
    "marks that no longer add up": (
        f"[marks.finish]\nmarks = 5\n{OURS}",
        "scheme.total",
        "101 marks together, not 100",
    ),
    "marks of a criterion that there is not": (
        f"[marks.gait]\nmarks = 7\n{OURS}",
        "marks.gait",
        "no record of this name",
    ),
    "a band begins without a source": ("[bands.good]\nfrom = 70\n", "bands.good.status", "from is changed"),
    "another total without a source": ("[scheme]\ntotal = 50\n", "scheme.status", "total is changed"),
    "half a band": ("[bands.fair]\ntitle = 'fair'\n", "bands.fair", "no record of this name"),
    "published marks": (
        "[marks.history]\nmarks = 0\nstatus = 'published'\nsources = ['LA']\nbasis = 'No.'\n",
        "marks.history.status",
        "not one of the words",
    ),
}


@pytest.mark.parametrize(("text", "key", "says"), REFUSED.values(), ids=REFUSED)
def test_a_yards_scheme_is_checked_as_strictly(yard: Yard, text: str, key: str, says: str) -> None:
    with pytest.raises(RulebookError) as caught:
        load_rulebook(yard(marking=text))
    assert caught.value.file.startswith("marking.toml")
    assert caught.value.key == key
    assert says in caught.value.problem
    assert re.search(r"pydantic|Input should|Traceback", str(caught.value)) is None


def test_a_fault_that_lies_in_the_inherited_book_names_what_of_the_yard_brings_it_about(yard: Yard) -> None:
    with pytest.raises(RulebookError, match=re.escape("What brings it about: [marks.finish] in marking.toml")):
        load_rulebook(yard(marking=f"[marks.finish]\nmarks = 7\n{OURS}"))


def test_what_differs_in_the_scheme_is_told_in_words(yard: Yard) -> None:
    book = load_rulebook(
        yard(
            IDENTITY,
            marking=f"[scheme]\ntotal = 105\n{OURS}[marks.finish]\nmarks = 9\n{OURS}"
            f"[deductions.minor]\npercent = 5\n{OURS}"
            f"[bands.good]\nfrom = 70\n{OURS}[bands.fair]\ntitle = 'fair work'\nfrom = 60\nworst = 'major'\n"
            f"meaning = 'Between the two.'\n{OURS}[progress.fewest_feet]\nvalue = 12\n{OURS}"
            "[says.stopped]\ntext = 'No mark: stop.'\n",
        )
    )
    found = difference(SHIPPED, book)
    assert {f"{each.part}.{each.name}" for each in found.changes if each.part != "book"} == {
        "scheme.scheme", "marks.finish", "deductions.minor", "bands.good", "bands.fair", "progress.fewest_feet",
        "says.stopped",
    }  # fmt: skip
    said = " ".join(" ".join(difference_lines(found)).split())
    for expected in (
        "scheme: comes to 105 marks, was 100 marks",
        "finish: has 9 marks, was 4 marks",
        "minor: takes off 5 % of the criterion's marks, was 10 %",
        "good: begins at 70 %, was 75 %",
        "fair: added, begins at 60 % (own choice: own)",
        "fewest_feet: is 12, was 8",
        'stopped: text: "No mark: stop.", was "No mark: a critical',
        'why: "So it is marked in this yard."',
    ):
        assert expected in said
    assert [name for name, _ in marking_of(book).best_first] == ["clean", "good", "fair", "practice", "not_yet"]


def test_the_whole_scheme_stands_on_the_page() -> None:
    page = rulebook_page(SHIPPED)
    said = " ".join(page.split("\n## Marks\n")[1].split("\n## ")[0].split())
    marking = marking_of(SHIPPED)
    for record in marking.chosen:
        assert escaped(record.basis) in said
    for name, marks in marking.marks.items():
        assert f"**{SHIPPED.criteria[name].title}:** {marks.marks}." in said
    for deduction in marking.deductions.values():
        assert f"{deduction.percent} %" in said
    for band in marking.bands.values():
        assert f"**{band.title}:** from {band.from_} %" in said
    for say in marking.says.values():
        assert escaped(say.text) in said
    assert "**critical:** leaves no mark at all" in said
