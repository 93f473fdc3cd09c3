"""Write what the tool says of each demo case beside it: NAME.txt to read, NAME.answer.json for programs.

In a folder with two feet of a pair, pair.answer.json has what the tool says of the two together.

Run ``python cases_demo/refresh.py`` after a change of rules or texts, and read the difference before keeping it.
"""

from __future__ import annotations

import json
from pathlib import Path

from fitcheck import Fitting, assess, assess_pair, shipped_rulebook
from fitcheck.pairs import PAIRS
from fitcheck.report.terminal import render

FOLDER = Path(__file__).parent
PAIR_ANSWER = "pair.answer.json"
CHANGES_EACH_TIME = ("id", "created", "rulebook")


def assessment_view(case: Path) -> tuple[str, str]:
    """The text and the JSON document (less what changes each time) that the tool gives for one case."""
    assessment = assess(Fitting.model_validate(json.loads(case.read_text(encoding="utf-8"))))
    text = render(assessment, shipped_rulebook(), title=case.stem)
    document = assessment.model_dump(mode="json")
    for name in CHANGES_EACH_TIME:
        del document[name]
    return text, json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def said_of_pair(folder: Path) -> str:
    """The JSON document (less what changes each time) that the tool gives for the two feet of one pair."""
    left, right = (
        Fitting.model_validate(json.loads((folder / f"{foot}.json").read_text(encoding="utf-8")))
        for feet in PAIRS.values()
        for foot in feet
        if (folder / f"{foot}.json").exists()
    )
    document = assess_pair(left, right).model_dump(mode="json")
    del document["rulebook"]
    return json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def pairs() -> list[Path]:
    """The folders with two feet of a pair."""
    return sorted(path for path in FOLDER.glob("*_pair") if path.is_dir())


def cases() -> list[Path]:
    """The demo fittings."""
    return sorted(path for path in FOLDER.glob("*.json") if not path.name.endswith(".answer.json"))


if __name__ == "__main__":
    for case in cases():
        text, document = assessment_view(case)
        case.with_suffix(".txt").write_text(text, encoding="utf-8")
        case.with_suffix(".answer.json").write_text(document, encoding="utf-8")
    for folder in pairs():
        (folder / PAIR_ANSWER).write_text(said_of_pair(folder), encoding="utf-8")
