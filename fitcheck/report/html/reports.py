"""The report of one foot, and of a visit."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final, NamedTuple

from fitcheck.assessment.models import RulebookIdentity
from fitcheck.drawing import shipped_words
from fitcheck.pairs import PairAssessment
from fitcheck.pairs.visit import VisitAssessment
from fitcheck.report.html.foot import (
    FindingRow,
    FootSection,
    FootToReport,
    ReadingsRow,
    finding_rows,
    foot_section,
    measurement_rows,
)
from fitcheck.report.html.rendering import REPORT_POLICY, filled
from rules import Rulebook

__all__ = ["foot_report", "visit_report"]

_DECIDED: Final = {
    "release": "Release: on none of the feet that were seen was anything found that must be put right.",
    "put_right": "Put right before the horse leaves.",
    "stop_and_refer": "Stop and refer: have the horse examined first.",
    "incomplete": "Incomplete: not enough was observed to release.",
}


class SourceRow(NamedTuple):
    """One source in full; a name that no rulebook at hand has stands alone."""

    name: str
    title: str
    more: tuple[str, ...]


class PairSection(NamedTuple):
    """What is said of two feet held together."""

    title: str
    compared: bool
    cautions: tuple[str, ...]
    actions: tuple[str, ...]
    findings: tuple[FindingRow, ...]
    not_compared: tuple[str, ...]
    measurements: tuple[ReadingsRow, ...]
    rulebook: RulebookIdentity


def foot_report(foot: FootToReport) -> str:
    """The report of one foot as a whole HTML document."""
    shown = foot_section(foot)
    return filled(
        "foot_report.html",
        title=f"Shoeing report: {shown.title}",
        policy=REPORT_POLICY,
        foot=shown,
        sources=tuple(_sources(shown.sources, foot.book)),
    )


def visit_report(visit: VisitAssessment, feet: Sequence[FootToReport], book: Rulebook) -> str:
    """The report of a ``visit``, whose ``feet`` are those that count at it; ``book`` compared the pairs."""
    shown = [foot_section(foot, foot.assessment.foot.replace("_", "-")) for foot in feet]
    words = shipped_words()
    pairs = tuple(_pair(pair, book) for pair in visit.pairs)
    names = dict.fromkeys(name for foot in shown for name in foot.sources)
    names |= dict.fromkeys(name for pair in pairs for finding in pair.findings for name in finding.sources)
    rulebooks = {foot.book.digest: foot.book for foot in feet}
    return filled(
        "visit_report.html",
        title=f"Shoeing report: visit {visit.visit}" if visit.visit else "Shoeing report of a visit",
        policy=REPORT_POLICY,
        visit=visit,
        decision=visit.decision,
        decision_text=_DECIDED[visit.decision],
        decided_by=[_part(name) for name in visit.decided_by],
        facts=_in_common(shown),
        feet=shown,
        pairs=pairs,
        seen={foot.foot: foot for foot in visit.feet},
        missing=[words.say(f"foot.{foot}") for foot in visit.feet_missing],
        conflicts=[(words.say(f"foot.{foot.foot}"), foot.in_conflict) for foot in visit.feet if foot.in_conflict],
        cautions=_cautions(shown, pairs),
        sources=tuple(_sources(names, book, *rulebooks.values())),
    )


def _sources(names: Iterable[str], *rulebooks: Rulebook) -> Iterator[SourceRow]:
    for name in names:
        source = next((book.sources[name] for book in rulebooks if name in book.sources), None)
        if source is None:
            yield SourceRow(name, "in the rulebook that judged, which is not at hand", ())
            continue
        more = (source.authors, source.year, source.note, source.licence)
        yield SourceRow(name, source.title, tuple(part for part in more if part is not None))


def _pair(pair: PairAssessment, book: Rulebook) -> PairSection:
    return PairSection(
        title=f"{pair.pair.capitalize()} pair",
        compared=pair.compared,
        cautions=pair.cautions if pair.findings else (),
        actions=pair.actions,
        findings=finding_rows(pair.findings, book),
        not_compared=tuple(each.say for each in pair.not_compared),
        measurements=measurement_rows(pair.measurements, book),
        rulebook=pair.rulebook,
    )


def _part(name: str) -> str:
    """A foot or a pair as in ``VisitAssessment.decided_by``."""
    kind, _, which = name.partition(":")
    return f"{which} pair" if kind == "pair" and which else name.replace("_", " ")


def _in_common(feet: Sequence[FootSection]) -> list[tuple[str, str]]:
    """Each fact that any of the feet has and none has otherwise."""
    by_label: dict[str, set[str]] = {}
    for foot in feet:
        for label, value in foot.facts:
            by_label.setdefault(label, set()).add(value)
    return [(label, next(iter(values))) for label, values in by_label.items() if len(values) == 1]


def _cautions(feet: Sequence[FootSection], pairs: Sequence[PairSection]) -> list[tuple[str, list[str]]]:
    """Each caution once, with what it is said of unless that is every foot; those of the gravest feet first."""
    titles_of: dict[str, list[str]] = {}
    gravest_first = sorted(feet, key=lambda foot: foot.decision != "stop_and_refer")
    for title, cautions in [(foot.title, foot.cautions) for foot in gravest_first] + [
        (pair.title, pair.cautions) for pair in pairs
    ]:
        for caution in cautions:
            titles_of.setdefault(caution, []).append(title)
    everywhere = {foot.title for foot in feet}
    return [(caution, [] if everywhere <= set(of) else of) for caution, of in titles_of.items()]
