"""Whether a rule can fire: what is clear at once never says more than the exact answer."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from rules import shipped_rulebook
from rules.loading.record_checks import dimensions
from rules.loading.satisfiability import clearly_met, met
from rules.model.records import Limit, Quantity, Rule, Scaled
from rules.number_line import Zone, line_of, zone_of

_BOOK = shipped_rulebook()
_NUMBERS = [quantity for quantity in _BOOK.quantities.values() if quantity.kind == "number"]
_SIZES = dimensions(_BOOK)[:3]


@st.composite
def _limits(draw: st.DrawFn, quantity: Quantity) -> Limit:
    """A limit near the ends of what is possible, between them or beyond; or one that follows a size."""
    if draw(st.booleans()) and draw(st.booleans()):
        plus = round(draw(st.floats(-30, 30)), 1)
        return Scaled(times=round(draw(st.floats(0.1, 3)), 2), of=draw(st.sampled_from(_SIZES)), plus=plus)
    least, most = quantity.range or (0.0, 0.0)
    start = draw(st.sampled_from([least, most, (least + most) / 2]))
    return round(start + draw(st.sampled_from([0.0, 1e-6, -1e-6, 0.5, -0.5, 3.0, -3.0])), 6)


@st.composite
def _ends(draw: st.DrawFn, quantity: Quantity) -> tuple[Limit | None, Limit | None]:
    low, high = draw(st.none() | _limits(quantity)), draw(st.none() | _limits(quantity))
    return (low, high) if low is not None or high is not None else (draw(_limits(quantity)), None)


@settings(max_examples=300)
@given(st.data())
def test_what_is_clearly_met_is_met(data: st.DataObject) -> None:
    quantity = data.draw(st.sampled_from(_NUMBERS))
    rule, *silencing = data.draw(st.lists(_ends(quantity), min_size=1, max_size=3))
    zones = [Zone(line_of(low), line_of(high), data.draw(st.booleans())) for low, high in (rule, *silencing)]
    if clearly_met(_BOOK, quantity, rule, silencing):
        assert met(_BOOK, quantity, zones[0], zones[1:])


def test_both_say_yes_of_every_rule_of_the_shipped_book() -> None:
    """Which is why loading it never needs the exact answer."""

    def ends(rule: Rule) -> tuple[Limit | None, Limit | None]:
        return rule.low, rule.high

    looked_at = 0
    for rule in _BOOK.rules.values():
        quantity = _BOOK.quantities[rule.quantity]
        if quantity.kind != "number":
            continue
        silencing = [_BOOK.rules[name] for name in rule.unless]
        assert clearly_met(_BOOK, quantity, ends(rule), [ends(each) for each in silencing])
        assert met(_BOOK, quantity, zone_of(rule), [zone_of(each) for each in silencing])
        looked_at += 1
    assert looked_at > 1


def test_a_rule_that_another_always_silences_is_not_met() -> None:
    quantity = _NUMBERS[0]
    least, most = quantity.range or (0.0, 0.0)
    middle = (least + most) / 2
    assert clearly_met(_BOOK, quantity, (middle, None), [])
    assert not clearly_met(_BOOK, quantity, (middle, None), [(middle, None)])
    assert not met(_BOOK, quantity, *_zones((middle, None), (middle, None)))


def _zones(rule: tuple[float, None], other: tuple[float, None]) -> tuple[Zone, list[Zone]]:
    return Zone(line_of(rule[0]), None, edge=False), [Zone(line_of(other[0]), None, edge=False)]
