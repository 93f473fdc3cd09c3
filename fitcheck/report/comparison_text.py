"""The same fittings under two rulebooks, as text and as JSON values."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from typing import Any

from fitcheck.assessment.models import Finding
from fitcheck.report.difference_text import book_in_words, change_in_words, difference_document
from fitcheck.report.terminal import Paint, plain
from fitcheck.rulebooks.compare import CaseCompared, FindingChange, GoneNew
from fitcheck.text.catalogue import ENGLISH, Messages, messages_in, messages_of
from fitcheck.text.format import place_title, shown
from rules.analysis.difference import Difference

__all__ = ["case_document", "case_lines", "heading_lines", "summary", "summary_document"]


def heading_lines(difference: Difference, width: int = 96) -> Iterator[str]:
    """Which books are held against one another."""
    messages = messages_of(difference.after)
    yield from _wrapped(messages.say("rules.compare.from"), book_in_words(difference.before), width)
    yield from _wrapped(messages.say("rules.compare.to"), book_in_words(difference.after), width)


def case_lines(case: CaseCompared, difference: Difference, *, width: int = 96, paint: Paint = plain) -> Iterator[str]:
    """What changes for one fitting, in one line where nothing does."""
    messages = messages_of(difference.after)
    say = messages.say
    before, after = (say(f"rules.decision.{outcome}") for outcome in (case.before, case.after))
    if not case.changes:
        yield say("rules.compare.unchanged", name=case.name, before=before)
        return
    how = "decision" if case.decision_changes else "as_before"
    yield paint(say(f"rules.compare.{how}", name=case.name, before=before, after=after))
    for problem in case.refused:
        yield from _wrapped(f"  {say('rules.compare.refused'):<9} ", str(problem), width)
    for change in case.findings:
        yield from _wrapped(f"  {say(f'rules.compare.finding.{change.how}'):<9} ", _finding(change, difference), width)
    for what, lists in (
        ("action", case.actions),
        ("needed", case.needed),
        ("caution", case.cautions),
        ("next", case.next_due),
    ):
        yield from _lists(say(f"rules.compare.list.{what}"), lists, width)
    for number, action in enumerate(case.order, 1):
        yield from _wrapped(f"  {say('rules.compare.order')} {number:<4}", action, width)
    for bearing in case.why:
        headline, *others = change_in_words(bearing, difference)
        changed = f" {say('rules.diff.changed')}"
        text = headline if not headline.endswith(changed) else f"{headline.removesuffix(changed)} {'; '.join(others)}"
        yield from _wrapped(f"  {say('rules.compare.why'):<9} ", text, width)


def summary(cases: Sequence[CaseCompared], language: str = ENGLISH) -> str:
    """One line on all of them."""
    messages = messages_in(language)
    decisions = [case for case in cases if case.decision_changes]
    findings = Counter(change.how for case in cases for change in case.findings)
    turns = Counter(
        messages.say(
            "rules.turn",
            before=messages.say(f"rules.decision.{case.before}"),
            after=messages.say(f"rules.decision.{case.after}"),
        )
        for case in decisions
    )
    which = f" ({', '.join(f'{turn}: {count}' for turn, count in turns.items())})" if turns else ""
    return messages.say(
        "rules.compare.summary",
        fittings=messages.counted("rules.fittings", len(cases)),
        decisions=messages.counted("rules.decisions", len(decisions)),
        which=which,
        new=findings["new"],
        gone=findings["gone"],
        changed=findings["changed"],
        unchanged=sum(not case.changes for case in cases),
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
            "says": summary(cases, difference.after.language),
        },
    }


def _dumped(finding: Finding | None) -> dict[str, Any] | None:
    return None if finding is None else finding.model_dump(mode="json")


def _finding(change: FindingChange, difference: Difference) -> str:
    found, book = change.after or change.before, difference.after if change.after else difference.before
    if found is None:
        return change.id
    place = place_title(found.place, book)
    messages = messages_of(book)
    if change.how != "changed" or change.before is None or change.after is None:
        measured = _measured(found, messages)
        grade = messages.named("grade", found.grade)
        found_at = messages.say("phrase.at", what=found.rule, place=place)
        return f"{found_at}, {grade}{f', {measured}' if measured else ''}"
    parts = [
        messages.say(
            "rules.now_and_before",
            what=messages.say(f"rules.compare.key.{key}"),
            now=_part(change.after, key, messages),
            before=_part(change.before, key, messages),
        )
        for key in change.differs
        if key != "amount"  # told in the action
    ]
    return f"{messages.say('phrase.at', what=found.rule, place=place)}: {'; '.join(parts)}"


def _part(finding: Finding, key: str, messages: Messages) -> str:
    value = getattr(finding, key)
    if key == "measured":
        return _measured(finding, messages)
    if key in {"grade", "status"}:
        return messages.named(key, value)
    if key == "limit" and finding.limit is not None:
        limit = finding.limit
        ends = [shown(end, limit.unit, messages.language) for end in (limit.low, limit.high) if end is not None]
        return messages.say("rules.turn", before=ends[0], after=ends[1]) if len(ends) > 1 else "".join(ends)
    if key == "sources":
        return ", ".join(value)
    return f'"{value}"' if isinstance(value, str) and " " in value else str(value)


def _measured(finding: Finding, messages: Messages) -> str:
    measured = finding.measured
    if measured is None:
        return ""
    name = messages.named("quantity", measured.quantity)
    if isinstance(measured.value, str) or measured.unit is None:
        return f"{name} {messages.word(str(measured.value), spaced=False)}"
    u = f" (u {messages.number(f'{measured.u:g}')})" if measured.u else ""
    return f"{name} {shown(measured.value, measured.unit, messages.language)}{u}"


def _lists(what: str, lists: GoneNew, width: int) -> Iterator[str]:
    for sign, texts in (("-", lists.gone), ("+", lists.new)):
        for text in texts:
            yield from _wrapped(f"  {what:<7} {sign} ", text, width)


def _wrapped(lead: str, text: str, width: int) -> list[str]:
    return textwrap.wrap(
        text,
        width,
        initial_indent=lead,
        subsequent_indent=" " * len(lead),
        break_long_words=False,
        break_on_hyphens=False,
    )
