"""What book.toml says of the book as a whole: who it is, what it inherits, what follows and is required at a stage."""

from typing import Literal

from rules.model.figures import Record
from rules.model.records import NextStep, Stage

__all__ = ["Book", "Decisions", "OwnBook", "Required"]


class Book(Record):
    """The identity of a book that is written out whole."""

    id: str
    """A short name of its own, small letters with hyphens."""
    title: str
    """What it is called."""
    version: str
    """Its version, such as 1.0.0; raise it with every change."""
    criteria: tuple[str, ...]
    """The criteria in the order of work; each has a file of its name."""


class OwnBook(Record):
    """The identity of a book that inherits."""

    id: str
    """A short name of its own, small letters with hyphens."""
    title: str
    """What it is called."""
    version: str
    """Its version, such as 1.0.0; raise it with every change."""
    inherits: Literal["shipped"]
    """The book beneath it."""
    inherits_version: str
    """The version of that book that this one was written over, or its leading parts such as 2.0."""


class Decisions(Record):
    """The step that follows each stage; after the last a foot is released."""

    dressed: NextStep
    """After the foot is dressed."""
    hot_fit: NextStep
    """After the shoe was tried."""
    nailed: NextStep
    """After the shoe is nailed on."""

    @property
    def by_stage(self) -> dict[Stage, NextStep]:
        """The steps by stage."""
        return {"dressed": self.dressed, "hot_fit": self.hot_fit, "nailed": self.nailed}


class Required(Record):
    """The criteria that must be observed at each stage before a foot may go on."""

    dressed: tuple[str, ...] = ()
    """Of the dressed foot."""
    hot_fit: tuple[str, ...]
    """At the trial of the shoe."""
    nailed: tuple[str, ...]
    """Of the nailed foot."""
    finished: tuple[str, ...]
    """Of the finished foot."""
    finished_when_hot_fitted: tuple[str, ...]
    """Of the finished foot besides, where the shoe was tried hot."""
