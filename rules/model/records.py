"""The rulebook as frozen records: what a limit, a rule and a text are made of.

Every record forbids unknown keys.  Numbers are in the unit that the record names; nothing here knows a figure.
"""

# No annotations from __future__: pydantic would evaluate their texts, 13 ms of a cold start for all models together.

from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from rules.model.contexts import (
    RANK,
    STAGES,
    BranchSide,
    Context,
    Fires,
    Foot,
    Grade,
    HoofForm,
    Method,
    NextStep,
    Order,
    Stage,
    Stance,
    Work,
    Yes,
    own_ways,
    sides_by_stance,
)
from rules.model.figures import Figure, Record, Sourced, Status, Text, Unit

__all__ = [
    "RANK",
    "STAGES",
    "BranchSide",
    "Caution",
    "Clause",
    "Context",
    "Criterion",
    "Fires",
    "Foot",
    "Grade",
    "HoofForm",
    "JoinedRule",
    "Judges",
    "Limit",
    "Method",
    "Need",
    "NextStep",
    "Order",
    "Place",
    "Quantity",
    "Rule",
    "Scaled",
    "Stage",
    "Stance",
    "Standing",
    "Step",
    "Work",
    "Yes",
]


class Caution(Record):
    """A safety caution; ``stops`` marks those that belong to critical findings."""

    stops: bool
    """true for what goes with critical findings: it says STOP and who is to examine the foot."""
    text: Text
    """The sentence that is told."""


class Standing(Record):
    """A caution shown with every assessment."""

    text: Text
    """The sentence that is told."""


class Judges(Record):
    """What a book judges; at another stage, and of another hoof form, it comes to no decision that lets a foot go on.

    A book that does not say has the words of the first contract.
    """

    stages: tuple[Stage, ...] = Field(default=("hot_fit", "nailed", "finished"), min_length=1)
    """Stages of the work."""
    hoof_forms: tuple[HoofForm, ...] = Field(
        default=("regular", "acute", "upright", "base_wide", "base_narrow"), min_length=1
    )
    """Forms of the hoof."""
    stances: tuple[Stance, ...] = ("regular",)
    """Only the regular one: the book takes a stance for a form of the hoof, as the first contract did."""
    by_chance: bool = False
    """Whether chances count beyond single ends.

    A limit with two ends then fires when the true value lies more likely than not past either, a reading conforms when
    it lies more likely than not inside all its limits, and a major joined finding stands when all its parts together
    are at least as likely as not.
    """


class Step(Record):
    """A step put in front of others, such as drawing the nails."""

    text: Text
    """What to do, as a sentence."""
    order: Order
    """The part of the work that it belongs to, which says where it stands among the steps."""
    supersedes: tuple[Order, ...] = ()
    """The parts of the work that it makes pointless for now."""


class Place(Record):
    """A place on the foot and how it is called in a sentence."""

    title: Text
    """How it is called; {side} and {hole} stand for those of a nail."""


class Quantity(Record):
    """Something that can be observed at a place: a number with a unit, a word of a closed list, or yes/no."""

    title: Text
    """What it is called in a sentence, without a capital."""
    kind: Literal["number", "word", "flag"]
    """A number with a unit, a word of a closed list, or a flag (yes or no)."""
    places: tuple[str, ...] = Field(min_length=1)
    """Where it is observed: names of places, such as toe, medial_heel, nail, foot."""
    how: Text
    """How it is observed, in one or two sentences to whoever does it."""
    unit: Unit | None = None
    """The unit of a number."""
    range: tuple[float, float] | None = None
    """[least, most] that is possible at all; a reading outside is refused as a mistake."""
    range_status: Status | None = None
    """The standing of the range, as status of a figure."""
    range_basis: Text | None = None
    """One sentence that says where the range comes from."""
    method: Method | None = None
    """How a length is usually measured, which says how sure it is."""
    words: tuple[str, ...] | None = None
    """The words of a word."""
    once: bool = False
    """Read at one of its places, it is not missed at the others."""
    computed_from: tuple[str, ...] = ()
    """What must be read for it to be computed: observed wherever a critical rule looks at it."""
    by_limit_of: str | None = None
    """The rule by whose limit or words it is computed: where a critical rule looks at it, as safe as a critical one."""
    also_at: tuple[Stage, ...] = ()
    """Stages at which it is observed besides those of its criterion."""
    instead_of: str | None = None
    """Another quantity: where that one is read, this one is not missed."""
    worst_case: bool = False
    """Its readings run from the least to the greatest that can be: a range without a probability, told as a range."""
    eye_of: str | None = None
    """The number that these words of the eye stand in the place of: a field of it that has a word is read as this."""
    own_way: Annotated[dict[str, tuple[Context, ...]] | None, BeforeValidator(own_ways)] = None
    """For a word that is a fault elsewhere, the contexts in which it is the foot's own way and right."""
    by_eye: bool = False
    """Whether its words are an eye's judgement, of which nobody knows how sure it is."""
    judged: bool | tuple[str, ...] = True
    """False: asked for and kept, and no rule looks at it; or the places at which rules may."""

    @model_validator(mode="after")
    def _kind_fits(self) -> Self:
        numeric = (self.unit, self.range, self.range_status, self.range_basis)
        if self.kind == "number":
            if None in numeric:
                raise ValueError("a number needs unit, range, range_status and range_basis")
            if self.range is not None and not self.range[0] < self.range[1]:
                raise ValueError("range must be [least, most] with least below most")
        elif any(part is not None for part in (*numeric, self.method)) or self.worst_case:
            raise ValueError(f"a {self.kind} has no unit, range, method or worst_case")
        if (self.kind == "word") != (self.words is not None):
            raise ValueError("a word, and only a word, lists its words")
        if (self.eye_of is not None or self.by_eye) and self.kind != "word":
            raise ValueError("only words are judged by eye")
        if not set(self.own_way or ()) <= set(self.vocabulary):
            raise ValueError("own_way is of the quantity's words")
        return self

    @model_validator(mode="after")
    def _judged_where_it_is_read(self) -> Self:
        if not isinstance(self.judged, bool) and not set(self.judged) <= set(self.places):
            raise ValueError("judged is true, false or some of the quantity's places")
        return self

    def judged_at(self, spot: str) -> bool:
        """Whether rules may look at it at a place of the book."""
        return self.judged if isinstance(self.judged, bool) else spot in self.judged

    @property
    def vocabulary(self) -> tuple[str, ...]:
        """Every word that can stand for this quantity; empty for a number."""
        return ("yes", "no") if self.kind == "flag" else self.words or ()


