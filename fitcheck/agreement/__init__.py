"""How far raters agree: an apprentice with an assessor, assessors with each other, anyone with the tool.

Pure calculation over judgements that the caller has; nothing here is imported to assess a foot.
"""

from fitcheck.agreement.comparison import Comparison, Difference, OnCriterion, compare, every_pair, most_disagreed
from fitcheck.agreement.intraclass import FORMS, Correlation, FTest, intraclass
from fitcheck.agreement.judgement import GRADES, TOOL, Judgement, Subject, judgement_of, overriding
from fitcheck.agreement.kappa import WEIGHTS, Kappa, kappa
from fitcheck.agreement.numbers import OnNumber, numbers_compared
from fitcheck.agreement.outcome import Interval, NotComputed
from fitcheck.agreement.proportion import Share, clustered_share, share
from fitcheck.agreement.trend import Dated, Span, progress
from fitcheck.agreement.wording import (
    comparison_sentences,
    criterion_sentences,
    number_sentence,
    progress_sentences,
    ranking_sentence,
)

__all__ = [
    "FORMS",
    "GRADES",
    "TOOL",
    "WEIGHTS",
    "Comparison",
    "Correlation",
    "Dated",
    "Difference",
    "FTest",
    "Interval",
    "Judgement",
    "Kappa",
    "NotComputed",
    "OnCriterion",
    "OnNumber",
    "Share",
    "Span",
    "Subject",
    "clustered_share",
    "compare",
    "comparison_sentences",
    "criterion_sentences",
    "every_pair",
    "intraclass",
    "judgement_of",
    "kappa",
    "most_disagreed",
    "number_sentence",
    "numbers_compared",
    "overriding",
    "progress",
    "progress_sentences",
    "ranking_sentence",
    "share",
]
