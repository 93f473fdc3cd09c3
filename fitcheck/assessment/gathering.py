"""Like findings told once: the same rule at several nails becomes one step, or one note."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from fitcheck.assessment.models import Finding
from fitcheck.text.catalogue import Messages, messages_of
from rules import Rulebook
from rules.model.records import Rule
from rules.situation import side_of, spot_of

__all__ = ["action_of", "alike", "notes_of"]

_FEWEST_IN_A_RUN = 3


def alike(findings: Iterable[Finding]) -> Iterator[list[Finding]]:
    """The findings in their order; those of one rule at several nails together, where the first of them stands."""
    groups: dict[str, list[Finding]] = {}
    for finding in findings:
        at_nail = spot_of(finding.place) == "nail"
        groups.setdefault(finding.rule if at_nail else finding.id, []).append(finding)
    yield from groups.values()


def action_of(group: Sequence[Finding], template: str, book: Rulebook) -> str:
    """What to do about like findings, in one sentence; ``template`` is the rule's action at this stage."""
    if len(group) == 1:
        return group[0].action
    text = template.replace("{place}", _nails(group, messages_of(book), "nails"))
    return text[:1].upper() + text[1:] if "{" not in text else group[0].action


def notes_of(findings: Iterable[Finding], book: Rulebook) -> tuple[str, ...]:
    """The minor findings as notes, like ones in one sentence."""
    notes: dict[str, None] = {}
    for group in alike(finding for finding in findings if finding.grade == "minor"):
        rule = book.rules.get(group[0].rule)
        gathered = rule.gathered if isinstance(rule, Rule) else None
        if len(group) == 1 or gathered is None:
            notes |= dict.fromkeys(finding.finding for finding in group)
        else:
            places = _nails(group, messages_of(book), "nails.short")
            notes[gathered.format(count=len(group), places=places)] = None
    return tuple(notes)


def _nails(group: Sequence[Finding], messages: Messages, key: str) -> str:
    """The nails of like findings by branch: medial nails 1 to 3 and lateral nail 2."""
    parts = []
    for side in ("medial", "lateral"):
        holes = sorted(int(each.place.rpartition(":")[2]) for each in group if side_of(each.place) == side)
        if holes:
            named = messages.named("nail_side", side)
            count = "one" if len(holes) == 1 else "many"
            parts.append(messages.say(f"{key}.{count}", side=named, holes=_runs(holes, messages)))
    return messages.listed(parts) if key == "nails" else ", ".join(parts)


def _runs(holes: Sequence[int], messages: Messages) -> str:
    runs: list[list[int]] = []
    for hole in holes:
        if runs and hole == runs[-1][-1] + 1:
            runs[-1].append(hole)
        else:
            runs.append([hole])
    shown = []
    for run in runs:
        if len(run) < _FEWEST_IN_A_RUN:
            shown += [str(hole) for hole in run]
        else:
            shown.append(messages.say("nails.run", first=run[0], last=run[-1]))
    return messages.listed(shown)
