"""What is made of kept records at the desk: a foot as it was kept, reports, sheets of marks, progress, agreement.

Nothing here assesses a foot again: decisions and findings are those that were answered when it was assessed.
"""

from fitcheck.stored.assessment import StoredFoot, Unreadable, assessment_of, brief_of_record, foot_of, stored_language
from fitcheck.stored.followed import UnknownFollowed, followed, follows_in
from fitcheck.stored.marks import CannotMark, override_in, overrides_of, sheet_of
from fitcheck.stored.reports import report_of_foot, report_of_visit
from fitcheck.stored.rows import table_by_finding, table_by_reading
from fitcheck.stored.visit import StoredVisit, stored_visit

__all__ = [
    "CannotMark",
    "StoredFoot",
    "StoredVisit",
    "UnknownFollowed",
    "Unreadable",
    "assessment_of",
    "brief_of_record",
    "followed",
    "follows_in",
    "foot_of",
    "override_in",
    "overrides_of",
    "report_of_foot",
    "report_of_visit",
    "sheet_of",
    "stored_language",
    "stored_visit",
    "table_by_finding",
    "table_by_reading",
]
