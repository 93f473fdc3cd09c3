"""Left held against right: the differences, their uncertainty, what was not compared and why.

Figures of the limits and how a pair is to look: common practice, no source.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from types import MappingProxyType
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitcheck.assessment.assess import assess
from fitcheck.explanation.explain import explain
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.pair_rows import PAIR_ROWS
from fitcheck.pairs import FEET, PAIRS, PairAssessment, assess_pair, pairs_of
from fitcheck.pairs.differences import difference
from rules import Reading, load_rulebook, shipped_rulebook

Changed = Callable[..., dict[str, Any]]
BOOK = shipped_rulebook()
ROW = {row.quantity: row for row in PAIR_ROWS}
READ = {(row.quantity, place) for row in PAIR_ROWS for place in row.at}


def fitting(raw: dict[str, Any], **edits: Any) -> Fitting:
    return Fitting.model_validate({**raw, **edits})


@pytest.fixture
def pair(changed: Changed) -> Callable[..., PairAssessment]:
    """The good fore foot held against one of the other side on which these values stand otherwise."""

    def hold(left: dict[str, Any] | None = None, **right: Any) -> PairAssessment:
        angle = {"hoof__wall_angle": 50}
        one = fitting(changed(**{**angle, **(left or {})}))
        return assess_pair(one, fitting(changed(**{**angle, **right}), foot="right_fore"))

    return hold


def found(pair: PairAssessment) -> set[str]:
    return {finding.id for finding in pair.findings}


def reasons(pair: PairAssessment) -> dict[str, tuple[str, tuple[str, ...]]]:
    return {each.what: (each.reason, each.feet) for each in pair.not_compared}


def test_two_feet_that_are_alike_draw_nothing_and_conform_in_all_that_is_judged(
    pair: Callable[..., PairAssessment],
) -> None:
    alike = pair()
    assert (alike.pair, alike.feet, alike.stage, alike.compared) == ("fore", PAIRS["fore"], "finished", True)
    assert found(alike) == set()
    assert {(each.quantity, each.place) for each in alike.measurements} == READ
    assert {(each.quantity, each.place) for each in alike.conforms} == READ - {("exit_mean_apart", "pair")}
    assert (alike.not_compared, alike.not_assessed, alike.actions) == ((), (), ())


@pytest.mark.parametrize(
    ("path", "value", "finding", "apart"),
    [
        ("observations__heel_fit__medial__length", 8, "pair-branches-uneven@medial_pair", 4.0),
        ("observations__heel_fit__lateral__length", 5, "pair-branches-far-uneven@lateral_pair", 7.5),
        ("observations__heel_fit__lateral__length", 20, "pair-branches-far-uneven@lateral_pair", -7.5),
        ("hoof__wall_angle", 55, "pair-angles-differ@pair", -5.0),
        ("hoof__wall_angle", 41, "pair-angles-far-apart@pair", 9.0),
        ("hoof__wall_height", 102, "pair-heights-differ@pair", -4.0),
        ("hoof__wall_height", 88, "pair-heights-far-apart@pair", 10.0),
        ("shoe__length", 180, "pair-shoes-differ@pair", -8.0),
    ],
)
def test_the_difference_is_left_less_right_and_draws_its_finding(
    pair: Callable[..., PairAssessment], path: str, value: float, finding: str, apart: float
) -> None:
    [one] = pair(**{path: value}).findings
    assert one.id == finding
    assert one.criterion == "pair"
    assert one.measured is not None
    assert one.measured.value == pytest.approx(apart)
    assert (one.status, one.sources) == ("common practice", ("trade",))
    assert "licensed farrier decides" in one.caution
    assert "veterinary surgeon" in one.caution


def test_a_finding_says_what_was_read_on_either_foot_and_how_sure_it_is(pair: Callable[..., PairAssessment]) -> None:
    [finding] = pair(observations__heel_fit__medial__length=8).findings
    assert finding.measured is not None
    assert finding.measured.where == "left 12 mm, right 8 mm"
    # A steel rule on both, 0.5 mm each (common practice): root of the sum of squares, JCGM 100:2008, 5.1.2.
    assert finding.measured.u == pytest.approx(math.sqrt(0.5**2 + 0.5**2), abs=1e-4)
    # 4 mm against a limit of 3 mm either way: 1.4142 standard uncertainties past it, and next to nothing below -3.
    assert finding.confidence == pytest.approx(0.9214, abs=1e-4)
    assert "4 mm" in finding.finding
    assert "medial" in finding.finding


def nails(*heights: tuple[str, int, float | None]) -> list[dict[str, Any]]:
    return [{"branch": branch, "hole": hole, "exit_height": height} for branch, hole, height in heights]


def test_nails_are_compared_hole_by_hole_over_the_holes_nailed_in_both(pair: Callable[..., PairAssessment]) -> None:
    left = nails(("medial", 1, 30), ("medial", 2, 28), ("medial", 4, 10), ("lateral", 1, 26))
    right = nails(("medial", 1, 23), ("medial", 2, 22), ("medial", 3, 60), ("lateral", 1, 25))
    both = pair({"observations__nails": left}, observations__nails=right)
    apart = {(each.quantity, each.place): each for each in both.measurements}
    medial = apart["exit_height_apart", "medial_pair"]
    assert medial.value == pytest.approx((7 + 6) / 2)
    assert medial.u == pytest.approx(math.sqrt(4 * 0.5**2) / 2, abs=1e-4)
    assert medial.where == "left 29 mm, right 22.5 mm, over 2 holes nailed in both"
    assert apart["exit_height_apart", "lateral_pair"].value == pytest.approx(1)
    assert apart["exit_mean_apart", "pair"].value == pytest.approx((7 + 6 + 1) / 3, abs=1e-4)
    assert found(both) == {"pair-nails-uneven@medial_pair"}


def test_nails_in_other_holes_are_not_compared_and_it_is_said(pair: Callable[..., PairAssessment]) -> None:
    left = nails(("medial", 1, 30), ("medial", 3, 28), ("lateral", 1, 26))
    right = nails(("medial", 2, 10), ("medial", 4, 10), ("lateral", 1, None))
    both = pair({"observations__nails": left}, observations__nails=right)
    assert reasons(both) == {
        "pair.exit_height_apart@medial_pair": ("no_hole_in_common", ()),
        "pair.exit_height_apart@lateral_pair": ("not_read", ("right_fore",)),
    }
    assert both.not_assessed == tuple(reasons(both))


def test_at_the_trial_of_the_hot_shoe_nails_are_neither_compared_nor_missed(
    pair: Callable[..., PairAssessment],
) -> None:
    trial = {"stage": "hot_fit"}
    both = pair(trial, **trial)
    assert {each.quantity for each in both.measurements} == set(ROW) - {"exit_height_apart", "exit_mean_apart"}
    assert both.not_compared == ()


def test_what_one_foot_lacks_is_not_compared_and_the_foot_is_named(pair: Callable[..., PairAssessment]) -> None:
    both = pair({"hoof__wall_height": ...}, hoof__wall_height=..., shoe__length=...)
    assert reasons(both) == {
        "pair.wall_height_apart@pair": ("not_read", ("left_fore", "right_fore")),
        "pair.shoe_length_apart@pair": ("not_read", ("right_fore",)),
    }
    assert both.not_compared[1].say.startswith("Not read on the right fore. Measure both shoes")
    assert not {"wall_height_apart", "shoe_length_apart"} & {each.quantity for each in both.conforms}


@pytest.mark.parametrize(
    ("edits", "reason", "said"),
    [
        ({"stage": "nailed"}, "stage", "the left finished, the right nailed"),
        ({"work": "riding"}, "work", "the left draught, the right riding"),
        ({"hoof_form": "base_wide"}, "hoof_form", "the left regular, the right base wide"),
        ({"stance": "base_wide"}, "hoof_form", "the left regular, the right regular, base wide"),
        ({"stance": "regular"}, None, ""),
        ({"horse": {"id": "H-102"}}, "horse", "two horses"),
        ({"horse": {"id": "H-101", "transponder": "276000000000002"}}, None, ""),
        ({"horse": None}, None, ""),
        ({"visit": "2026-03-05-H-101"}, "visit", "two visits"),
        ({"visit": None, "hot_fitted": None}, None, ""),
    ],
)
def test_only_feet_of_one_horse_and_visit_that_are_alike_in_stage_work_and_form_are_compared(
    good: dict[str, Any], edits: dict[str, Any], reason: str | None, said: str
) -> None:
    other = fitting({**good, "hoof": {"wall_height": 60}}, foot="right_fore", **edits)
    both = assess_pair(fitting(good), other)
    if reason is None:
        assert both.compared
        assert found(both) == {"pair-heights-far-apart@pair"}
        return
    assert (both.compared, both.stage) == (False, None)
    assert (both.findings, both.measurements, both.conforms) == ((), (), ())
    assert reasons(both) == {"pair": (reason, ("left_fore", "right_fore"))}
    assert said in both.not_compared[0].say


def test_feet_that_are_no_pair_are_refused(good: dict[str, Any]) -> None:
    left, right = fitting(good), fitting(good, foot="right_fore")
    for one, other in ((right, left), (left, left), (left, fitting(good, foot="right_hind"))):
        with pytest.raises(ValueError, match="not the left and the right foot"):
            assess_pair(one, other)


def test_both_pairs_are_told_and_what_was_not_seen_is_said(good: dict[str, Any]) -> None:
    fore, hind = pairs_of([fitting(good), fitting(good, foot="right_hind"), fitting(good, foot="right_fore")])
    assert (fore.pair, fore.compared) == ("fore", True)
    assert (hind.pair, hind.feet, reasons(hind)) == ("hind", ("right_hind",), {"pair": ("one_foot", ("left_hind",))})
    assert "left hind was not seen" in hind.not_compared[0].say
    for pair in pairs_of([]):
        assert reasons(pair) == {"pair": ("not_seen", PAIRS[pair.pair])}


def test_of_several_fittings_of_a_foot_the_last_counts(good: dict[str, Any]) -> None:
    right = fitting(good, foot="right_fore")
    fore, _ = pairs_of([fitting(good, hoof={"wall_height": 60}), right, fitting(good)])
    assert found(fore) == set()
    fore, _ = pairs_of([fitting(good), right, fitting(good, hoof={"wall_height": 60})])
    assert found(fore) == {"pair-heights-far-apart@pair"}


def test_hind_feet_are_held_together_by_the_same_limits(good: dict[str, Any]) -> None:
    hind = assess_pair(fitting(good, foot="left_hind"), fitting(good, foot="right_hind", shoe={"length": 160}))
    assert (hind.pair, found(hind)) == ("hind", {"pair-shoes-differ@pair"})


def test_traced_feet_are_compared_by_what_the_tracing_gives(root: Any) -> None:
    raw = json.loads((root / "cases_demo" / "traced-crooked.json").read_text(encoding="utf-8"))
    straight = json.loads((root / "cases_demo" / "traced-good-fore.json").read_text(encoding="utf-8"))
    same = {"horse": None, "visit": None}
    both = assess_pair(fitting(raw, foot="left_fore", **same), fitting(straight, foot="right_fore", **same))
    apart = {(each.quantity, each.place): each for each in both.measurements}
    # The lateral branch of the crooked one is 15.5 mm long and that of the good one 12 mm: cases_demo/traced_feet.py.
    lateral = apart["length_apart", "lateral_pair"]
    assert abs(lateral.value - 3.5) <= 2 * lateral.u + 0.1


def test_a_pair_is_never_asked_of_one_foot(good: dict[str, Any]) -> None:
    for raw in (good, {**good, "observations": {}}):
        one = assess(fitting(raw))
        assert not [line for line in one.not_assessed if line.startswith("pair")]
        assert not [needed for needed in one.still_needed if needed.criterion == "pair"]
        explained = explain(fitting(raw)).explanation
        assert [each.criterion for each in explained.criteria] == [
            name for name, criterion in BOOK.criteria.items() if criterion.of == "foot"
        ]


def test_a_pair_can_be_sent_as_json_and_read_back(pair: Callable[..., PairAssessment]) -> None:
    both = pair(hoof__wall_angle=60)
    document = json.loads(both.model_dump_json())
    assert PairAssessment.model_validate_json(both.model_dump_json()) == both
    assert "decision" not in document
    assert document["findings"][0]["rule"] == "pair-angles-far-apart"
    assert document["rulebook"]["version"] == BOOK.version


def test_actions_and_cautions_of_a_pair_are_those_of_its_findings(pair: Callable[..., PairAssessment]) -> None:
    both = pair(hoof__wall_angle=60, hoof__wall_height=110, shoe__length=180)
    assert both.actions == tuple(finding.action for finding in both.findings if finding.grade == "major")
    assert both.cautions[0] == BOOK.cautions["pair_differs"].text
    assert {standing.text for standing in BOOK.standing.values()} <= set(both.cautions)


def test_a_book_without_limits_on_pairs_compares_none_and_says_so(good: dict[str, Any]) -> None:
    gone = {name for name, criterion in BOOK.criterion_of.items() if criterion == "pair"}
    fewer = {name: quantity for name, quantity in BOOK.quantities.items() if name not in gone}
    book = replace(BOOK, quantities=MappingProxyType(fewer))
    both = assess_pair(fitting(good), fitting(good, foot="right_fore"), book)
    assert reasons(both) == {"pair": ("no_limits", ())}


def test_a_yard_may_set_its_own_limits_on_a_pair(good: dict[str, Any], tmp_path: Any) -> None:
    (tmp_path / "book.toml").write_text(
        '[book]\nid = "low-meadow"\ntitle = "Low Meadow"\nversion = "1"\ninherits = "shipped"\n'
        f'inherits_version = "{BOOK.version}"\n',
        encoding="utf-8",
    )
    (tmp_path / "pair.toml").write_text(
        '[rules.pair-shoes-differ]\nlow = -15\nhigh = 15\nstatus = "common practice"\nsources = ["trade"]\n'
        'basis = "Common practice of the yard."\n',
        encoding="utf-8",
    )
    feet = fitting(good), fitting(good, foot="right_fore", shoe={"length": 160})
    assert found(assess_pair(*feet)) == {"pair-shoes-differ@pair"}
    assert found(assess_pair(*feet, load_rulebook(tmp_path))) == set()


def test_every_quantity_of_a_pair_compares_readings_of_its_own_unit_within_the_range_that_is_possible() -> None:
    assert set(ROW) == {name for name, criterion in BOOK.criterion_of.items() if BOOK.criteria[criterion].of == "pair"}
    for row in PAIR_ROWS:
        quantity, one = BOOK.quantities[row.quantity], BOOK.quantities[row.of]
        assert quantity.unit == one.unit == row.unit
        assert set(row.at) == set(quantity.places)
        assert set(row.at.values()) <= set(one.places)
        assert one.range is not None
        assert quantity.range == (one.range[0] - one.range[1], one.range[1] - one.range[0])


Numbers = st.floats(-200, 200)
Us = st.floats(0, 5)


@given(Numbers, Us, Numbers, Us)
def test_changing_the_two_feet_turns_the_sign_and_nothing_else(a: float, ua: float, b: float, ub: float) -> None:
    row = ROW["wall_height_apart"]
    left, right = ({("wall_height", "foot"): Reading("wall_height", "foot", *each)} for each in ((a, ua), (b, ub)))
    one, other = difference(row, "pair", left, right), difference(row, "pair", right, left)
    assert isinstance(one, Reading)
    assert isinstance(other, Reading)
    assert isinstance(one.value, float)
    assert one.value == a - b
    assert other.value == -one.value
    # JCGM 100:2008, 5.1.2: independent readings, coefficients +1 and -1.
    assert one.u == other.u == pytest.approx(math.sqrt(ua**2 + ub**2))


@given(st.lists(st.tuples(Numbers, Us, Numbers, Us), min_size=1, max_size=6))
def test_the_mean_over_nails_has_the_uncertainty_of_a_mean(nails: list[tuple[float, float, float, float]]) -> None:
    def foot(value: int) -> dict[tuple[str, str], Reading]:
        places = [f"nail:lateral:{hole}" for hole in range(1, len(nails) + 1)]
        return {
            ("exit_height", place): Reading("exit_height", place, nail[value], nail[value + 1])
            for place, nail in zip(places, nails, strict=True)
        }

    found = difference(ROW["exit_height_apart"], "lateral_pair", foot(0), foot(2))
    assert isinstance(found, Reading)
    count = len(nails)
    assert found.value == pytest.approx(sum(left - right for left, _, right, _ in nails) / count, abs=1e-9)
    # JCGM 100:2008, 5.1.2: every reading enters with the coefficient 1/n.
    assert found.u == pytest.approx(math.sqrt(sum((u / count) ** 2 + (v / count) ** 2 for _, u, _, v in nails)))
    assert not isinstance(difference(ROW["exit_height_apart"], "medial_pair", foot(0), foot(2)), Reading)


def test_the_four_feet_are_two_pairs() -> None:
    assert FEET == ("left_fore", "right_fore", "left_hind", "right_hind")
