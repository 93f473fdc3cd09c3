"""``fitcheck assess``: fittings from files, assessments to read or as JSON; feet of one visit also as a visit."""

from __future__ import annotations

import argparse
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final

from fitcheck.assessment.assess import assess
from fitcheck.assessment.following import Following
from fitcheck.assessment.models import Assessment
from fitcheck.cli import BAD_INPUT, BAD_USAGE, FAILED
from fitcheck.cli.cluster_options import add_lines_options, misplaced
from fitcheck.cli.fitting_files import add_follows_option, fitting_in, whole
from fitcheck.cli.options import add_language_option, add_rulebook_option, book_in_language, chosen_book, paint_for
from fitcheck.errors import BadInput
from fitcheck.fitting.models import Fitting
from fitcheck.report.terminal import render
from rules import EngineFault, Rulebook
from rules.lazy import lazily

if TYPE_CHECKING:
    from fitcheck.cli.assess_lines import run_lines
    from fitcheck.cli.eye_file import beside_eye_file, eye_text
    from fitcheck.drawing import draw
    from fitcheck.explanation.explain import explain
    from fitcheck.pairs.visit import Assessed, visit_of
    from fitcheck.report.explanation_text import render_explanation
    from fitcheck.report.visit_text import render_visit
else:
    beside_eye_file = lazily("fitcheck.cli.eye_file", "beside_eye_file")
    eye_text = lazily("fitcheck.cli.eye_file", "eye_text")
    run_lines = lazily("fitcheck.cli.assess_lines", "run_lines")
    draw = lazily("fitcheck.drawing", "draw")
    explain = lazily("fitcheck.explanation.explain", "explain")
    visit_of = lazily("fitcheck.pairs.visit", "visit_of")
    Assessed = lazily("fitcheck.pairs.visit", "Assessed")
    render_visit = lazily("fitcheck.report.visit_text", "render_visit")
    render_explanation = lazily("fitcheck.report.explanation_text", "render_explanation")

__all__ = ["STATUS", "configure"]

STATUS: Final = {"release": 0, "put_right": 1, "stop_and_refer": 2, "incomplete": 3, "go_on": 4}
"""Exit status of each decision."""

