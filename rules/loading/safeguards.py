"""What a book that inherits another may never take away: whatever stops a foot there goes on stopping it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from rules.limits import resolve
from rules.loading.record_checks import fail
from rules.model.records import RANK, Limit, Need, Remedy, Rule, Scaled, Stage
from rules.rulebook import Rulebook
from rules.situation import Situation, admits, side_of, situations

__all__ = ["check_safeguards"]

_STOP: Final = "STOP."
_STOP_ACTION: Final = "Stop."
_WHO: Final = ("veterinary surgeon", "licensed farrier")
_SWITCH: Final = "Leave it as the inherited book has it"


def check_safeguards(book: Rulebook, inherited: Rulebook) -> None:
    """Hold ``book``, whose records agree with one another, against the book that it inherits.

    Raises RulebookError where a critical rule stops less than it did, by itself or through what it looks at, where what
    it looks at need no longer be observed, where a caution that stops no longer says so, where a word of the eye is
    found better than it was, and where nothing judges any longer what a required criterion needs read.
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
    critical = [name for name in (*inherited.rules, *inherited.joined) if inherited.remedy(name).grade == "critical"]
    for rule_id in critical:
        _check_critical(book, inherited, rule_id)
    looked_at = _looked_at(inherited, critical)
    _check_computed(book, inherited, looked_at)
    _check_needs(book, inherited, looked_at)
    _check_eye_words(book, inherited)
    _check_required(book, inherited)


def _check_critical(book: Rulebook, inherited: Rulebook, rule_id: str) -> None:
    now, before = book.remedy(rule_id), inherited.remedy(rule_id)
    file, key = book.files[rule_id], f"{'rules' if rule_id in book.rules else 'joined'}.{rule_id}"
    if now.grade != "critical":
        fail(
            file, f"{key}.grade", "a critical rule stays critical: the horse would be hurt", 'Write grade = "critical"'
        )
    _check_where(file, key, now, before)
    for stage, text in now.action.items():
        if not text.startswith(_STOP_ACTION):
            fail(file, f"{key}.action.{stage}", "a critical action does not say stop", f"Begin with {_STOP_ACTION}")
    if isinstance(now, Rule) and isinstance(before, Rule):
        _check_limits(book, file, key, now, before)


def _check_where(file: str, key: str, now: Remedy, before: Remedy) -> None:
    for name in ("applies", "places", "with_", "without", "unless", "when"):
        if getattr(now, name, None) != getattr(before, name, None):
            name = name.rstrip("_")  # noqa: PLW2901
            fail(file, f"{key}.{name}", "where a critical rule fires stays as the inherited book has it", _SWITCH)


def _check_computed(book: Rulebook, inherited: Rulebook, looked_at: frozenset[str]) -> None:
    """The limits by which is computed what critical rules look at are as safe as critical ones."""
    for quantity in sorted(looked_at):
        rule_id = inherited.quantities[quantity].by_limit_of
        if rule_id is None:
            continue
        file, key = inherited.files[rule_id], f"rules.{rule_id}"
        if rule_id not in book.rules:
            problem = f"{quantity} is computed by its limit, and a critical rule looks at it"
            fail(file, f"{key}.off", problem, "Take this table out")
        _check_where(file, key, book.rules[rule_id], inherited.rules[rule_id])
        _check_limits(book, file, key, book.rules[rule_id], inherited.rules[rule_id])


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


def _check_needs(book: Rulebook, inherited: Rulebook, looked_at: frozenset[str]) -> None:
    """What critical rules look at must be observed wherever it had to be: unseen, it would stop nothing."""
    kept = {key: set(criteria) for key, criteria in _required_keys(book)}
    for key, criteria in _required_keys(inherited):
        for criterion in criteria:
            seen = looked_at.intersection(inherited.quantities_of[criterion])
            if seen and criterion not in kept[key]:
                problem = f"{criterion} must be observed there: critical rules look at {', '.join(sorted(seen))}"
                fail("book.toml", key, problem, f"Put {criterion} back among what is required")
    for name, record in inherited.criteria.items():
        for need in record.needs:
            if looked_at.isdisjoint(need.any_of):
                continue
            if not any(_as_strict(own, need) for own in book.criteria[name].needs):
                names = " or ".join(need.any_of)
                problem = f"{names} need no longer be observed as it was, and a critical rule looks at it"
                fail(book.files.get(need.any_of[0], f"{name}.toml"), "criterion.needs", problem, _SWITCH)


def _looked_at(book: Rulebook, rule_ids: Iterable[str]) -> frozenset[str]:
    """All quantities that rules look at, and those that these are computed from or follow."""
    found: set[str] = set()
    waiting = [quantity for rule_id in rule_ids for quantity in _quantities_of(book, rule_id)]
    while waiting:
        quantity = waiting.pop()
        if quantity not in found:
            found.add(quantity)
            waiting += book.quantities[quantity].computed_from
    return frozenset(found)


def _quantities_of(book: Rulebook, rule_id: str) -> Iterator[str]:
    """The quantities that a rule looks at, itself or through the findings that it rests on."""
    if rule_id in book.rules:
        rule = book.rules[rule_id]
        yield rule.quantity
        yield from rule.with_ or ()
        yield from _followed(rule.low, rule.high)
        return
    for clause in book.joined[rule_id].when:
        for finding in clause.findings or ():
            yield from _quantities_of(book, finding)
        for other in clause.clear_of or ():
            yield from _quantities_of(book, other)
        if clause.reading is not None:
            yield clause.reading
            yield from _followed(clause.low, clause.high)


def _followed(*limits: Limit | None) -> Iterator[str]:
    """The dimensions that limits follow: where one is not known, such a limit is never passed."""
    yield from (limit.of for limit in limits if isinstance(limit, Scaled))


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


def _check_eye_words(book: Rulebook, inherited: Rulebook) -> None:
    """A word of the eye is found at least as gravely as it was, wherever it was.

    The rule of a word that is only noted may be switched off, with the reason, as any other minor rule.
    """
    for rule_id, before in inherited.rules.items():
        quantity, now = inherited.quantities[before.quantity], book.rules.get(rule_id)
        if (quantity.eye_of is None and not quantity.by_eye) or (now is None and before.grade == "minor"):
            continue
        for word in before.is_ or ():
            if not any(_finds_as_gravely(book, other, before, word) for _, other in book.rules_of[before.quantity]):
                key = "off" if now is None else "is" if word not in (now.is_ or ()) else "grade"
                problem = f'"{word}" was {before.grade} by {rule_id}, and would be found better or not at all'
                remedy = "Leave the rule of this word as it is, or make it stricter"
                fail(inherited.files[rule_id], f"rules.{rule_id}.{key}", problem, remedy)


def _finds_as_gravely(book: Rulebook, now: Rule, before: Rule, word: str) -> bool:
    """Whether ``now`` fires on ``word`` wherever ``before`` did, and weighs as much."""
    return (
        word in (now.is_ or ())
        and RANK[now.grade] >= RANK[before.grade]
        and now.holds_up >= before.holds_up
        and now.applies in (None, before.applies)
        and now.with_ in (None, before.with_)
        and now.without in (None, before.without)
        and set(now.unless) <= set(before.unless)
        and set(book.places_of(before)) <= set(book.places_of(now))
    )


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
        for _, rule in book.rules_of.get(name, ())
        for place in book.places_of(rule)
        for side in (("medial", "lateral") if place == "nail" else (side_of(place),))
    )
