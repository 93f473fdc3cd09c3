"""The rulebook as frozen records: what a limit, a rule and a text are made of.

Every record forbids unknown keys.  Numbers are in the unit that the record names; nothing here knows a figure.
"""

# No annotations from __future__: pydantic would evaluate their texts, 13 ms of a cold start for all models together.

from collections.abc import Mapping
from typing import Annotated, Any, Final, Literal, Self, get_args

from pydantic import BeforeValidator, Field, model_validator

from rules.model.figures import Figure, Record, Sourced, Status, Text, Unit

__all__ = [
    "RANK",
    "STAGES",
    "BranchSide",
    "Caution",
    "Clause",
    "Context",
    "Criterion",
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

Grade = Literal["minor", "major", "critical"]
RANK: Final[Mapping[Grade, int]] = {grade: rank for rank, grade in enumerate(get_args(Grade))}
"""How grave each grade is."""
Order = Literal["welfare", "iron", "foot", "nails", "finish"]
Fires = Literal["simple", "guarded"]
Foot = Literal["fore", "hind"]
Stage = Literal["dressed", "hot_fit", "nailed", "finished"]
STAGES: Final[tuple[Stage, ...]] = get_args(Stage)
"""In the order of the work."""
NextStep = Literal["shoe", "nail_on", "clinch_and_finish"]
"""What follows a stage at which nothing holds the foot up."""
Work = Literal["riding", "harness", "draught"]
HoofForm = Literal["regular", "acute", "upright", "bear", "wide", "narrow", "base_wide", "base_narrow"]
"""base_wide and base_narrow are stances; as forms they are those of the first contract."""
Stance = Literal["regular", "base_wide", "base_narrow"]
"""How the limb stands over the hoof, seen from in front."""
BranchSide = Literal["medial", "lateral"]
Method = Literal["rule", "calliper", "feeler", "eye"]
"""How a length is measured."""
Yes = Literal["yes", "no"]


class Caution(Record):
    """A safety caution; ``stops`` marks those that belong to critical findings."""

    stops: bool
    text: Text


class Standing(Record):
    """A caution shown with every assessment."""

    text: Text


class Judges(Record):
    """What a book judges; at another stage, and of another hoof form, it comes to no decision that lets a foot go on.

    A book that does not say has the words of the first contract.
    """

    stages: tuple[Stage, ...] = Field(default=("hot_fit", "nailed", "finished"), min_length=1)
    hoof_forms: tuple[HoofForm, ...] = Field(
        default=("regular", "acute", "upright", "base_wide", "base_narrow"), min_length=1
    )
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
    order: Order
    supersedes: tuple[Order, ...] = ()
    """The parts of the work that it makes pointless for now."""


class Place(Record):
    """A place on the foot and how it is called in a sentence."""

    title: Text


class Context(Record):
    """Where a rule applies; keys are joined by 'and', the values of a key by 'or'."""

    foot: tuple[Foot, ...] | None = Field(default=None, min_length=1)
    stage: tuple[Stage, ...] | None = Field(default=None, min_length=1)
    work: tuple[Work, ...] | None = Field(default=None, min_length=1)
    hoof_form: tuple[HoofForm, ...] | None = Field(default=None, min_length=1)
    stance: tuple[Stance, ...] | None = Field(default=None, min_length=1)
    side: tuple[BranchSide, ...] | None = Field(default=None, min_length=1)
    hot_fitted: tuple[Yes, ...] | None = Field(default=None, min_length=1)


_BY_STANCE: Final[Mapping[str, tuple[tuple[str, str], ...]]] = {
    "full": (("base_narrow", "lateral"), ("base_wide", "medial")),
    "close": (("base_narrow", "medial"), ("base_wide", "lateral")),
}
"""The stances and branches of the full side, where most weight falls and the iron stands out, and of the close one."""


def _sides_by_stance(contexts: Any) -> Any:
    """Contexts that say ``side = ["full"]`` or ``["close"]``, written out by stance and branch."""
    if not isinstance(contexts, tuple):
        return contexts
    written: list[Any] = []
    for context in contexts:
        sides = context.get("side") if isinstance(context, dict) else None
        named = [side for side in sides if side in _BY_STANCE] if isinstance(sides, tuple) else []
        if not named:
            written.append(context)
        elif len(named) < len(sides or ()) or "stance" in context:
            raise ValueError("full and close say the stance and the branch by themselves: name neither beside them")
        else:
            pairs = (pair for side in named for pair in _BY_STANCE[side])
            written += ({**context, "stance": (stance,), "side": (branch,)} for stance, branch in pairs)
    return tuple(written)


def _own_ways(ways: Any) -> Any:
    """The same of each word."""
    return {word: _sides_by_stance(each) for word, each in ways.items()} if isinstance(ways, dict) else ways


class Quantity(Record):
    """Something that can be observed at a place: a number with a unit, a word of a closed list, or yes/no."""

    title: Text
    kind: Literal["number", "word", "flag"]
    places: tuple[str, ...] = Field(min_length=1)
    how: Text
    unit: Unit | None = None
    range: tuple[float, float] | None = None
    range_status: Status | None = None
    range_basis: Text | None = None
    method: Method | None = None
    words: tuple[str, ...] | None = None
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
    own_way: Annotated[dict[str, tuple[Context, ...]] | None, BeforeValidator(_own_ways)] = None
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
    at: Literal["anywhere", "each_branch", "every_nail", "every_clip"] | tuple[str, ...]
    stages: tuple[Stage, ...] | None = Field(default=None, min_length=1)


class Criterion(Record):
    """One criterion of the assessment and when it can be observed: ``of`` one foot, or of two feet held together."""

    id: str
    title: Text
    of: Literal["foot", "pair"] = "foot"
    looks_at: Text
    stages: tuple[Stage, ...] = Field(min_length=1)
    needs: tuple[Need, ...] = Field(min_length=1)


class Scaled(Record):
    """A limit that follows another dimension: ``times`` x the quantity ``of`` + ``plus``."""

    times: float = Field(gt=0)
    of: str
    plus: Figure = 0.0


Limit = Figure | Scaled


class Amount(Record):
    """How far to go: from the reading to ``to``."""

    to: Limit


class Remedy(Sourced):
    """What single and joined rules share: grade, texts, place in the working order, caution."""

    grade: Grade
    finding: Text
    order: Order
    shoe_off: bool = False
    caution: str
    action: dict[Stage, Text] = Field(min_length=1)
    applies: Annotated[tuple[Context, ...] | None, BeforeValidator(_sides_by_stance)] = Field(
        default=None, min_length=1
    )
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
    fires: Fires
    unit: Unit | Literal["word"]
    low: Limit | None = None
    high: Limit | None = None
    edge: Literal["fires"] | None = None
    is_: tuple[str, ...] | None = Field(default=None, alias="is", min_length=1)
    with_: dict[str, tuple[str, ...]] | None = Field(default=None, alias="with", min_length=1)
    without: dict[str, tuple[str, ...]] | None = Field(default=None, min_length=1)
    """What must not have been read at the same place or of the foot: one of these words, a number where none is."""
    places: tuple[str, ...] | None = Field(default=None, min_length=1)
    unless: tuple[str, ...] = ()
    amount: Amount | None = None
    gathered: Text | None = None
    """How it is noted once for several nails."""
    printed: Text | None = None

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
    reading: str | None = None
    at: str | None = None
    clear_of: tuple[str, ...] | None = Field(default=None, min_length=1)
    low: Limit | None = None
    high: Limit | None = None
    unit: Unit | None = None
    fires: Fires | None = None
    printed: Text | None = None

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
    place: Literal["foot", "of_first"]
    replaces_actions: bool = False
    replaces: tuple[str, ...] = ()
    when: tuple[Clause, ...] = Field(min_length=2)
