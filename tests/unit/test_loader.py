"""The strict loader: the shipped book loads, and each faulty copy of it is refused with file, key and what to write."""

from __future__ import annotations

import re
import shutil
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from rules import RulebookError, load_rulebook, shipped_rulebook

ROOT = Path(__file__).parents[2]
BOOK = ROOT / "rules" / "book"
FAULTS = sorted((ROOT / "tests" / "broken_books").glob("*.toml"))
JARGON = re.compile(
    r"Input should|Field required|Extra inputs|valid (dictionary|tuple|string|boolean)|validation|Traceback|instance of"
    r"|pydantic|NoneType|Scaled|JoinedRule|_Required"
)


@dataclass(frozen=True)
class Fault:
    """One edit of a copy of the shipped book, and the error that must come of it.

    Within ``table`` (the ``which``-th of that name): ``set`` puts lines in the place of those with the same key or adds
    them, ``insert`` adds a line, ``remove`` takes a key out, ``rename`` gives the table another name.  In the whole
    file: ``find`` and ``replace``, ``append``, ``cut`` (every table that begins so), ``encoding``, ``delete``.
    """

    what: str
    file: str
    error: dict[str, str]
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


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    return Path(shutil.copytree(BOOK, tmp_path / "book"))


@pytest.mark.parametrize("path", FAULTS, ids=lambda path: path.stem)
def test_a_faulty_book_is_refused_with_file_key_and_what_to_write(path: Path, copied: Path) -> None:
    fault = Fault(**tomllib.loads(path.read_text(encoding="utf-8")))
    fault.make(copied)
    with pytest.raises(RulebookError) as caught:
        load_rulebook(copied)
    error, expected = caught.value, fault.error
    assert error.file == expected["file"], str(error)
    if expected["key"].endswith(" "):  # the number of a line or a byte follows
        assert re.fullmatch(re.escape(expected["key"]) + r"\d+", error.key), str(error)
    else:
        assert error.key == expected["key"], str(error)
    assert expected["says"] in f"{error.problem}. {error.remedy}", str(error)


@pytest.mark.parametrize("path", FAULTS, ids=lambda path: path.stem)
def test_a_refusal_is_said_in_the_words_of_the_books_author(path: Path, copied: Path) -> None:
    Fault(**tomllib.loads(path.read_text(encoding="utf-8"))).make(copied)
    with pytest.raises(RulebookError) as caught:
        load_rulebook(copied)
    error = caught.value
    assert str(error) == f"{error.file}: {error.key}: {error.problem}. {error.remedy}"
    assert len(error.problem) > 5
    assert error.remedy[0].isupper(), error.remedy
    assert not error.remedy.endswith(".")
    assert JARGON.search(str(error)) is None, str(error)


def test_the_faults_cover_what_a_strict_loader_must_refuse() -> None:
    assert len(FAULTS) >= 35
    described = [tomllib.loads(path.read_text(encoding="utf-8"))["what"] for path in FAULTS]
    assert len(set(described)) == len(FAULTS)


def test_an_unchanged_copy_loads_with_the_digest_of_the_shipped_book(copied: Path) -> None:
    shipped, copy = shipped_rulebook(), load_rulebook(copied)
    assert copy.digest == shipped.digest
    assert re.fullmatch("sha256:[0-9a-f]{64}", copy.digest)
    assert copy.rules == shipped.rules
    assert copy.joined == shipped.joined


def a_comment(folder: Path) -> None:
    path = folder / "finish.toml"
    path.write_text(path.read_text(encoding="utf-8") + "# A yard's own remark.\n", encoding="utf-8")


def a_limit(folder: Path) -> None:
    Fault("", "heel_fit.toml", {}, table="rules.heel-width-close", set="low = 1.5").make(folder)


@pytest.mark.parametrize("change", [a_comment, a_limit])
def test_the_digest_tells_any_change_of_the_books_files(change: Callable[[Path], None], copied: Path) -> None:
    change(copied)
    assert load_rulebook(copied).digest != shipped_rulebook().digest


def test_a_file_that_is_no_toml_is_no_part_of_the_book(copied: Path) -> None:
    (copied / "README").write_text("Not part of the book.", encoding="utf-8")
    assert load_rulebook(copied).digest == shipped_rulebook().digest


def test_a_changed_limit_is_loaded_as_written(copied: Path) -> None:
    a_limit(copied)
    assert load_rulebook(copied).rules["heel-width-close"].low == 1.5


def test_what_is_no_folder_is_refused(tmp_path: Path) -> None:
    with pytest.raises(RulebookError, match="this is not a folder"):
        load_rulebook(tmp_path / "nowhere")


def test_a_file_that_cannot_be_read_is_refused(copied: Path) -> None:
    (copied / "finish.toml").unlink()
    (copied / "finish.toml").mkdir()
    with pytest.raises(RulebookError, match=r"finish\.toml: \(file\): this file cannot be read"):
        load_rulebook(copied)


def test_the_records_of_a_book_cannot_be_changed() -> None:
    book = shipped_rulebook()
    with pytest.raises(TypeError):
        book.rules["heel-width-tight"] = book.rules["heel-width-close"]  # type: ignore[index]
    with pytest.raises(ValueError, match="frozen"):
        book.rules["heel-width-tight"].grade = "minor"  # type: ignore[misc]
