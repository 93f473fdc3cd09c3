"""Numbers with units, limits, and what places, quantities and criteria are called in the rulebook's texts.

An answer may be told by another rulebook than the one that judged; what that one had of its own goes by its name.
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal
from typing import Final

from fitcheck.text.catalogue import ENGLISH, Messages, messages_in, messages_of
from rules import Rulebook
from rules.model.records import Clause, Context, Limit, Rule, Scaled
from rules.situation import side_of

__all__ = [
    "CERTAIN",
    "about",
    "amount_of",
    "chance_text",
    "clause_in_words",
    "contexts_in_words",
    "criterion_title",
    "digits_of",
    "figure",
    "limit_in_words",
    "one_limit_in_words",
    "place_name",
    "place_title",
    "places_title",
    "quantity_title",
    "range_shown",
    "shown",
    "side_title",
    "unobserved_title",
]

_DECIMALS: Final = {"mm": 1, "kg": 2, "s": 0, "deg": 0, "degC": 0, "1": 2, "d": 0, "mm/month": 1}
CERTAIN: Final = 0.995
"""From here on a rounded percentage would be 100."""
_EXPLAINED: Final = re.compile("[;:]")
"""What follows one of these explains a quantity's title."""


def amount_of(value: float, unit: str) -> float:
    """``value`` rounded as far as a farrier can work to in ``unit``."""
    return round(value, _DECIMALS[unit]) + 0.0  # + 0.0 turns negative zero into zero


def about(value: float, unit: str, language: str = ENGLISH) -> str:
    """How far to go, as a workman sets it: whole millimetres or whole units, one at the least, with 'about'.

    >>> about(-3.43, "mm"), about(0.2, "mm", "de")
    ('about 3 mm', 'etwa 1 mm')
    """
    whole = float(max(1, round(abs(value))))
    return messages_in(language).say("amount.about", amount=shown(whole, unit, language))


def digits_of(value: float, unit: str, language: str = ENGLISH) -> str:
    """A number as it is read out, rounded for its unit, without idle noughts and without the unit."""
    digits = f"{amount_of(value, unit):.{_DECIMALS[unit]}f}"
    if "." in digits:
        digits = digits.rstrip("0").rstrip(".")
    return messages_in(language).number(digits)


def shown(value: float, unit: str, language: str = ENGLISH, *, u: float | None = None) -> str:
    """A number as it is read out, with its standard uncertainty where ``u`` is one, and the unit.

    A unit that is not known stands behind the number as it is.

    >>> shown(2.0, "mm"), shown(0.944, "1"), shown(42.0, "d"), shown(2.5, "mm", "de")
    ('2 mm', '0.94', '42 days', '2,5 mm')
    >>> shown(27.0, "mm", u=0.5), shown(0.306, "1", "de", u=0.0123), shown(8.0, "1", u=0)
    ('27 ± 0.5 mm', '0,31 ± 0,012', '8')
    """
    messages = messages_in(language)
    known = unit in _DECIMALS
    number = digits_of(value, unit, language) if known else messages.number(f"{value:g}")
    if u:
        number += f" ± {messages.number(f'{u:.2g}')}"
    return _with_unit(number, unit, messages) if known else f"{number} {unit}"


def range_shown(low: float, high: float, unit: str, language: str = ENGLISH) -> str:
    """A range as it is read out, from its least to its greatest; one number where both are read out alike.

    >>> range_shown(24.8, 40.9, "degC"), range_shown(1.04, 0.96, "mm", "de")
    ('25 to 41 °C', '1 mm')
    """
    first, last = digits_of(low, unit, language), shown(high, unit, language)
    if shown(low, unit, language) == last:
        return last
    return messages_in(language).say("phrase.range", low=first, high=last)


def figure(value: float, unit: str, language: str = ENGLISH) -> str:
    """A number as the rulebook has it, with the unit and not rounded as readings are."""
    messages = messages_in(language)
    return _with_unit(messages.number(f"{value:g}"), unit, messages)


def _with_unit(digits: str, unit: str, messages: Messages) -> str:
    return messages.counted("unit.d", digits) if unit == "d" else messages.say(f"unit.{unit}", count=digits)


def chance_text(probability: float, messages: Messages) -> str:
    """A probability as it is read out, never as certain: '93 %', 'more than 99 %', 'less than 1 %'."""
    if probability >= CERTAIN:
        return messages.say("sure.certain")
    if probability < 1 - CERTAIN:
        return messages.say("sure.unlikely")
    return messages.say("sure.percent", percent=f"{probability * 100:.0f}")


def criterion_title(criterion: str, book: Rulebook) -> str:
    """The criterion's title."""
    known = book.criteria.get(criterion)
    return messages_of(book).named("criterion", criterion) if known is None else known.title


def quantity_title(quantity: str, book: Rulebook) -> str:
    """The quantity's title, without what explains it."""
    known = book.quantities.get(quantity)
    return _plain(quantity) if known is None else _EXPLAINED.split(known.title)[0]


