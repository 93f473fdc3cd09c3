"""``fitcheck eye PERSON`` and ``fitcheck assess --eye FILE``: what is printed, and the exit status."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from fitcheck.cli import main
from fitcheck.eye.eye import stored_eye
from fitcheck.eye.models import EyeView
from fitcheck.records import Store, open_store
from fitcheck.records.practice import PracticeSessions
from rules import localized, shipped_rulebook
from tests.support.eye_records import keep_looks, of_a_heel
from tests.support.practised import session
from tests.support.simulated_eyes import Person

BOOK = shipped_rulebook()
PERSON = Person(bias=0.6, scale=0.6, freedom=8, of_horse=0.1, drift=0.0, lapses=0.01)
Captured = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def url(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A store with the words of A-3, who also practised, and with practice alone of A-7."""
    address = f"sqlite:///{tmp_path_factory.mktemp('eye') / 'records.sqlite3'}"
    with open_store(address) as store:
        keep_looks(store, "A-3", PERSON, 14, 3)
        PracticeSessions(store).keep("A-3", session(1, off=1.5))
        PracticeSessions(store).keep("A-7", session(2, "gap"))
    return address


@pytest.fixture(scope="module")
def views(url: str) -> dict[str, EyeView]:
    """The eye of A-3 in each language."""
    with open_store(url) as store:
        return {language: stored_eye(store, "A-3", localized(BOOK, language)) for language in ("en", "de")}


@pytest.fixture(scope="module")
def printed(url: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file with what ``fitcheck eye A-3 --json`` prints."""
    file = tmp_path_factory.mktemp("printed") / "eye.json"
    with pytest.MonkeyPatch.context() as patch, file.open("w", encoding="utf-8") as out:
        patch.setattr("sys.stdout", out)
        assert main(["eye", "A-3", "--json", "--records", url]) == 0
    return file


def _one_line(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(
    ("language", "practice", "stamp", "left_over"),
    [
        ("en", "Practice by drawings", "Version {} of this eye", ()),
        ("de", "Übung an Zeichnungen", "Fassung {} dieses Auges", (" the ", " your ", "eye.", "{", "_")),
    ],
)
def test_all_that_is_told_is_printed_in_the_language_asked_for(
    url: str,
    views: dict[str, EyeView],
    capsys: Captured,
    language: str,
    practice: str,
    stamp: str,
    left_over: tuple[str, ...],
) -> None:
    assert main(["eye", "A-3", "--language", language, "--records", url]) == 0
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= 100
    said = _one_line(out)
    view = views[language]
    assert view.practice is not None
    [width] = view.quantities
    work, _, drawings = said.partition(practice)
    for text in (*view.say, width.title, *width.groups[0].say, width.trend.say, width.beside_assessors.say):
        assert _one_line(text) in work
    for text in (*view.practice.exercises[0].say, view.practice.say):
        assert _one_line(text) in drawings
    assert stamp.format(view.version) in drawings
    assert not any(each in said for each in left_over)


def test_json_is_the_eye_and_german_has_the_same_version(views: dict[str, EyeView], printed: Path) -> None:
    assert EyeView.model_validate_json(printed.read_text(encoding="utf-8")) == views["en"]
    assert views["de"].version == views["en"].version
    assert views["de"].say != views["en"].say


def test_somebody_who_only_practised_has_that_alone(url: str, capsys: Captured) -> None:
    assert main(["eye", "A-7", "--records", url]) == 0
    said = _one_line(capsys.readouterr().out)
    assert "0 words of the eye were kept" in said
    assert "Practice by drawings" in said
    assert main(["eye", "A-7", "--json", "--records", url]) == 0
    view = EyeView.model_validate_json(capsys.readouterr().out)
    assert (view.words, view.quantities) == (0, ())
    assert view.practice is not None
    assert [each.exercise for each in view.practice.exercises] == ["gap"]


@pytest.mark.parametrize(("language", "says"), [("en", "Neither words nor practice"), ("de", "weder Worte noch")])
def test_of_nobody_it_says_so_with_status_1(url: str, capsys: Captured, language: str, says: str) -> None:
    assert main(["eye", "A-9", "--language", language, "--records", url]) == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert says in said.err
    assert "A-9" in said.err


def test_until_a_day_before_anything_there_is_nobody(url: str, capsys: Captured) -> None:
    assert main(["eye", "A-3", "--until", "2020-01-01", "--records", url]) == 1
    assert "A-3" in capsys.readouterr().err


def test_erased_there_is_nobody(sqlite_store: Store, capsys: Captured) -> None:
    PracticeSessions(sqlite_store).keep("A-3", session(1))
    address = ["--records", sqlite_store.url]
    assert main(["eye", "A-3", *address]) == 0
    sqlite_store.erase("A-3", reason="asked for it", created="2026-04-01T09:00:00.000Z")
    assert main(["eye", "A-3", *address]) == 1
    assert "A-3" in capsys.readouterr().err


def _file_of(folder: Path, document: dict[str, Any]) -> str:
    file = folder / "heel.json"
    file.write_text(json.dumps(document), encoding="utf-8")
    return str(file)


def test_an_assessment_beside_the_eye_has_its_chances_and_the_same_decision(
    printed: Path, tmp_path: Path, capsys: Captured
) -> None:
    file = _file_of(tmp_path, of_a_heel("tight", person={"id": "A-3"}))
    plain_status = main(["assess", file, "--json"])
    plain = json.loads(capsys.readouterr().out)
    assert main(["assess", file, "--json", "--eye", str(printed)]) == plain_status
    found = json.loads(capsys.readouterr().out)
    version = json.loads(printed.read_text(encoding="utf-8"))["version"]
    assert found.pop("eye") == {"person": "A-3", "version": version}
    [chance] = [each.pop("chance_by_eye") for each in found["findings"] if "chance_by_eye" in each]
    assert 0 < chance < 1
    for each in (plain, found):
        del each["id"], each["created"]
    assert found == plain
    main(["assess", file, "--eye", str(printed)])
    text = _one_line(capsys.readouterr().out)
    assert f"By the eye of A-3, version {version}; it decides nothing." in text
    assert f"So it is in about {round(chance * 100)} % of such cases." in text
    main(["assess", file, "--eye", str(printed), "--language", "de"])
    assert f"Nach dem Auge von A-3, Fassung {version}; es entscheidet nichts." in _one_line(capsys.readouterr().out)


@pytest.mark.parametrize(
    ("person", "written", "says"),
    [
        ("A-4", None, "The eye is that of A-3, and the words of this fitting are those of A-4"),
        ("A-3", "{}", "is no eye of this version"),
        ("A-3", "not JSON", "is no eye of this version"),
        ("A-3", "", "is no eye of this version"),
    ],
)
def test_another_eye_than_that_of_the_words_is_refused(
    printed: Path, tmp_path: Path, capsys: Captured, person: str, written: str | None, says: str
) -> None:
    eye = printed
    if written is not None:
        eye = tmp_path / "other.json"
        eye.write_text(written, encoding="utf-8")
    file = _file_of(tmp_path, of_a_heel("tight", person={"id": person}))
    assert main(["assess", file, "--eye", str(eye)]) == 65
    said = capsys.readouterr()
    assert says in said.err
    assert said.out == ""


def test_an_eye_that_is_not_there_is_told_by_its_name(tmp_path: Path, capsys: Captured) -> None:
    file = _file_of(tmp_path, of_a_heel("tight", person={"id": "A-3"}))
    assert main(["assess", file, "--eye", str(tmp_path / "gone.json")]) == 65
    assert "gone.json cannot be read: No such file or directory" in capsys.readouterr().err
