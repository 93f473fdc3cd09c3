"""What a report says of agreement, sentence by sentence."""

from __future__ import annotations

import re

from statsmodels.stats.inter_rater import cohens_kappa

from fitcheck.agreement import (
    Judgement,
    Subject,
    compare,
    comparison_sentences,
    criterion_sentences,
    number_sentence,
    numbers_compared,
    ranking_sentence,
)
from fitcheck.agreement.comparison import Comparison
from fitcheck.agreement.judgement import JudgedGrade
from fitcheck.agreement.wording import ENOUGH
from fitcheck.text.catalogue import messages_in

Column = list[JudgedGrade | None]


def _compared(criterion: str, first: Column, second: Column, **more: tuple[Column, Column]) -> Comparison:
    columns = {criterion: (first, second), **more}
    judgements = [
        Judgement(
            rater,
            Subject(f"H-{number:03}", "left_fore", "2026-03-04"),
            {name: pair[side][number] for name, pair in columns.items()},
        )
        for side, rater in enumerate(("A-3", "S-1"))
        for number in range(len(first))
    ]
    return compare(judgements, "A-3", "S-1")


def _column(letters: str) -> Column:
    """Grades by g(ood), m(inor), j for major; a dot where nothing was assessed."""
    grades: dict[str, JudgedGrade | None] = {"g": "good", "m": "minor", "j": "major", ".": None}
    return [grades[letter] for letter in letters]


# 20 feet: 14 alike, 5 on which the assessor is the graver, 1 on which the apprentice is.
FIRST = _column("ggggggggggggmmmmjjjm")
SECOND = _column("gggggggggmmjmmjjjjjg")
NEARLY = _column("g" * 17 + "mmm")
GOOD = _column("g" * 20)


def _said(found: Comparison, criterion: str) -> list[str]:
    on = found.on(criterion)
    assert on is not None
    return list(criterion_sentences(found, on))


def test_a_criterion_is_told_with_counts_coefficient_interval_and_what_little_it_rests_on() -> None:
    """The coefficient, 0.59, is that of statsmodels (see tests/reference/test_kappa.py for its interval)."""
    on_nails = cohens_kappa([[9, 2, 1], [1, 2, 2], [0, 0, 3]], wt="linear")
    assert f"{on_nails.kappa:.2f}" == "0.59"
    told, graver = _said(_compared("nails", FIRST, SECOND), "nails")
    assert told == (
        "On nails the two agree in 14 of 20 feet (95 % interval 46 % to 88 %); weighted kappa 0.59, "
        "95 % interval 0.13 to 0.79; with 20 feet that is little to go on."
    )
    assert graver == "Of the 6 on which they differ, A-3 is the graver in 1, S-1 in 5."


def test_a_single_difference_is_told_as_one() -> None:
    found = _compared("nails", _column("gmgg"), _column("gmgm"))
    assert _said(found, "nails")[1] == "On the one foot on which they differ, S-1 is the graver."


def test_enough_feet_are_not_called_few() -> None:
    found = _compared("nails", FIRST * 2, SECOND * 2)
    assert len(FIRST * 2) >= ENOUGH > len(FIRST)
    assert "little to go on" not in " ".join(_said(found, "nails"))


def test_where_kappa_says_nothing_the_sentence_says_why() -> None:
    found = _compared("heel_fit", _column("ggggg"), _column("gggg."))
    (told,) = _said(found, "heel_fit")
    assert told == (
        "On heel fit the two agree in 4 of 4 feet (95 % interval 40 % to 100 %); no weighted kappa, because both gave "
        "one and the same grade to all, so that chance would agree as well; with 4 feet that is little to go on; "
        "only A-3 judged it on 1 foot."
    )
    nothing = _compared("finish", _column("g"), _column("."))
    assert _said(nothing, "finish") == [
        "On finish nothing can be said, because no foot was judged by both; only A-3 judged it on 1 foot."
    ]


def test_the_ranking_says_when_the_first_two_cannot_be_told_apart() -> None:
    close = _compared("nails", FIRST, SECOND, finish=(GOOD, NEARLY))
    most, unsettled = ranking_sentence(close)
    finish = "finish (3 of 20, 95 % interval 3 % to 38 %)"
    assert most == f"They differ most on nails (6 of 20, 95 % interval 12 % to 54 %) and {finish}."
    assert unsettled == ("The intervals of the first two overlap: which of them is the more in dispute is not settled.")
    clear = _compared("nails", GOOD, _column("j" * 20), finish=(GOOD, _column("g" * 19 + "m")))
    (only,) = ranking_sentence(clear, {"nails": "the nails"})
    assert only.startswith("They differ most on the nails (20 of 20, ")
    assert list(ranking_sentence(_compared("nails", FIRST, FIRST))) == []


