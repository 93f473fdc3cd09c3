"""The rulebook's page: all of the book is on it, it reads as plain text and as Markdown, and it is fresh."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path
from typing import get_args

import pytest
from pydantic import BaseModel

from fitcheck.cli import main
from fitcheck.report.markdown import Page, escaped, slug_of
from fitcheck.report.rulebook_page import rulebook_page
from rules import Rulebook, load_rulebook, localized, shipped_rulebook
from rules.model.figures import Status
from rules.model.records import Scaled

PAGE = rulebook_page(shipped_rulebook())
GERMAN = rulebook_page(localized(shipped_rulebook(), "de"))
HEADING = re.compile(r"^(#+) (.+)$", re.MULTILINE)
LINK = re.compile(r"(?<!\\)\[([^\]\\]+)\](?!:)")
TARGET = re.compile(r"^\[(.+)\]: #(.+)$", re.MULTILINE)
UNITS = {
    "mm": " mm",
    "s": " s",
    "deg": "°",
    "degC": " °C",
    "1": "",
    "d": " days",
    "mm/month": " mm a month",
    "kg": " kg",
}


def flat(text: str) -> str:
    return " ".join(text.split())


def section(name: str, page: str = PAGE) -> str:
    """What stands under the heading ``name``, as one line, up to the next heading."""
    found = re.search(rf"^#+ {re.escape(name)}\n(.*?)(?=^#|\Z)", page, re.MULTILINE | re.DOTALL)
    assert found is not None, name
    return flat(found[1])


def texts(record: BaseModel) -> Iterator[str]:
    """Every sentence of a record."""
    for name, value in record:
        if name in {"finding", "basis", "text", "how", "looks_at", "meaning", "printed", "range_basis"} and value:
            yield value
        if name == "action":
            yield from value.values()


def test_the_page_in_the_repository_is_that_of_the_shipped_rulebook(root: Path) -> None:
    remedy = "run: fitcheck rules page > docs/rulebook.md"
    assert (root / "docs" / "rulebook.md").read_text(encoding="utf-8") == PAGE, remedy


def test_the_command_prints_the_page_of_any_book(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["rules", "page"]) == 0
    assert capsys.readouterr().out == PAGE
    own = root / "cases_demo" / "yard_book"
    assert main(["rules", "page", "--rulebook", str(own)]) == 0
    assert capsys.readouterr().out == rulebook_page(load_rulebook(own))


def test_the_ci_compares_the_page_with_the_rulebook(root: Path) -> None:
    gates = (root / ".ci" / "gates").read_text(encoding="utf-8")
    assert ".ci/refresh --check" in gates
    refresh = (root / ".ci" / "refresh").read_text(encoding="utf-8")
    assert 'fitcheck" rules page' in refresh


def test_the_readme_leads_to_the_page(root: Path) -> None:
    assert "(docs/rulebook.md)" in (root / "README.md").read_text(encoding="utf-8")


def test_each_criterion_has_a_section_with_its_readings_in_the_books_order() -> None:
    book = shipped_rulebook()
    titles = [title for _, title in HEADING.findall(PAGE)]
    for criterion_id, criterion in book.criteria.items():
        start = titles.index(criterion.title)
        names = [name.replace("_", " ").capitalize() for name in book.quantities_of[criterion_id]]
        rest = [title for title in titles[start + 1 :] if not re.search(r"\((minor|major|critical)\)$", title)]
        assert rest[: len(names)] == names
        assert escaped(criterion.looks_at) in section(criterion.title)


def test_each_rule_has_a_section_with_its_grade_figures_texts_and_sources() -> None:
    book = shipped_rulebook()
    for rule_id in (*book.rules, *book.joined):
        rule = book.remedy(rule_id)
        said = section(f"{rule_id} ({rule.grade})")
        for text in texts(rule):
            assert escaped(text) in said
        assert rule.status in said.lower()
        for source in rule.sources:
            assert f"[{source}]" in said
        assert escaped(book.cautions[rule.caution].text) in said


def test_each_need_says_where_in_words() -> None:
    places = {
        "anywhere": "at one place at least",
        "each_branch": "at one hole at least of each branch",
        "every_nail": "at every nail",
        "every_clip": "at every clip",
    }
    page = " ".join(PAGE.split())
    needs = [need for criterion in shipped_rulebook().criteria.values() for need in criterion.needs]
    assert {need.at for need in needs if isinstance(need.at, str)} == set(places)
    for need in needs:
        if isinstance(need.at, str):
            assert f"{need.any_of[-1].replace('_', ' ')} {places[need.at]}" in page, need


def shown(limit: float, unit: str) -> str:
    """Millimetres to two places, as limits in inches are long; every other unit as the book has it."""
    places = Decimal(str(limit)).quantize(Decimal("0.01"), ROUND_HALF_UP)
    return f"{float(places) if unit == 'mm' else limit:g}{UNITS[unit]}"


def test_each_limit_of_a_rule_stands_in_its_section_with_its_unit() -> None:
    book = shipped_rulebook()
    for rule_id, rule in book.rules.items():
        said = section(f"{rule_id} ({rule.grade})").split("**Fires:**")[0]
        for limit in (rule.low, rule.high):
            if isinstance(limit, Scaled):
                times = "" if limit.times == 1 else f"{limit.times:g} x "
                sign = "-" if limit.plus < 0 else "+"
                plus = f" {sign} {shown(abs(limit.plus), rule.unit)}" if limit.plus else ""
                assert f" {times}{book.quantities[limit.of].title}{plus}" in said
            elif limit is not None:
                assert f" {shown(limit, rule.unit)}" in said
                assert (
                    shown(limit, rule.unit) == f"{limit:g}{UNITS[rule.unit]}" or f"(printed as {rule.printed})" in said
                )
        for word in rule.is_ or ():
            assert word.replace("_", " ") in said


def test_each_limit_names_what_silences_it_and_what_it_asks_for_besides() -> None:
    book = shipped_rulebook()
    for rule_id, rule in book.rules.items():
        said = section(f"{rule_id} ({rule.grade})")
        for graver in rule.unless:
            assert f"[{graver}]" in said
        for word in (word for words in (rule.with_ or {}).values() for word in words):
            assert word.replace("_", " ") in said


def test_each_joined_rule_links_to_all_that_it_rests_on() -> None:
    book = shipped_rulebook()
    for rule_id, joined in book.joined.items():
        said = section(f"{rule_id} ({joined.grade})")
        for clause in joined.when:
            for name in (*(clause.findings or ()), *(clause.clear_of or ())):
                assert f"[{name}]" in said


def test_each_standing_of_a_figure_is_explained() -> None:
    said = section("How to read this page")
    for status in (*get_args(Status), "own choice"):
        assert f"**{status}:**" in said


def test_each_quantity_says_how_to_look_where_and_how_surely() -> None:
    book = shipped_rulebook()
    for name, quantity in book.quantities.items():
        said = section(name.replace("_", " ").capitalize())
        assert flat(escaped(quantity.title))[1:] in said
        assert escaped(quantity.how) in said
        assert escaped(quantity.range_basis or "") in said
        if quantity.unit == "mm":
            method = book.methods[quantity.method or "rule"]
            assert f"{method.u:g} mm ({method.title})" in said
        for word in quantity.words or ():
            assert word.replace("_", " ") in said


@pytest.mark.parametrize(
    ("title", "records"),
    [
        ("How to read this page", lambda book: book.levels),
        ("How sure a reading is", lambda book: {**book.methods, **book.instruments}),
        ("Figures that computations reckon with", lambda book: book.parameters),
        ("What is said with computed readings", lambda book: book.remarks),
        ("Cautions", lambda book: {**book.cautions, **book.standing}),
        ("Order of work", lambda book: book.steps),
    ],
)
def test_every_other_record_of_the_book_stands_under_its_heading(
    title: str, records: Callable[[Rulebook], dict[str, BaseModel]]
) -> None:
    said = section(title)
    found = records(shipped_rulebook())
    assert found
    for record in found.values():
        for text in texts(record):
            assert escaped(text) in said
        for figure in (getattr(record, name, None) for name in ("u", "value", "low", "high", "probability")):
            assert figure is None or f"{figure:g}" in said


def test_every_source_is_given_in_full() -> None:
    for source_id, source in shipped_rulebook().sources.items():
        said = section(f"{source_id}: {source.title}")
        for text in (source.authors, source.year, source.note, source.licence):
            assert text is None or escaped(text).rstrip(".") in said


@pytest.mark.parametrize("page", [PAGE, GERMAN], ids=["en", "de"])
def test_every_link_leads_to_a_heading_and_no_two_headings_linked_to_are_alike(page: str) -> None:
    slugs = [slug_of(title) for _, title in HEADING.findall(page)]
    targets = dict(TARGET.findall(page))
    used = {flat(name) for name in LINK.findall(page)}
    assert used - set(targets) == set()
    assert set(targets.values()) <= set(slugs)
    assert len({name.casefold() for name in targets}) == len(targets)
    assert len(set(slugs)) == len(slugs)
    assert len(used) > 80


@pytest.mark.parametrize("page", [PAGE, GERMAN], ids=["en", "de"])
def test_the_contents_name_every_part_in_order(page: str) -> None:
    parts = [title for level, title in HEADING.findall(page) if level == "##"]
    contents = page.split("\n## ", 1)[0]
    assert re.findall(r"^- \[(.+)\]$", contents, re.MULTILINE) == parts


def test_the_german_page_has_all_that_the_english_one_has_and_nothing_in_english() -> None:
    levels = [level for level, _ in HEADING.findall(PAGE)]
    assert [level for level, _ in HEADING.findall(GERMAN)] == levels
    fields = re.compile(r"^ *- \*\*", re.MULTILINE)
    assert len(fields.findall(GERMAN)) == len(fields.findall(PAGE))
    english, german = (re.findall(r"^- \*\*(.+?):\*\*", flat_lines(page), re.MULTILINE) for page in (PAGE, GERMAN))
    assert not {name for name in set(english) & set(german) if not name.startswith(tuple("0123456789"))}


def flat_lines(page: str) -> str:
    """Each item on one line."""
    return re.sub(r"\n +(?!- )", " ", page)


def test_the_page_reads_well_as_plain_text() -> None:
    body = TARGET.sub("", PAGE)
    assert max(len(line) for line in body.splitlines()) <= 100
    assert "\x00" not in body
    assert "None" not in body
    assert not re.search(r"[ \t]$", body, re.MULTILINE)


def markers(page: str) -> list[str]:
    """What begins each line that begins something in Markdown."""
    return re.findall(r"^ *(#+(?= |$)|[-+*](?= |$)|\d+[.)](?= |$)|>|```|\|)", page, re.MULTILINE)


def test_a_books_own_text_never_turns_into_headings_lists_or_links() -> None:
    book = shipped_rulebook()
    rule = book.rules["heel-width-tight"]
    marks = ("-", "+", "1.", "2)", "#", ">", "*", "##", "=", "12.")
    # Words of all lengths between them, so that each of them would come to stand first on some line.
    odd = "Cut [the] *branch* <b> `x` _all_ " + " ".join(f"{'x' * (n % 17 + 1)} {marks[n % 10]}" for n in range(300))
    changed = rule.model_copy(update={"finding": odd})
    page = rulebook_page(replace(book, rules={**book.rules, "heel-width-tight": changed}))
    assert markers(page) == markers(PAGE)
    assert not re.search(r"^ *(=+|-+)$", page, re.MULTILINE)
    assert r"\[the\] \*branch\* \<b> \`x\` \_all\_" in flat(page)
    assert flat(escaped(odd)) in flat(page)


def test_a_books_own_changes_are_on_its_page(root: Path) -> None:
    own = load_rulebook(root / "cases_demo" / "yard_book")
    page = rulebook_page(own)
    assert page.startswith(f"# {own.title}\n")
    assert f"inherits {own.inherits}" in flat(page)
    for rule_id in own.off:
        assert f"Switched off: {rule_id}." in flat(page)
        assert not re.search(rf"^#+ {rule_id} ", page, re.MULTILINE)


def test_headings_get_the_anchors_that_github_gives_them() -> None:
    """As its documentation on section links says: lower case, no punctuation, hyphens for blanks."""
    assert slug_of("ISO13732-1: burn thresholds, for contact") == "iso13732-1-burn-thresholds-for-contact"
    page = Page()
    page.heading(1, "Limits")
    page.heading(3, "heel-short (minor)", "heel-short")
    assert page.text().endswith("[heel-short]: #heel-short-minor\n")
