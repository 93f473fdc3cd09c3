"""All faults of a yard's book told at once: over twenty in one book, each with file, line, key and what to write."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from textwrap import dedent

import pytest

from rules import RulebookError, load_rulebook
from rules.loading.gathering import line_of
from tests.support.yard_books import IDENTITY, OURS, OWN_RULE, THICKER_IRON, refused

Yard = Callable[..., Path]

_STANDING = 'status = "common practice"\nsources = ["trade"]\nbasis = "Of the yard."\n'
_FILES = {
    "book": IDENTITY.replace('"2"', '"1.3"') + '[required]\nnailed = ["heelfit"]\n',
    "sources": '[sources.HB]\nname = "Our hand-book"\n[sources.LA]\ntitle = "Ours"\n',
    "finish": '[rules.surface-rough]\nfinding = "It is rough.\n',
    "heels": "[rules.heel-short]\nlow = 3.0\n",
    "toe_fit": f"[rule.toe-full]\nhigh = 3.0\n{_STANDING}",
    "heel_fit": dedent(
        """
        [rules.heel-width-wide]
        higg = 4.0
        low = "four"
        [rules.heel-width-wid]
        high = 4.0
        [rules.heel-width-close]
        grade = "major"
        [rules.heel-width-wide-full]
        high = 8.0
        status = "our practice"
        sources = ["trade"]
        basis = "Of the yard."
        [rules.frog-gap-narrow]
        unit = "deg"
        [rules.heel-off-plumb]
        off = true
        [rules.heel-seen-long]
        finding = "The {sied} heel is seen long."
        [rules.heel-width-wide-draught]
        high = 4.0
        status = "published"
        sources = ["trade"]
        basis = "Of the yard."
        """
    )
    + OWN_RULE.replace('finished = "Open it."', "").replace('caution = "own"', 'caution = "ours"'),
    "history": f"[rules.interval-long]\nhigh = 35\n{_STANDING.replace('trade', 'LX')}",
    "nails": '[rules.nail-blood]\noff = true\nbasis = "It happens."\n',
    "joined": dedent(
        """
        [joined.foot-unlevel]
        when = [{ findings = ["no-such-rule"] }, { findings = ["shoe-rocks"] }]
        status = "common practice"
        sources = ["trade"]
        basis = "Of the yard."
        """
    ),
    "marking": '[marks.dressing]\nmarks = 40\nstatus = "own choice"\nsources = ["own"]\nbasis = "Of the yard."\n',
    "dimensions": THICKER_IRON.replace("[14, 30]", "[30, 14]"),
}

MISTAKES: dict[str, tuple[str, str, str]] = {
    "a text without its end": ("finish.toml", "line 2", "Correct what stands"),
    "another version beneath": ("book.toml", "book.inherits_version", "write the new version"),
    "a misspelt criterion": ("book.toml", "required.nailed", "Did you mean 'heel_fit'?"),
    "a misspelt key of a source": ("sources.toml", "sources.HB", "title"),
    "a source that is changed": ("sources.toml", "sources.LA", "a name that is not taken"),
    "a file that no book has": ("heels.toml", "(file)", "Write what changes into one of"),
    "a misspelt section": ("toe_fit.toml", "rule", "Allowed here: "),
    "a misspelt key": ("heel_fit.toml", "rules.heel-width-wide.higg", "Did you mean 'high'? Allowed here: "),
    "text in the place of a number": ("heel_fit.toml", "rules.heel-width-wide.low", "plain number"),
    "a figure without its standing": ("heel_fit.toml", "rules.heel-width-wide.status", "State status, sources, basis"),
    "a misspelt rule": ("heel_fit.toml", "rules.heel-width-wid", "Did you mean 'heel-width-wide'?"),
    "a grade without its standing": ("heel_fit.toml", "rules.heel-width-close.status", "State status, sources, basis"),
    "an unknown status": ("heel_fit.toml", "rules.heel-width-wide-full.status", "'own practice'"),
    "a unit that stays": ("heel_fit.toml", "rules.frog-gap-narrow.unit", "Switch the rule off"),
    "a rule that is off without a reason": ("heel_fit.toml", "rules.heel-off-plumb.basis", "Add basis"),
    "a misspelt placeholder": ("heel_fit.toml", "rules.heel-seen-long.finding", "Did you mean 'side'?"),
    "a published figure of the trade": ("heel_fit.toml", "rules.heel-width-wide-draught.sources", "Name it"),
    "an unknown caution": ("heel_fit.toml", "rules.heel-bare.caution", "Known: "),
    "an unknown source": ("history.toml", "rules.interval-long.sources", "Known: "),
    "a critical rule that is off": ("nails.toml", "rules.nail-blood.off", "Take this table out"),
    "a joined rule on a rule that there is not": ("joined.toml", "joined.foot-unlevel.when.0.findings", "rules list"),
    "a range the wrong way round": ("dimensions.toml", "quantities.shoe_thickness", "Change the record"),
    "marks that do not add up": ("marking.toml of the inherited book", "scheme.total", "[marks.dressing]"),
}


@pytest.fixture
def told(yard: Yard) -> tuple[RulebookError, ...]:
    """Every fault of the book that has all the mistakes."""
    with pytest.raises(RulebookError) as caught:
        load_rulebook(yard(_FILES["book"], **{name: text for name, text in _FILES.items() if name != "book"}))
    return caught.value.all


def test_every_mistake_is_told_at_once_and_nothing_besides(told: tuple[RulebookError, ...]) -> None:
    found = {(each.file, each.key): each.remedy for each in told}
    assert len(found) == len(told)
    assert set(found) == {(file, key) for file, key, _ in MISTAKES.values()}
    assert not {name for name, (file, key, remedy) in MISTAKES.items() if remedy not in found[file, key]}


def test_each_mistake_has_its_line(told: tuple[RulebookError, ...]) -> None:
    for each in told:
        assert (each.line is None) == (each.key == "(file)" or "inherited" in each.file), str(each)
    lines = {each.key: each.line for each in told}
    text = _FILES["heel_fit"].split("\n")
    assert text[(lines["rules.heel-width-wide.higg"] or 0) - 1] == "higg = 4.0"
    assert text[(lines["rules.heel-off-plumb.basis"] or 0) - 1] == "[rules.heel-off-plumb]"


def test_what_only_comes_of_another_mistake_is_not_told(yard: Yard) -> None:
    """The rule's source is there, but for its misspelt key: that nobody knows it is no mistake of the rule."""
    source = '[sources.HB]\ntitle = "Ours"\nyaer = "2026"\n'
    rule = f"[rules.interval-long]\nhigh = 35\n{OURS.replace('trade', 'HB').replace('common', 'own')}"
    error = refused(yard(sources=source, history=rule))
    assert [each.key for each in error.all] == ["sources.HB.yaer"]


def test_the_names_of_a_file_that_does_not_parse_are_known(yard: Yard) -> None:
    rule = f"[rules.interval-long]\nhigh = 35\n{OURS.replace('trade', 'HB').replace('common', 'own')}"
    error = refused(yard(sources='[sources.HB]\ntitle = "Ours\n', history=rule))
    assert [(each.file, each.key) for each in error.all] == [("sources.toml", "line 2")]


@pytest.mark.parametrize(
    ("key", "line"),
    [
        ("rules.a.low", 3),
        ("rules.a.action.nailed", 5),
        ("rules.a.high", 2),
        ("rules", 2),
        ("joined.b", None),
        ("line 4", 4),
    ],
)
def test_the_line_of_a_key_is_that_of_the_table_where_it_lacks(key: str, line: int | None) -> None:
    assert line_of("# one\n[rules.a]\nlow = 1\n[rules.a.action]\nnailed = 'Rasp = file.'\n", key) == line
