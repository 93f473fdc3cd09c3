"""The shipped rulebook and the same fittings through our engine and four others, with equal findings."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final, NamedTuple

import rules
from benchmarks import json_logic_peer, rule_engine_peer
from benchmarks.clips_peer import ClipsPeer
from benchmarks.datalogic_peer import DatalogicPeer
from benchmarks.fittings import COUNT
from benchmarks.harness import Bound, Result, by_turns, documents, middle
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import readings_of, situation_of
from fitcheck.measure import measured
from rules import Evaluator, Firing, Reading, Rulebook, Situation, evaluator_for, shipped_rulebook, table_of

__all__ = ["QUICK", "Sizes", "cases", "engines", "found_by", "let_through", "run", "unequal"]

LEAST: Final = 2.0
"""How many times as fast as the fastest of CLIPS, rule-engine and json-logic in Python ours must be."""

_CIRCUMSTANCES: Final = ("foot", "stage", "work", "hoof_form", "stance", "hot_fitted")
_OURS: Final = "fitcheck (durable-rules)"
_CLIPS: Final = "CLIPS (clipspy)"
_RULE_ENGINE: Final = "rule-engine"
_JSON_LOGIC: Final = "json-logic in Python (panzi-json-logic)"
_DATALOGIC: Final = "json-logic in Rust (datalogic-py)"
_SIEVED: Final = {
    _CLIPS: "CLIPS behind our sieve, for comparison",
    _DATALOGIC: "datalogic-py behind our sieve, for comparison",
}
_HOW: Final = (
    "Every engine has the rulebook in its own form beforehand and is given the same readings, observed and computed, "
    "of the same {cases} fittings; it makes its own facts of them. The findings of both layers are compared first and "
    "are equal for every fitting. Then the engines take turns over all fittings, {rounds} rounds; medians. The others "
    "are spared what they would waste: only rules of a quantity that was read are asked, limits before contexts, a "
    "joined rule only where one of its findings stands; CLIPS is fed place by place with only what a rule looks at; "
    "datalogic-py gets a fitting as one list of values and answers with one evaluation, its form for each set of "
    "readings made beforehand. Ours holds each reading against the limits in force before durable-rules is told of it "
    "(rules/engine/facts.py). The lines for comparison show what CLIPS and datalogic-py do behind our prefilter, whose "
    "work is counted. In brackets how many times as fast ours is. Nothing is promised against datalogic-py: written "
    "for this rulebook as it is here, it runs at {times:.1f} times our speed. It takes the whole foot in one call, "
    "where durable-rules makes and drops a session for each, is told facts as text and calls back for every rule that "
    "fires."
)


@dataclass(frozen=True, slots=True)
class Sizes:
    """How many fittings, and how many rounds over them."""

    fittings: int = COUNT
    rounds: int = 7


QUICK: Final = Sizes(fittings=300, rounds=3)


class Case(NamedTuple):
    """One fitting as the engines get it: the same circumstances as a record and by name, and all readings."""

    situation: Situation
    named: dict[str, str]
    readings: list[Reading]


Findings = set[tuple[str, str]]
Engine = Callable[[Case], Iterable[Firing | tuple[str, str]]]


def cases(count: int, book: Rulebook) -> list[Case]:
    """The first ``count`` fittings, their readings taken and computed."""
    made = []
    for document in documents(count):
        fitting = Fitting.model_validate(document)
        table, _ = measured(fitting, table_of(readings_of(fitting, book)), book)
        situation = situation_of(fitting, book)
        made.append(Case(situation, {key: getattr(situation, key) for key in _CIRCUMSTANCES}, list(table.values())))
    return made


def engines(book: Rulebook) -> dict[str, Engine]:
    """Each engine with the rulebook compiled, ours first; each answers with what it found."""
    ours = evaluator_for(book)
    clips = ClipsPeer(book, Path(rules.__file__).parent / "book")
    by_rule_engine, by_json_logic = rule_engine_peer.layers(book), json_logic_peer.layers(book)
    by_datalogic = DatalogicPeer(book)
    return {
        _OURS: lambda case: ours.evaluate(case.situation, case.readings),
        _CLIPS: lambda case: clips.findings(case.named, case.readings),
        _RULE_ENGINE: lambda case: by_rule_engine.evaluate(case.named, case.readings),
        _JSON_LOGIC: lambda case: by_json_logic.evaluate(case.named, case.readings),
        _DATALOGIC: lambda case: by_datalogic.evaluate(case.named, case.readings),
        _SIEVED[_CLIPS]: lambda case: clips.findings(case.named, let_through(case, ours)),
        _SIEVED[_DATALOGIC]: lambda case: by_datalogic.evaluate(case.named, let_through(case, ours)),
    }


def let_through(case: Case, ours: Evaluator) -> list[Reading]:
    """The readings at places of which our engine would be told anything, and the dimensions that limits follow."""
    facts = ours.shape.facts(case.situation, case.readings)
    if not facts:
        return []
    told = {fact["place"] for fact in facts}
    return [each for each in case.readings if each.place in told or each.quantity in ours.shape.dimensions]


def unequal(given: list[Case], known: dict[str, Engine]) -> list[str]:
    """Where an engine finds other things than ours, fitting by fitting."""
    told = []
    for number, case in enumerate(given):
        found = {name: found_by(engine, case) for name, engine in known.items()}
        told += [
            f"fitting {number}: {name} alone {findings - found[_OURS]}, not {found[_OURS] - findings}"
            for name, findings in found.items()
            if findings != found[_OURS]
        ]
    return told


def found_by(engine: Engine, case: Case) -> Findings:
    """What ``engine`` finds as (rule, place); ours answers with records."""
    answer = engine(case)
    return {(found.rule, found.place) if isinstance(found, Firing) else found for found in answer}


def run(sizes: Sizes) -> Result:
    """Compare the findings, then the speed.  Raises ValueError when an engine finds other things than ours."""
    book = shipped_rulebook()
    given, known = cases(sizes.fittings, book), engines(book)
    if told := unequal(given, known):
        raise ValueError(f"the engines do not find the same: {told[0]}")

    def over_all(engine: Engine) -> Callable[[], None]:
        def work() -> None:
            for case in given:
                engine(case)

        return work

    seconds = by_turns({name: over_all(engine) for name, engine in known.items()}, sizes.rounds)
    speed = {name: len(given) / middle(each) for name, each in seconds.items()}
    fastest = max((_CLIPS, _RULE_ENGINE, _JSON_LOGIC), key=speed.__getitem__)
    readings = sum(len(case.readings) for case in given) / len(given)
    return Result(
        "engines",
        "Rules engines",
        _HOW.format(cases=sizes.fittings, rounds=sizes.rounds, times=speed[_DATALOGIC] / speed[_OURS]),
        (
            ("fittings with equal findings", f"{len(given)}, with {readings:.0f} readings each on average"),
            *((name, f"{each:,.0f} fittings/s ({speed[_OURS] / each:.2f})") for name, each in speed.items()),
        ),
        (
            Bound(
                f"ours against the fastest of CLIPS, rule-engine and json-logic in Python, which is {fastest}",
                speed[_OURS] / speed[fastest],
                least=LEAST,
            ),
        ),
        ("durable-rules", "clipspy", "rule-engine", "panzi-json-logic", "datalogic-py"),
    )
