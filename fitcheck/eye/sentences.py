"""What is told of an eye, in the sentences of one language."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

from fitcheck.scales import scales
from fitcheck.text.catalogue import capital, messages_of
from fitcheck.text.format import quantity_title
from rules import Rulebook, shipped_rulebook

if TYPE_CHECKING:
    from fitcheck.eye.models import BesideAssessors, EyeFigure, EyeGroup, EyeQuantity, EyeVisit, EyeWordRange
    from fitcheck.eye.pairs import Pairs
    from fitcheck.scales import Scale

__all__ = ["Sentences"]


class EyeSize(NamedTuple):
    """A size as one says it: how much less is seen without the sign, a spread of times as a factor."""

    value: float | None
    low: float | None
    high: float | None


class Sentences:
    """Sentences in the language of a rulebook, with its titles."""

    def __init__(self, book: Rulebook) -> None:
        self._book = book
        self._messages = messages_of(book)

    def title(self, quantity: str) -> str:
        """What the number is called that words of ``quantity`` stand for."""
        return capital(quantity_title(quantity if quantity in self._book.quantities else _number(quantity), self._book))

    def unit(self, quantity: str) -> str:
        """Its unit."""
        return shipped_rulebook().units[_number(quantity)]

    def error_unit(self, quantity: str) -> str:
        """That of bias and spread."""
        return "%" if scales()[quantity].in_proportion else self.unit(quantity)

    def word(self, quantity: str, word: str) -> str:
        """What a word is called where it is said."""
        said_as = self._messages.texts.get(f"page.word.{_number(quantity)}.{word}")
        return said_as or self._messages.word(word)

    def where(self, group: EyeGroup) -> str:
        """Of which side and feet a group is; empty of all."""
        name = "_".join(part for part in (group.side, group.feet) if part)
        return self._messages.say(f"eye.where.{name}") if name else ""

    def number(self, value: float, *, finely: bool = False) -> str:
        """A figure to a tenth, or where it is less than one, or a factor, to a hundredth."""
        digits = f"{value:.2f}" if finely or abs(value) < 1 else f"{value:.1f}"
        return self._messages.number(digits.rstrip("0").rstrip(".") if "." in digits else digits)

    def interval(self, figure: EyeFigure | EyeSize, *, finely: bool = False) -> str:
        """The interval in brackets, open ends told."""
        low, high = figure.low, figure.high
        if low is None and high is None:
            return self._messages.say("eye.interval.open")
        if low is None:
            return self._messages.say("eye.interval.below", high=self.number(high or 0.0, finely=finely))
        if high is None:
            return self._messages.say("eye.interval.above", low=self.number(low, finely=finely))
        low_text, high_text = (self.number(end, finely=finely) for end in (low, high))
        return self._messages.say("eye.interval.both", low=low_text, high=high_text)

    def group(self, group: EyeGroup, scale: Scale, quantity: str) -> Iterator[str]:
        """What one group of pairs tells."""
        say = self._messages.say
        if group.missing:
            yield self._messages.counted("eye.missing", group.missing, pairs=group.pairs)
            return
        unit = say(f"eye.unit.{self.unit(quantity)}")
        where = self.where(group)
        where = f" {where}" if where else ""
        if not group.follows:
            yield say("eye.unlike", where=where)
            return
        # Of a side or of fore or hind feet the bias is enough to read.
        for each in group.words if group.side is None and group.feet is None else ():
            if (text := self._range(each, unit, quantity)) is not None:
                yield text
        unit = say(f"eye.unit.{self.error_unit(quantity)}")
        yield from self._bias(group, where, unit, scale, quantity)
        yield from self._spread(group, where, unit, scale)
        if group.horses == 1:
            yield say("eye.one_horse")

    def _bias(self, group: EyeGroup, where: str, unit: str, scale: Scale, quantity: str) -> Iterator[str]:
        say = self._messages.say
        first, last = (self.word(quantity, word) for word in (scale.words[0], scale.words[-1]))
        bias = group.bias
        if bias is None:
            return
        words = {"where": where, "first": first, "last": last, "unit": unit}
        if (bias.low or 0) > 0:
            name = "eye.longer" if scale.in_proportion else "eye.more"
            yield say(name, **words, **self._size(EyeSize(bias.value, bias.low, bias.high)))
        elif (bias.high or 0) < 0:
            name = "eye.shorter" if scale.in_proportion else "eye.less"
            yield say(name, **words, **self._size(EyeSize(*map(_minus, (bias.value, bias.high, bias.low)))))
        elif bias.value is None:
            yield say("eye.bias_open", where=where)
        else:
            name = "eye.bias_undecided" if bias.low is None or bias.high is None else "eye.no_bias"
            yield say(name, where=where, by=self.number(bias.value), unit=unit, interval=self.interval(bias))

    def _size(self, size: EyeSize) -> dict[str, str]:
        """How much, or how much at least where no more is told."""
        if size.value is None:
            by = self._messages.say("eye.at_least", by=self.number(size.low or 0.0))
        else:
            by = self.number(size.value)
        return {"by": by, "interval": self.interval(size)}

    def _spread(self, group: EyeGroup, where: str, unit: str, scale: Scale) -> Iterator[str]:
        say = self._messages.say
        spread = group.spread
        if spread is not None and spread.value is not None and (spread.low, spread.high) != (None, None):
            shown = _factor(spread, spread.value, scale) if scale.in_proportion else spread
            name = "eye.spread_of_time" if scale.in_proportion else "eye.spread"
            finely = scale.in_proportion
            by, interval = self.number(shown.value or 0.0, finely=finely), self.interval(shown, finely=finely)
            yield say(name, where=where, by=by, unit=unit, interval=interval)
        elif spread is not None and spread.high is not None:
            # One word alone lies apart from nothing.
            apart = group.separate and sum(each.count > 0 for each in group.words) > 1
            yield say("eye.sharp" if apart else "eye.sharp_most", where=where, most=self.number(spread.high), unit=unit)
        elif spread is not None:
            yield say("eye.spread_open", where=where)

    def _range(self, each: EyeWordRange, unit: str, quantity: str) -> str | None:
        word = self.word(quantity, each.word)
        begins, ends = each.begins, each.ends
        if each.count == 0:
            return self._messages.say("eye.never", word=word)
        parts = {}
        for name, figure in (("begins", begins), ("ends", ends)):
            if figure is not None and figure.value is not None:
                parts[name] = f"{self.number(figure.value)} {unit} {self.interval(figure)}"
        if not parts:
            return None
        return self._messages.say(f"eye.word.{'_'.join(parts)}", word=word, **parts)

    def beside(self, beside: BesideAssessors) -> str:
        """How his words agree with those of assessors."""
        if not beside.words:
            return self._messages.say("eye.beside.none")
        text = self._messages.say(
            "eye.beside.some", same=beside.same, words=beside.words, less=beside.less, more=beside.more
        )
        if beside.low is None or beside.high is None:
            return text
        low, high = (f"{end * 100:.0f}" for end in (beside.low, beside.high))
        return f"{text} {self._messages.say('eye.beside.interval', low=low, high=high)}"

    def trend(self, way: str, visits: Sequence[EyeVisit]) -> str:
        """Which way the share of right words runs."""
        return self._messages.say(f"eye.trend.{way}", visits=self._messages.counted("visits", len(visits)))

    def whole(
        self,
        found: Pairs,
        quantities: Sequence[EyeQuantity],
        practise: tuple[EyeQuantity, EyeGroup] | None,
        fewest: int,
    ) -> Iterator[str]:
        """What stands above all quantities."""
        say, counted = self._messages.say, self._messages.counted
        yield say("eye.whole", words=found.words, pairs=len(found.pairs), fewest=fewest)
        for reason in ("whole_group", "perhaps_whole_group", "measured_before", "not_measured"):
            if count := found.left_out[reason]:
                yield counted(f"eye.left_out.{reason}", count)
        if found.unread:
            yield counted("eye.unread", found.unread)
        if practise is not None:
            quantity, group = practise
            where = self.where(group)
            title = self._messages.within(quantity.title)
            yield say("eye.practise", title=title, where=f" {where}" if where else "")
        elif quantities:
            yield say("eye.practise_none")


def _factor(spread: EyeFigure, value: float, scale: Scale) -> EyeSize:
    """A spread in per cent as the factor that it is."""
    low, high = (
        None if end is None else scale.measure_of(scale.error_on_line(end)) for end in (spread.low, spread.high)
    )
    return EyeSize(scale.measure_of(scale.error_on_line(value)), low, high)


def _number(quantity: str) -> str:
    return shipped_rulebook().shown_as(quantity)


def _minus(figure: float | None) -> float | None:
    return None if figure is None else -figure
