"""What is made of kept records at the desk: a foot as it was kept, reports, sheets of marks, progress, agreement.

Nothing here assesses a foot anew: decisions and findings are those that were answered when it was assessed.
"""

from fitcheck.desk.kept_foot import KeptFoot, Unreadable, foot_of
from fitcheck.desk.kept_visit import KeptVisit, visit_kept
from fitcheck.desk.marked import changes_of, override_in, overrides_of, sheet_of_foot
from fitcheck.desk.reported import report_of_foot, report_of_visit

__all__ = [
    "KeptFoot",
    "KeptVisit",
    "Unreadable",
    "changes_of",
    "foot_of",
    "override_in",
    "overrides_of",
    "report_of_foot",
    "report_of_visit",
    "sheet_of_foot",
    "visit_kept",
]
