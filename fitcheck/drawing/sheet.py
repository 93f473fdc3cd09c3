"""The whole drawing: heading, the foot from below, both walls from the side, signs and lists."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Final, Literal

from fitcheck.assessment.models import Assessment
from fitcheck.drawing.description import description, titled
from fitcheck.drawing.figure import SIDES, Figure, Values, stretches_of
from fitcheck.drawing.lists import findings_list, heading, key, unobserved_list
from fitcheck.drawing.markers import row_of_markers
from fitcheck.drawing.plan_view import IN_SOLE, Imprint, PlanParts, plan_view
from fitcheck.drawing.schematic import schematic
from fitcheck.drawing.shades import INK, PAPER, UNSEEN
from fitcheck.drawing.svg import FACE, Node, label, node, number, shortened, wrapped, written
from fitcheck.drawing.wall import side_wall
from fitcheck.drawing.wall_view import WallParts, wall_view
from fitcheck.fitting.models import Fitting
from fitcheck.text.catalogue import capital, messages_of
from fitcheck.text.format import place_name
from fitcheck.view import FindingView, view_of
from rules import Rulebook
from rules.lazy import lazily
from rules.model.records import BranchSide

if TYPE_CHECKING:
    from fitcheck.drawing.traced import traced
else:
    traced = lazily("fitcheck.drawing.traced", "traced")

__all__ = ["Form", "draw"]

Form = Literal["column", "sheet", "views"]
"""``column`` is narrow, for a telephone; ``sheet`` sets the lists beside the views; ``views`` has no lists, and sets
the walls beside the view from below: for paper that has the lists already."""

_WIDTH: Final = 360.0
_GAP: Final = 24.0
_PREFIX: Final = re.compile(r"[A-Za-z][A-Za-z0-9-]{0,39}")
_NAILED: Final = frozenset({"nails", "clinches"})


def draw(
    fitting: Fitting,
    assessment: Assessment,
    book: Rulebook,
    *,
    form: Form = "column",
    prefix: str = "fitting",
    any_book: bool = False,
    unjudged: bool = False,
) -> str:
    """An SVG drawing of ``fitting`` with what ``assessment``, made of it by ``book``, found.

    The same three always give the same text.  ``prefix`` begins the ids of its title and description, so that several
    drawings can stand in one page: letters, digits and hyphens.

    With ``any_book`` the assessment may be by another book than ``book``, one that is no longer at hand: then no bands
    are drawn, since they are that one's, and the drawing says so.  What was found is the assessment's own either way.

    ``unjudged`` shows the readings alone, without findings, bands and decision: for whoever judges the foot himself.

    Raises ValueError for a prefix of other characters and where the assessment is of another foot or, without
    ``any_book``, by another book.
    """
    if not _PREFIX.fullmatch(prefix):
        raise ValueError("prefix is made of letters, digits and hyphens, a letter first, 40 at most")
    if (assessment.foot, assessment.stage) != (fitting.foot, fitting.stage):
        raise ValueError("the assessment is not of this fitting")
    if not any_book and assessment.rulebook.digest != book.digest:
        raise ValueError("the assessment is not by this rulebook")
    if unjudged:
        blank = assessment.model_copy(update={"findings": (), "still_needed": (), "not_assessed": ()})
        drawing = _Drawing(fitting, blank, book)
        drawing.view = drawing.view._replace(decision="")
        # Bands are limits: beside a reading they say what the tool found.
        drawing.same_book = False
        return written(drawing.root("views", prefix))
    return written(_Drawing(fitting, assessment, book).root(form, prefix))


class _Drawing:
    """What every part of one drawing is made from."""

    def __init__(self, fitting: Fitting, assessment: Assessment, book: Rulebook) -> None:
        self.fitting = fitting
        self.assessment = assessment
        self.book = book
        self.messages = messages_of(book)
        self.same_book = assessment.rulebook.digest == book.digest
        self.values: Values = {(each.quantity, each.place): each.value for each in assessment.measurements}
        self.stretches = stretches_of(book)
        self.view = view_of(assessment, book)
        self.titles = {place: capital(place_name(place, book)) for place, _, _ in self.stretches.all}
        # Seen from below, toe upwards, the lateral side of a left foot is on the right.
        self.side = 1 if fitting.foot.startswith("left") else -1
        seen = fitting.observations.scorch
        self.imprint = Imprint(None if seen is None else seen.arcs, fitting.hot_fitted is not False)

    def root(self, form: Form, prefix: str) -> Node:
        if form == "views":
            return self._root(*self._side_by_side(), prefix)
        views, views_end = self._views(0.0)
        lists, lists_end = self._lists(0.0 if form == "sheet" else views_end)
        if form == "sheet":
            across = _WIDTH + _GAP
            lists = [node("g", *lists, transform=f"translate({number(across)} 0)")]
            width, height = across + _WIDTH, max(views_end, lists_end)
        else:
            width, height = _WIDTH, lists_end
        return self._root([*views, *lists], width, height, prefix)

    def _side_by_side(self) -> tuple[list[Node], float, float]:
        places = self._by_place()
        plan, plan_end = self._plan(places, 0.0)
        more, plan_end = self._elsewhere(places, plan_end)
        walls, walls_end = self._walls(places, 0.0)
        across = _WIDTH + _GAP
        beside = node("g", *walls, transform=f"translate({number(across)} 0)")
        return [*plan, *more, beside], across + _WIDTH, max(plan_end, walls_end)

    def _root(self, nodes: list[Node], width: float, height: float, prefix: str) -> Node:
        return node(
            "svg",
            node(
                "title",
                titled(self.view, self.messages) if self.view.decision else self.view.title,
                id=f"{prefix}-title",
            ),
            node("desc", self._description(), id=f"{prefix}-desc"),
            node("rect", width=width, height=height, fill=PAPER),
            *nodes,
            xmlns="http://www.w3.org/2000/svg",
            viewBox=f"0 0 {number(width)} {number(height)}",
            width=width,
            height=height,
            role="img",
            aria_labelledby=f"{prefix}-title {prefix}-desc",
            lang=self.messages.language,
            xml_lang=self.messages.language,
            font_family=FACE,
            class_="fitcheck-drawing",
        )

    def _description(self) -> str:
        return description(
            self.fitting,
            self.values,
            self.stretches,
            self.imprint,
            self.view,
            self.side,
            self.titles,
            self.messages,
        )

    def _views(self, top: float) -> tuple[list[Node], float]:
        nodes, here = self._head(top)
        places = self._by_place()
        plan, here = self._plan(places, here)
        more, here = self._elsewhere(places, here)
        walls, here = self._walls(places, here + 8)
        return [*nodes, *plan, *more, *walls], here

    def _elsewhere(self, places: Mapping[str, list[FindingView]], here: float) -> tuple[list[Node], float]:
        """The markers of what belongs to no place that is drawn."""
        rest = [*places["sole"][IN_SOLE:], *places["foot"]]
        if not rest:
            return [], here
        markers, height = row_of_markers(rest, 90, here + 9, int((_WIDTH - 90) // 23))
        heading_ = label(capital(place_name("foot", self.book)), 4, here + 12, size=9.2, bold=True)
        return [heading_, *markers], here + height + 6

    def _head(self, top: float) -> tuple[list[Node], float]:
        messages = self.messages
        nodes = [label(self.view.title, 4, top + 20, size=16, bold=True)]
        here = top + 37
        for line in wrapped(self.view.decision, 11.5, _WIDTH - 8, bold=True):
            nodes.append(label(line, 4, here, size=11.5, bold=True))
            here += 14
        names = []
        if self.fitting.horse is not None and self.fitting.horse.id is not None:
            names.append(messages.say("drawing.header.horse", id=self.fitting.horse.id))
        if self.fitting.visit is not None:
            names.append(messages.say("drawing.header.visit", id=self.fitting.visit))
        if names:
            nodes.append(label(shortened(", ".join(names), 9.2, _WIDTH - 8), 4, here - 1, size=9.2, fill=UNSEEN))
            here += 12
        nodes.append(
            node("path", d=f"M4 {number(here - 6)}H{number(_WIDTH - 4)}", stroke=INK, stroke_width=1.2, fill="none")
        )
        return nodes, here

    def _by_place(self) -> defaultdict[str, list[FindingView]]:
        """Findings by where they are marked: those on the nails of a branch together at ``nails:medial`` and so on."""
        places: defaultdict[str, list[FindingView]] = defaultdict(list)
        known = {place for place, _, _ in self.stretches.all} | {"sole"}
        nails = {f"nail:{nail.branch}:{nail.hole}" for nail in self.fitting.observations.nails or ()}
        for each in self.view.findings:
            place = each.finding.place
            if place.endswith("_quarter") and each.finding.criterion in _NAILED:
                places[f"nails:{place.removesuffix('_quarter')}"].append(each)
            else:
                places[place if place in known | nails else "foot"].append(each)
        return places

    def _plan(self, places: Mapping[str, list[FindingView]], top: float) -> tuple[list[Node], float]:
        figure = self._figure()
        nodes = [heading(self.messages.say("drawing.plan.title"), top)]
        lines = wrapped(self._scale_label(figure), 8.8, _WIDTH - 120)
        nodes += [
            label(text, _WIDTH - 4, top + 11 + 11 * row, size=8.8, anchor="end") for row, text in enumerate(lines)
        ]
        parts = PlanParts(
            figure, self.stretches, self.values, self.imprint, places, self.titles, self.side, self.messages
        )
        drawn, here = plan_view(parts, top + 8 + 11 * len(lines), _WIDTH)
        return [*nodes, *drawn], here

    def _figure(self) -> Figure:
        outline = self.fitting.observations.outline
        if outline is None:
            return schematic(self.fitting, self.values, self.stretches)
        return traced(self.fitting, outline, self.values, self.stretches, self.book if self.same_book else None)

    def _scale_label(self, figure: Figure) -> str:
        if figure.traced:
            return self.messages.say("drawing.plan.to_scale")
        kind = "sketched" if figure.factor == 1 else "exaggerated"
        more = "" if figure.length_factor == 1 else "_length"
        factor, length_factor = (self.messages.number(f"{each:.3g}") for each in (figure.factor, figure.length_factor))
        return self.messages.say(f"drawing.plan.{kind}{more}", factor=factor, length_factor=length_factor)

    def _walls(self, places: Mapping[str, list[FindingView]], top: float) -> tuple[list[Node], float]:
        if not self._has_walls:
            lines = wrapped(self.messages.say("drawing.wall.no_nails_yet"), 9.2, _WIDTH - 8)
            return [
                label(text, 4, top + 10 + 12 * row, size=9.2, fill=UNSEEN) for row, text in enumerate(lines)
            ], top + 12 * len(lines) + 8
        nodes: list[Node] = []
        here = top
        found = frozenset(
            each.finding.place
            for each in self.view.findings
            if each.finding.measured is not None and each.finding.measured.quantity == "clinch"
        )
        sides: Iterable[BranchSide] = ("lateral", "medial")
        for side in sides:
            wall = side_wall(side, self.fitting, self.values, self.book, banded=self.same_book)
            # Seen from outside, a left foot looks to the left; its inside, to the right.
            toe = -self.side * SIDES[side]
            whole = places.get(f"nails:{side}", ())
            drawn, here = wall_view(WallParts(wall, toe, places, whole, found, self.messages), here, _WIDTH)
            nodes += drawn
            here += 8
        return nodes, here

    @property
    def _has_walls(self) -> bool:
        return self.fitting.stage != "hot_fit" or bool(self.fitting.observations.nails)

    def _lists(self, top: float) -> tuple[list[Node], float]:
        found, here = findings_list(self.view.findings, self.messages, top + 6, _WIDTH)
        missing, here = unobserved_list(self.view.unobserved, self.messages, here + 6, _WIDTH)
        signs, here = key(self.messages, here + 6, _WIDTH, walls=self._has_walls, banded=self.same_book)
        nodes = [*found, *missing, *signs]
        judged_by = self.view.judged_by
        if not self.same_book:
            judged_by = f"{judged_by} {self.messages.say('drawing.list.other_book')}"
        for text in [
            *wrapped(judged_by, 8.8, _WIDTH - 8),
            *wrapped(self.messages.say("drawing.list.eyes"), 8.8, _WIDTH - 8),
        ]:
            here += 12
            nodes.append(label(text, 4, here, size=8.8, fill=UNSEEN))
        return nodes, here + 10
