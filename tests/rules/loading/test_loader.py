"""The strict loader: the shipped book loads, and each faulty copy of it is refused with file, key and what to write."""

from __future__ import annotations

import re
import shutil
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from rules import RulebookError, load_rulebook, shipped_rulebook
from rules.loading import write_checked
from rules.loading.checked import CHECKED
from tests.support.book_edits import Edit
from tests.support.paths import ROOT

BOOK = ROOT / "rules" / "book"
FAULTS = sorted((ROOT / "tests" / "broken_books").glob("*.toml"))
JARGON = re.compile(
    r"Input should|Field required|Extra inputs|valid (dictionary|tuple|string|boolean)|validation|Traceback|instance of"
    r"|pydantic|NoneType|Scaled|JoinedRule|_Required"
)


@dataclass(frozen=True)
class Fault(Edit):
    """One edit of a copy of a ``book``, and the error that must come of it.

    It is the shipped one, but for what only the first has (``first_book``): figures for words of the eye.
    """

    what: str = ""
    book: str = "book"
    error: dict[str, str] = field(default_factory=dict)


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    return Path(shutil.copytree(BOOK, tmp_path / "book"))


@pytest.fixture
def faulty(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[Fault, Path]:
    """A fault and the copy of a book that has it."""
    fault = Fault(**tomllib.loads(request.param.read_text(encoding="utf-8")))
    copy = Path(shutil.copytree(BOOK.with_name(fault.book), tmp_path / "book"))
    fault.make(copy)
    return fault, copy


@pytest.mark.parametrize("faulty", FAULTS, ids=lambda path: path.stem, indirect=True)
def test_a_faulty_book_is_refused_with_file_key_and_what_to_write(faulty: tuple[Fault, Path]) -> None:
    fault, copied = faulty
    with pytest.raises(RulebookError) as caught:
        load_rulebook(copied)
    error, expected = caught.value, fault.error
    assert error.file == expected["file"], str(error)
    if expected["key"].endswith(" "):  # the number of a line or a byte follows
        assert re.fullmatch(re.escape(expected["key"]) + r"\d+", error.key), str(error)
    else:
        assert error.key == expected["key"], str(error)
    assert expected["says"] in f"{error.problem}. {error.remedy}", str(error)


@pytest.mark.parametrize("faulty", FAULTS, ids=lambda path: path.stem, indirect=True)
def test_a_refusal_is_said_in_the_words_of_the_books_author(faulty: tuple[Fault, Path]) -> None:
    _, copied = faulty
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
    Edit("heel_fit.toml", table="rules.heel-width-close", set="low = 1.5").make(folder)


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


def test_the_shipped_book_passes_every_check_and_its_digest_says_so() -> None:
    assert write_checked.FILE.read_text(encoding="utf-8") == write_checked.module(shipped_rulebook())
    assert shipped_rulebook().digest == CHECKED
