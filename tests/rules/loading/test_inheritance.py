"""A book that inherits: what it may change, what it must state for it, and what it may never take away."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rules import Evaluator, Reading, Rulebook, Situation, load_rulebook, shipped_rulebook
from rules.loading.inheritance import merge
from rules.loading.loader import _shipped_tables
from rules.model.records import Scaled
from tests.support.yard_books import IDENTITY, OURS, OWN_RULE, off

SHIPPED = shipped_rulebook()
Yard = Callable[..., Path]


def test_a_book_that_changes_nothing_judges_as_the_shipped_one_under_its_own_name(yard: Yard) -> None:
    book = load_rulebook(yard())
    assert (book.id, book.title, book.version) == ("low-meadow", "Low Meadow, own book", "0.1")
    assert book.inherits == f"shipped {SHIPPED.version}"
    for part in ("rules", "joined", "quantities", "criteria", "eye_words", "parameters", "required", "sources"):
        assert getattr(book, part) == getattr(SHIPPED, part)


def test_the_shipped_book_inherits_none_and_switches_nothing_off() -> None:
    assert SHIPPED.inherits is None
    assert dict(SHIPPED.off) == {}


# Each kind of override.


def limit(book: Rulebook) -> object:
    rule = book.rules["heel-width-wide"]
    return rule.high, rule.status, rule.printed, rule.unless, rule.finding == SHIPPED.rules["heel-width-wide"].finding


def level(book: Rulebook) -> object:
    return book.levels["guarded"].probability


@pytest.mark.parametrize(
    ("file", "text", "what", "expected"),
    [
        pytest.param(
            "heel_fit",
            f"[rules.heel-width-wide]\nhigh = 4.0\n{OURS}",
            limit,
            (4.0, "common practice", None, ("heel-width-too-wide",), True),
            id="a limit; what its source prints goes with it",
        ),
        pytest.param(
            "heel_fit",
            f'[rules.heel-short]\nlow = {{times = 0.6, of = "shoe_thickness"}}\n{OURS}',
            lambda book: book.rules["heel-short"].low,
            Scaled(times=0.6, of="shoe_thickness", plus=0.0),
            id="a limit that follows a dimension, as a whole",
        ),
        pytest.param(
            "heel_fit",
            f'[rules.heel-width-close]\ngrade = "major"\nunless = []\n{OURS}',
            lambda book: book.rules["heel-width-close"].grade,
            "major",
            id="a grade",
        ),
        pytest.param(
            "finish",
            f'[rules.surface-rough]\nis = ["rough", "sharp"]\nunless = []\n{OURS}',
            lambda book: book.rules["surface-rough"].is_,
            ("rough", "sharp"),
            id="the words that a rule fires on",
        ),
        pytest.param(
            "heel_fit",
            '[rules.heel-width-tight.action]\nhot_fit = "Back to the anvil."\n',
            lambda book: dict(book.rules["heel-width-tight"].action),
            {**SHIPPED.rules["heel-width-tight"].action, "hot_fit": "Back to the anvil."},
            id="one action; the others stay",
        ),
        pytest.param(
            "heel_fit",
            '[rules.heel-short]\napplies = [{hoof_form = ["regular"], work = ["draught"]}]\n',
            lambda book: [context.work for context in book.rules["heel-short"].applies or ()],
            [("draught",)],
            id="where a rule applies",
        ),
        pytest.param(
            "heel_fit",
            f'[rules.heel-seen-long]\ngrade = "major"\n{OURS}',
            lambda book: (book.rules["heel-seen-long"].grade, book.rules["heel-seen-long"].is_),
            ("major", ("long",)),
            id="the grade of a word of the eye",
        ),
        pytest.param(
            "readings",
            f"[methods.rule]\nu = 0.4\n{OURS}",
            lambda book: (book.methods["rule"].u, book.methods["rule"].title),
            (0.4, "steel rule"),
            id="an uncertainty",
        ),
        pytest.param(
            "parameters",
            f"[parameters.growth]\nvalue = 9\n{OURS}",
            lambda book: (book.parameters["growth"].value, book.parameters["growth"].low),
            (9.0, SHIPPED.parameters["growth"].low),
            id="a parameter",
        ),
        pytest.param(
            "parameters",
            '[remarks.growth_assumed]\ntext = "Growth was assumed."\n',
            lambda book: book.remarks["growth_assumed"].text,
            "Growth was assumed.",
            id="a remark",
        ),
        pytest.param(
            "cautions",
            '[cautions.hot_iron]\ntext = "Hot iron burns."\n',
            lambda book: (book.cautions["hot_iron"].text, book.cautions["hot_iron"].stops),
            ("Hot iron burns.", False),
            id="a caution",
        ),
        pytest.param(
            "dimensions",
            "[quantities.shoe_thickness]\nrange = [8, 30]\n"
            'range_status = "common practice"\nrange_basis = "No thinner iron is used here."\n',
            lambda book: book.quantities["shoe_thickness"].range,
            (8.0, 30.0),
            id="a range",
        ),
        pytest.param(
            "heel_fit",
            '[criterion]\nneeds = [{any_of = ["length"], at = ["medial_heel"]}]\n',
            lambda book: len(book.criteria["heel_fit"].needs),
            1,
            id="what a criterion needs",
        ),
        pytest.param(
            "joined",
            '[joined.heels-both-tight]\nfinding = "Both tight."\n',
            lambda book: book.joined["heels-both-tight"].finding,
            "Both tight.",
            id="a joined rule's text",
        ),
    ],
)
def test_a_yard_overrides_only_what_it_writes(
    yard: Yard, file: str, text: str, what: Callable[[Rulebook], object], expected: object
) -> None:
    assert what(load_rulebook(yard(**{file: text}))) == expected


def test_a_yard_requires_other_observations_and_other_chances(yard: Yard) -> None:
    required = '[required]\nhot_fit = ["heel_fit", "scorch"]\n[levels.guarded]\nprobability = 0.02\n'
    book = load_rulebook(yard(IDENTITY + required + OURS))
    assert book.required["hot_fit"] == ("heel_fit", "scorch")
    assert book.required["nailed"] == SHIPPED.required["nailed"]
    assert level(book) == 0.02


def test_a_yard_makes_a_word_worse_and_asks_for_more(yard: Yard) -> None:
    """What is refused is only what makes less of a fault, or of what must be seen."""
    book = load_rulebook(
        yard(
            heel_fit=f'[rules.heel-seen-tight]\nis = ["tight", "close"]\n{OURS}',
            levelness='[criterion]\nneeds = [{any_of = ["gap"], at = "anywhere"}]\n',
            going='[criterion]\nneeds = [{any_of = ["trot_up"], at = ["foot"]}]\n',
        )
    )
    assert book.rules["heel-seen-tight"].is_ == ("tight", "close")


def test_a_word_that_is_only_noted_may_be_switched_off(yard: Yard) -> None:
    assert SHIPPED.rules["heel-seen-wide"].grade == "minor"
    assert "heel-seen-wide" not in load_rulebook(yard(heel_fit=off("heel-seen-wide"))).rules


def test_a_figure_written_again_unchanged_keeps_its_source(yard: Yard) -> None:
    book = load_rulebook(
        yard(heel_fit='[rules.heel-width-wide]\nhigh = {times = 1.0, of = "width_allowance", plus = "1/8 in"}\n')
    )
    assert book.rules == SHIPPED.rules


def test_a_yard_adds_sources_cautions_and_rules(yard: Yard) -> None:
    folder = yard(
        heel_fit=OWN_RULE.replace('"trade"', '"trade", "LM"'),
        cautions='[cautions.own]\nstops = false\ntext = "Look twice."\n[standing.own]\ntext = "Tie the horse."\n',
        sources='[sources.LM]\ntitle = "Rules of the yard"\n',
    )
    book = load_rulebook(folder)
    assert set(book.rules) - set(SHIPPED.rules) == {"heel-bare"}
    assert "LM" in book.sources
    assert book.standing["own"].text == "Tie the horse."
    situation = Situation("fore", "nailed", "draught", "regular", "yes")
    fired = Evaluator(book).evaluate(situation, [Reading("frog_gap", "medial_heel", -25.0, 0.5)])
    assert "heel-bare" in {firing.rule for firing in fired}


# Switching off.


def test_a_rule_that_is_switched_off_is_gone_and_its_reason_is_kept(yard: Yard) -> None:
    book = load_rulebook(yard(heel_fit=off("heel-long")))
    assert "heel-long" not in book.rules
    assert dict(book.off) == {"heel-long": "Not in this yard."}


def test_where_a_graver_rule_is_off_the_lesser_one_speaks(yard: Yard) -> None:
    book = load_rulebook(yard(heel_fit=off("heel-width-too-wide")))
    assert SHIPPED.rules["heel-width-wide"].unless == ("heel-width-too-wide",)
    assert book.rules["heel-width-wide"].unless == ()
    situation = Situation("fore", "nailed", "harness", "regular", "yes")
    width = [Reading("width", "medial_heel", 9.0, 0.5), Reading("width_allowance", "foot", 0.0)]
    fired = Evaluator(book).evaluate(situation, width)
    assert [firing.rule for firing in fired] == ["heel-width-wide"]


def test_a_joined_rule_loses_a_rule_that_is_off_and_can_be_switched_off_itself(yard: Yard) -> None:
    book = load_rulebook(yard(heel_fit=off("heel-short-acute"), joined=off("heels-contraction-risk", section="joined")))
    assert "heel-short-acute" not in (book.joined["shoe-too-small"].when[0].findings or ())
    assert "heels-contraction-risk" not in book.joined
    assert set(book.off) == {"heel-short-acute", "heels-contraction-risk"}


@pytest.mark.parametrize("version", ["1", "1.4", SHIPPED.version])
def test_the_inherited_version_is_exact_or_its_leading_parts(yard: Yard, version: str) -> None:
    assert load_rulebook(yard(IDENTITY.replace('"1"', f'"{version}"'))).inherits == f"shipped {SHIPPED.version}"


def test_a_critical_limit_may_be_made_stricter(yard: Yard) -> None:
    before = SHIPPED.rules["contact-harmful"].high
    assert isinstance(before, float)
    scorch = f"[rules.contact-harmful]\nhigh = {before - 5}\n{OURS}"
    assert load_rulebook(yard(scorch=scorch)).rules["contact-harmful"].high == before - 5


def test_a_criterion_that_is_no_longer_required_may_lose_its_limits(yard: Yard) -> None:
    every = [rule_id for rule_id, rule in SHIPPED.rules.items() if rule.quantity == "hand"]
    left = [name for name in SHIPPED.required["finished"] if name != "finish"]
    book = load_rulebook(yard(f"{IDENTITY}[required]\nfinished = {left}\n".replace("'", '"'), finish=off(*every)))
    assert set(book.off) == set(every)


# Digests.


def test_the_digest_covers_the_yards_files_and_what_they_inherit(yard: Yard, monkeypatch: pytest.MonkeyPatch) -> None:
    first = load_rulebook(yard()).digest
    second = load_rulebook(yard(heel_fit='[rules.heel-width-wide]\nfinding = "Wide."\n')).digest
    assert re.fullmatch("sha256:[0-9a-f]{64}", first)
    assert len({SHIPPED.digest, first, second}) == 3
    other = copy.copy(SHIPPED)
    object.__setattr__(other, "digest", "sha256:" + "0" * 64)
    monkeypatch.setattr("rules.loading.loader.shipped_rulebook", lambda: other)
    assert load_rulebook(yard()).digest not in {first, second}


def test_merging_changes_neither_book() -> None:
    inherited = dict(_shipped_tables())
    own: dict[str, dict[str, Any]] = {
        "heel_fit.toml": {
            "rules": {"heel-width-tight": {"action": {"hot_fit": "x"}}, "heel-long": {"off": True, "basis": "x"}}
        }
    }
    before = copy.deepcopy((own, inherited))
    merged = merge(own, inherited)
    assert (own, inherited) == before
    assert merged.tables["heel_fit.toml"]["rules"]["heel-width-tight"]["action"]["hot_fit"] == "x"
    assert "heel-long" not in merged.tables["heel_fit.toml"]["rules"]
