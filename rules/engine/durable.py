"""durable-rules 2.0.28 behind one door that closes its hazards.

The library is a C extension with habits that would turn a fault into a silent "nothing found".  This module is the
only one that touches it.  What it closes, one by one (each has a test in ``tests/rules/engine/test_durable.py``):

* Python 3.13 and newer: the extension names a symbol that those interpreters no longer export and that only its
  storage callbacks use; it is bound lazily.
* ``Host`` starts two polling threads; ours starts none.
* A fact that matches no rule is refused, which would lose the findings of its batch: every kind of fact is heard by
  a rule of its own that never fires, and a fact of any other kind is an :class:`~rules.errors.EngineFault`.
* Rules on ``id``/``sid`` or without a ``kind`` loop for ever: such definitions are refused.
* Facts need identities: each gets a unique ``id`` here.
* State lives until deleted: it is deleted after every run, also after a failed one.
* To delete a state in which no action was ever started frees what was never set, and can end the process: such a state,
  which only a fault leaves, stays behind, and the next run has a session of its own.
* The library's own loop over actions swallows exceptions, takes an action with two parameters as asynchronous, gives up
  on one that takes longer than ten seconds and writes the state again after each: the extension is driven from here
  instead, and an exception is kept and raised.
* A run that ends early looks like one that found nothing: a closing fact must be the last thing to fire.
* Numbers in exponent notation and non-finite ones fail, compare wrongly or, in a batch, take the whole process down:
  numbers go in as whole millionths, and a fact with anything else in it is refused here.
* An empty batch is taken, and to ask for its first match ends the process: the closing fact is always in it.
* A fact of more than 255 fields ends the process too: it is refused here.  One that meets more than 64 patterns at
  once is refused by the library, which is an EngineFault, never a loss.
* A pattern with an "or" fires once for each part that holds: actions must bear that.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Final

from rules.errors import EngineFault
from rules.limits import MOST_EXACT

__all__ = ["Action", "Engine", "Fact", "Match"]

Fact = dict[str, "int | str"]
"""What the engine is told: a ``kind``, closed words, and numbers in whole millionths of their unit."""

Match = Mapping[str, Mapping[str, "int | str"]]
"""The facts that made a rule fire, by the alias that the rule gave them."""

Action = Callable[[Match], Iterable[Fact]]
"""Called when a rule fires; the facts that it returns are asserted and may make further rules fire."""

"""A unit is so many of what enters the engine."""

_RULESET: Final = "fitcheck"
_CLOSING: Final = "closing"
_NEVER: Final = "never"
_LAST: Final = 65_535  # the largest: the library keeps priorities in 16 bits, and the smallest goes first
_MOST_FIELDS: Final = 250


def _import_library() -> Any:
    """Import the extension with lazy symbol binding, which Python 3.13 needs, and restore the flags."""
    flags = sys.getdlopenflags()
    sys.setdlopenflags(os.RTLD_LAZY)
    try:
        from durable import engine
    finally:
        sys.setdlopenflags(flags)
    return engine


_library = _import_library()


class _QuietHost(_library.Host):  # type: ignore[misc, name-defined]  # the library has no types
    """A host without the two polling threads."""

    def _run(self) -> None:
        """Start nothing: rules are dispatched by the call that asserts the facts."""


_REFUSED: Final = {1: "a fact met no rule", 2: "a fact stands twice"}
_encode = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode


class _Core:
    """The extension's calls for one registered ruleset, with facts and matches as Python objects.

    A match is the name of the rule that fires with the facts that it fires on.
    """

    def __init__(self, ruleset: Mapping[str, Any]) -> None:
        host = _QuietHost()
        host.register_rulesets({_RULESET: ruleset})
        self._host = host  # the extension keeps the rules for as long as this lives
        self._calls = _library.durable_rules_engine
        self._handle = host.get_ruleset(_RULESET)._handle

    def assert_facts(self, facts: list[Fact]) -> int:
        """Assert a batch; the number is the state that its actions belong to."""
        return self._state(self._calls.assert_facts(self._handle, _encode(facts)))

    def assert_fact(self, fact: Fact) -> None:
        """Assert one fact while an action runs."""
        self._state(self._calls.assert_fact(self._handle, _encode(fact)))

    def first(self, state: int) -> tuple[str, Match] | None:
        """The first match of a state; None when no rule fires."""
        started = self._calls.start_action_for_state(self._handle, state)
        return None if started is None else self._match(started[1])

    def following(self, state: int) -> tuple[str, Match] | None:
        """End the action that runs and give the next match; None at the end."""
        return self._match(self._calls.complete_and_start_action(self._handle, state))

    def forget(self, session: str) -> None:
        """Delete a session with all its facts."""
        self._calls.delete_state(self._handle, session)

    @staticmethod
    def _match(text: str | None) -> tuple[str, Match] | None:
        if text is None:
            return None
        [(rule, match)] = json.loads(text).items()
        return rule, match

    @staticmethod
    def _state(result: tuple[int, int]) -> int:
        code, state = result
        if code in _REFUSED:
            raise EngineFault(_REFUSED[code])
        return state


class Engine:
    """One compiled set of rules.  Registering never gives memory back: make one per rulebook and process.

    ``definitions`` maps a rule's name to its durable-rules condition (``{"all": [...]}``) and its action; ``kinds``
    are the kinds of fact that will be asserted.  One run at a time: the caller holds a lock where threads share it.

    Raises EngineFault for a definition that would loop, or whose name or kind this class keeps for itself.
    """

    def __init__(self, definitions: Mapping[str, tuple[list[dict[str, Any]], Action]], kinds: Iterable[str]) -> None:
        self._fault: BaseException | None = None
        self._closed = 0
        self._after_closing = False
        self._next_id = 0
        self._session = 1
        self._acted = False
        self._actions: dict[str, Action] = {}
        self._kinds = frozenset(kinds)
        if self._kinds & {_CLOSING, _NEVER}:
            raise EngineFault(f"the kinds {_CLOSING!r} and {_NEVER!r} are the engine's own")
        ruleset: dict[str, dict[str, Any]] = {
            _CLOSING: {"all": [{"closing": {"kind": _CLOSING}}], "pri": _LAST, "run": _never_called}
        }
        for kind in sorted(self._kinds):
            # Heard, never fired: the second half of the pair is never asserted.
            ruleset[f"heard {kind}"] = {
                "all": [{"heard": {"kind": kind}}, {"never": {"kind": _NEVER}}],
                "run": _never_called,
            }
        for name, (conditions, action) in definitions.items():
            if name in ruleset:
                raise EngineFault(f"the name {name!r} is the engine's own, so this rule would be lost")
            _refuse_hazards(name, conditions, self._kinds)
            ruleset[name] = {"all": conditions, "run": _never_called}
            self._actions[name] = action
        try:
            self._core = _Core(ruleset)
        except Exception as error:
            raise EngineFault("the rules engine refused the compiled rulebook") from error

    def run(self, facts: Iterable[Fact]) -> None:
        """Assert ``facts`` and fire every rule that they satisfy, chained ones included.

        Raises EngineFault when anything at all went wrong; then nothing that the actions collected may be used.
        """
        self._fault, self._closed, self._after_closing, self._next_id, self._acted = None, 0, False, 0, False
        batch = [self._accepted(fact) for fact in facts]
        batch.append(self._identified({"kind": _CLOSING}))
        try:
            state = self._core.assert_facts(batch)
            match = self._core.first(state)
            while match is not None:
                self._acted = True
                self._fire(*match)
                match = self._core.following(state)
        except Exception as error:
            raise EngineFault("the rules engine did not accept the facts") from error
        finally:
            self._forget()
        self._check()

    def _fire(self, rule: str, match: Match) -> None:
        """Run one action; after a fault the rest of the run is only brought to its end."""
        if rule == _CLOSING:
            self._closed += 1
            return
        if self._closed:
            self._after_closing = True
        if self._fault is not None:
            return
        try:
            for fact in self._actions[rule](match):
                self._core.assert_fact(self._accepted(fact))
        except BaseException as error:  # also what is no Exception: the run must be ended and forgotten first
            self._fault = error

    def _forget(self) -> None:
        """Delete the run's state; where that cannot be done, let the next run have a session of its own."""
        if not self._acted:
            self._session += 1
            return
        try:
            self._core.forget(str(self._session))
        except Exception as error:
            self._session += 1
            raise EngineFault("the rules engine did not forget the facts") from error

    def _check(self) -> None:
        if self._fault is not None:
            raise EngineFault("an action of the rules engine failed") from self._fault
        if self._closed != 1 or self._after_closing:
            raise EngineFault("the rules engine did not run to its end")

    def _accepted(self, fact: Fact) -> Fact:
        if fact.get("kind") not in self._kinds:
            raise EngineFault(f"no rule hears facts of the kind {fact.get('kind')!r}")
        _refuse_values(fact)
        return self._identified(fact)

    def _identified(self, fact: Fact) -> Fact:
        self._next_id += 1
        return {**fact, "id": self._next_id, "sid": str(self._session)}


