"""What differs between two rulebooks: nothing between equal ones, each change once, the same from either side."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from fitcheck.report.difference_text import change_in_words, difference_document, difference_lines
from rules import Rulebook, load_rulebook, shipped_rulebook
from rules.analysis.difference import Change, Difference, difference
from tests.support.paths import ROOT
from tests.support.yard_books import IDENTITY, OURS, yard_folder

SHIPPED = shipped_rulebook()
YARD = load_rulebook(ROOT / "cases_demo" / "yard_book")
OPPOSITE = {
    "added": "removed",
    "removed": "added",
    "switched_off": "switched_on",
    "switched_on": "switched_off",
    "changed": "changed",
}
Yard = Callable[..., Rulebook]


@pytest.fixture
def yard(tmp_path: Path) -> Yard:
    """Makes a yard's book from the texts of its files."""
    return lambda *book, **files: load_rulebook(yard_folder(tmp_path, *book, **files))


@pytest.fixture
def much(yard: Yard) -> Rulebook:
    """A book with a change of every kind."""
    return yard(
        IDENTITY
        + f'[required]\nfinished = ["heel_fit", "nails", "going"]\n[levels.guarded]\nprobability = 0.02\n{OURS}'
        '[places.toe]\ntitle = "the front"\n[steps.draw_nails]\ntext = "Draw them all."\n',
        heel_fit=f"[rules.heel-long]\noff = true\nbasis = 'We like length.'\n[rules.heel-width-wide]\nhigh = 4\n{OURS}"
        f"[criterion]\nneeds = [{{any_of = ['width'], at = ['medial_heel']}}]\n"
        "[quantities.width]\nrange = [-30, 30]\nrange_status = 'common practice'\nrange_basis = 'No wider foot here.'\n"
        f"[rules.heel-off-plumb]\napplies = [{{work = ['draught'], hoof_form = ['regular']}}]\nshoe_off = true\n{OURS}",
        joined="[joined.heels-both-tight]\nfinding = 'Both tight.'\n",
        readings=f"[methods.rule]\nu = 0.4\n{OURS}[instruments.s]\nu = 2\n{OURS}",
        parameters=f"[parameters.growth]\nvalue = 9\n{OURS}[remarks.heat_course]\ntext = 'Only a sum.'\n",
        cautions="[cautions.hot_iron]\ntext = 'Hot iron burns.'\n[standing.own]\ntext = 'Tie the horse.'\n",
        sources="[sources.LM]\ntitle = 'Rules of the yard'\n",
    )


def said(found: Difference) -> str:
    """The whole text on one line."""
    return " ".join(" ".join(difference_lines(found)).split())


def named(found: Difference) -> dict[str, Change]:
    return {f"{change.part}.{change.name}": change for change in found.changes}


@pytest.mark.parametrize("book", [SHIPPED, YARD], ids=["shipped", "yard"])
def test_a_book_does_not_differ_from_itself(book: Rulebook) -> None:
    found = difference(book, book)
    assert found.changes == ()
    assert said(found).endswith("No difference.")
    assert difference_document(found)["equal"] is True


def test_comments_and_the_order_of_records_make_no_difference(tmp_path: Path) -> None:
    for path in (ROOT / "rules" / "book").glob("*.toml"):
        text = path.read_text(encoding="utf-8")
        if path.name == "sources.toml":
            head, *tables = text.split("\n[")
            text = "\n[".join([head, *reversed(tables)])
        (tmp_path / path.name).write_text(f"# A remark.\n{text}\n", encoding="utf-8")
    copy = load_rulebook(tmp_path)
    assert copy.digest != SHIPPED.digest
    assert difference(SHIPPED, copy).changes == ()


def test_the_difference_is_the_same_from_either_side(much: Rulebook) -> None:
    for one, other in ((SHIPPED, much), (SHIPPED, YARD), (YARD, much)):
        there, back = named(difference(one, other)), named(difference(other, one))
        assert set(there) == set(back)
        for name, change in there.items():
            assert OPPOSITE[change.how] == back[name].how
            assert {key.key: (key.before, key.after) for key in change.keys} == {
                key.key: (key.after, key.before) for key in back[name].keys
            }


