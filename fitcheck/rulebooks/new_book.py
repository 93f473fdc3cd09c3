"""The files of a new book that inherits the shipped one: what each key means, and one limit to begin with."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping
from typing import Final

from pydantic import BaseModel

from fitcheck.documented import texts_of
from rules import Rulebook
from rules.model.figures import Source
from rules.model.identity import OwnBook
from rules.model.records import Rule

__all__ = ["new_book", "plain_name"]

_WIDTH: Final = 100
_FILE: Final = "history.toml"
_RULE: Final = "interval-long"
_LIMIT_KEYS: Final = ("low", "high", "grade", "finding", "action", "status", "sources", "basis", "off")
_OFF: Final = "true switches the rule off; beside it stands basis alone, which says why."


def plain_name(text: str) -> str:
    """``text`` as a name that a book may bear: small letters and digits with hyphens; empty where nothing is left."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")


def new_book(name: str, title: str, inherited: Rulebook) -> Mapping[str, str]:
    """The text of each file of a book ``name`` that inherits ``inherited``, and as yet changes nothing."""
    version = ".".join(inherited.version.split(".")[:2])
    return {
        "book.toml": _book(name, title, version),
        "sources.toml": _sources(title),
        _FILE: _limit(inherited),
    }


def _book(name: str, title: str, version: str) -> str:
    keys = {"id": name, "title": title, "version": "0.1.0", "inherits": "shipped", "inherits_version": version}
    return (
        _comment(
            f"{title}: what differs from the shipped rulebook, and nothing else. Each file has the name of the shipped "
            "file that it lays something over, and each table the name of the shipped table. All that is not written "
            "here stays as the shipped book has it. What stops a foot can be made stricter, never laxer."
        )
        + "\n[book]\n"
        + "".join(f"{_comment(texts_of(OwnBook)[key])}{key} = {_quoted(value)}\n" for key, value in keys.items())
    )


def _sources(title: str) -> str:
    example = f'[sources.OWN]\ntitle = {_quoted(title)}\nyear = "2026"\nnote = "What we have agreed on."\n'
    return (
        _comment(
            "Where the figures of this book come from. Take the marks off the lines below as soon as a rule names the "
            "source by its short name, here OWN: a source that nothing names is a fault."
        )
        + _meanings(Source, tuple(Source.model_fields))
        + "\n"
        + _commented(example)
    )


def _limit(inherited: Rulebook) -> str:
    rule = inherited.rules[_RULE]
    example = (
        f'[rules.{_RULE}]\nhigh = {rule.high}\nstatus = "own practice"\nsources = ["OWN"]\n'
        'basis = "One sentence: why this figure and no other."\n'
    )
    return (
        _comment(
            "Limits on how long a shoe is worn. The names of all rules: fitcheck rules list. One rule as it stands, "
            f"ready to be copied here: fitcheck rules show {_RULE} --toml. A figure that is changed needs its own "
            "status, sources and basis."
        )
        + _meanings(Rule, _LIMIT_KEYS)
        + "\n"
        + _comment("An example, with the figure that the shipped book has. Take the marks off and change it:")
        + _commented(example)
    )


def _meanings(model: type[BaseModel], keys: tuple[str, ...]) -> str:
    texts = {**texts_of(model), "off": _OFF}
    return "#\n" + "".join(_comment(f"{key}: {texts[key]}", hanging=True) for key in keys)


def _comment(text: str, *, hanging: bool = False) -> str:
    lines = textwrap.wrap(
        " ".join(text.split()), _WIDTH - 2, subsequent_indent="  " if hanging else "", break_on_hyphens=False
    )
    return "".join(f"# {line}\n" for line in lines)


def _commented(toml: str) -> str:
    return "".join(f"# {line}\n" for line in toml.splitlines())


def _quoted(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
