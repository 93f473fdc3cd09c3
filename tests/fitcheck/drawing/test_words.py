"""The drawing's own words stand in one table, which another language can replace."""

from __future__ import annotations

import re
from typing import Any

import pytest

from fitcheck.drawing import Words, read_words, shipped_words
from tests.support.drawings import drawn
from tests.support.paths import ROOT

FOLDER = ROOT / "fitcheck" / "drawing"
SAID = re.compile(r"""say\(\s*f?(["'])([a-z_]+\.[^"']+)\1|"((?:reading|plan|described)\.[a-z_]+)"()""")


def asked_for() -> set[str]:
    """The ids that the modules name, what is put in at run time as a star."""
    found: set[str] = set()
    for file in FOLDER.glob("*.py"):
        for groups in SAID.findall(file.read_text(encoding="utf-8")):
            found.add(re.sub(r"\{(?:[^{}]|\{[^{}]*\})*\}", "*", groups[1] or groups[2]))
    return found


def test_every_id_that_is_asked_for_is_in_the_table() -> None:
    texts = shipped_words().texts
    for name in asked_for():
        pattern = re.escape(name).replace(r"\*", "[a-z_]+")
        assert any(re.fullmatch(pattern, known) for known in texts), name


def test_every_text_of_the_table_is_asked_for() -> None:
    patterns = [re.escape(name).replace(r"\*", "[a-z_]+") for name in asked_for()]
    unused = [known for known in shipped_words().texts if not any(re.fullmatch(each, known) for each in patterns)]
    assert unused == []


def test_another_language_replaces_every_word_and_is_named(good: dict[str, Any]) -> None:
    usual = shipped_words()
    other = Words("de", {name: text.upper() if "{" not in text else text for name, text in usual.texts.items()})
    drawing = drawn(good, words=other)
    assert (drawing.root.get("lang"), drawing.root.get("{http://www.w3.org/XML/1998/namespace}lang")) == ("de", "de")
    assert "TOE" in drawing.said
    assert "Toe" not in drawing.said


def test_a_table_is_read_from_toml() -> None:
    words = read_words('language = "fr"\n[foot]\nleft_fore = "Pied {which}"\n')
    assert (words.language, words.say("foot.left_fore", which="un")) == ("fr", "Pied un")
    with pytest.raises(KeyError):
        words.say("foot.right_fore")
