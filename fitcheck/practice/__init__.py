"""Practice of the eye: drawings whose measure is known, answered by the words used at work.

Practice never touches an assessment, nor marks, progress or agreement. ::

    exercises = exercises_of(book)                   # words and their bounds by that book
    session = parse_practice(loads(body))            # BadInput tells every fault of a body by its field
    outcome = outcome_of(sessions, book)             # a person's bias, spread and words, by weeks, and what comes next

Method and sources: docs/practice.md.
"""

from fitcheck.practice.exercises import DRAWINGS, EXERCISES, Exercise, ExerciseId, exercises_of
from fitcheck.practice.outcome import PracticeOutcome, outcome_of
from fitcheck.practice.session import PracticeSession, parse_practice, practising_person

__all__ = [
    "DRAWINGS",
    "EXERCISES",
    "Exercise",
    "ExerciseId",
    "PracticeOutcome",
    "PracticeSession",
    "exercises_of",
    "outcome_of",
    "parse_practice",
    "practising_person",
]
