"""The command's reasons: folded to what concerns the findings, and whole with --all or as JSON."""

from __future__ import annotations

import json
import re

import pytest

from fitcheck.cli import main
from rules import shipped_rulebook
from tests.support.paths import ROOT

Captured = pytest.CaptureFixture[str]
CASES = ROOT / "cases_demo"


def case(name: str) -> str:
    return str(CASES / f"{name}.json")


def test_explain_says_what_concerns_the_findings_or_was_near_a_limit_and_counts_the_rest(capsys: Captured) -> None:
    assert main(["assess", case("tight-heels-good-toe")]) == 1
    plain = capsys.readouterr().out
    assert main(["assess", "--explain", case("tight-heels-good-toe")]) == 1
    said = capsys.readouterr().out
    assert said.startswith(f"{plain}\nWhy: the findings, and what was near a limit\n")
    reasons = " ".join(said.removeprefix(plain).split())
    assert "! heel-width-tight (major; below -0.5 mm; published: HU, LA). Fired: 0.5 mm (1.0 u) past" in reasons
    assert "! Joined: heels-both-tight" in reasons
    assert "- toe-set-back (minor; below -0.5 mm;" in reasons, "16 % likely to lie past it"
    assert "toe-over" not in reasons.replace("toe-full, toe-over", ""), "far inside"
    assert "Levelness" not in reasons, "nothing near"
    assert "Not here: " not in reasons
    assert "Decided by: heels-both-tight@foot" in reasons
    main(["assess", "--all", "--explain", case("tight-heels-good-toe")])
    whole = capsys.readouterr().out.partition("\nWhy: ")[2]
    left_out = re.search(r"Left out: (\d+) readings and (\d+) limits", reasons)
    assert left_out is not None
    told, all_told = (len(re.findall(r"^      [!?-] [\w-]+ \(", text, re.MULTILINE)) for text in (said, whole))
    assert int(left_out[2]) == all_told - told > 0
    assert len(said.splitlines()) < 100 < len(whole.splitlines())


def test_what_is_missing_stays_in_a_folded_explanation(capsys: Captured) -> None:
    main(["assess", "--explain", case("incomplete")])
    why = capsys.readouterr().out.partition("\nWhy: ")[2]
    answer = json.loads((CASES / "incomplete.answer.json").read_text())
    assert answer["still_needed"]
    for needed in answer["still_needed"]:
        assert f"Still needed: {needed['field']}" in why


def test_explain_with_all_adds_every_reason_to_the_same_text(capsys: Captured) -> None:
    assert main(["assess", "--all", case("tight-heels-good-toe")]) == 1
    plain = capsys.readouterr().out
    assert main(["assess", "--all", "--explain", case("tight-heels-good-toe")]) == 1
    said = capsys.readouterr().out
    assert said.startswith(f"{plain}\nWhy: ")
    reasons = " ".join(said.removeprefix(plain).split())
    assert (
        "! heel-width-tight (major; below -0.5 mm; published: HU, LA). Fired: 0.5 mm (1.0 u) past the limit" in reasons
    )
    assert "- heel-width-close (minor; below 1.59 mm (printed as 1/16 in); published: LA, USDA)." in reasons
    assert "Applies here: stance regular, side lateral. Silenced:" in reasons
    assert "Not here: heel-short-acute (minor). Applies to work harness or draught, hoof form acute or bear." in reasons
    assert "! Joined: heels-both-tight" in reasons
    assert reasons.index("Heel fit") < reasons.index("Levelness") < reasons.index("Decision")
    assert max(len(line) for line in said.splitlines()) <= 100


def test_explain_names_every_rule_of_the_quantities_that_were_read(capsys: Captured) -> None:
    """Once at least, though what is the same for one heel and the other is said once only."""
    main(["assess", "--all", "--explain", case("good-draught-fore")])
    said = capsys.readouterr().out
    book = shipped_rulebook()
    read = {
        each["quantity"] for each in json.loads((CASES / "good-draught-fore.answer.json").read_text())["measurements"]
    }
    for quantity in read:
        for rule_id, _ in book.rules_of[quantity]:
            assert f" {rule_id} (" in said
    assert said.count("Not here: heel-short-acute") == 1


def test_explained_json_has_the_explanation_and_plain_json_has_none(capsys: Captured) -> None:
    main(["assess", "--json", case("flinch")])
    plain = json.loads(capsys.readouterr().out)
    assert main(["assess", "--json", "--explain", case("flinch")]) == 2
    explained = json.loads(capsys.readouterr().out)
    assert list(explained) == [*plain, "explanation"]
    assert explained["explanation"]["decision"]["decided_by"] == ["nail-flinch@nail:lateral:3"]
