"""Write what the tool says of each demo case beside it: NAME.txt to read, NAME.answer.json for programs.

Run ``python cases_demo/refresh.py`` after a change of rules or texts, and read the difference before keeping it.
"""

from __future__ import annotations

import json
from pathlib import Path

from fitcheck.assess import assess
from fitcheck.fitting import Fitting
from fitcheck.report.terminal import render
from rules import shipped_rulebook

FOLDER = Path(__file__).parent
CHANGES_EACH_TIME = ("id", "created", "rulebook")


def said_of(case: Path) -> tuple[str, str]:
    """The text and the JSON document (less what changes each time) that the tool gives for one case."""
    assessment = assess(Fitting.model_validate(json.loads(case.read_text(encoding="utf-8"))))
    text = render(assessment, shipped_rulebook(), title=case.stem)
    document = assessment.model_dump(mode="json")
    for name in CHANGES_EACH_TIME:
        del document[name]
    return text, json.dumps(document, indent=1, ensure_ascii=False) + "\n"


def cases() -> list[Path]:
    """The demo fittings."""
    return sorted(path for path in FOLDER.glob("*.json") if not path.name.endswith(".answer.json"))


if __name__ == "__main__":
    for case in cases():
        text, document = said_of(case)
        case.with_suffix(".txt").write_text(text, encoding="utf-8")
        case.with_suffix(".answer.json").write_text(document, encoding="utf-8")
