"""What the tool says where the horse's welfare is at stake, and what it must never say: the texts are read."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, Final

import pytest
from pydantic import BaseModel

from fitcheck.assessment.assess import assess
from fitcheck.assessment.models import Assessment
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import readings_of
from rules import Reading, Rulebook, resolve, shipped_rulebook, table_of
from rules.model.records import Clause, Rule

BOOK: Final = shipped_rulebook()
STAGES: Final = ("dressed", "hot_fit", "nailed", "finished")
CRITICAL: Final = [name for name in (*BOOK.rules, *BOOK.joined) if BOOK.remedy(name).grade == "critical"]
STANDING: Final = [standing.text for standing in BOOK.standing.values()]
WHO: Final = re.compile(r"veterinary surgeon|licensed farrier")

Edit = Callable[..., dict[str, Any]]


# Readings that make one rule fire, whatever the rule.


def _beyond(limited: Rule | Clause, quantity: str, place: str) -> Reading:
    """A reading well past the limit."""
    if isinstance(limited, Rule) and limited.is_ is not None:
        return Reading(quantity, place, limited.is_[0])
    if limited.low is not None:
        return Reading(quantity, place, (resolve(limited.low, {}) or 0.0) - 1.0, 0.1)
    return Reading(quantity, place, (resolve(limited.high, {}) or 0.0) + 1.0, 0.1)


def readings_for(rule_id: str, book: Rulebook) -> list[Reading]:
    """Readings on which the rule fires: past its limit, or past the limits that a joined rule rests on."""
    if rule_id in book.rules:
        rule = book.rules[rule_id]
        spot = book.places_of(rule)[0]
        place = "nail:medial:1" if spot == "nail" else spot
        beside = [Reading(quantity, place, words[0]) for quantity, words in (rule.with_ or {}).items()]
        return [_beyond(rule, rule.quantity, place), *beside]
    found: list[Reading] = []
    for clause in book.joined[rule_id].when:
        if clause.findings is not None:
            found += readings_for(clause.findings[0], book)
        elif clause.reading is not None:
            found.append(_beyond(clause, clause.reading, clause.at or ""))
    return found


def _assess_with(readings: list[Reading], stage: str, monkeypatch: pytest.MonkeyPatch) -> Assessment:
    """An assessment in which nothing but ``readings`` was observed: also of quantities that are only ever computed."""
    monkeypatch.setattr("fitcheck.assessment.examine.measured", lambda *_: (table_of(readings), []))
    fitting = Fitting.model_validate({"foot": "left_fore", "stage": stage, "work": "draught", "observations": {}})
    assert readings_of(fitting, BOOK) == []
    return assess(fitting)


def _says_stop(assessment: Assessment, rule_id: str) -> None:
    (found,) = [finding for finding in assessment.findings if finding.rule == rule_id]
    assert found.grade == "critical"
    assert found.caution.startswith("STOP")
    assert WHO.search(found.caution)
    assert found.caution in assessment.cautions
    assert assessment.cautions[0].startswith("STOP"), "the gravest caution comes first"
    assert found.action.startswith("Stop.")
    assert found.action in assessment.actions
    assert assessment.decision == "stop_and_refer"


def test_what_is_critical_is_what_would_hurt_the_horse() -> None:
    """The quick, heat that reaches living horn, matter and lameness: no other finding stops."""
    quick = {"nail-flinch", "nail-blood", "nail-horn-none", "nailed-far-inside", "close-nail-suspected"}
    quick |= {"stubs-with-reaction", "nailed-seen-inside"}
    others = {"contact-harmful", "horn-overheated", "discharge-seen", "blood-seen", "came-lame", "trot-lame"}
    assert set(CRITICAL) == quick | others


def _at_its_stages(rule_ids: Iterable[str]) -> list[tuple[str, str]]:
    """Each rule with each stage at which it can fire."""
    return [
        (rule_id, stage)
        for rule_id in rule_ids
        for remedy in [BOOK.remedy(rule_id)]
        for stage in STAGES
        if stage in remedy.action
        and (remedy.applies is None or any(stage in (each.stage or STAGES) for each in remedy.applies))
    ]


@pytest.mark.parametrize(("rule_id", "stage"), _at_its_stages(CRITICAL))
def test_every_critical_finding_says_stop_at_every_stage_although_nothing_else_was_observed(
    rule_id: str, stage: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    assessment = _assess_with(readings_for(rule_id, BOOK), stage, monkeypatch)
    _says_stop(assessment, rule_id)
    assert assessment.still_needed, "required observations are missing, and it stops all the same"


REAL: Final[dict[str, dict[str, Any]]] = {
    "nail-flinch": {"observations__nails__0__reaction": "flinch"},
    "nail-blood": {"observations__nails__0__blood": True},
    "contact-harmful": {"observations__scorch__contact_time": 190, "hoof": {}},
    "horn-overheated": {"observations__scorch__contact_time": 190, "hoof": {"sole_thickness": 5}},
    "trot-lame": {"observations__soundness__trot_up": "lame"},
    "close-nail-suspected": {"observations__nails__0__wall_thickness": 6, "observations__nails__0__sound": "soft"},
}


@pytest.mark.parametrize(("rule_id", "stage"), _at_its_stages(REAL))
def test_one_critical_observation_stops_an_otherwise_good_fitting(rule_id: str, stage: str, changed: Edit) -> None:
    _says_stop(assess(Fitting.model_validate(changed(**REAL[rule_id], stage=stage))), rule_id)


def test_a_soft_nail_is_drawn_and_stops_only_with_what_the_horse_shows(changed: Edit) -> None:
    """A nail that went soft is a major fault; flinching or blood beside it stops."""
    soft = {"observations__nails__0__sound": "soft"}
    alone = assess(Fitting.model_validate(changed(**soft)))
    assert [(found.rule, found.grade) for found in alone.findings] == [("nail-soft", "major")]
    assert alone.decision == "put_right"
    for rule_id in ("nail-flinch", "nail-blood"):
        _says_stop(assess(Fitting.model_validate(changed(**soft, **REAL[rule_id]))), rule_id)


@pytest.mark.parametrize("rule_id", REAL)
def test_a_critical_observation_stops_although_others_must_be_put_right_or_are_missing(
    rule_id: str, changed: Edit
) -> None:
    others = {
        "observations__heel_fit__medial__width": -3,
        "observations__levelness": ...,
        "observations__toe_fit": ...,
        "observations__finish": ...,
    }
    assessment = assess(Fitting.model_validate(changed(**REAL[rule_id], **others)))
    assert any(finding.grade == "major" for finding in assessment.findings)
    assert assessment.still_needed
    _says_stop(assessment, rule_id)


def test_without_the_critical_observation_the_same_fitting_is_released(good: dict[str, Any]) -> None:
    assessment = assess(Fitting.model_validate(good))
    assert assessment.decision == "release"
    assert not any(caution.startswith("STOP") for caution in assessment.cautions)


def test_only_critical_rules_say_stop_and_every_caution_that_stops_says_so_and_sends_for_help() -> None:
    stopping = {name for name, caution in BOOK.cautions.items() if caution.stops}
    assert stopping == {BOOK.remedy(rule_id).caution for rule_id in CRITICAL}
    for rule_id in (*BOOK.rules, *BOOK.joined):
        assert (BOOK.remedy(rule_id).caution in stopping) == (rule_id in CRITICAL), rule_id
    for name in stopping:
        assert BOOK.cautions[name].text.startswith("STOP."), name
        assert WHO.search(BOOK.cautions[name].text), name


@pytest.mark.parametrize("rule_id", CRITICAL)
def test_every_action_of_a_critical_rule_begins_with_stop_and_has_the_horse_examined(rule_id: str) -> None:
    for stage, text in BOOK.remedy(rule_id).action.items():
        assert text.startswith("Stop."), stage
        assert "examined" in text, stage


# The standing cautions.


@pytest.mark.parametrize("stage", STAGES[1:])
@pytest.mark.parametrize(
    "edits",
    [
        {},
        {"observations": {}},
        {"observations__heel_fit__medial__width": 1},
        {"observations__heel_fit__medial__width": -3},
        {"observations__soundness__trot_up": "lame"},
    ],
    ids=["nothing wrong", "nothing observed", "minor", "major", "critical"],
)
def test_every_assessment_carries_the_standing_cautions(edits: dict[str, Any], stage: str, changed: Edit) -> None:
    assessment = assess(Fitting.model_validate(changed(**edits, stage=stage)))
    assert list(assessment.cautions[-len(STANDING) :]) == STANDING


@pytest.mark.parametrize(
    "must",
    ["second pair of eyes", "Nothing here is a diagnosis", "veterinary surgeon", "licensed farrier", "local law"],
)
def test_the_standing_cautions_say_what_the_tool_is_not_and_who_decides(must: str) -> None:
    assert any(must in text for text in STANDING)


# What no text may say.

DISCLAIMER: Final = "Nothing here is a diagnosis."

CLAIMS: Final = (
    # a diagnosis
    r"diagnos",
    r"\b(the|this|your) (horse|animal|foot|leg) (has (?!been)|suffers|shows signs|is (sore|lame|sound|suffering))",
    r"\b(abscess|laminit\w*|founder\w*|navicular|thrush|canker|quittor|seedy|corns?|sidebones?|ringbones?|tetanus)\b",
    r"\b(infect\w*|inflam\w*|bruis\w*|fractur\w*|diseas\w*|syndrome|sprain\w*|ligament\w*|tendon\w*)\b",
    r"\b(pricked|quicked|nail.?bound)\b",
    # a treatment
    r"\b(cures?|cured|treat|treatment|therap\w*|poultic\w*|antisept\w*|antibiotic\w*|medicin\w*|painkill\w*|drugs?)\b",
    # a promise
    r"\b(is|are|be) safe\b|\bsafe to\b|\bsafely\b|\bharmless\b",
    r"\b(guarantee\w*|ensur\w*|assure\w*|promis\w*|certain|certainly|definite\w*|undoubted\w*|without (any )?doubt)\b",
    r"\b(no|without) (risk|danger)\b|\b(cannot|can not|will not|won't) (hurt|harm|lame|come off|be lost)\b",
    r"\b(will|must) (be|go|trot|come) (sound|right again)\b|\bfit (for|to) work\b|\bnothing to worry\b|\ball is well\b",
)


def claims_in(text: str) -> list[str]:
    """The claims that ``text`` makes and must not."""
    spoken = text.replace(DISCLAIMER, "")
    return [claim for claim in CLAIMS if re.search(claim, spoken, re.IGNORECASE)]


def _strings(value: Any, path: str) -> Iterator[tuple[str, str]]:
    """Every string within a record or table of the book, with its path."""
    if isinstance(value, BaseModel):
        value = dict(value)
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, Mapping):
        for key, part in value.items():
            yield from _strings(part, f"{path}.{key}")
    elif isinstance(value, Sequence):
        for number, part in enumerate(value):
            yield from _strings(part, f"{path}.{number}")


def _texts() -> Iterator[tuple[str, str]]:
    """Every string of the book, but for the titles of the works that it cites."""
    for field in dataclasses.fields(BOOK):
        for path, text in _strings(getattr(BOOK, field.name), field.name):
            if not re.fullmatch(r"sources\..+\.title", path):
                yield path, text


TEXTS: Final = dict(_texts())


NO_CLAIM: Final = {
    # What was seen and said, and a part of the foot.
    "rules.bruise-seen.finding": "Bruise",
    "rules.bruise-deep.finding": "bruise",
    "rules.corn-seat-bears.finding": "Seat of corn",
    "joined.shoe-on-too-long.action.dressed": "seat of corn",
    # What is asked of whoever examines the foot.
    "cautions.stop_nail.text": "ask about tetanus",
    # What a cited page has to follow.
    "rules.surface-uneven.basis": "HU 45 has a bruised heel follow",
    "rules.surface-below-sole.basis": "HU 45 has a bruised heel follow",
    "rules.horn-broken.basis": "HU 42, 74: no broken or diseased horn",
    "joined.toe-too-long.basis": "stumbling, strain, forging and corns",
    "joined.short-and-close-inside.basis": "bruises the inner heel (corn)",
}
"""What names a hurt in a text without saying that this horse has it."""


def test_no_text_of_the_rulebook_diagnoses_treats_or_promises() -> None:
    assert all(said in TEXTS[name] for name, said in NO_CLAIM.items())
    texts = {name: text.replace(NO_CLAIM.get(name, DISCLAIMER), "") for name, text in TEXTS.items()}
    assert {name: claims for name, text in texts.items() if (claims := claims_in(text))} == {}


def test_every_rule_caution_and_standing_word_is_among_the_texts_read() -> None:
    for rule_id in (*BOOK.rules, *BOOK.joined):
        layer, remedy = "rules" if rule_id in BOOK.rules else "joined", BOOK.remedy(rule_id)
        assert TEXTS[f"{layer}.{rule_id}.finding"] == remedy.finding
        assert TEXTS[f"{layer}.{rule_id}.basis"] == remedy.basis
        for stage, text in remedy.action.items():
            assert TEXTS[f"{layer}.{rule_id}.action.{stage}"] == text
    assert {TEXTS[f"cautions.{name}.text"] for name in BOOK.cautions} == {c.text for c in BOOK.cautions.values()}
    assert {TEXTS[f"standing.{name}.text"] for name in BOOK.standing} == set(STANDING)


@pytest.mark.parametrize(
    "text",
    [
        "The diagnosis is a close nail.",
        "The horse has laminitis.",
        "Suspect an abscess.",
        "The nail has bruised the foot.",
        "This foot is sore.",
        "A pricked foot.",
        "Poultice the foot overnight.",
        "It is safe to ride.",
        "The shoe is guaranteed to stay on.",
        "This fit will not lame the horse.",
        "The horse will be sound.",
        "There is no risk.",
    ],
)
def test_a_text_that_diagnoses_treats_or_promises_is_caught(text: str) -> None:
    assert claims_in(text)


def test_the_disclaimer_alone_is_no_diagnosis() -> None:
    assert claims_in(DISCLAIMER) == []
    assert claims_in(f"{DISCLAIMER} The diagnosis is a close nail.")
