"""``python -m api.page.messages`` makes the messages of the page of the catalogue: one file of JSON a language.

What the page says alone stands in ``page.toml``; what it says as reports and drawings do is taken from there.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Final, get_args

from fitcheck.fitting.models import FittedFoot
from fitcheck.text.catalogue import capital, languages, messages_in
from rules.model.figures import Status
from rules.model.records import Grade, Stage

__all__ = ["FOLDER", "page_messages", "page_text"]

FOLDER: Final = Path(__file__).parent / "static" / "messages"
_OWN: Final = "page."
_PRACTISED: Final = "exercise."
"""What practice tells of an eye, the page by itself where there is no signal."""
_OF_A_PERSON: Final = "exercise.person."
"""What only the service tells, of all sessions of a person."""
_SHARED: Final = {
    "answer.actions": "view.actions",
    "answer.next": "view.next_visit",
    "answer.book": "view.judged_by",
    "answer.sources": "view.sources",
    "answer.conforms.one": "view.conforms.one",
    "answer.conforms.other": "view.conforms.other",
    "answer.remarks.one": "view.left_out",
    "answer.remarks.other": "view.left_out",
    **{f"stage.{stage}": f"view.stage.{stage}" for stage in get_args(Stage)},
}
"""What the page calls a message of another file."""


def page_messages(language: str) -> dict[str, str]:
    """The page's messages in ``language`` by their ids."""
    messages = messages_in(language)
    found = {name.removeprefix(_OWN): text for name, text in messages.texts.items() if name.startswith(_OWN)}
    found |= {
        name: text
        for name, text in messages.texts.items()
        if name.startswith(_PRACTISED) and not name.startswith(_OF_A_PERSON)
    }
    found |= {name: messages.texts[shared] for name, shared in _SHARED.items()}
    found |= {f"foot.{foot}": capital(messages.named("foot", foot)) for foot in get_args(FittedFoot)}
    found |= {f"status.{status.replace(' ', '_')}": messages.named("status", status) for status in get_args(Status)}
    for grade in get_args(Grade):
        word, means = messages.say(f"view.grade.{grade}"), messages.say(f"view.grade_means.{grade}")
        found[f"grade.{grade}"] = f"{word}: {means}"
    return dict(sorted(found.items()))


def page_text(language: str) -> str:
    """The file of the messages in ``language``."""
    return json.dumps(page_messages(language), ensure_ascii=False, indent=2) + "\n"


if __name__ == "__main__":
    for each in languages():
        (FOLDER / f"{each}.json").write_text(page_text(each), encoding="utf-8", newline="\n")
