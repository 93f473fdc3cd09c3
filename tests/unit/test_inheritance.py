"""A book that inherits: what it may change, what it must state for it, and what it may never take away."""

from __future__ import annotations

import copy
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from rules import Evaluator, Reading, Rulebook, RulebookError, Situation, load_rulebook, shipped_rulebook
from rules.inheritance import merge
from rules.loader import _shipped_tables
from rules.model import Scaled

SHIPPED = shipped_rulebook()
IDENTITY = """[book]
id = "low-meadow"
title = "Low Meadow, own book"
version = "0.1"
inherits = "shipped"
inherits_version = "1"
"""
OURS = 'status = "common practice"\nsources = ["trade"]\nbasis = "Common practice of the yard."\n'
NOT_OURS = 'status = "common practice"\nsources = ["memory"]\nbasis = "The source does not fit the status."\n'
Yard = Callable[..., Path]


@pytest.fixture
def yard(tmp_path: Path) -> Yard:
    """Makes the folder of a yard's book from the texts of its files (``heel_fit`` for heel_fit.toml)."""

    def make(book: str = IDENTITY, /, **files: str) -> Path:
        for name, text in {"book": book, **files}.items():
            (tmp_path / f"{name}.toml").write_text(text, encoding="utf-8")
        return tmp_path

    return make


