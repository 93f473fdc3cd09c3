"""Reports as HTML, for screen and paper: one foot, or all feet of a visit, for owner, farrier and assessor.

A report is one file that needs no other: its style sheet stands in it, it has no script, and a browser is told to load
nothing. Every text that comes from outside is escaped.
"""

from fitcheck.report_html.foot_parts import FootToReport, KeptAs
from fitcheck.report_html.reports import foot_report, visit_report
from fitcheck.report_html.templates import REPORT_POLICY

__all__ = ["REPORT_POLICY", "FootToReport", "KeptAs", "foot_report", "visit_report"]
