"""Quantities of a book's own: sent in ``observations.own``, judged, told as lacking, explained; refused where wrong."""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from fitcheck import assess, explain, parse_fitting
from fitcheck.cli import main
from fitcheck.errors import BadInput
from fitcheck.fitting.own_readings import of_this_book, own_quantities
from fitcheck.fitting.readings import sources_of
from rules import Rulebook, RulebookError, load_rulebook, localized, shipped_rulebook
from tests.support.own_quantities import OWN_BOOK, OWN_CLINCHES, OWN_FINISH, OWN_GERMAN, OWN_SOURCES
from tests.support.yard_books import yard_folder

_DEMO = Path(__file__).parents[3] / "cases_demo" / "finished-good-fore.json"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The book on the disk, with German of its own."""
    folder = yard_folder(
        tmp_path_factory.mktemp("school"), OWN_BOOK, sources=OWN_SOURCES, finish=OWN_FINISH, clinches=OWN_CLINCHES
    )
    (folder / "languages" / "de").mkdir(parents=True)
    (folder / "languages" / "de" / "finish.toml").write_text(OWN_GERMAN, encoding="utf-8")
    language = '[language]\ntitle = "Deutsch"\ncomplete = false\n'
    (folder / "languages" / "de" / "language.toml").write_text(language, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def book(folder: Path) -> Rulebook:
    """The book."""
    return load_rulebook(folder)


def _fitting(**own: Any) -> dict[str, Any]:
    fitting: dict[str, Any] = json.loads(_DEMO.read_text(encoding="utf-8"))
    if own:
        fitting["observations"]["own"] = own
    return fitting


def test_the_book_has_no_fault(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "check", str(folder)]) == 0, capsys.readouterr().err


def test_a_number_and_a_word_are_judged(book: Rulebook) -> None:
    sent = _fitting(pad_thickness={"medial_heel": {"value": "1/2", "unit": "in"}}, polish={"foot": "rusty"})
    answer = assess(parse_fitting(sent, book), book)
    found = {each.rule: each for each in answer.findings}
    assert answer.decision == "put_right"
    assert found["pad-thick"].measured is not None
    assert (found["pad-thick"].measured.value, found["pad-thick"].measured.u) == (12.7, 0.1)
    assert "rusty" in found["polish-lost"].finding


def test_what_is_needed_and_lacks_is_told_by_its_path(book: Rulebook) -> None:
    answer = assess(parse_fitting(_fitting(), book), book)
    assert answer.decision == "incomplete"
    assert [each.field for each in answer.still_needed] == ["observations.own.polish.foot"]
    lacking = {each.field: each.how for each in answer.unassessed or ()}
    assert lacking["observations.own.pad_thickness.lateral_heel"] == "Measure the pad beside the shoe at the heel."


def test_what_is_good_lets_the_foot_go(book: Rulebook) -> None:
    sent = _fitting(pad_thickness={"medial_heel": 3, "lateral_heel": 3.5}, polish={"foot": "bright"})
    assert assess(parse_fitting(sent, book), book).decision == "release"


def _with_nails(*own: dict[str, Any]) -> dict[str, Any]:
    """The good foot, its first nails with what is looked at of each by this book alone."""
    fitting = _fitting(polish={"foot": "bright"}, pad_thickness={"medial_heel": 3, "lateral_heel": 3})
    for nail, each in zip(fitting["observations"]["nails"], own, strict=False):
        nail["own"] = each
    return fitting


def test_what_is_read_at_each_nail_is_judged_there(book: Rulebook) -> None:
    sent = _with_nails({"clinch_width": 2, "bedding": "bedded"}, {"clinch_width": {"value": "1/4", "unit": "in"}})
    answer = assess(parse_fitting(sent, book), book)
    [found] = answer.findings
    assert (found.rule, found.place) == ("clinch-narrow", "nail:medial:1")
    assert found.finding == "The clinch of the medial nail 1 is 2 mm wide; 3 mm is the least."
    assert answer.decision == "put_right"


def test_of_what_is_read_at_each_nail_it_is_told_where_it_lacks(book: Rulebook) -> None:
    def lacking(sent: dict[str, Any]) -> set[tuple[str, str]]:
        answer = assess(parse_fitting(sent, book), book)
        return {(each.field, each.place) for each in answer.unassessed or () if each.quantity == "clinch_width"}

    assert lacking(_with_nails()) == {("observations.nails[].own.clinch_width", "nail")}
    sent = _with_nails(*[{"clinch_width": 5}] * 7)
    assert lacking(sent) == {("observations.nails.7.own.clinch_width", "nail:lateral:4")}


def test_what_every_nail_needs_holds_the_foot_up(tmp_path: Path) -> None:
    needs = 'needs = [{any_of = ["clinch"], at = "every_nail"}, {any_of = ["bedding"], at = "every_nail"}]'
    strict = yard_folder(tmp_path, OWN_BOOK, sources=OWN_SOURCES, clinches=f"[criterion]\n{needs}\n\n{OWN_CLINCHES}")
    book = load_rulebook(strict)
    sent = _with_nails(*[{"bedding": "bedded"}] * 7)
    del sent["observations"]["own"]
    answer = assess(parse_fitting(sent, book), book)
    assert answer.decision == "incomplete"
    assert [each.field for each in answer.still_needed] == ["observations.nails.7.own.bedding"]


def test_it_is_explained_kept_and_sent_again_as_it_was(book: Rulebook) -> None:
    fitting = parse_fitting(_with_nails({"clinch_width": 2.0}), book)
    explanation = explain(fitting, book).explanation
    assert explanation is not None
    readings = [each for one in explanation.criteria for each in one.readings if each.quantity == "clinch_width"]
    assert [(each.place, each.method) for each in readings] == [("nail:medial:1", "calliper")]
    assert list(sources_of(fitting, "clinch_width", "nail:medial:1")) == ["observations.nails.0.own.clinch_width"]
    again = parse_fitting(json.loads(fitting.model_dump_json(exclude_none=True)), book)
    assert again == fitting
    assert of_this_book(_with_nails({"clinch_width": 2.0}), shipped_rulebook())["observations"]["nails"][0]["own"] == {}


def test_it_is_explained(book: Rulebook) -> None:
    fitting = parse_fitting(_fitting(pad_thickness={"medial_heel": 9.0}, polish={"foot": "bright"}), book)
    explanation = explain(fitting, book).explanation
    assert explanation is not None
    readings = {each.quantity: each for criterion in explanation.criteria for each in criterion.readings}
    assert readings["pad_thickness"].method == "calliper"
    assert [each.outcome for each in readings["pad_thickness"].limits] == ["fired"]


def test_its_german_is_the_books_own(book: Rulebook) -> None:
    german = localized(book, "de")
    assert german.quantities["polish"].title == "Glanz des Eisens"
    answer = assess(parse_fitting(_fitting(), book), german)
    assert "Das Eisen bei Tageslicht ansehen." in {each.how for each in answer.unassessed or ()}


@pytest.mark.parametrize(
    ("own", "field", "allowed"),
    [
        ({"polsh": {"foot": "dull"}}, "observations.own.polsh", "pad_thickness, polish"),
        ({"polish": "dull"}, "observations.own.polish", "an object with the keys foot"),
        ({"polish": {"toe": "dull"}}, "observations.own.polish.toe", "an object with the keys foot"),
        ({"polish": {"foot": "rust"}}, "observations.own.polish.foot", 'one of "bright", "dull", "rusty"'),
        ({"pad_thickness": {"medial_heel": 31}}, "observations.own.pad_thickness.medial_heel", "0 to 30 mm"),
        (
            {"pad_thickness": {"medial_heel": {"value": 3, "unit": "s"}}},
            "observations.own.pad_thickness.medial_heel",
            "mm",
        ),
        ({"pad_thickness": {"medial_heel": True}}, "observations.own.pad_thickness.medial_heel", "0 to 30"),
        ({"bedding": {"nail": "bedded"}}, "observations.own.bedding.nail", "observations.nails.N.own.bedding"),
        ({"bedding": {"foot": "bedded"}}, "observations.own.bedding.foot", "observations.nails.N.own.NAME"),
    ],
)
def test_a_fault_names_field_and_what_is_allowed(book: Rulebook, own: dict[str, Any], field: str, allowed: str) -> None:
    with pytest.raises(BadInput) as caught:
        parse_fitting(_fitting(**own), book)
    [problem] = caught.value.problems
    assert problem.field == field
    assert allowed in problem.allowed


@pytest.mark.parametrize(
    ("own", "field", "allowed"),
    [
        ({"clinch_widt": 3}, "observations.nails.0.own.clinch_widt", "clinch_width, bedding"),
        ({"polish": "dull"}, "observations.nails.0.own.polish", "clinch_width, bedding"),
        ({"bedding": "bed"}, "observations.nails.0.own.bedding", 'one of "bedded", "on_the_horn"'),
        ({"clinch_width": 44}, "observations.nails.0.own.clinch_width", "0 to 20 mm"),
        ("bedded", "observations.nails.0.own", "an object with names of quantities as keys"),
    ],
)
def test_a_fault_at_a_nail_names_field_and_what_is_allowed(book: Rulebook, own: Any, field: str, allowed: str) -> None:
    with pytest.raises(BadInput) as caught:
        parse_fitting(_with_nails(own), book)
    [problem] = caught.value.problems
    assert problem.field == field
    assert allowed in problem.allowed


def test_all_faults_are_told_at_once(book: Rulebook) -> None:
    with pytest.raises(BadInput) as caught:
        parse_fitting(_fitting(polsh={}, polish={"foot": 3}, pad_thickness={"toe": 3, "medial_heel": 99}), book)
    assert len(caught.value.problems) == len({each.field for each in caught.value.problems}) == 4


@pytest.mark.parametrize(
    "own",
    [
        {"\ud800": {}},
        {"polish": {"\ud800": "dull"}},
        {"polish": {"foot": "\ud800"}},
        {f"p{number}": {} for number in range(10_000)},
        {"polish": {f"p{number}": 1 for number in range(10_000)}},
        [],
    ],
    ids=["name", "place", "word", "names", "places", "list"],
)
def test_whatever_is_sent_is_refused_in_a_sentence(book: Rulebook, own: Any) -> None:
    fitting = _fitting(polish={"foot": "dull"})
    fitting["observations"]["own"] = own
    with pytest.raises(BadInput) as caught:
        parse_fitting(fitting, book)
    [problem] = caught.value.problems
    assert problem.field.startswith("observations.own")
    str(caught.value).encode()


def test_a_book_without_it_refuses_it() -> None:
    assert not own_quantities(shipped_rulebook())
    with pytest.raises(BadInput, match="no quantity of its own"):
        parse_fitting(_fitting(polish={"foot": "dull"}), shipped_rulebook())


def test_what_was_read_stands_in_json_as_it_was_sent(book: Rulebook) -> None:
    own = {"pad_thickness": {"medial_heel": {"value": 3.0, "unit": "mm", "method": "rule"}}, "polish": {"foot": "dull"}}
    written = parse_fitting(_fitting(**own), book).model_dump(mode="json")
    assert written["observations"]["own"] == own
    assert parse_fitting(deepcopy(written), book) == parse_fitting(_fitting(**own), book)


@pytest.mark.parametrize(
    ("change", "key"),
    [
        (
            'words = ["bright"|by_eye = true\ncomputed_from = ["hand"]\nwords = ["bright"',
            "quantities.polish.computed_from",
        ),
        ('title = "polish of the shoe"\n|', "quantities.polish"),
    ],
)
def test_what_a_quantity_of_its_own_may_not_be_is_told(tmp_path: Path, change: str, key: str) -> None:
    old, new = change.split("|")
    texts = {"sources": OWN_SOURCES, "finish": OWN_FINISH.replace(old, new, 1)}
    with pytest.raises(RulebookError) as caught:
        load_rulebook(yard_folder(tmp_path, OWN_BOOK, **texts))
    assert caught.value.key == key
