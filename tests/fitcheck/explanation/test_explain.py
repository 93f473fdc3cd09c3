"""The explanation says what the engine found, and why, and by how much."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import replace
from statistics import NormalDist
from typing import Any

import pytest

import fitcheck.explanation.explain
from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment
from fitcheck.explanation.explain import explain
from fitcheck.explanation.models import (
    CriterionExplained,
    ExplainedAssessment,
    JoinedExplained,
    LimitExplained,
    ReadingExplained,
)
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import readings_of, situation_of
from fitcheck.measure import measured
from rules import EngineFault, Rulebook, in_force, shipped_rulebook, table_of
from tests.support.counts import tries
from tests.support.random_fittings import random_fittings

SEED = 1869
FITTINGS = tries(70, full=2_500)
Changed = Callable[..., dict[str, Any]]
Explained = list[tuple[Fitting, ExplainedAssessment]]


@pytest.fixture(scope="module")
def random_explained() -> Explained:
    documents = list(random_fittings(SEED, FITTINGS))
    documents.append(dict(documents[0], observations={}))  # hardly another is incomplete: too much is wrong with each
    fittings = [Fitting.model_validate_json(json.dumps(each)) for each in documents]
    return [(fitting, explain(fitting)) for fitting in fittings]


def of(document: dict[str, Any], book: Rulebook | None = None) -> ExplainedAssessment:
    return explain(Fitting.model_validate_json(json.dumps(document)), book)


def readings(explained: ExplainedAssessment) -> Iterator[ReadingExplained]:
    yield from explained.explanation.sizes
    for criterion in explained.explanation.criteria:
        yield from criterion.readings


def limits(explained: ExplainedAssessment) -> Iterator[tuple[ReadingExplained, LimitExplained]]:
    for reading in readings(explained):
        for limit in reading.limits:
            yield reading, limit


def joined(explained: ExplainedAssessment) -> Iterator[JoinedExplained]:
    for criterion in explained.explanation.criteria:
        yield from criterion.joined


def reading(explained: ExplainedAssessment, quantity: str, place: str) -> ReadingExplained:
    [found] = [each for each in readings(explained) if (each.quantity, each.place) == (quantity, place)]
    return found


def limit(explained: ExplainedAssessment, rule: str, quantity: str, place: str) -> LimitExplained:
    [found] = [each for each in reading(explained, quantity, place).limits if each.rule == rule]
    return found


def criterion(explained: ExplainedAssessment, name: str) -> CriterionExplained:
    [found] = [each for each in explained.explanation.criteria if each.criterion == name]
    return found


def test_what_is_called_fired_is_what_was_found(random_explained: Explained) -> None:
    for _, explained in random_explained:
        fired = {each.finding for _, each in limits(explained) if each.outcome == "fired"}
        fired |= {name for each in joined(explained) if each.outcome == "fired" for name in each.findings}
        assert fired == {finding.id for finding in explained.findings}


def test_every_outcome_occurs_among_the_random_fittings(random_explained: Explained) -> None:
    seen = Counter(each.outcome for _, explained in random_explained for _, each in limits(explained))
    assert set(seen) == {"fired", "silent", "silenced", "unmet", "not_judged"}
    assert min(seen.values()) > 10
    together = Counter(each.outcome for _, explained in random_explained for each in joined(explained))
    assert min(together["fired"], together["silent"]) > 100


def test_the_margin_is_below_nought_just_where_a_limit_is_passed(random_explained: Explained) -> None:
    for _, explained in random_explained:
        for _, each in limits(explained):
            if each.until_fires is None or each.margin is None:
                continue
            past = each.until_fires < 0 or (each.until_fires == 0 and each.edge_fires)
            assert past == (each.outcome in {"fired", "silenced", "unmet"}) or each.outcome == "not_judged"
            if each.fires == "simple":
                assert each.margin == each.until_fires
            else:
                assert each.margin >= each.until_fires


def test_the_margin_is_the_distance_to_the_nearer_limit_shown(random_explained: Explained) -> None:
    """By plain subtraction, to the four decimals that are shown."""
    for _, explained in random_explained:
        for read, each in limits(explained):
            if isinstance(read.value, str) or each.margin is None or each.outcome == "not_judged":
                continue
            ends = [read.value - each.low] if each.low is not None else []
            ends += [each.high - read.value] if each.high is not None else []
            assert each.margin == pytest.approx(min(ends), abs=2e-4)


def test_a_guarded_limit_fires_as_many_uncertainties_before_as_its_level_says(random_explained: Explained) -> None:
    """JCGM 106:2012, the one-sided normal quantile; with a round table value beside it: 1.645 for 0.05."""
    factor = NormalDist().inv_cdf(1 - shipped_rulebook().levels["guarded"].probability)
    assert factor == pytest.approx(1.645, abs=5e-4)
    guarded = [each for _, explained in random_explained for _, each in limits(explained) if each.fires == "guarded"]
    numbers = [each for each in guarded if each.margin is not None]
    assert len(numbers) > 100
    for each in numbers:
        assert (each.margin or 0) - (each.until_fires or 0) == pytest.approx(factor * (each.u or 0), abs=2e-4)


def test_the_probability_of_what_fired_is_the_confidence_of_its_finding(random_explained: Explained) -> None:
    for _, explained in random_explained:
        sure = {finding.id: finding.confidence for finding in explained.findings}
        for _, each in limits(explained):
            if each.finding is not None:
                assert each.probability == sure[each.finding]
        for together in joined(explained):
            assert together.confidences == tuple(sure[name] for name in together.findings)


def test_the_probability_is_that_of_a_normal_reading(random_explained: Explained) -> None:
    """JCGM 106:2012: with one limit, the margin in standard uncertainties is all that it depends on."""
    seen = 0
    for _, explained in random_explained:
        for _, each in limits(explained):
            if each.margin_in_u is None or (each.low is not None and each.high is not None):
                continue
            if each.probability is None:  # a range of worst cases has none
                continue
            assert each.probability == pytest.approx(NormalDist().cdf(-each.margin_in_u), abs=2e-4)
            seen += 1
    assert seen > 1000


def test_every_reading_meets_every_rule_of_its_quantity_once(random_explained: Explained) -> None:
    book = shipped_rulebook()
    for fitting, explained in random_explained:
        table, _ = measured(fitting, table_of(readings_of(fitting, book)), book)
        assert Counter((each.quantity, each.place) for each in readings(explained)) == Counter(table.keys())
        in_here = in_force(book, situation_of(fitting, book))
        for each in readings(explained):
            here = [one.rule for one in each.limits]
            assert here == [rule_id for rule_id, _ in in_here.judging(each.quantity, each.place)]
            assert sorted([*here, *(one.rule for one in each.elsewhere)]) == sorted(
                rule_id for rule_id, _ in book.rules_of[each.quantity]
            )


def test_every_joined_rule_is_considered_once_and_fires_just_where_all_its_parts_hold(
    random_explained: Explained,
) -> None:
    book = shipped_rulebook()
    for _, explained in random_explained:
        assert sorted(each.rule for each in joined(explained)) == sorted(book.joined)
        for each in joined(explained):
            hold = all(clause.holds for clause in each.clauses)
            # A major one may be less likely than not although each part holds.
            assert each.outcome == "silent" if not hold else each.outcome == "fired" or each.grade == "major"
            assert all(bool(clause.by) == clause.holds for clause in each.clauses)


def test_the_findings_named_as_parts_of_a_joined_one_are_those_that_it_rests_on(random_explained: Explained) -> None:
    for _, explained in random_explained:
        rests_on = {finding.id: set(finding.rests_on) for finding in explained.findings}
        for each in joined(explained):
            named = {name for clause in each.clauses for name in clause.by}
            if each.outcome == "fired":
                assert named == set().union(*(rests_on[name] for name in each.findings))


def test_the_decision_names_the_findings_that_decide_and_all_that_is_needed(random_explained: Explained) -> None:
    decides = {"stop_and_refer": "critical", "put_right": "major"}
    assert {explained.decision for _, explained in random_explained} >= {*decides, "incomplete"}
    for _, explained in random_explained:
        decision = explained.explanation.decision
        assert decision.decision == explained.decision
        grade = decides.get(explained.decision)
        assert decision.decided_by == tuple(
            each.id for each in explained.findings if each.grade == grade and each.blocks
        )
        assert {*decision.decided_by, *decision.other_findings} == {each.id for each in explained.findings}
        assert decision.still_needed == tuple(each.field for each in explained.still_needed)
        by_criterion = [item for each in explained.explanation.criteria for item in each.still_needed]
        assert sorted(item.field for item in by_criterion) == sorted(decision.still_needed)
        lines = [line for each in explained.explanation.criteria for line in each.not_assessed]
        assert sorted(lines) == sorted(explained.not_assessed)


def test_the_rest_of_the_assessment_is_as_without_explanation(random_explained: Explained) -> None:
    changes = {"id", "created"}
    for fitting, explained in random_explained[:60]:
        plain = assess(fitting)
        assert explained.model_dump(exclude={*changes, "explanation"}) == plain.model_dump(exclude=changes)
        assert list(explained.model_dump()) == [*plain.model_dump(), "explanation"]
        assert isinstance(explained, Assessment)
        assert "explanation" not in plain.model_dump()


def test_a_tight_heel_is_explained_to_the_figure(changed: Changed) -> None:
    """By hand: -1.5 mm is 1 mm past -0.5 mm, 2 u at 0.5 mm; Phi(2) = 0.9772 (any table of the normal distribution).

    The lateral heel: there a width below 1/16 in is close as well.
    """
    explained = of(changed(observations__heel_fit__lateral__width=-1.5))
    tight = limit(explained, "heel-width-tight", "width", "lateral_heel")
    assert (tight.outcome, tight.low, tight.margin, tight.margin_in_u) == ("fired", -0.5, -1.0, -2.0)
    assert tight.probability == pytest.approx(0.9772, abs=5e-5)
    assert tight.applies == "everywhere"
    close = limit(explained, "heel-width-close", "width", "lateral_heel")
    assert (close.outcome, close.silenced_by) == ("silenced", ("heel-width-tight",))
    assert close.printed == "1/16 in"
    wide = limit(explained, "heel-width-wide-full", "width", "lateral_heel")
    assert wide.outcome == "silent"
    assert wide.margin == pytest.approx(7.85), "1/4 in on a draught fore foot"
    assert "regular" in wide.applies
    elsewhere = {each.rule: each.why for each in reading(explained, "width", "lateral_heel").elsewhere}
    assert elsewhere["heel-width-wide-close"] == (
        "Applies to stance base narrow, side medial; or stance base wide, side lateral; "
        "or foot hind, stance regular, side medial. Here: foot fore, stance regular, side lateral."
    )
    assert explained.explanation.decision.decided_by == ("heel-width-tight@lateral_heel",)


def test_a_limit_that_follows_the_shoe_is_worked_out_for_this_foot(changed: Changed) -> None:
    """By hand: 3/4 of 12 = 9 mm; both readings are off a steel rule, so the margin's u is 0.5 x sqrt(1 + 9/16)."""
    explained = of(changed(shoe__thickness=12, observations__heel_fit__medial__length=10))
    short = limit(explained, "heel-short", "length", "medial_heel")
    assert (short.low, short.follows) == (9.0, "0.75 x thickness of the shoe")
    assert short.margin == 1.0
    assert short.u == pytest.approx(0.625, abs=5e-5)


