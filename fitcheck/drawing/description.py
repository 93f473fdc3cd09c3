"""The drawing in words, for those who hear it read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from fitcheck.assessment.models import Assessment
from fitcheck.drawing.figure import Values
from fitcheck.drawing.markers import NumberedFinding
from fitcheck.drawing.places import SIDES, Stretches
from fitcheck.drawing.plan_labels import labels_at
from fitcheck.drawing.plan_view import Imprint
from fitcheck.drawing.words import Words
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import nail_place
from fitcheck.text.format import shown
from fitcheck.text.names import place_named
from rules import Rulebook

__all__ = ["description", "titled"]


def titled(assessment: Assessment, words: Words) -> str:
    """The drawing in one line."""
    return words.say(
        "described.title",
        foot=words.say(f"foot.{assessment.foot}"),
        stage=words.say(f"stage.{assessment.stage}"),
        decision=words.say(f"decision.{assessment.decision}"),
        count=len(assessment.findings),
    )


def description(
    fitting: Fitting,
    values: Values,
    stretches: Stretches,
    imprint: Imprint,
    numbered: Sequence[NumberedFinding],
    missing: Sequence[str],
    side: int,
    words: Words,
    book: Rulebook,
) -> str:
    """Everything that the drawing shows, as sentences; ``side`` is 1 where the lateral side is on the right."""
    parts = [words.say("described.below", side=words.say("described.right" if side > 0 else "described.left"))]
    for place, _, _ in stretches.all:
        readings = ", ".join(label.text for label in labels_at(place, values, words))
        parts.append(words.say("described.place", place=words.say(f"place.{place}"), readings=readings))
    parts += _imprint(imprint, stretches, words)
    parts += _nails(fitting, values, words)
    for each in numbered:
        finding = each.finding
        parts.append(
            words.say(
                "described.finding",
                number=each.number,
                grade=words.say(f"grade.{finding.grade}"),
                place=place_named(finding.place, book),
                text=finding.finding,
            )
        )
    if missing:
        parts.append(words.say("described.missing", names="; ".join(missing)))
    return " ".join(parts)


def _imprint(imprint: Imprint, stretches: Stretches, words: Words) -> Iterator[str]:
    if imprint.arcs is None:
        if imprint.expected:
            yield words.say("described.imprint_unread")
        return
    runs = [
        words.say("described.run", first=_angle(run.first, words), last=_angle(run.last, words))
        for run in imprint.bare(stretches.end)
    ]
    if runs:
        yield words.say("described.bare", runs="; ".join(runs))


def _angle(angle: float, words: Words) -> str:
    side = "medial" if angle < 0 else "lateral"
    return words.say(f"described.degrees_{side}", angle=f"{abs(angle):.0f}")


def _nails(fitting: Fitting, values: Values, words: Words) -> Iterator[str]:
    nails = fitting.observations.nails
    if nails is None:
        if fitting.stage != "hot_fit":
            yield words.say("described.nails_unread")
        return
    phrases = []
    for nail in sorted(nails, key=lambda nail: (SIDES[nail.branch], nail.hole)):
        height = values.get(("exit_height", nail_place(nail)))
        exit_at = (
            words.say("described.nail_unread")
            if height is None
            else words.say("described.nail_exit", value=shown(height, "mm", words.language))
        )
        phrases.append(words.say("described.nail", side=words.say(f"plan.{nail.branch}"), hole=nail.hole, exit=exit_at))
    if phrases:
        yield words.say("described.nails", nails="; ".join(phrases))