class Need(Record):
    """What must be read before a criterion counts as observed: any of these quantities at these places.

    ``stages`` narrows it to some stages of the work; ``each_branch`` is one nail or hole at least of each branch.
    """

    any_of: tuple[str, ...] = Field(min_length=1)
    """Quantities, of which one must be read."""
    at: Literal["anywhere", "each_branch", "every_nail", "every_clip"] | tuple[str, ...]
    """Places, all of them; or anywhere, each_branch (one nail hole of each), every_nail, every_clip."""
    stages: tuple[Stage, ...] | None = Field(default=None, min_length=1)
    """The stages at which it is needed; without it those of the criterion."""


class Criterion(Record):
    """One criterion of the assessment and when it can be observed: ``of`` one foot, or of two feet held together."""

    id: str
    """The criterion's name, which is its file's."""
    title: Text
    """What it is called."""
    of: Literal["foot", "pair"] = "foot"
    """One foot, or a pair held together."""
    looks_at: Text
    """What is looked at, in one sentence."""
    stages: tuple[Stage, ...] = Field(min_length=1)
    """The stages at which it can be observed."""
    needs: tuple[Need, ...] = Field(min_length=1)
    """What must be read before it counts as observed: all of these."""


class Scaled(Record):
    """A limit that follows another dimension: ``times`` x the quantity ``of`` + ``plus``."""

    times: float = Field(gt=0)
    """The factor, above 0."""
    of: str
    """The dimension that is followed, such as shoe_thickness."""
    plus: Figure = 0.0
    """What is added, in the unit of the limit."""


Limit = Figure | Scaled


class Amount(Record):
    """How far to go: from the reading to ``to``."""

    to: Limit
    """Where the reading is to be brought: a figure, or one that follows a dimension."""


class Remedy(Sourced):
    """What single and joined rules share: grade, texts, place in the working order, caution."""

    grade: Grade
    """How grave it is: minor is noted, major holds the foot up, critical stops."""
    finding: Text
    """What was found, as a sentence; it may mention {place}, and of a number {about}, {value}, {limit}."""
    order: Order
    """The part of the work that its action belongs to; critical findings, and only they, come under welfare."""
    shoe_off: bool = False
    """true where the shoe must come off for it."""
    caution: str
    """The name of a caution in cautions.toml."""
    action: dict[Stage, Text] = Field(min_length=1)
    """What to do, a sentence for each stage at which it can be found."""
    applies: Annotated[tuple[Context, ...] | None, BeforeValidator(sides_by_stance)] = Field(default=None, min_length=1)
    """Where it applies: any of these contexts; everywhere when left out."""
    supersedes: tuple[Order, ...] = ()
    """The parts of the work that its action makes pointless, as a new shoe does every step on the old one."""
    move: str | None = None
    """What its step moves: of several that move the same on one branch, the one that goes furthest is told alone."""
    blocks: bool = True
    """Whether a major finding holds the foot up; false for what cannot be undone on this foot today."""

    @model_validator(mode="after")
    def _only_a_major_may_let_pass(self) -> Self:
        if not self.blocks and self.grade != "major":
            raise ValueError("blocks = false belongs to major: a critical finding always stops, a minor one never does")
        return self

    @property
    def holds_up(self) -> bool:
        """Whether its finding keeps the foot from going on."""
        return self.grade != "minor" and self.blocks


