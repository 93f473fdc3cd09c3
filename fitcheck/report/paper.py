"""A report on paper: the HTML report as PDF, a foot on one A4 page, a visit on one page more than it has feet.

Needs WeasyPrint, the extra ``pdf``.  Readings, what conforms and sources are an annex, printed where it is asked for.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final

from fitcheck.report.html import DENSITIES
from rules.lazy import lazily

if TYPE_CHECKING:
    from weasyprint import HTML
    from weasyprint.urls import URLFetcher
else:
    HTML = lazily("weasyprint", "HTML")
    URLFetcher = lazily("weasyprint.urls", "URLFetcher")

__all__ = ["pdf_of"]

_BODY: Final = re.compile("<body[^>]*>")


def pdf_of(page: str, *, pages: int, annex: bool = False) -> bytes:
    """The PDF of a report's HTML, set as closely as needed to come on ``pages`` pages; an ``annex`` comes after them.

    The closest settings leave out reasons and sources of findings; where they too take more pages, it has more.
    Raises ModuleNotFoundError without WeasyPrint.
    """
    density = DENSITIES[-1]
    for each in DENSITIES:
        if len(_rendered(page, each).pages) <= pages:
            density = each
            break
    document: bytes = _rendered(page, f"{density} whole" if annex else density).write_pdf()
    return document


def _rendered(page: str, classes: str) -> Any:
    text = _BODY.sub(f'<body class="paper{classes}">', page, count=1)
    return HTML(string=text, url_fetcher=URLFetcher(allowed_protocols=())).render()
