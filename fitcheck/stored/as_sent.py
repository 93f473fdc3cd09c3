"""What was observed of a foot just as it was sent, in words, by criterion: nothing computed, nothing judged."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from fitcheck.fitting.input_value import InputValue
from fitcheck.fitting.models import Fitting
from fitcheck.fitting.readings import each_sent
from fitcheck.text.catalogue import Messages, capital, messages_of
from fitcheck.text.format import place_name, quantity_title, shown
from rules import Rulebook

__all__ = ["AsSent", "observations_as_sent"]


class AsSent(NamedTuple):
    """What was sent of one quantity, place by place; places that are alike stand together."""

    quantity: str
    readings: tuple[str, ...]


def observations_as_sent(fitting: Fitting, book: Rulebook) -> Mapping[str, tuple[AsSent, ...]]:
    """By criterion of ``book``, in its language; under "" what belongs to none, such as the size of the hoof."""
    messages = messages_of(book)
    values: dict[str, dict[str, list[str]]] = {}
    for (quantity, place), sent in each_sent(fitting):
        if quantity in book.quantities:
            said = _value_text(quantity, sent, messages)
            values.setdefault(quantity, {}).setdefault(said, []).append(place)
    found: dict[str, list[AsSent]] = {}
    for quantity, places in values.items():
        readings = tuple(_reading(said, at, len(places) == 1, book) for said, at in places.items())
        row = AsSent(capital(quantity_title(quantity, book)), readings)
        found.setdefault(book.criterion_of.get(quantity, ""), []).append(row)
    return {name: tuple(rows) for name, rows in found.items()}


def _value_text(quantity: str, sent: Any, messages: Messages) -> str:
    if isinstance(sent, InputValue) and sent.value is not None:
        return shown(sent.value, sent.unit, messages.language, u=sent.u)
    word = sent.word if isinstance(sent, InputValue) else {True: "yes", False: "no"}.get(sent, sent)
    return messages.texts.get(f"page.word.{quantity}.{word}") or messages.word(str(word))


def _reading(text: str, places: list[str], alone: bool, book: Rulebook) -> str:  # noqa: FBT001  (of one caller)
    """One value with its places; the only one of several places stands for them all."""
    if places == ["foot"]:
        return text
    if alone and len(places) > 1:
        return messages_of(book).say("desk.blind.everywhere", said=text, count=len(places))
    return f"{', '.join(place_name(place, book) for place in places)}: {text}"