def test_a_whole_comparison_begins_with_feet_and_ends_with_what_is_most_in_dispute() -> None:
    found = _compared("nails", FIRST, SECOND, finish=(GOOD, NEARLY))
    said = list(comparison_sentences(found))
    assert said[0] == "A-3 and S-1 both judged 20 feet."
    assert said[1].startswith("Of 40 grades that both gave, 31 are equal (78 %, 95 % interval ")
    assert said[2].startswith("On the worst grade of a foot the two agree in ")
    assert said[-2].startswith("They differ most on nails")


def test_feet_that_only_one_judged_are_told() -> None:
    subject = Subject("H-900", "left_fore", "2026-03-04")
    judgements = [
        Judgement("A-3", subject, {"nails": "good"}),
        Judgement("S-1", subject, {"nails": "good"}),
        Judgement("S-1", subject._replace(horse="H-901"), {"nails": "good"}),
        Judgement("S-1", subject._replace(horse="H-902"), {"nails": "good"}),
    ]
    said = list(comparison_sentences(compare(judgements, "A-3", "S-1")))
    assert said[:2] == ["A-3 and S-1 both judged 1 foot.", "2 feet that only S-1 judged are left out."]
    none = list(comparison_sentences(compare(judgements[1:], "A-3", "S-1")))
    assert none == ["A-3 and S-1 both judged no feet.", "3 feet that only S-1 judged are left out."]


def _measured(*rows: tuple[float | None, float | None]) -> list[Judgement]:
    return [
        Judgement(
            rater,
            Subject(f"H-{number:03}", "left_fore", "2026-03-04"),
            {},
            {"exit_height@nail:medial:1": value} if value is not None else {},
        )
        for number, row in enumerate(rows)
        for rater, value in zip(("A-3", "S-1"), row, strict=True)
    ]


def test_a_number_is_told_with_its_coefficient_and_what_was_left_out() -> None:
    rows = ((20.0, 21.0), (22.0, 22.5), (25.0, 24.0), (30.0, 30.0), (21.0, None))
    (found,) = numbers_compared(_measured(*rows), ["A-3", "S-1"])
    said = number_sentence(found, "exit height at medial nail 1")
    start = r"Of exit height at medial nail 1, read by A-3 and S-1 on 4 feet: ICC\(2,1\) 0\.98, 95 % interval "
    assert re.fullmatch(start + r"0\.\d\d to 1\.00; 1 foot that not all of them read is left out\.", said)


def test_a_number_without_spread_or_interval_is_told_as_such() -> None:
    (same,) = numbers_compared(_measured((20.0, 20.0), (20.0, 20.0)), ["A-3", "S-1"])
    assert number_sentence(same) == (
        "Of exit height at nail:medial:1, read by A-3 and S-1 on 2 feet: no intraclass correlation, because every "
        "number is the same, so that there is no spread to divide."
    )
    (alike,) = numbers_compared(_measured((20.0, 20.0), (22.0, 22.0)), ["A-3", "S-1"])
    assert "ICC(2,1) 1.00, without an interval, because the raters' numbers leave nothing over" in number_sentence(
        alike
    )


def test_no_coefficient_is_called_good_or_poor() -> None:
    said = " ".join(comparison_sentences(_compared("nails", FIRST, SECOND)))
    assert not re.search(r"\b(slight|fair|moderate|substantial|almost perfect|excellent|poor)\b", said)


def test_it_is_told_in_german_too() -> None:
    told = list(comparison_sentences(_compared("nails", FIRST, SECOND), {"nails": "Nägel"}, messages_in("de")))
    assert told[0] == "A-3 und S-1 beurteilten beide 20 Hufe."
    assert any(
        each.startswith("Beim Kriterium Nägel stimmen beide an 14 von 20 Hufen überein (95-%-Intervall ")
        for each in told
    )
    assert any("gewichtetes Kappa 0,59" in each for each in told)
    assert "Von den 6, an denen sie sich unterscheiden, urteilt A-3 an 1 strenger, S-1 an 5." in told
