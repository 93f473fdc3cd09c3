"""The page in German: chosen in the settings, kept, and the service asked for German too."""

from __future__ import annotations

import json

from fitcheck.text.catalogue import messages_in
from rules import localized, shipped_rulebook
from tests.support.language_texts import english_pieces
from tests.support.phone import Phone
from tests.support.tapping import begin

DE = localized(shipped_rulebook(), "de")


def speak(phone: Phone, language: str) -> None:
    phone.tap("to-settings")
    [button] = [each for each in phone.all("button.word[lang]") if each.get_attribute("lang") == language]
    phone.touch(button)
    phone.until(lambda: phone.run("return document.documentElement.lang") == language, f"the page speaks {language}")


def test_the_language_is_chosen_in_the_settings_and_kept(phone: Phone) -> None:
    phone.open()
    assert "Check a foot" in phone.text
    speak(phone, "de")
    phone.until(lambda: "Einstellungen" in phone.text, "the settings in German")
    phone.open()
    assert "Einen Huf prüfen" in phone.text
    speak(phone, "en")
    phone.open()
    assert "Check a foot" in phone.text


def test_the_address_may_ask_for_a_language(phone: Phone) -> None:
    phone.open("/?lang=de")
    assert "Einen Huf prüfen" in phone.text


def test_a_foot_is_asked_and_answered_in_german_without_an_english_sentence(phone: Phone) -> None:
    phone.open()
    speak(phone, "de")
    kept = "return Object.values(localStorage).some((each) => each.includes(arguments[0]))"
    phone.until(lambda: phone.run(kept, DE.title), "the rulebook in German")
    phone.open()
    begin(phone)
    pieces = english_pieces()
    seen = [phone.text]
    for group in ("heels", "toe", "seat", "imprint"):
        phone.tap(f"group-{group}")
        phone.run("document.querySelectorAll('details').forEach((each) => each.setAttribute('open', ''))")
        seen.append(phone.text)
        phone.tap("panel-close")
    phone.tap("send")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")
    phone.run("document.querySelectorAll('details').forEach((each) => each.setAttribute('open', ''))")
    phone.until(lambda: phone.all(".sheet-drawing img"), "the drawing")
    seen.append(phone.text)
    assert {piece for text in seen for piece in pieces if piece in text} == set()
    assert DE.standing["second_eyes"].text in phone.run("return document.body.textContent")
    assert messages_in("de").texts["page.answer.complete"] in phone.text


def test_the_words_of_the_trade_are_those_of_german_farriers() -> None:
    """Common practice, no source: heels are the horse's, branches the iron's; weit is right and zu weit the fault."""
    texts = messages_in("de").texts
    assert texts["page.word.width.full"] == "weit"
    assert texts["page.word.width.wide"] == "zu weit"
    assert texts["page.question.contact_time"] == "Am Huf gehalten"
    assert texts["page.word.work.draught"] == "Zug"
    assert texts["page.word.old_wear.heels"] == "an den Schenkelenden"
    assert texts["page.group.heels"] == "Trachten"


def test_what_was_kept_of_it_says_that_it_is_german(phone: Phone) -> None:
    phone.open("/?lang=de")
    begin(phone, "right_hind")
    phone.tap("send")
    phone.until(lambda: phone.all("[data-decision]"), "the answer")
    answer = phone.where.partition("/")[2]
    kept = phone.run("return fetch('/v1/assessments/' + arguments[0]).then((it) => it.text())", answer)
    assert json.loads(kept)["language"] == "de"