def refused(folder: Path) -> RulebookError:
    with pytest.raises(RulebookError) as caught:
        load_rulebook(folder)
    error = caught.value
    assert str(error) == f"{error.file}: {error.key}: {error.problem}. {error.remedy}"
    assert re.search(r"pydantic|Input should|Traceback|NoneType", str(error)) is None, str(error)
    return error


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
            f'[rules.heel-short]\nlow = {{times = 0.5, of = "shoe_thickness"}}\n{OURS}',
            lambda book: book.rules["heel-short"].low,
            Scaled(times=0.5, of="shoe_thickness", plus=0.0),
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
            '[rules.heel-short]\napplies = [{work = ["draught"]}]\n',
            lambda book: [context.work for context in book.rules["heel-short"].applies or ()],
            [("draught",)],
            id="where a rule applies",
        ),
        pytest.param(
            "eye_words",
            f"[width.tight]\nvalue = -2\n{OURS}",
            lambda book: (book.eye_words["width"]["tight"].value, book.eye_words["width"]["tight"].u),
            (-2.0, 1.0),
            id="an eye word",
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
    required = '[required]\nhot_fit = ["heel_fit"]\n[levels.guarded]\nprobability = 0.02\n'
    book = load_rulebook(yard(IDENTITY + required + OURS))
    assert book.required["hot_fit"] == ("heel_fit",)
    assert book.required["nailed"] == SHIPPED.required["nailed"]
    assert level(book) == 0.02


def test_a_figure_written_again_unchanged_keeps_its_source(yard: Yard) -> None:
    book = load_rulebook(yard(heel_fit="[rules.heel-width-wide]\nhigh = 3.2\n"))
    assert book.rules == SHIPPED.rules


ADDED_RULE = f"""[rules.heel-bare]
quantity = "frog_gap"
grade = "major"
fires = "simple"
low = -20
unit = "mm"
{OURS}finding = "The branch lies {{size}} over the frog."
order = "iron"
caution = "own"
[rules.heel-bare.action]
hot_fit = "Open it."
nailed = "Open it."
finished = "Open it."
"""


def test_a_yard_adds_sources_cautions_eye_words_and_rules(yard: Yard) -> None:
    folder = yard(
        heel_fit=ADDED_RULE.replace('"trade"', '"trade", "LM"'),
        cautions='[cautions.own]\nstops = false\ntext = "Look twice."\n[standing.own]\ntext = "Tie the horse."\n',
        sources='[sources.LM]\ntitle = "Rules of the yard"\n',
        eye_words=f'[width.snug]\nvalue = 1.2\nu = 0.8\nunit = "mm"\n{OURS}',
    )
    book = load_rulebook(folder)
    assert set(book.rules) - set(SHIPPED.rules) == {"heel-bare"}
    assert "LM" in book.sources
    assert book.standing["own"].text == "Tie the horse."
    assert book.eye_words["width"]["snug"].value == 1.2
    situation = Situation("fore", "nailed", "draught", "regular", "yes")
    fired = Evaluator(book).evaluate(situation, [Reading("frog_gap", "medial_heel", -25.0, 0.5)])
    assert "heel-bare" in {firing.rule for firing in fired}


# Switching off.


def off(*rule_ids: str, section: str = "rules", basis: str = "Not in this yard.") -> str:
    return "".join(f'[{section}.{rule_id}]\noff = true\nbasis = "{basis}"\n' for rule_id in rule_ids)


def test_a_rule_that_is_switched_off_is_gone_and_its_reason_is_kept(yard: Yard) -> None:
    book = load_rulebook(yard(heel_fit=off("heel-long")))
    assert "heel-long" not in book.rules
    assert dict(book.off) == {"heel-long": "Not in this yard."}


def test_where_a_graver_rule_is_off_the_lesser_one_speaks(yard: Yard) -> None:
    book = load_rulebook(yard(heel_fit=off("heel-width-too-wide")))
    assert SHIPPED.rules["heel-width-wide"].unless == ("heel-width-too-wide",)
    assert book.rules["heel-width-wide"].unless == ()
    situation = Situation("fore", "nailed", "draught", "regular", "yes")
    fired = Evaluator(book).evaluate(situation, [Reading("width", "medial_heel", 9.0, 0.5)])
    assert [firing.rule for firing in fired] == ["heel-width-wide"]


def test_a_joined_rule_loses_a_rule_that_is_off_and_can_be_switched_off_itself(yard: Yard) -> None:
    book = load_rulebook(yard(heel_fit=off("heel-short-acute"), joined=off("heels-contraction-risk", section="joined")))
    assert "heel-short-acute" not in (book.joined["shoe-too-small"].when[0].findings or ())
    assert "heels-contraction-risk" not in book.joined
    assert set(book.off) == {"heel-short-acute", "heels-contraction-risk"}


def test_a_joined_rule_of_which_nothing_is_left_must_be_switched_off_too(yard: Yard) -> None:
    error = refused(yard(clinches=off("clinch-proud-medial", "clinch-proud-lateral", "clinch-cracked", "clinch-thin")))
    assert (error.file, error.key) == ("clinches.toml", "rules.clinch-proud-medial.off")
    assert "shoe-likely-lost" in error.problem


# What is refused, with the yard's own file and key.

REFUSED: dict[str, tuple[dict[str, str], str, str, str]] = {
    "a limit without a source of its own": (
        {"heel_fit": "[rules.heel-width-wide]\nhigh = 4.0\n"},
        "heel_fit.toml",
        "rules.heel-width-wide.status",
        "the inherited status would stand beside your figure",
    ),
    "a limit without a basis of its own": (
        {"heel_fit": '[rules.heel-width-wide]\nhigh = 4.0\nstatus = "common practice"\nsources = ["trade"]\n'},
        "heel_fit.toml",
        "rules.heel-width-wide.basis",
        "the inherited basis would stand beside your figure",
    ),
    "a grade without a source": (
        {"heel_fit": '[rules.heel-width-close]\ngrade = "major"\n'},
        "heel_fit.toml",
        "rules.heel-width-close.status",
        "grade is changed",
    ),
    "a target without a source": (
        {"heel_fit": "[rules.heel-width-wide]\namount = {to = 3.0}\n"},
        "heel_fit.toml",
        "rules.heel-width-wide.status",
        "amount is changed",
    ),
    "an edge without a source": (
        {"heel_fit": '[rules.heel-width-wide]\nedge = "fires"\n'},
        "heel_fit.toml",
        "rules.heel-width-wide.status",
        "edge is changed",
    ),
    "words without a source": (
        {"finish": '[rules.surface-rough]\nis = ["sharp"]\n'},
        "finish.toml",
        "rules.surface-rough.status",
        "is is changed",
    ),
    "an eye word without a source": (
        {"eye_words": "[width.tight]\nu = 2\n"},
        "eye_words.toml",
        "width.tight.status",
        "u is changed",
    ),
    "a parameter without a source": (
        {"parameters": "[parameters.trace]\nvalue = 1\n"},
        "parameters.toml",
        "parameters.trace.status",
        "value is changed",
    ),
    "a range without a basis": (
        {"heel_fit": "[quantities.width]\nrange = [-30, 30]\n"},
        "heel_fit.toml",
        "quantities.width.range_status",
        "range is changed",
    ),
    "a source that does not fit the status": (
        {"heel_fit": f"[rules.heel-width-wide]\nhigh = 4.0\n{NOT_OURS}"},
        "heel_fit.toml",
        "rules.heel-width-wide.sources",
        "a figure that is common practice must say so",
    ),
    "a source that there is not": (
        {"heel_fit": f"[rules.heel-width-wide]\nhigh = 4.0\n{OURS}".replace('["trade"]', '["trade", "LM"]')},
        "heel_fit.toml",
        "rules.heel-width-wide.sources",
        "unknown source 'LM'",
    ),
    "a misspelt rule": (
        {"heel_fit": f"[rules.heel-width-wied]\nhigh = 4.0\n{OURS}"},
        "heel_fit.toml",
        "rules.heel-width-wied",
        "Did you mean 'heel-width-wide'?",
    ),
    "a misspelt key": (
        {"heel_fit": f"[rules.heel-width-wide]\nhihg = 4.0\n{OURS}"},
        "heel_fit.toml",
        "rules.heel-width-wide.hihg",
        "unknown key",
    ),
    "a misspelt section": (
        {"heel_fit": f"[rule.heel-width-wide]\nhigh = 4.0\n{OURS}"},
        "heel_fit.toml",
        "rule",
        "Allowed here: criterion, quantities, rules",
    ),
    "a misspelt file": (
        {"heelfit": f"[rules.heel-width-wide]\nhigh = 4.0\n{OURS}"},
        "heelfit.toml",
        "(file)",
        "no file of the inherited book has this name",
    ),
    "a misspelt eye word": (
        {"eye_words": f"[width.tigt]\nvalue = -2\n{OURS}"},
        "eye_words.toml",
        "width.tigt",
        "Did you mean 'tight'?",
    ),
    "an eye word of no quantity": (
        {"eye_words": f'[widht.tight]\nvalue = -2\nu = 1\nunit = "mm"\n{OURS}'},
        "eye_words.toml",
        "widht",
        "unknown quantity 'widht'",
    ),
    "a parameter that nothing reckons with": (
        {"parameters": f'[parameters.luck]\ntitle = "luck"\nvalue = 1\nunit = "mm"\n{OURS}'},
        "parameters.toml",
        "parameters.luck",
        "Nothing is added here",
    ),
    "a quantity of its own": (
        {"finish": '[quantities.shine]\ntitle = "shine"\nkind = "flag"\nplaces = ["foot"]\nhow = "Look."\n'},
        "finish.toml",
        "quantities.shine",
        "Nothing is added here",
    ),
    "another quantity for a rule": (
        {"heel_fit": '[rules.heel-width-wide]\nquantity = "length"\n'},
        "heel_fit.toml",
        "rules.heel-width-wide.quantity",
        "Switch the rule off and add one of your own",
    ),
    "another unit for a quantity": (
        {"heel_fit": '[quantities.width]\nunit = "deg"\n'},
        "heel_fit.toml",
        "quantities.width.unit",
        "this key stays",
    ),
    "a shipped source rewritten": (
        {"sources": '[sources.LA]\ntitle = "What we say"\n'},
        "sources.toml",
        "sources.LA",
        "Give yours a name that is not taken",
    ),
    "a rule of its own that is not whole": (
        {"heel_fit": ADDED_RULE.replace("low = -20\n", "")},
        "heel_fit.toml",
        "rules.heel-bare",
        "either low/high or is",
    ),
    "a record that is no table": (
        {"heel_fit": "[rules]\nheel-width-wide = 4.0\n"},
        "heel_fit.toml",
        "rules.heel-width-wide",
        "not a table",
    ),
    "a section that is no table": ({"heel_fit": "rules = 4.0\n"}, "heel_fit.toml", "rules", "not a table"),
    "a critical rule off": (
        {"nails": off("nail-blood")},
        "nails.toml",
        "rules.nail-blood.off",
        "a critical rule is never switched off",
    ),
    "a critical joined rule off": (
        {"joined": off("close-nail-suspected", section="joined")},
        "joined.toml",
        "joined.close-nail-suspected.off",
        "a critical rule is never switched off",
    ),
    "a rule off that a critical one rests on": (
        {"nails": off("nail-high")},
        "nails.toml",
        "rules.nail-high.off",
        "'close-nail-suspected' rests on it",
    ),
    "a rule off without a reason": (
        {"heel_fit": "[rules.heel-long]\noff = true\n"},
        "heel_fit.toml",
        "rules.heel-long.basis",
        "nothing says why",
    ),
    "a rule half off": (
        {"heel_fit": f"[rules.heel-long]\noff = true\nhigh = 3\n{OURS}"},
        "heel_fit.toml",
        "rules.heel-long.high",
        "has nothing else",
    ),
    "a rule off by a word": (
        {"heel_fit": '[rules.heel-long]\noff = "yes"\nbasis = "x"\n'},
        "heel_fit.toml",
        "rules.heel-long.off",
        "Write off = true",
    ),
    "a rule off that there is not": (
        {"heel_fit": off("heel-lng")},
        "heel_fit.toml",
        "rules.heel-lng",
        "Did you mean 'heel-long'?",
    ),
    "a critical rule made minor": (
        {"nails": f'[rules.nail-flinch]\ngrade = "minor"\norder = "nails"\ncaution = "draw_nails"\n{OURS}'},
        "nails.toml",
        "rules.nail-flinch.grade",
        "a critical rule stays critical",
    ),
    "a critical rule made narrower": (
        {"soundness": '[rules.trot-lame]\napplies = [{work = ["riding"]}]\n'},
        "soundness.toml",
        "rules.trot-lame.applies",
        "where a critical rule fires stays",
    ),
    "a critical limit made laxer": (
        {"scorch": f"[rules.contact-harmful]\nhigh = 95\n{OURS}"},
        "scorch.toml",
        "rules.contact-harmful.high",
        "never laxer",
    ),
    "a critical limit made laxer for thick shoes": (
        {"nails": f'[rules.nail-horn-none]\nlow = {{times = -0.1, of = "shoe_thickness", plus = 1}}\n{OURS}'},
        "nails.toml",
        "rules.nail-horn-none.low.times",
        "Write a number above 0",
    ),
    "a critical limit made laxer for thin shoes": (
        {"nails": f'[rules.nail-horn-none]\nlow = {{times = 0.2, of = "shoe_thickness", plus = -1}}\n{OURS}'},
        "nails.toml",
        "rules.nail-horn-none.low",
        "never laxer",
    ),
    "a critical joined rule that rests on more": (
        {
            "joined": f"[joined.close-nail-suspected]\n{OURS}"
            '[[joined.close-nail-suspected.when]]\nfindings = ["nail-high"]\n'
            '[[joined.close-nail-suspected.when]]\nfindings = ["nail-soft"]\n'
        },
        "joined.toml",
        "joined.close-nail-suspected.when",
        "where a critical rule fires stays",
    ),
    "a caution that no longer stops": (
        {"cautions": '[cautions.stop_nail]\ntext = "Mind the nail."\n'},
        "cautions.toml",
        "cautions.stop_nail.text",
        "a caution that stops does not say so",
    ),
    "a caution turned into a lesser one": (
        {"cautions": "[cautions.stop_nail]\nstops = false\n"},
        "cautions.toml",
        "cautions.stop_nail.stops",
        "this key stays",
    ),
    "a critical action that does not stop": (
        {"nails": '[rules.nail-blood.action]\nnailed = "Carry on."\n'},
        "nails.toml",
        "rules.nail-blood.action.nailed",
        "a critical action does not say stop",
    ),
    "limits the wrong way round": (
        {"history": f"[rules.growth-odd]\nhigh = 3\n{OURS}"},
        "history.toml",
        "rules.growth-odd.low",
        "low is not below high",
    ),
}


@pytest.mark.parametrize("what", REFUSED)
def test_a_fault_of_the_yards_book_is_refused_with_its_file_and_key(what: str, yard: Yard) -> None:
    files, file, key, says = REFUSED[what]
    error = refused(yard(**files))
    assert (error.file, error.key) == (file, key), str(error)
    assert says in f"{error.problem}. {error.remedy}", str(error)


@pytest.mark.parametrize(
    ("change", "key", "says"),
    [
        ('id = "shipped"', "book.id", "the inherited book's name"),
        ('inherits = "another"', "book.inherits", "Write 'shipped'"),
        ('inherits_version = "0.9"', "book.inherits_version", "the shipped book is version"),
        ('inherits_version = "11"', "book.inherits_version", "the shipped book is version"),
        ("", "book.inherits_version", "this key is missing"),
        ('inherits_version = "1"\ncriteria = ["nails"]', "book.criteria", "unknown key"),
    ],
)
def test_the_identity_is_the_yards_own_and_names_what_it_was_written_over(
    yard: Yard, change: str, key: str, says: str
) -> None:
    name = change.split(" ", maxsplit=1)[0] or "inherits_version"
    lines = [line for line in IDENTITY.splitlines() if not line.startswith(f"{name} =")]
    error = refused(yard("\n".join([*lines, change])))
    assert (error.file, error.key) == ("book.toml", key), str(error)
    assert says in f"{error.problem}. {error.remedy}"


@pytest.mark.parametrize("version", ["1", "1.1", SHIPPED.version])
def test_the_inherited_version_is_exact_or_its_leading_parts(yard: Yard, version: str) -> None:
    assert load_rulebook(yard(IDENTITY.replace('"1"', f'"{version}"'))).inherits == f"shipped {SHIPPED.version}"


def test_a_guarded_limit_may_not_fire_later(yard: Yard) -> None:
    error = refused(yard(f"{IDENTITY}[levels.guarded]\nprobability = 0.2\n{OURS}"))
    assert (error.file, error.key) == ("book.toml", "levels.guarded.probability")


def test_a_critical_limit_may_be_made_stricter(yard: Yard) -> None:
    before = SHIPPED.rules["contact-harmful"].high
    assert isinstance(before, float)
    scorch = f"[rules.contact-harmful]\nhigh = {before - 5}\n{OURS}"
    assert load_rulebook(yard(scorch=scorch)).rules["contact-harmful"].high == before - 5


def test_a_fault_in_what_was_inherited_is_told_as_such_with_what_brings_it_about(yard: Yard) -> None:
    """A too-wide limit drawn below the wide one leaves the lesser rule nothing to fire on."""
    error = refused(yard(heel_fit=f"[rules.heel-width-too-wide]\nhigh = 3.0\n{OURS}", finish=off("surface-rough")))
    assert error.file == "heel_fit.toml of the inherited book"
    assert error.key == "rules.heel-width-wide.high"
    assert error.remedy.endswith("What brings it about: [rules.heel-width-too-wide] in heel_fit.toml")


def test_a_required_criterion_does_not_lose_its_limits_silently(yard: Yard) -> None:
    every = [rule_id for rule_id, rule in SHIPPED.rules.items() if rule.quantity == "hand"]
    error = refused(yard(finish=off(*every)))
    assert error.file == "finish.toml of the inherited book"
    assert "finish is required at the stage finished, and no rule is left that judges hand" in error.problem
    assert all(f"[rules.{rule_id}]" in error.remedy for rule_id in every)


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
    monkeypatch.setattr("rules.loader.shipped_rulebook", lambda: other)
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
