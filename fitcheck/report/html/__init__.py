"""Reports as HTML, for screen and paper: one foot, or all feet of a visit, for owner, farrier and assessor.

A report is one file that needs no other: its style sheet stands in it, it has no script, and a browser is told to load
nothing. Every text that comes from outside is escaped.
"""

from fitcheck.report.html.density import DENSITIES
from fitcheck.report.html.rendering import PAPER_POLICY, REPORT_POLICY
from fitcheck.report.html.reports import FootToReport, RecordReference, foot_report, visit_report

__all__ = [
    "DENSITIES",
    "PAPER_POLICY",
    "REPORT_POLICY",
    "FootToReport",
    "RecordReference",
    "foot_report",
    "visit_report",
]
