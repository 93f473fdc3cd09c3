"""What a book that inherits another may never take away: whatever stops a foot there goes on stopping it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, get_args

from rules.limits import resolve
from rules.loading.record_checks import fail
from rules.model.records import Grade, Limit, Need, Rule, Scaled, Stage
from rules.rulebook import Rulebook
from rules.situation import Situation, admits, side_of, situations

__all__ = ["check_safeguards"]

_STOP: Final = "STOP."
_STOP_ACTION: Final = "Stop."
_WHO: Final = ("veterinary surgeon", "licensed farrier")
_GRADES: Final[tuple[Grade, ...]] = get_args(Grade)
_SWITCH: Final = "Leave it as the inherited book has it"


def check_safeguards(book: Rulebook, inherited: Rulebook) -> None:
    """Hold ``book``, whose records agree with one another, against the book that it inherits.

    Raises RulebookError where a critical rule stops less than it did or what it needs need no longer be observed, where
    a caution that stops no longer says so, and where nothing judges any longer what a required criterion needs read.
    """
    if book.levels["guarded"].probability > inherited.levels["guarded"].probability:
        key = "levels.guarded.probability"
        fail("book.toml", key, "critical limits would fire later than in the inherited book", "Write a smaller chance")
    for name, caution in book.cautions.items():
        if caution.stops and not (caution.text.startswith(_STOP) and any(who in caution.text for who in _WHO)):
            problem = "a caution that stops does not say so, or not who is to examine the foot"
            fail(
                "cautions.toml", f"cautions.{name}.text", problem, f"Begin with {_STOP} and name {' or a '.join(_WHO)}"
            )
    for rule_id in (*inherited.rules, *inherited.joined):
        if inherited.remedy(rule_id).grade == "critical":
            _check_critical(book, inherited, rule_id)
    _check_needs(book, inherited)
    _check_required(book, inherited)


def _check_critical(book: Rulebook, inherited: Rulebook, rule_id: str) -> None:
    now, before = book.remedy(rule_id), inherited.remedy(rule_id)
    file, key = book.files[rule_id], f"{'rules' if rule_id in book.rules else 'joined'}.{rule_id}"
    if now.grade != "critical":
        fail(
            file, f"{key}.grade", "a critical rule stays critical: the horse would be hurt", 'Write grade = "critical"'
        )
    for name in ("applies", "places", "with_", "without", "unless", "when"):
        if getattr(now, name, None) != getattr(before, name, None):
            name = name.rstrip("_")  # noqa: PLW2901
            fail(file, f"{key}.{name}", "where a critical rule fires stays as the inherited book has it", _SWITCH)
    for stage, text in now.action.items():
        if not text.startswith(_STOP_ACTION):
            fail(file, f"{key}.action.{stage}", "a critical action does not say stop", f"Begin with {_STOP_ACTION}")
    if isinstance(now, Rule) and isinstance(before, Rule):
        _check_limits(book, file, key, now, before)


def _check_limits(book: Rulebook, file: str, key: str, now: Rule, before: Rule) -> None:
    if not set(before.is_ or ()) <= set(now.is_ or ()):
        fail(file, f"{key}.is", "a critical rule would no longer fire on every word that it did", _SWITCH)
    if before.edge is not None and now.edge is None:
        fail(file, f"{key}.edge", "a critical rule would no longer fire at its limit", _SWITCH)
    for name, sign in (("low", -1), ("high", 1)):
        if _laxer(book, getattr(now, name), getattr(before, name), sign):
            problem = "a critical limit may be made stricter, never laxer: the horse would be hurt"
            fail(file, f"{key}.{name}", problem, "Write a stricter figure, or leave the inherited one")


def _laxer(book: Rulebook, now: Limit | None, before: Limit | None, sign: int) -> bool:
    """Whether ``now`` lets pass, at any size, what ``before`` does not; both are straight lines over one dimension."""
    if before is None or now is None:
        return before is not None
    followed = {limit.of for limit in (now, before) if isinstance(limit, Scaled)}
    if len(followed) > 1:
        return True  # cannot be told
    name = next(iter(followed), "")
    for size in (book.quantities[name].range or (0.0,)) if followed else (0.0,):
        here, there = resolve(now, {name: size}), resolve(before, {name: size})
        if here is None or there is None or sign * (here - there) > 0:
            return True
    return False


def _check_needs(book: Rulebook, inherited: Rulebook) -> None:
    """What critical rules look at must be observed wherever it had to be: unseen, it would stop nothing."""
    critical = [name for name in (*inherited.rules, *inherited.joined) if inherited.remedy(name).grade == "critical"]
    looked_at = {quantity for rule_id in critical for quantity in _quantities_of(inherited, rule_id)}
    looked_at.update(name for each in tuple(looked_at) for name in inherited.quantities[each].computed_from)
    needs = [
        (criterion.id, need)
        for criterion in inherited.criteria.values()
        for need in criterion.needs
        if not looked_at.isdisjoint(need.any_of)
    ]
    kept = {key: set(criteria) for key, criteria in _required_keys(book)}
    for key, criteria in _required_keys(inherited):
        for criterion, need in needs:
            if criterion in criteria and criterion not in kept[key]:
                problem = f"{criterion} must be observed there: critical rules look at {' or '.join(need.any_of)}"
                fail("book.toml", key, problem, f"Put {criterion} back among what is required")
    for criterion, need in needs:
        if not any(_as_strict(own, need) for own in book.criteria[criterion].needs):
            problem = (
                f"{' or '.join(need.any_of)} need no longer be observed as it was, and a critical rule looks at it"
            )
            fail(book.files.get(need.any_of[0], f"{criterion}.toml"), "criterion.needs", problem, _SWITCH)


def _quantities_of(book: Rulebook, rule_id: str) -> Iterator[str]:
    """The quantities that a rule looks at, itself or through the findings that it rests on."""
    if rule_id in book.rules:
        yield book.rules[rule_id].quantity
        return
    for condition in book.joined[rule_id].when:
        for finding in condition.findings or ():
            yield from _quantities_of(book, finding)
        if condition.reading is not None:
            yield condition.reading


def _required_keys(book: Rulebook) -> Iterator[tuple[str, tuple[str, ...]]]:
    """What is required, by its key in book.toml."""
    for stage, criteria in book.required.items():
        yield f"required.{stage}", criteria
    yield "required.finished_when_hot_fitted", book.required_when_hot_fitted


def _as_strict(now: Need, before: Need) -> bool:
    """Whether what ``now`` asks for is all that ``before`` asked for."""
    if isinstance(before.at, tuple):
        everywhere = isinstance(now.at, tuple) and set(before.at) <= set(now.at)
    else:
        everywhere = before.at in {"anywhere", now.at}
    always = now.stages is None or (before.stages is not None and set(before.stages) <= set(now.stages))
    return everywhere and always and set(now.any_of) <= set(before.any_of)


def _check_required(book: Rulebook, inherited: Rulebook) -> None:
    """What a required criterion needs read is still judged in every situation in which it was."""
    for stage, criterion in _required(book):
        for need in book.criteria[criterion].needs:
            if need.stages is not None and stage not in need.stages:
                continue
            for situation in situations(book.judges):
                if situation.stage != stage or not _judged(inherited, need, situation):
                    continue
                if not _judged(book, need, situation):
                    names = " or ".join(need.any_of)
                    fail(
                        f"{criterion}.toml",
                        "rules",
                        f"{criterion} is required at the stage {stage}, and no rule is left that judges {names}",
                        f"Leave a rule for it, or take {criterion} out of required.{stage} in book.toml",
                    )


def _required(book: Rulebook) -> Iterator[tuple[Stage, str]]:
    for stage, criteria in book.required.items():
        for criterion in criteria:
            yield stage, criterion
    for criterion in book.required_when_hot_fitted:
        yield "finished", criterion


def _judged(book: Rulebook, need: Need, situation: Situation) -> bool:
    return any(
        admits(rule.applies, situation, side)
        for name in need.any_of
        for _, rule in book.rules_of[name]
        for place in book.places_of(rule)
        for side in (("medial", "lateral") if place == "nail" else (side_of(place),))
    )