def test_without_the_shoes_thickness_it_is_said_that_the_limit_could_not_be_judged(changed: Changed) -> None:
    explained = of(changed(shoe=...))
    short = limit(explained, "heel-short", "length", "medial_heel")
    assert (short.outcome, short.low, short.margin, short.probability) == ("not_judged", None, None, None)
    assert "thickness of the shoe, which is not known" in short.why
    assert "shoe.thickness" in explained.explanation.decision.still_needed
    assert explained.explanation.decision.decided_by == ()


def test_a_rule_that_asks_for_a_word_says_whether_the_word_is_another_or_unknown(changed: Changed) -> None:
    other = of(changed(observations__scorch__contact_time=12, observations__scorch__shoe_heat="cherry"))
    held = limit(other, "dull-shoe-held", "contact_time", "foot")
    assert held.outcome == "unmet"
    assert "asks for shoe heat black or dull red and it is cherry" in held.why
    unknown = of(changed(observations__scorch__contact_time=12, observations__scorch__shoe_heat=...))
    held = limit(unknown, "dull-shoe-held", "contact_time", "foot")
    assert (held.outcome, held.finding) == ("not_judged", None)
    assert "shoe heat was not observed" in held.why


@pytest.mark.parametrize(
    ("given", "method"),
    [
        (2.4, "steel rule"),
        ({"value": 2.4, "method": "calliper"}, "calliper"),
        ({"value": 2.4, "u": 0.2}, "uncertainty as stated"),
        ({"value": 2.4, "u": 0.2, "method": "eye"}, "by eye; uncertainty as stated"),
        ({"value": "1/8", "unit": "in"}, "given as 0.125 in; steel rule"),
        ("full", "by eye: full"),
    ],
)
def test_it_is_said_how_a_reading_was_taken(changed: Changed, given: Any, method: str) -> None:
    quantity = "width_by_eye" if given == "full" else "width"
    read = reading(of(changed(observations__heel_fit__medial__width=given)), quantity, "medial_heel")
    assert (read.origin, read.method, read.given) == ("given", method, None)


