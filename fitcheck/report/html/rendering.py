"""Templates filled in: all text is escaped, and marks that would turn or break it are replaced."""

from __future__ import annotations

import base64
import hashlib
import re
from functools import cache
from importlib.resources import files
from typing import Any, Final

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from fitcheck.text.catalogue import Messages, capital, messages_in

__all__ = ["PAPER_POLICY", "PAPER_STYLE", "REPORT_POLICY", "STYLE", "cleaned", "filled", "policy"]

# What XML 1.0 (5th edition, 2.2) has no room for, and the marks that turn the direction of text.
_UNFIT: Final = re.compile(
    "[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]|[\u200e\u200f\u061c\u202a-\u202e\u2066-\u2069]"
)


def cleaned(text: str) -> str:
    """``text`` with a replacement mark for each character that a page cannot have, or that would turn what follows."""
    return _UNFIT.sub("\N{REPLACEMENT CHARACTER}", text)


def _final(value: Any) -> Any:
    return cleaned(value) if isinstance(value, str) and not isinstance(value, Markup) else value


_TEMPLATES: Final = files("fitcheck.report.html").joinpath("templates")
STYLE: Final = _TEMPLATES.joinpath("style.css").read_text(encoding="utf-8")
"""The style sheet that stands in every page."""
PAPER_STYLE: Final = _TEMPLATES.joinpath("paper.css").read_text(encoding="utf-8")
"""What is other on paper, after STYLE."""


def policy(*more: str, styles: tuple[str, ...] = (), scripts: tuple[str, ...] = ()) -> str:
    """A content security policy: the page's own style sheet, told by its hash, ``more``, and nothing else.

    ``styles`` and ``scripts`` stand in the page besides.
    """
    sources = ["default-src 'none'", f"style-src {_hashes(STYLE, *styles)}"]
    if scripts:
        sources.append(f"script-src {_hashes(*scripts)}")
    return "; ".join((*sources, "base-uri 'none'", *more))


def _hashes(*texts: str) -> str:
    digests = (base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in texts)
    return " ".join(f"'sha256-{digest}'" for digest in digests)


REPORT_POLICY: Final = policy("form-action 'none'")
"""What a report may load or run; it stands in the page too, for files that are opened."""

PAPER_POLICY: Final = policy("form-action 'none'", styles=(PAPER_STYLE,))
"""The same for a report that is to be printed."""

_OWN: Final = "fitcheck.report.html"


@cache
def _environment(package: str, language: str) -> Environment:
    environment = Environment(
        loader=ChoiceLoader([PackageLoader(name, "templates") for name in dict.fromkeys((package, _OWN))]),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_final,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    messages = messages_in(language)
    environment.globals |= {
        "style": Markup(STYLE),  # noqa: S704  (our own file)
        "paper_style": Markup(PAPER_STYLE),  # noqa: S704  (our own file)
        "referrer": "no-referrer",
        "language": messages.language,
        "say": messages.say,
        "counted": messages.counted,
        "named": messages.named,
        "number": messages.number,
        "capital": capital,
    }
    return environment


def filled(template: str, messages: Messages, *, package: str = _OWN, **parts: Any) -> str:
    """The page that ``template`` and ``parts`` make; Markup among them stands as it is.

    The template lies in the folder ``templates`` of ``package``, and may extend those here.  Its labels are
    ``messages``, by ``say`` and ``counted``.
    """
    return _environment(package, messages.language).get_template(template).render(**parts)