_GRAVEST_FIRST: Final = (FAILED, BAD_INPUT, BAD_USAGE, 2, 1, 3, 4, 0)


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("files", metavar="FILE", nargs="+", help="a fitting as JSON; - for standard input")
    parser.add_argument(
        "--json", action="store_true", help="print each assessment as JSON, one a line, as the HTTP service answers"
    )
    parser.add_argument(
        "--all",
        action="store_true",
        help="say all: each reading that was not assessed, every caution, what sums leave out",
    )
    parser.add_argument(
        "--explain",
        action="store_true",
        help="say why: what concerns the findings or was near a limit, and how the decision comes; with --all or "
        "--json each reading against each limit",
    )
    parser.add_argument(
        "--drawing", metavar="OUT.svg", help="draw the foot and what was found on it, for one FILE; OUT.svg is replaced"
    )
    parser.add_argument(
        "--eye",
        metavar="EYE.json",
        help="how likely findings on words are by an eye, as fitcheck eye PERSON --json prints it; it decides nothing",
    )
    add_follows_option(parser)
    add_rulebook_option(parser)
    add_language_option(parser)
    add_lines_options(parser)
    parser.epilog = (
        "Exit status: 0 release, 1 put right, 2 stop and refer, 3 incomplete, 4 go on with the next step, 64 bad "
        "usage, 65 bad input; of several files the gravest. Files that name one visit are also judged together, left "
        "held against right; with --json a line for each such visit comes after those of the files. With --lines: 0 "
        "all assessed, 65 some could not be, 70 the cluster failed."
    )
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Assess each file; returns the gravest status."""
    wrong = misplaced(options)
    if wrong is not None:
        print(f"fitcheck assess: {wrong}", file=sys.stderr)
        return BAD_USAGE
    if options.lines:
        return run_lines(options)
    if options.drawing is not None and len(options.files) > 1:
        print("fitcheck assess: --drawing draws one foot: name one FILE.", file=sys.stderr)
        return BAD_USAGE
    if options.follows and len(options.files) > 1:
        print("fitcheck assess: --follows is what one foot follows: name one FILE.", file=sys.stderr)
        return BAD_USAGE
    book = book_in_language(options, chosen_book(options, judging=True))
    statuses: set[int] = set()
    visits: dict[str, list[tuple[Fitting, Assessment]]] = {}
    for number, name in enumerate(options.files):
        status, done = _one(name, book, options, first=number == 0)
        statuses.add(status)
        if done is not None and done[0].visit is not None:
            visits.setdefault(done[0].visit, []).append(done)
    statuses.update(_together(visit, done, book, options) for visit, done in visits.items() if len(done) > 1)
    return next(status for status in _GRAVEST_FIRST if status in statuses)


def _together(visit: str, done: list[tuple[Fitting, Assessment]], book: Rulebook, options: argparse.Namespace) -> int:
    """Judge the feet of one visit together: a pair may hold up feet that are each released."""
    try:
        whole = visit_of([Assessed(fitting, assessment) for fitting, assessment in done], book)
    except BadInput as error:
        for problem in error.problems:
            print(f"visit {visit}: {problem}", file=sys.stderr)
        return BAD_INPUT
    except EngineFault as error:
        print(f"visit {visit}: its pairs could not be judged: {error}. Nothing is released.", file=sys.stderr)
        return FAILED
    if options.json:
        print(whole.model_dump_json())
    else:
        print("\n" + render_visit(whole, book, width=_width(), paint=paint_for(sys.stdout)), end="")
    return STATUS[whole.decision]


def _one(
    name: str, book: Rulebook, options: argparse.Namespace, *, first: bool
) -> tuple[int, tuple[Fitting, Assessment] | None]:
    """The status of one file, and what was assessed, where it was."""
    why = ""
    try:
        to_assess = fitting_in(name, book, options.follows)
        fitting = whole(to_assess)
        if options.explain:
            assessment, why = _explained(to_assess, book, whole=options.all)
        else:
            assessment = assess(to_assess, book)
        if options.eye is not None:
            assessment = beside_eye_file(assessment, fitting, options.eye, book)
    except BadInput as error:
        for problem in error.problems:
            print(f"{name}: {problem}", file=sys.stderr)
        return BAD_INPUT, None
    except EngineFault as error:
        print(f"{name}: this fitting could not be assessed: {error}. Nothing can be said of it.", file=sys.stderr)
        return FAILED, None
    if options.json:
        print(assessment.model_dump_json())
    else:
        print(("" if first else "\n") + _text(name, assessment, book, whole=options.all) + why, end="")
        if options.eye is not None:
            print("\n" + eye_text(assessment, book, _width()))
    if options.drawing is not None and not _drawn(options.drawing, fitting, assessment, book):
        return BAD_USAGE, None
    return STATUS[assessment.decision], (fitting, assessment)


def _explained(fitting: Fitting | Following, book: Rulebook, *, whole: bool) -> tuple[Assessment, str]:
    """The assessment with its explanation, and the explanation as text."""
    explained = explain(fitting, book)
    text = render_explanation(explained.explanation, book, width=_width(), paint=paint_for(sys.stdout), whole=whole)
    return explained, f"\n{text}"


def _drawn(out: str, fitting: Fitting, assessment: Assessment, book: Rulebook) -> bool:
    """Write the drawing to the file ``out``; False, with the reason said, where it cannot be written."""
    try:
        Path(out).write_text(draw(fitting, assessment, book, form="sheet") + "\n", encoding="utf-8")
    except OSError as error:
        print(f"{out}: the drawing cannot be written: {error.strerror or 'no such place'}.", file=sys.stderr)
        return False
    return True


def _width() -> int:
    return min(100, shutil.get_terminal_size((96, 24)).columns)


def _text(name: str, assessment: Assessment, book: Rulebook, *, whole: bool) -> str:
    title = "standard input" if name == "-" else Path(name).name
    return render(assessment, book, title=title, width=_width(), paint=paint_for(sys.stdout), whole=whole)