def test_a_computed_reading_says_what_it_stands_instead_of(root: Any) -> None:
    document = json.loads((root / "cases_demo" / "traced-tight-lateral-heel.json").read_text(encoding="utf-8"))
    document["observations"]["heel_fit"]["lateral"]["width"] = 6
    read = reading(of(document), "width", "lateral_heel")
    assert (read.origin, read.method) == ("computed", None)
    assert read.given is not None
    assert (read.given.value, read.given.method) == (6.0, "steel rule")
    assert "in front of the buttress" in (read.where or "")


@pytest.mark.parametrize(
    ("edits", "decision", "says"),
    [
        ({}, "release", "Release: nothing critical or major was found, and all that this stage requires was observed."),
        (
            {"stage": "nailed"},
            "go_on",
            (
                "Go on: nothing critical or major was found, and all that this stage requires was observed. "
                "Next: clinch and finish."
            ),
        ),
        (
            {"observations__going__walk": ...},
            "incomplete",
            "Incomplete: nothing critical or major was found, but 1 required observation is missing.",
        ),
        (
            {"observations__heel_fit__medial__width": -1, "observations__going__walk": ...},
            "put_right",
            (
                "Put right: one major finding, and nothing critical. "
                "1 required observation is missing besides, and could only add to it."
            ),
        ),
        (
            {"observations__nails__0__reaction": "flinch"},
            "stop_and_refer",
            "Stop and refer: one critical finding. That comes before all else.",
        ),
    ],
)
def test_the_decision_is_put_in_words(changed: Changed, edits: dict[str, Any], decision: str, says: str) -> None:
    explained = of(changed(**edits)).explanation.decision
    assert (explained.decision, explained.say) == (decision, says)


