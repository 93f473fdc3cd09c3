"""The same fittings under two rulebooks, as text and as JSON values."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from typing import Any, Final

from fitcheck.assessment.models import Finding
from fitcheck.report.difference_text import book_in_words, change_in_words, difference_document
from fitcheck.report.terminal import Paint, plain
from fitcheck.rulebooks.compare import CaseCompared, FindingChange, GoneNew
from fitcheck.text.format import place_title, shown
from rules.analysis.difference import Difference

__all__ = ["case_document", "case_lines", "heading_lines", "summary", "summary_document"]

_CHANGED: Final = " changed"
_HOW: Final = {"new": "new:", "gone": "gone:", "changed": "changed:"}


def heading_lines(difference: Difference, width: int = 96) -> Iterator[str]:
    """Which books are held against one another."""
    yield from _wrapped("From ", book_in_words(difference.before), width)
    yield from _wrapped("to   ", book_in_words(difference.after), width)


def case_lines(case: CaseCompared, difference: Difference, *, width: int = 96, paint: Paint = plain) -> Iterator[str]:
    """What changes for one fitting, in one line where nothing does."""
    before, after = case.before.replace("_", " "), case.after.replace("_", " ")
    if not case.changes:
        yield f"{case.name}: {before}, unchanged"
        return
    yield paint(f"{case.name}: {after}, was {before}" if case.decision_changes else f"{case.name}: {before} as before")
    for problem in case.refused:
        yield from _wrapped("  refused:  ", str(problem), width)
    for change in case.findings:
        yield from _wrapped(f"  {_HOW[change.how]:<10}", _finding(change, difference), width)
    for what, lists in (
        ("action", case.actions),
        ("needed", case.needed),
        ("caution", case.cautions),
        ("next", case.next_due),
    ):
        yield from _lists(what, lists, width)
    for number, action in enumerate(case.order, 1):
        yield from _wrapped(f"  order {number:<4}", action, width)
    for bearing in case.why:
        headline, *others = change_in_words(bearing, difference)
        text = headline if not headline.endswith(_CHANGED) else f"{headline.removesuffix(_CHANGED)} {'; '.join(others)}"
        yield from _wrapped("  why:      ", text, width)


def summary(cases: Sequence[CaseCompared]) -> str:
    """One line on all of them."""
    decisions = [case for case in cases if case.decision_changes]
    findings = Counter(change.how for case in cases for change in case.findings)
    text = ", ".join(f"{findings[how]} {how}" for how in ("new", "gone", "changed"))
    unchanged = sum(not case.changes for case in cases)
    turns = Counter(f"{case.before} to {case.after}".replace("_", " ") for case in decisions)
    which = f" ({', '.join(f'{turn}: {count}' for turn, count in turns.items())})" if turns else ""
    return (
        f"{len(cases)} {'fitting' if len(cases) == 1 else 'fittings'}: {len(decisions)} "
        f"{'decision changes' if len(decisions) == 1 else 'decisions change'}{which}; findings: {text}; "
        f"{unchanged} wholly unchanged."
    )


def case_document(case: CaseCompared, difference: Difference) -> dict[str, Any]:
    """What changes for one fitting, as JSON values; ``why`` names changes of the book by part and name."""
    return {
        "case": case.name,
        "changes": case.changes,
        "decision": {"before": case.before, "after": case.after},
        "refused": [asdict(problem) for problem in case.refused],
        "findings": [
            {
                "id": change.id,
                "change": change.how,
                "differs": list(change.differs),
                "before": _dumped(change.before),
                "after": _dumped(change.after),
                "why": [f"{each.part}.{each.name}" for each in change.why],
            }
            for change in case.findings
        ],
        **{
            name: {"gone": list(lists.gone), "new": list(lists.new)}
            for name, lists in (
                ("actions", case.actions),
                ("still_needed", case.needed),
                ("cautions", case.cautions),
                ("next_due", case.next_due),
            )
        },
        "order": list(case.order),
        "why": [
            {"part": each.part, "name": each.name, "change": each.how, "says": list(change_in_words(each, difference))}
            for each in case.why
        ],
    }


def summary_document(cases: Sequence[CaseCompared], difference: Difference) -> dict[str, Any]:
    """The whole comparison as JSON values."""
    rulebooks = difference_document(difference)
    return {
        "before": rulebooks["before"],
        "after": rulebooks["after"],
        "cases": [case_document(case, difference) for case in cases],
        "summary": {
            "cases": len(cases),
            "decisions_changed": sum(case.decision_changes for case in cases),
            "unchanged": sum(not case.changes for case in cases),
            "says": summary(cases),
        },
    }


def _dumped(finding: Finding | None) -> dict[str, Any] | None:
    return None if finding is None else finding.model_dump(mode="json")


def _finding(change: FindingChange, difference: Difference) -> str:
    found, book = change.after or change.before, difference.after if change.after else difference.before
    if found is None:
        return change.id
    place = place_title(found.place, book)
    if change.how != "changed" or change.before is None or change.after is None:
        measured = _measured(found)
        return f"{found.rule} at {place}, {found.grade}{f', {measured}' if measured else ''}"
    parts = [
        f"{key} {_part(change.after, key)}, was {_part(change.before, key)}"
        for key in change.differs
        if key != "amount"  # told in the action
    ]
    return f"{found.rule} at {place}: {'; '.join(parts)}"


def _part(finding: Finding, key: str) -> str:
    value = getattr(finding, key)
    if key == "measured":
        return _measured(finding)
    if key == "limit" and finding.limit is not None:
        limit = finding.limit
        ends = [shown(end, limit.unit) for end in (limit.low, limit.high) if end is not None]
        return " to ".join(ends)
    if key == "sources":
        return ", ".join(value)
    return f'"{value}"' if isinstance(value, str) and " " in value else str(value)


def _measured(finding: Finding) -> str:
    measured = finding.measured
    if measured is None:
        return ""
    name = measured.quantity.replace("_", " ")
    if isinstance(measured.value, str) or measured.unit is None:
        return f"{name} {measured.value}"
    return f"{name} {shown(measured.value, measured.unit)}" + (f" (u {measured.u:g})" if measured.u else "")


def _lists(what: str, lists: GoneNew, width: int) -> Iterator[str]:
    for sign, texts in (("-", lists.gone), ("+", lists.new)):
        for text in texts:
            yield from _wrapped(f"  {what:<8}{sign} ", text, width)


def _wrapped(lead: str, text: str, width: int) -> list[str]:
    return textwrap.wrap(
        text,
        width,
        initial_indent=lead,
        subsequent_indent=" " * len(lead),
        break_long_words=False,
        break_on_hyphens=False,
    )
