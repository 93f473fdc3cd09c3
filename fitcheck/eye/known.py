"""What is taken for known of every eye: the figures of ``known.toml``, and as the methods take them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib.resources import files

from fitcheck.eye.chance import Usual
from fitcheck.eye.likelihood import Method, Spreads
from rules.model.figures import Record, Status, Text, Unit
from rules.toml import read_toml

__all__ = ["Figure", "Known", "known", "method", "usual"]


class Figure(Record):
    """One figure with its standing."""

    value: float
    unit: Unit
    status: Status
    basis: Text


class Known(Record):
    """All of the file."""

    version: str
    figures: Mapping[str, Figure]

    def figure(self, name: str) -> float:
        """The figure of that name."""
        return self.figures[name].value


@cache
def known() -> Known:
    """What comes with the tool."""
    table = read_toml(files(__package__).joinpath("known.toml").read_text(encoding="utf-8"))
    return Known.model_validate(table, strict=False)


@cache
def method(*, in_proportion: bool = False) -> Method:
    """How words are held against measures; ``in_proportion``: where an eye errs so, as of time."""
    figure = known().figure
    return Method(
        lapse=figure("lapse_rate"),
        lapse_factor=figure("lapse_factor"),
        shared=figure("shared_by_horse"),
        level=figure("level"),
        end=figure("end_before"),
        spreads=_spreads(in_proportion=in_proportion)._replace(factor=figure("spread_factor_of_bias")),
    )


@cache
def usual(*, in_proportion: bool = False) -> Usual:
    """What eyes are like before anything is known of one; ``in_proportion``: where they err so, as of time."""
    figure = known().figure
    return Usual(figure("shift_before"), figure("end_before"), _spreads(in_proportion=in_proportion))


def _spreads(*, in_proportion: bool) -> Spreads:
    of_kind = "_in_proportion" if in_proportion else ""
    figure = known().figure
    middle, factor = figure(f"spread_before{of_kind}"), figure(f"spread_factor_before{of_kind}")
    return Spreads(middle, factor, by_itself=in_proportion)