class Rule(Remedy):
    """A single limit on one quantity: it fires outside [low, high], or when the word is one of ``is``."""

    quantity: str
    """The quantity that it looks at, of the same file."""
    fires: Fires
    """simple compares the reading; guarded, of critical limits, the end of its interval."""
    unit: Unit | Literal["word"]
    """The limit's unit, which is the quantity's; word for words."""
    low: Limit | None = None
    """The least that is right; a figure, text in inches such as "5/8 in", or one that follows a dimension."""
    high: Limit | None = None
    """The greatest that is right, written as low is."""
    edge: Literal["fires"] | None = None
    """fires where the limit itself is already too much; left out, it is right."""
    is_: tuple[str, ...] | None = Field(default=None, alias="is", min_length=1)
    """Words on which it fires."""
    with_: dict[str, tuple[str, ...]] | None = Field(default=None, alias="with", min_length=1)
    """Another quantity, and its words of which one must have been read at the same place."""
    without: dict[str, tuple[str, ...]] | None = Field(default=None, min_length=1)
    """What must not have been read at the same place or of the foot: one of these words, a number where none is."""
    places: tuple[str, ...] | None = Field(default=None, min_length=1)
    """Places at which it looks; all of the quantity when left out."""
    unless: tuple[str, ...] = ()
    """Rules as grave or graver that keep this one silent where they fire."""
    amount: Amount | None = None
    """How far to go, which {about} in its texts tells."""
    gathered: Text | None = None
    """How it is noted once for several nails."""
    printed: Text | None = None
    """The limit as its source prints it."""

    @model_validator(mode="before")
    @classmethod
    def _printed_in_inches(cls, written: Any) -> Any:
        """A limit that is written in inches was printed so."""
        if not isinstance(written, dict) or "printed" in written:
            return written
        limits = (written.get("low"), written.get("high"))
        inches = [limit for limit in limits if isinstance(limit, str)]
        return {**written, "printed": " to ".join(inches)} if inches else written

    @model_validator(mode="after")
    def _one_kind_of_limit(self) -> Self:
        has_range = self.low is not None or self.high is not None
        if has_range == (self.is_ is not None):
            raise ValueError("a rule has either low/high or is")
        if (self.unit == "word") == has_range:
            raise ValueError("unit is the limit's unit, or 'word' with is")
        if self.edge and not has_range:
            raise ValueError("edge belongs to low/high")
        if self.amount is not None and not has_range:
            raise ValueError("an amount belongs to low/high")
        return self


class Clause(Record):
    """One thing that a joined rule rests on: a finding, a reading beyond a limit, or a reading clear of rules."""

    findings: tuple[str, ...] | None = Field(default=None, min_length=1)
    """Rules, of which one has fired."""
    reading: str | None = None
    """A quantity that was read."""
    at: str | None = None
    """The place of the finding or the reading."""
    clear_of: tuple[str, ...] | None = Field(default=None, min_length=1)
    """Rules that look at the reading, none of which has fired."""
    low: Limit | None = None
    """The reading lies below this."""
    high: Limit | None = None
    """The reading lies above this."""
    unit: Unit | None = None
    """The unit of low and high."""
    fires: Fires | None = None
    """simple, or guarded as of a rule."""
    printed: Text | None = None
    """The limit as its source prints it."""

    @model_validator(mode="after")
    def _one_shape(self) -> Self:
        has_range = self.low is not None or self.high is not None
        if (self.findings is None) == (self.reading is None):
            raise ValueError("a clause has either findings or a reading")
        if self.findings is not None and (has_range or self.clear_of is not None):
            raise ValueError("findings take only 'at'")
        if self.reading is not None:
            if has_range == (self.clear_of is not None):
                raise ValueError("a reading has either clear_of or low/high")
            if self.at is None:
                raise ValueError("a reading needs the place 'at'")
            if has_range and (self.unit is None or self.fires is None):
                raise ValueError("a reading beyond a limit needs unit and fires")
        return self


class JoinedRule(Remedy):
    """A second-layer rule: all its clauses hold together.

    With ``replaces_actions`` its action stands instead of those of the findings that it rests on, and of the rules
    that ``replaces`` names.
    """

    criterion: str
    """The criterion that it counts for."""
    place: Literal["foot", "of_first"]
    """Where it is found: of the whole foot, or of_first, where its first finding is."""
    replaces_actions: bool = False
    """true where its action stands instead of those of the findings that it rests on."""
    replaces: tuple[str, ...] = ()
    """Further rules whose actions it stands instead of."""
    when: tuple[Clause, ...] = Field(min_length=2)
    """What it rests on: two clauses or more, all of which hold."""
