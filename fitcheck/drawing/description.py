"""The drawing in words, for those who hear it read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from fitcheck.drawing.figure import SIDES, Stretches, Values
from fitcheck.drawing.plan_labels import labels_at
from fitcheck.drawing.plan_view import Imprint
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import nail_place
from fitcheck.text.catalogue import Messages
from fitcheck.text.format import shown
from fitcheck.view import AssessmentView

__all__ = ["description", "titled"]


def titled(view: AssessmentView, messages: Messages) -> str:
    """The drawing in one line."""
    return messages.say("drawing.described.title", foot=view.title, decision=view.decision, count=len(view.findings))


def description(
    fitting: Fitting,
    values: Values,
    stretches: Stretches,
    imprint: Imprint,
    view: AssessmentView,
    side: int,
    titles: Mapping[str, str],
    messages: Messages,
) -> str:
    """Everything that the drawing shows, as sentences; ``side`` is 1 where the lateral side is on the right."""
    parts = [
        messages.say(
            "drawing.described.below",
            side=messages.say("drawing.described.right" if side > 0 else "drawing.described.left"),
        )
    ]
    for place, _, _ in stretches.all:
        readings = ", ".join(label.text for label in labels_at(place, values, messages))
        parts.append(messages.say("drawing.described.place", place=titles[place], readings=readings))
    parts += _imprint(imprint, stretches, messages)
    parts += _nails(fitting, values, messages)
    parts += [
        messages.say(
            "drawing.described.finding",
            number=each.number,
            grade=each.grade_word,
            place=each.place,
            text=each.text,
        )
        for each in view.findings
    ]
    if view.unobserved:
        parts.append(messages.say("view.unobserved_names", names="; ".join(view.unobserved)))
    return " ".join(parts)


def _imprint(imprint: Imprint, stretches: Stretches, messages: Messages) -> Iterator[str]:
    if imprint.arcs is None:
        if imprint.expected:
            yield messages.say("drawing.described.imprint_unread")
        return
    runs = [
        messages.say("drawing.described.run", first=_angle(run.first, messages), last=_angle(run.last, messages))
        for run in imprint.bare(stretches.end)
    ]
    if runs:
        yield messages.say("drawing.described.bare", runs="; ".join(runs))


def _angle(angle: float, messages: Messages) -> str:
    side = "medial" if angle < 0 else "lateral"
    return messages.say(f"drawing.described.degrees_{side}", angle=f"{abs(angle):.0f}")


def _nails(fitting: Fitting, values: Values, messages: Messages) -> Iterator[str]:
    nails = fitting.observations.nails
    if nails is None:
        if fitting.stage != "hot_fit":
            yield messages.say("drawing.described.nails_unread")
        return
    phrases = []
    for nail in sorted(nails, key=lambda nail: (SIDES[nail.branch], nail.hole)):
        height = values.get(("exit_height", nail_place(nail)))
        exit_at = (
            messages.say("drawing.described.nail_unread")
            if height is None
            else messages.say("drawing.described.nail_exit", value=shown(height, "mm", messages.language))
        )
        phrases.append(
            messages.say(
                "drawing.described.nail", side=messages.say(f"drawing.plan.{nail.branch}"), hole=nail.hole, exit=exit_at
            )
        )
    if phrases:
        yield messages.say("drawing.described.nails", nails="; ".join(phrases))
