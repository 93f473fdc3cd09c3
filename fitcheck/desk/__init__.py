"""What is made of kept records at the desk: a foot as it was kept, reports, sheets of marks, progress, agreement.

Nothing here assesses a foot anew: decisions and findings are those that were answered when it was assessed.
"""

from fitcheck.desk.kept_foot import KeptFoot, Unreadable, foot_of
from fitcheck.desk.kept_visit import KeptVisit, visit_kept
from fitcheck.desk.marked import CannotMark, answer_of, changes_of, override_in, overrides_of, sheet_of
from fitcheck.desk.reported import report_of_foot, report_of_visit

__all__ = [
    "CannotMark",
    "KeptFoot",
    "KeptVisit",
    "Unreadable",
    "answer_of",
    "changes_of",
    "foot_of",
    "override_in",
    "overrides_of",
    "report_of_foot",
    "report_of_visit",
    "sheet_of",
    "visit_kept",
]
