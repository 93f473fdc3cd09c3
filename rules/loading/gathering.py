"""Every fault of a book that inherits, as far as each can be told truly beside the others.

A fault is told, and the record that it lies in is left out: what the book inherits stands there again, and is right.
The rest is then looked at anew.  What only comes of a record's being left out is never told.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

from rules.errors import RulebookError

__all__ = ["all_faults", "line_of"]

Table = dict[str, Any]
Tables = Mapping[str, Table]
Load = Callable[[Tables], object]

_MOST: Final = 60
"""No more faults are looked for: who has corrected so many looks again."""
_STANDING: Final = ("status", "sources", "basis", "range_status", "range_basis")
_BOOK: Final = ("book.toml", "book")
_QUOTED: Final = re.compile(r"""['"]([^'"]+)['"]""")
_HEADER: Final = re.compile(r"\s*\[\[?\s*([^\]#]+?)\s*\]")


def all_faults(
    own: Tables, inherited: Tables, texts: Mapping[str, str], load: Load, found: list[RulebookError]
) -> RulebookError:
    """The first fault of ``own``, with all the others that ``load`` finds in it.

    ``found`` are those that are known already, of files that do not parse and of the book's identity.
    """
    gone = {name for file, text in texts.items() if file not in own for name in _names_in(text)}
    while len(found) < _MOST and (error := _fault(load, own)) is not None:
        place = _record_at(error, own, inherited)
        causes = [place] if place else list(_causes(error, own, load))
        if not gone.intersection(_QUOTED.findall(error.problem)):
            found += error.all if place else [_of_the_inherited(error, causes)]
        if not causes:
            break
        if place and (stated := _restated(error, own, inherited, *place)) is not None:
            own = stated
            continue
        for file, key in causes:
            gone |= _names_lost(own, inherited, file, key)
            own = _less(own, file, key)
    for error in found:
        error.line = line_of(texts.get(error.file, ""), error.key)
    first = found[0]
    first.others = tuple(found[1:])
    for error in first.others:
        error.others = ()
    return first


def line_of(text: str, key: str) -> int | None:
    """The line of a TOML text at which a dotted key stands, else that of the table in which it lies; None for none."""
    if (named := re.fullmatch(r"line (\d+)", key)) is not None:
        return int(named[1])
    table: list[str] = []
    parts, best, depth = key.split("."), None, 0
    for number, line in enumerate(text.split("\n"), start=1):
        if (header := _HEADER.match(line)) is not None:
            table, written = _parts(header[1]), []
        else:
            written = _parts(line.partition("=")[0].strip()) if "=" in line else []
        path = table + written
        if path and path[: len(parts)] == parts[: len(path)] and min(len(path), len(parts)) > depth:
            best, depth = number, min(len(path), len(parts))
    return best


def _parts(dotted: str) -> list[str]:
    return [part.strip().strip("\"'") for part in dotted.split(".")]


def _fault(load: Load, tables: Tables) -> RulebookError | None:
    try:
        load(tables)
    except RulebookError as error:
        return error
    return None


def _record_at(error: RulebookError, own: Tables, inherited: Tables) -> tuple[str, str] | None:
    """The file and key of the part of ``own`` that a fault lies in: a record, a section, or "" for the whole file."""
    table = own.get(error.file)
    if table is None:
        return None
    section, _, rest = error.key.partition(".")
    if section not in table:
        return (error.file, "") if error.key == "(file)" else None
    records = table[section]
    name = rest.partition(".")[0]
    if isinstance(records, dict) and isinstance(records.get(name), dict):
        return error.file, f"{section}.{name}"
    # A section that is one record, or none at all; in any other, what the fault lies in is not written here.
    single = not isinstance(records, dict) or not any(isinstance(part, dict) for part in records.values())
    misplaced = section not in inherited.get(error.file, {})
    return (error.file, section) if single or misplaced else None


def _restated(error: RulebookError, own: Tables, inherited: Tables, file: str, key: str) -> Tables | None:
    """``own`` with the inherited standing in a record that lacks it beside a figure: its other faults show then."""
    section, _, name = key.partition(".")
    over = inherited.get(file, {}).get(section, {})
    record, lacking = own[file].get(section, {}), error.key.rpartition(".")[2]
    if name:
        over, record = over.get(name, {}), record[name]
    if lacking not in _STANDING or lacking not in over or not record.keys().isdisjoint({lacking, "off"}):
        return None
    stated = {part: over[part] for part in _STANDING if part in over and part not in record} | record
    return {**own, file: own[file] | {section: own[file][section] | {name: stated} if name else stated}}


def _of_the_inherited(error: RulebookError, causes: list[tuple[str, str]]) -> RulebookError:
    """A fault in a record of the inherited book, told with each record of the own book that brings it about."""
    named = ", ".join(f"[{key}] in {file}" for file, key in causes)
    blame = f"What brings it about: {named or 'several changes of this book together'}"
    file = f"{error.file} of the inherited book"
    return RulebookError(file, error.key, error.problem, f"{error.remedy}. {blame}")


def _causes(error: RulebookError, own: Tables, load: Load) -> Iterator[tuple[str, str]]:
    """The records of ``own`` without which the fault is not there, nor one that comes of its being left out."""
    for file, key in _records(own):
        other = _fault(load, _less(own, file, key))
        if other is None or (
            (other.file, other.key, other.problem) != (error.file, error.key, error.problem)
            and key.rpartition(".")[2] not in _QUOTED.findall(other.problem)
        ):
            yield file, key


def _records(own: Tables) -> Iterator[tuple[str, str]]:
    for file, table in own.items():
        for section, records in table.items():
            if (file, section) == _BOOK:
                continue
            named = [name for name, record in records.items() if isinstance(record, dict)]
            yield from ((file, f"{section}.{name}") for name in named)
            if len(named) < len(records):
                yield file, section


def _less(own: Tables, file: str, key: str) -> Tables:
    """``own`` without the record, the section or the file at ``key``."""
    section, _, name = key.partition(".")
    if not section:
        return {other: table for other, table in own.items() if other != file}
    table = dict(own[file])
    records = table.pop(section)
    kept = {other: record for other, record in records.items() if name and other != name} if name else {}
    return {**own, file: table | ({section: kept} if kept else {})}


def _names_lost(own: Tables, inherited: Tables, file: str, key: str) -> set[str]:
    """The names of records that nobody knows any longer once ``key`` is left out."""
    section, _, name = key.partition(".")
    lost: set[str] = set()
    for part, records in own[file].items():
        if section in {"", part} and isinstance(records, dict):
            known = inherited.get(file, {}).get(part, {})
            lost |= {each for each in records if each not in known and name in {"", each}}
    return lost


def _names_in(text: str) -> Iterator[str]:
    """The names of the records in a file that does not parse, by their headers."""
    for line in text.split("\n"):
        header = _HEADER.match(line)
        if header is not None and len(parts := _parts(header[1])) > 1:
            yield parts[1]