def test_every_change_is_told_once_and_nothing_else(much: Rulebook) -> None:
    assert {name: change.how for name, change in named(difference(SHIPPED, much)).items()} == {
        "book.book": "changed",
        "required.required": "changed",
        "criteria.heel_fit": "changed",
        "quantities.width": "changed",
        "rules.heel-long": "switched_off",
        "rules.heel-width-wide": "changed",
        "rules.heel-off-plumb": "changed",
        "joined.heels-both-tight": "changed",
        "levels.guarded": "changed",
        "methods.rule": "changed",
        "instruments.s": "changed",
        "parameters.growth": "changed",
        "remarks.heat_course": "changed",
        "cautions.hot_iron": "changed",
        "standing.own": "added",
        "steps.draw_nails": "changed",
        "places.toe": "changed",
        "sources.LM": "added",
    }


@pytest.mark.parametrize(
    "says",
    [
        "From Fitting rules for nailed shoes on heavy horses (shipped",
        "to Low Meadow, own book (low-meadow 0.1, over shipped",
        "heel-width-wide: fires above 4 mm, was above allowance for turned-in heels + 3.18 mm (common practice:",
        "was published: LA, USDA, HU)",
        'why: "Common practice of the yard."',
        'heel-long: switched off, fires above thickness of the shoe + 3 mm switched off: "We like length."',
        "required: finished: toe_fit, clips, levelness, clinches, finish taken out",
        "shoe off: yes, was no",
        "applies: work draught, hoof form regular, was work draught",
        "width: can be -30 to 30 mm, was -60 to 60 mm",
        "guarded: fires from a chance of 0.02, was from a chance of 0.05",
        "steel rule: is sure to 0.4 mm (standard uncertainty), was 0.5 mm",
        "growth: is 4.2 to 12.7, taken as 9 mm/month, was 4.2 to 12.7, taken as 8.5 mm/month",
        'hot_iron: text: "Hot iron burns.", was "Black iron',
        "LM: added",
        "needs: width at the medial heel, was length or length by eye at the medial heel and the lateral heel",
        'title: "the front", was "the toe"',
        'draw_nails: text: "Draw them all.", was',
        'own: added text: "Tie the horse."',
    ],
)
def test_the_difference_is_told_in_words(much: Rulebook, says: str) -> None:
    assert says in said(difference(SHIPPED, much))


@pytest.mark.parametrize(
    "says",
    [
        "heel-long: no longer switched off, fires above thickness of the shoe + 3 mm",
        "heel-width-wide: fires above allowance for turned-in heels + 3.18 mm, was above 4 mm",
    ],
)
def test_the_way_back_is_told_in_words(much: Rulebook, says: str) -> None:
    assert says in said(difference(much, SHIPPED))


def test_the_reason_for_switching_a_rule_off_is_a_difference_too(yard: Yard) -> None:
    off = "[rules.heel-long]\noff = true\nbasis = '{}'\n"
    first, second = yard(heel_fit=off.format("We like length.")), yard(heel_fit=off.format("No room."))
    (change,) = difference(first, second).changes
    assert (change.name, change.how) == ("heel-long", "changed")
    assert 'switched off: "No room."' in said(difference(first, second))


def test_every_change_can_be_told_and_the_document_has_it_all(much: Rulebook) -> None:
    found = difference(SHIPPED, much)
    document = difference_document(found)
    assert document["before"]["digest"] == SHIPPED.digest
    assert document["after"]["inherits"] == much.inherits
    assert document["equal"] is False
    for change, shown in zip(found.changes, document["changes"], strict=True):
        assert shown["says"] == list(change_in_words(change, found))
        assert all(line.strip() for line in shown["says"])
        assert [key["key"] for key in shown["keys"]] == [key.key for key in change.keys]
