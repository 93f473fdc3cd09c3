"""An eye from a file, beside an assessment of ``fitcheck assess``."""

from __future__ import annotations

import textwrap
from pathlib import Path

from pydantic import ValidationError

from fitcheck.assessment.models import Assessment
from fitcheck.errors import BadInput, Problem
from fitcheck.eye.models import EyeView
from fitcheck.eye.stated import with_eye
from fitcheck.fitting.models import Fitting
from fitcheck.text.catalogue import messages_of
from fitcheck.text.format import chance_text
from rules import Rulebook

__all__ = ["beside_eye_file", "eye_text"]


def beside_eye_file(assessment: Assessment, fitting: Fitting, name: str, book: Rulebook) -> Assessment:
    """``assessment`` with the chances by the eye in the file ``name``. Raises BadInput."""
    allowed = "a file with what fitcheck eye PERSON --json prints"
    try:
        view = EyeView.model_validate_json(Path(name).read_bytes())
    except OSError as error:
        detail = f"{name} cannot be read: {error.strerror or 'no such file'}."
        raise BadInput([Problem("eye", name, allowed, detail)]) from None
    except ValidationError:
        detail = f"{name} is no eye of this version. Write it anew."
        raise BadInput([Problem("eye", name, allowed, detail)]) from None
    return with_eye(assessment, fitting, view, book)


def eye_text(assessment: Assessment, book: Rulebook, width: int) -> str:
    """The chances in words, a line a finding, and by whose eye they are."""
    messages = messages_of(book)
    lines = []
    if assessment.eye is not None:
        lines.append(messages.say("eye.by", person=assessment.eye.person, version=assessment.eye.version))
    for finding in assessment.findings:
        if finding.chance_by_eye is not None:
            chance = chance_text(finding.chance_by_eye, messages)
            lines.append(messages.say("eye.chance", finding=finding.finding, chance=chance))
    return "\n".join(part for text in lines for part in textwrap.wrap(text, width, subsequent_indent="  "))
