"""What the tool itself says, a folder of messages for each language; the rulebook's texts are with the rulebook.

A message has a name, such as ``report.found``: ``found`` in ``report.toml``.  One whose name begins with no file, such
as ``where.widest``, stands in ``common.toml``.  A file is read when the first of its messages is asked for.  What is
in braces is put in.

Texts only: numbers in JSON are never written with a decimal comma.  What tells of bad input, and what only developers
read, is in English and stands where it is raised.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from rules.toml import read_toml

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

    from rules import Rulebook

__all__ = ["COMMON", "ENGLISH", "Messages", "capital", "languages", "messages_in", "messages_of"]

ENGLISH: Final = "en"
"""The language that every other one is made from, and that answers where no other is asked for."""

COMMON: Final = "common"
"""The file of the messages whose name begins with no file."""

_SUFFIX: Final = ".toml"


@dataclass(frozen=True, eq=False, repr=False)
class Messages:
    """The messages of one language by name."""

    language: str
    texts: Mapping[str, str]

    def say(self, name: str, /, **parts: object) -> str:
        """The message of that name with its parts put in; KeyError where there is none."""
        return self.texts[name].format_map(parts)

    def counted(self, name: str, count: float | str, /, **parts: object) -> str:
        """The message ``name.one`` or ``name.other``, as ``count`` asks for; it is put in as ``count``.

        Where there is a ``name.none``, it stands for 0.
        """
        form = "one" if str(count) == "1" else "other"
        if count == 0 and f"{name}.none" in self.texts:
            form = "none"
        return self.say(f"{name}.{form}", count=count, **parts)

    def named(self, kind: str, name: str) -> str:
        """What a name of the JSON, such as a quantity, is called in a sentence; without a message, that name spaced."""
        return self.texts.get(f"{kind}.{name}") or name.replace("_", " ")

    def word(self, word: str, *, spaced: bool = True) -> str:
        """A word of a closed list in a sentence; without a message, that word as it is or, ``spaced``, with blanks."""
        return self.texts.get(f"word.{word}") or (word.replace("_", " ") if spaced else word)

    def number(self, figure: str) -> str:
        """A figure in digits with this language's decimal mark.

        >>> messages_in("de").number("1.5")
        '1,5'
        """
        return figure.replace(".", self.texts["number.decimal"])

    def within(self, title: str) -> str:
        """A title as it stands within a sentence: where nouns are not written large, small."""
        return title.lower() if self.language == ENGLISH else title

    def day(self, day: date) -> str:
        """A day as it is written in a sentence.

        >>> messages_in("en").day(date(2026, 3, 4)), messages_in("de").day(date(2026, 3, 4))
        ('2026-03-04', '04.03.2026')
        """
        _, month, of_month = day.isoformat().split("-")
        return self.say("number.day", year=day.year, month=month, day=of_month)

    def listed(self, parts: Iterable[str], last: str = "and") -> str:
        """Several in one phrase; ``last`` is 'and' or 'or'.

        >>> messages_in("de").listed(["Zehe", "Sohle", "Strahl"], "or")
        'Zehe, Sohle oder Strahl'
        """
        *before, end = [*parts] or [""]
        return self.say(f"list.{last}", before=", ".join(before), last=end) if before else end

    def joined(self, parts: Iterable[str], joint: str) -> str:
        """All parts with the same word, 'and' or 'or', between each two."""
        return self.texts[f"joint.{joint}"].join(parts)


def capital(text: str) -> str:
    """``text`` as it stands at the begin of a line or a sentence.

    >>> capital("left fore")
    'Left fore'
    """
    return text[:1].upper() + text[1:]


class _Texts(Mapping[str, str]):
    """The texts of one folder by name, each file read when it is needed."""

    def __init__(self, folder: Traversable) -> None:
        self._files = {entry.name.removesuffix(_SUFFIX): entry for entry in _messages_in(folder)}
        self._read: dict[str, dict[str, str]] = {}

    def __getitem__(self, name: str) -> str:
        file = name.partition(".")[0]
        return self._of(file if file in self._files else COMMON)[name]

    def __iter__(self) -> Iterator[str]:
        return (name for file in self._files for name in self._of(file))

    def __len__(self) -> int:
        return sum(len(self._of(file)) for file in self._files)

    def _of(self, file: str) -> dict[str, str]:
        if file not in self._read:
            table = read_toml(self._files[file].read_text(encoding="utf-8"))
            self._read[file] = dict(_flat("" if file == COMMON else f"{file}.", table))
        return self._read[file]


def languages() -> tuple[str, ...]:
    """The languages that there are messages in, English first."""
    names = {entry.name for entry in _folder().iterdir() if _messages_in(entry)}
    return (ENGLISH, *sorted(names - {ENGLISH}))


@cache
def messages_in(language: str) -> Messages:
    """The messages of ``language``; in English where there are none."""
    folder = _folder() / language
    if not _messages_in(folder):
        return messages_in(ENGLISH)
    return Messages(language, _Texts(folder))


def messages_of(book: Rulebook) -> Messages:
    """The messages in the language of the book's texts."""
    return messages_in(book.language)


def _folder() -> Traversable:
    return Path(__file__).parent


def _messages_in(folder: Traversable) -> list[Traversable]:
    """The files of messages in ``folder``; none where it is no folder of a language."""
    return [entry for entry in folder.iterdir() if entry.name.endswith(_SUFFIX)] if folder.is_dir() else []


def _flat(prefix: str, table: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        if isinstance(value, str):
            yield f"{prefix}{key}", value
        else:
            yield from _flat(f"{prefix}{key}.", value)
