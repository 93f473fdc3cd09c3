"""Edits of a copy of the shipped rulebook, as the files of faulty books describe them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

__all__ = ["Edit", "without"]


@dataclass(frozen=True)
class Edit:
    """One edit of a copy of the shipped book.

    Within ``table`` (the ``which``-th of that name): ``set`` puts lines in the place of those with the same key or adds
    them, ``insert`` adds a line, ``remove`` takes a key out, ``rename`` gives the table another name.  In the whole
    file: ``find`` and ``replace``, ``append``, ``cut`` (every table that begins so), ``encoding``, ``delete``.
    """

    file: str
    table: str | None = None
    which: int = 1
    set: str = ""
    insert: str = ""
    remove: str = ""
    rename: str = ""
    find: str = ""
    replace: str = ""
    append: str = ""
    cut: str = ""
    encoding: str = "utf-8"
    delete: bool = False

    def make(self, folder: Path) -> None:
        """Change the copy in ``folder``."""
        path = folder / self.file
        if self.delete:
            path.unlink()
            return
        before = path.read_text(encoding="utf-8") if path.exists() else ""
        text = before
        if self.table is not None:
            text = self._edited_table(text.splitlines())
        if self.find:
            assert text.count(self.find) == 1, f"{self.find} does not stand once in {self.file}"
            text = text.replace(self.find, self.replace)
        if self.cut:
            text = "".join(
                part for part in re.split(r"^(?=\[)", text, flags=re.MULTILINE) if not part.startswith(self.cut)
            )
        if self.append:
            text = f"{text}\n{self.append}\n"
        path.write_text(text, encoding=self.encoding)
        assert path.read_bytes() != before.encode(), "the edit changes nothing"

    def _edited_table(self, lines: list[str]) -> str:
        headers = [number for number, line in enumerate(lines) if line in {f"[{self.table}]", f"[[{self.table}]]"}]
        start = headers[self.which - 1]
        end = next((number for number in range(start + 1, len(lines)) if lines[number].startswith("[")), len(lines))
        header, body = lines[start], lines[start + 1 : end]
        if self.rename:
            header = header.replace(f"[{self.table}]", f"[{self.rename}]")
        if self.remove:
            body = without(self.remove, body)
        for line in self.set.splitlines():
            body = without(line.split("=")[0].strip(), body, missing_is_fine=True)
        return "\n".join([*lines[:start], header, *self.set.splitlines(), self.insert, *body, *lines[end:]]) + "\n"


def without(key: str, body: list[str], *, missing_is_fine: bool = False) -> list[str]:
    """The lines of a table without that key's, which may run on to a closing bracket."""
    first = next((number for number, line in enumerate(body) if line.startswith(f"{key} =")), None)
    if first is None:
        assert missing_is_fine, f"{key} does not stand in the table"
        return body
    last = first
    if body[first].endswith("["):
        last = body.index("]", first)
    return body[:first] + body[last + 1 :]