def place_title(place: str, book: Rulebook) -> str:
    """A place as it is called in a sentence, such as 'the medial heel' or 'medial nail 2'."""
    if place.startswith("nail:"):
        _, side, hole = place.split(":")
        return book.places["nail"].title.format(side=messages_of(book).named("nail_side", side), hole=hole)
    known = book.places.get(place)
    return _plain(place) if known is None else known.title


def place_name(place: str, book: Rulebook) -> str:
    """A place as it is called in a list: its title without an article."""
    return place_title(place, book).removeprefix(messages_of(book).texts["place.article"])


def places_title(places: list[str], book: Rulebook) -> str:
    """Several places in one phrase, each once, in the order given.

    A branch's side alone cannot stand for several places, so each is named in full.
    """
    return messages_of(book).listed(place_title(place, book) for place in dict.fromkeys(places))


def unobserved_title(name: str, book: Rulebook) -> str:
    """What was not assessed, from its name in the JSON: criterion, criterion.quantity or criterion.quantity@place."""
    what, _, place = name.partition("@")
    criterion, _, quantity = what.partition(".")
    title, messages = criterion_title(criterion, book), messages_of(book)
    if not quantity:
        return title
    named = quantity_title(quantity, book)
    if not place:
        return messages.say("view.unobserved_of", criterion=title, quantity=named)
    return messages.say("view.unobserved_at", criterion=title, quantity=named, place=place_title(place, book))


def side_title(place: str, messages: Messages) -> str:
    """The branch's side for a sentence, in German the stem of the word; empty where there is none."""
    side = side_of(place)
    return "" if side is None else messages.named("side", side)


def _plain(name: str) -> str:
    return name.replace("_", " ")


def limit_in_words(limited: Rule | Clause, book: Rulebook) -> str:
    """When the rule fires, as a phrase: 'below 0 mm', 'above 2 x shoe thickness', 'is proud'."""
    messages = messages_of(book)
    if isinstance(limited, Rule) and limited.is_ is not None:
        words = messages.joined((messages.word(word, spaced=False) for word in limited.is_), "or")
        return messages.say("phrase.is", words=words)
    edge = isinstance(limited, Rule) and limited.edge is not None
    unit = limited.unit or "1"
    ends = (
        messages.say(f"phrase.{'at_or_' if edge else ''}{side}", limit=one_limit_in_words(limit, unit, book))
        for side, limit in (("below", limited.low), ("above", limited.high))
        if limit is not None
    )
    return messages.joined(ends, "or")


_LIMIT_STEP: Final = Decimal("0.01")


def _end(limit: float, unit: str, language: str) -> str:
    """Limits in inches are exact in the book, and long as millimetres; in other units they are as the book has them."""
    # Half a hundredth goes up, as it does on paper: 1/8 in is 3.18 mm.
    exact = Decimal(repr(limit))
    return figure(float(exact.quantize(_LIMIT_STEP, ROUND_HALF_UP)) if unit == "mm" else limit, unit, language)


def one_limit_in_words(limit: Limit, unit: str, book: Rulebook) -> str:
    """One end of a limit in ``unit``, millimetres to two places; not rounded as readings are."""
    if not isinstance(limit, Scaled):
        return _end(limit, unit, book.language)
    times = "" if limit.times == 1 else f"{messages_of(book).number(f'{limit.times:g}')} x "
    plus = f" {'+' if limit.plus > 0 else '-'} {_end(abs(limit.plus), unit, book.language)}" if limit.plus else ""
    return f"{times}{book.quantities[limit.of].title}{plus}"


def contexts_in_words(contexts: tuple[Context, ...] | None, language: str = ENGLISH) -> str:
    """Where a rule applies, as a phrase."""
    messages = messages_in(language)
    if contexts is None:
        return messages.say("phrase.everywhere")
    choices = (
        ", ".join(
            messages.say(
                "phrase.context",
                key=messages.named("context", key),
                words=messages.joined((messages.word(word, spaced=False) for word in words), "or"),
            )
            for key, words in context.model_dump(exclude_none=True).items()
        )
        for context in contexts
    )
    return messages.texts["phrase.or_else"].join(choices)


def clause_in_words(clause: Clause, book: Rulebook) -> str:
    """One of the things that hold together in a joined rule, as a phrase."""
    messages = messages_of(book)
    if clause.findings is not None:
        what = messages.joined(clause.findings, "or")
    else:
        what = messages.named("quantity", clause.reading or "")
    if clause.at:
        what = messages.say("phrase.at", what=what, place=place_title(clause.at, book))
    if clause.findings is not None:
        return what
    if clause.clear_of is not None:
        return messages.say("phrase.clear_of", what=what, rules=", ".join(clause.clear_of))
    level = messages.word(clause.fires or "", spaced=False)
    return messages.say("phrase.clause", what=what, limit=limit_in_words(clause, book), level=level)
