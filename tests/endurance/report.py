"""What an endurance test has found, and how much it has tried."""

from __future__ import annotations

from dataclasses import dataclass, field

__all__ = ["Report"]

_MOST_SHOWN = 20


@dataclass
class Report:
    """The figures of one run, and everything that was not as it must be."""

    title: str
    figures: dict[str, int | float] = field(default_factory=dict)
    faults: list[str] = field(default_factory=list)

    def count(self, what: str, more: float = 1) -> None:
        """Add to a figure."""
        self.figures[what] = self.figures.get(what, 0) + more

    def most(self, what: str, value: float) -> None:
        """Keep the largest value of a figure."""
        self.figures[what] = max(self.figures.get(what, 0), value)

    def fault(self, told: str) -> None:
        """Note something that must not be."""
        self.faults.append(told)

    def text(self) -> str:
        """All of it, for people: the figures, and the first faults whole."""
        figures = [f"  {name}: {round(value, 3):g}" for name, value in self.figures.items()]
        faults = [f"  FAULT {fault}" for fault in self.faults[:_MOST_SHOWN]]
        end = f"  {len(self.faults)} faults" if self.faults else "  no fault"
        return "\n".join([self.title, *figures, *faults, end])
