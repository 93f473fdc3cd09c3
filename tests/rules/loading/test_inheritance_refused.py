"""What a book that inherits is refused for: each fault with the yard's own file and key, and what to write."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rules import shipped_rulebook
from tests.support.yard_books import IDENTITY, OURS, OWN_RULE, off, refused

SHIPPED = shipped_rulebook()
NOT_OURS = 'status = "common practice"\nsources = ["memory"]\nbasis = "The source does not fit the status."\n'
Yard = Callable[..., Path]


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
    "a figure for a word of the eye": (
        {"eye_words": f"[width.tight]\nvalue = -2\n{OURS}"},
        "eye_words.toml",
        "(file)",
        "words of the eye are judged as words since rulebook 2",
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
    "a parameter that nothing reckons with": (
        {"parameters": f'[parameters.luck]\ntitle = "luck"\nvalue = 1\nunit = "mm"\n{OURS}'},
        "parameters.toml",
        "parameters.luck",
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
        {"heel_fit": OWN_RULE.replace("low = -20\n", "")},
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
        ('inherits_version = "2"\ncriteria = ["nails"]', "book.criteria", "unknown key"),
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


def test_a_guarded_limit_may_not_fire_later(yard: Yard) -> None:
    error = refused(yard(f"{IDENTITY}[levels.guarded]\nprobability = 0.2\n{OURS}"))
    assert (error.file, error.key) == ("book.toml", "levels.guarded.probability")


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


WEAK_CLINCHES = ("clinch-proud-medial", "clinch-proud-lateral", "clinch-cracked", "clinch-thin", "clinch-length-off")


def test_a_joined_rule_of_which_nothing_is_left_must_be_switched_off_too(yard: Yard) -> None:
    error = refused(yard(clinches=off(*WEAK_CLINCHES)))
    assert (error.file, error.key) == ("clinches.toml", "rules.clinch-proud-medial.off")
    assert "shoe-likely-lost" in error.problem