def test_a_criterion_says_whether_this_stage_requires_it(changed: Changed) -> None:
    finished = of(changed())
    assert criterion(finished, "going").required
    assert not criterion(finished, "history").required
    hot_fit = criterion(of(changed(stage="hot_fit", observations__nails=...)), "finish")
    assert (hot_fit.observable, hot_fit.required) == (False, False)


def test_a_shoe_taken_as_hot_is_said_to_be_taken_so(changed: Changed) -> None:
    assert of(changed(hot_fitted=...)).explanation.situation.hot_fitted_assumed
    assert not of(changed(hot_fitted=True)).explanation.situation.hot_fitted_assumed


@pytest.mark.parametrize("fault", ["lost", "made up"])
def test_an_explanation_that_does_not_come_to_the_findings_is_a_fault(
    changed: Changed, monkeypatch: pytest.MonkeyPatch, fault: str
) -> None:
    tight = Fitting.model_validate_json(json.dumps(changed(observations__heel_fit__medial__width=-1)))
    good = Fitting.model_validate_json(json.dumps(changed()))
    given, judged = (tight, good) if fault == "lost" else (good, tight)
    monkeypatch.setattr(fitcheck.explanation.explain, "assessment_of", lambda _: assess(judged))
    with pytest.raises(EngineFault, match="heel-width-tight@medial_heel"):
        explain(given)


def test_another_rulebook_is_explained_by_its_own_limits(changed: Changed) -> None:
    book = shipped_rulebook()
    rules = {**book.rules, "heel-width-tight": book.rules["heel-width-tight"].model_copy(update={"low": -3.0})}
    own = replace(book, rules=rules, digest="sha256:own")
    explained = of(changed(observations__heel_fit__lateral__width=-1), own)
    tight = limit(explained, "heel-width-tight", "width", "lateral_heel")
    assert (tight.outcome, tight.low, tight.margin) == ("silent", -3.0, 2.0)
    assert limit(explained, "heel-width-close", "width", "lateral_heel").outcome == "fired"
