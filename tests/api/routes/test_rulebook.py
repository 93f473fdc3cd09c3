"""GET /v1/rulebook and its rules: the book as it judges, nothing left out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import httpx
import pytest

from rules import shipped_rulebook
from rules.model.records import Scaled

Ask = Callable[..., httpx.Response]
CheckProblem = Callable[..., list[dict[str, Any]]]
BOOK = shipped_rulebook()


@pytest.fixture(scope="module")
def document(ask: Ask) -> dict[str, Any]:
    """The whole rulebook as a client gets it."""
    whole: dict[str, Any] = ask("GET", "/v1/rulebook").json()
    return whole


def test_the_rulebook_names_itself_as_assessments_do(document: dict[str, Any]) -> None:
    assert (document["id"], document["version"], document["digest"]) == (BOOK.id, BOOK.version, BOOK.digest)


def test_every_criterion_quantity_rule_source_and_caution_is_listed(document: dict[str, Any]) -> None:
    assert [each["id"] for each in document["criteria"]] == list(BOOK.criteria)
    quantities = [each["id"] for criterion in document["criteria"] for each in criterion["quantities"]]
    dimensions = [each["id"] for each in document["dimensions"]]
    assert sorted(quantities + dimensions) == sorted(BOOK.quantities)
    assert [each["id"] for each in document["rules"]] == [*BOOK.rules, *BOOK.joined]
    assert [each["id"] for each in document["sources"]] == list(BOOK.sources)
    assert [each["id"] for each in document["cautions"]] == list(BOOK.cautions)
    assert [each["id"] for each in document["levels"]] == list(BOOK.levels)
    assert [each["id"] for each in document["uncertainties"]] == [*BOOK.methods, *BOOK.instruments]
    assert {(each["quantity"], each["word"]) for each in document["eye_words"]} == {
        (quantity, word) for quantity, words in BOOK.eye_words.items() for word in words
    }
    assert len(document["standing_cautions"]) == len(BOOK.standing)


def test_what_each_stage_requires_is_told(document: dict[str, Any]) -> None:
    for stage, required in BOOK.required.items():
        assert {each["id"] for each in document["criteria"] if stage in each["required_at"]} == set(required)
    hot = {each["id"] for each in document["criteria"] if each["required_when_hot_fitted"]}
    assert hot == set(BOOK.required_when_hot_fitted)


def shown(limit: Any) -> Any:
    return limit.model_dump() if isinstance(limit, Scaled) else limit


@pytest.mark.parametrize("rule_id", BOOK.rules)
def test_each_single_rule_shows_its_limit_texts_and_sources(ask: Ask, document: dict[str, Any], rule_id: str) -> None:
    rule = BOOK.rules[rule_id]
    full = ask("GET", f"/v1/rulebook/rules/{rule_id}").json()
    [short] = [each for each in document["rules"] if each["id"] == rule_id]
    assert {key: full[key] for key in short} == short
    assert short["layer"] == "single"
    assert short["limit"] == {
        "low": shown(rule.low),
        "high": shown(rule.high),
        "edge_fires": rule.edge == "fires",
        "words": list(rule.is_ or ()),
    }
    assert short["unit"] == (None if rule.is_ else rule.unit)
    assert (short["grade"], short["status"], short["sources"]) == (rule.grade, rule.status, list(rule.sources))
    assert short["places"] == list(BOOK.places_of(rule))
    assert len(short["applies"]) == len(rule.applies or ())
    for told, context in zip(short["applies"], rule.applies or (), strict=True):
        assert {key: tuple(words) for key, words in told.items()} == context.model_dump(exclude_none=True)
    assert (full["finding"], full["actions"], full["basis"]) == (rule.finding, dict(rule.action), rule.basis)
    assert full["observed"]["id"] == rule.quantity
    assert full["fires"]["probability"] == BOOK.levels[rule.fires].probability
    assert [source["title"] for source in full["sources_in_full"]] == [
        BOOK.sources[source].title for source in rule.sources
    ]
    assert full["caution"]["text"] == BOOK.cautions[rule.caution].text
    assert full["silent_when"] == list(rule.unless)
    assert full["target"] == (None if rule.amount is None else shown(rule.amount.to))
    assert full["rulebook"] == {
        "id": BOOK.id,
        "title": BOOK.title,
        "version": BOOK.version,
        "digest": BOOK.digest,
    }


@pytest.mark.parametrize("rule_id", BOOK.joined)
def test_each_joined_rule_shows_what_it_rests_on(ask: Ask, rule_id: str) -> None:
    joined = BOOK.joined[rule_id]
    full = ask("GET", f"/v1/rulebook/rules/{rule_id}").json()
    assert (full["layer"], full["quantity"], full["limit"]) == ("joined", None, None)
    assert full["replaces_actions"] == joined.replaces_actions
    for told, clause in zip(full["when"], joined.when, strict=True):
        bounded = clause.low is not None or clause.high is not None
        assert (told["limit"] is not None) == bounded
        assert (told["findings"], told["reading"]) == (list(clause.findings or ()), clause.reading)
        assert (told["at"], told["clear_of"]) == (clause.at, list(clause.clear_of or ()))
        if bounded:
            assert (told["limit"]["low"], told["limit"]["high"]) == (shown(clause.low), shown(clause.high))


def test_an_unknown_rule_is_not_found_and_says_where_the_list_is(ask: Ask, problem: CheckProblem) -> None:
    response = ask("GET", "/v1/rulebook/rules/heel-width-tite")
    [error] = problem(response, "not-found")
    assert (error["field"], error["value"]) == ("path.id", "heel-width-tite")
    assert 'Did you mean "heel-width-tight"?' in error["detail"]
    assert "GET /v1/rulebook " in error["detail"]
    problem(ask("GET", "/v1/rulebook/rules/" + "x" * 5000), "not-found")
    problem(ask("GET", "/v1/rulebook/rules/%0A%1b"), "not-found")


@pytest.mark.parametrize("path", ["/v1/rulebook", "/v1/rulebook/rules/heel-width-tight"])
def test_the_rulebook_takes_no_query(ask: Ask, problem: CheckProblem, path: str) -> None:
    [error] = problem(ask("GET", f"{path}?version=2"), "bad-query")
    assert error["field"] == "query.version"


def test_what_a_first_look_needs_is_told(document: dict[str, Any]) -> None:
    """Single limits are plain arithmetic: levels, uncertainties, needs, and what keeps a rule silent."""
    factors = {each["id"]: each["standard_uncertainties"] for each in document["levels"]}
    assert factors["simple"] == 0
    # The one-sided normal quantile of 0.95, JCGM 106:2012 and any table of the normal distribution.
    assert factors["guarded"] == pytest.approx(1.6449, abs=1e-4)
    assert set(document["judges"]["stages"]) == set(BOOK.judges.stages)
    quantities = {
        each["id"]: each
        for each in (*document["dimensions"], *(each for owner in document["criteria"] for each in owner["quantities"]))
    }
    for name, quantity in BOOK.quantities.items():
        assert quantities[name]["u"] == BOOK.usual_u.get(name, 0.0)
        assert set(quantities[name]["judged_places"]) == {at for at in quantity.places if quantity.judged_at(at)}
    for criterion in document["criteria"]:
        needs = BOOK.criteria[criterion["id"]].needs
        assert [tuple(each["any_of"]) for each in criterion["needs"]] == [each.any_of for each in needs]
    for rule in document["rules"]:
        record = BOOK.rules.get(rule["id"])
        if record is not None:
            assert (rule["level"], tuple(rule["silent_when"])) == (record.fires, record.unless)
            assert {name: tuple(words) for name, words in rule["only_with"].items()} == (record.with_ or {})
        assert rule["blocks"] is BOOK.remedy(rule["id"]).holds_up