def _never_called(_closure: Any) -> None:
    """Stands for an action: the library wants one for each rule, and its own loop is never run."""
    raise EngineFault("the library ran its own loop over actions")


def _refuse_values(fact: Fact) -> None:
    """Only words and exact whole numbers: other values compare wrongly, and some end the process without a word."""
    if len(fact) > _MOST_FIELDS:
        raise EngineFault("a fact has more fields than the rules engine can bear")
    for field, value in fact.items():
        if type(value) is not str and (type(value) is not int or not -MOST_EXACT <= value <= MOST_EXACT):
            raise EngineFault(f"the fact's {field} is neither a word nor a whole number that is exact")


def _refuse_hazards(name: str, conditions: list[dict[str, Any]], kinds: frozenset[str]) -> None:
    """Every pattern must first test its ``kind``, one of ``kinds``; none may mention ``id``, ``sid`` or ``$nex``."""
    for condition in conditions:
        for pattern in condition.values():
            parts = pattern["$and"] if set(pattern) == {"$and"} else [pattern]
            if not parts or set(parts[0]) != {"kind"}:
                raise EngineFault(f"rule {name}: a pattern does not test 'kind' first")
            if parts[0]["kind"] not in kinds:
                raise EngineFault(f"rule {name}: no fact is ever of the kind {parts[0]['kind']!r}")
            if _mentions(pattern, {"id", "sid", "$nex"}):
                raise EngineFault(f"rule {name}: a pattern mentions id, sid or $nex")


def _mentions(pattern: Any, words: set[str]) -> bool:
    if isinstance(pattern, dict):
        return any(key in words or _mentions(value, words) for key, value in pattern.items())
    return isinstance(pattern, list) and any(_mentions(part, words) for part in pattern)
