"""What a yard's own book may not weaken: whatever stops a foot, what that looks at, and bad words of the eye."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from rules import first_rulebook
from rules.loading.files import read_texts, tables_of
from tests.support.paths import ROOT
from tests.support.yard_books import IDENTITY, OURS, off, refused

NAILS_NEED = "needs = [{}]\n".format(
    ", ".join(f'{{any_of = ["{name}"], at = "every_nail"}}' for name in ("exit_height", "sound", "reaction", "blood"))
)
Yard = Callable[..., Path]


WEAKENED: dict[str, tuple[dict[str, str], str, str, str]] = {
    "a critical rule off": (
        {"nails": off("nail-blood")},
        "nails.toml",
        "rules.nail-blood.off",
        "a critical rule is never switched off",
    ),
    "a critical rule made minor": (
        {"nails": f'[rules.nail-flinch]\ngrade = "minor"\norder = "nails"\ncaution = "draw_nails"\n{OURS}'},
        "nails.toml",
        "rules.nail-flinch.grade",
        "a critical rule stays critical",
    ),
    "a critical rule made narrower": (
        {"going": '[rules.trot-lame]\napplies = [{stage = ["finished"], work = ["riding"]}]\n'},
        "going.toml",
        "rules.trot-lame.applies",
        "where a critical rule fires stays",
    ),
    "a critical limit made laxer": (
        {"scorch": f"[rules.contact-harmful]\nhigh = 195\n{OURS}"},
        "scorch.toml",
        "rules.contact-harmful.high",
        "never laxer",
    ),
    "a critical limit made laxer for thick shoes": (
        {"nails": f'[rules.nail-horn-none]\nlow = {{times = -0.1, of = "shoe_thickness", plus = 1}}\n{OURS}'},
        "nails.toml",
        "rules.nail-horn-none.low.times",
        "Write a number above 0",
    ),
    "a critical limit made laxer for thin shoes": (
        {"nails": f'[rules.nail-horn-none]\nlow = {{times = 0.2, of = "shoe_thickness", plus = -1}}\n{OURS}'},
        "nails.toml",
        "rules.nail-horn-none.low",
        "never laxer",
    ),
    "a caution that no longer stops": (
        {"cautions": '[cautions.stop_nail]\ntext = "Mind the nail."\n'},
        "cautions.toml",
        "cautions.stop_nail.text",
        "a caution that stops does not say so",
    ),
    "a caution turned into a lesser one": (
        {"cautions": "[cautions.stop_nail]\nstops = false\n"},
        "cautions.toml",
        "cautions.stop_nail.stops",
        "this key stays",
    ),
    "a critical action that does not stop": (
        {"nails": '[rules.nail-blood.action]\nnailed = "Carry on."\n'},
        "nails.toml",
        "rules.nail-blood.action.nailed",
        "a critical action does not say stop",
    ),
    "a needed observation dropped from what is required": (
        {"book": f'{IDENTITY}[required]\nnailed = ["heel_fit", "toe_fit", "levelness"]\n'},
        "book.toml",
        "required.nailed",
        "suspect_nail, to_white_line, to_white_line_by_eye, wall_at_nail. Put nails back",
    ),
    "a needed observation dropped from its criterion": (
        {"nails": '[criterion]\nneeds = [{any_of = ["exit_height"], at = "every_nail"}]\n'},
        "nails.toml",
        "criterion.needs",
        "sound need no longer be observed as it was",
    ),
    "a needed observation on some nails": (
        {"nails": "[criterion]\n" + NAILS_NEED.replace('["blood"], at = "every_nail"', '["blood"], at = "anywhere"')},
        "nails.toml",
        "criterion.needs",
        "blood need no longer be observed as it was",
    ),
    "a needed observation or another": (
        {"nails": "[criterion]\n" + NAILS_NEED.replace('["blood"]', '["blood", "exit_height"]')},
        "nails.toml",
        "criterion.needs",
        "blood need no longer be observed as it was",
    ),
    "a needed observation at one stage": (
        {"nails": "[criterion]\n" + NAILS_NEED.replace('["blood"], ', '["blood"], stages = ["nailed"], ')},
        "nails.toml",
        "criterion.needs",
        "blood need no longer be observed as it was",
    ),
    "a sound that a critical rule looks at no longer required": (
        {"nails": "[criterion]\n" + NAILS_NEED.replace('{any_of = ["sound"], at = "every_nail"}, ', "")},
        "nails.toml",
        "criterion.needs",
        "sound need no longer be observed as it was",
    ),
    "an exit that a critical rule looks at no longer required": (
        {"nails": "[criterion]\n" + NAILS_NEED.replace('{any_of = ["exit_height"], at = "every_nail"}, ', "")},
        "nails.toml",
        "criterion.needs",
        "exit_height or exit_height_by_eye need no longer be observed as it was",
    ),
    "the scorch dropped where the shoe was hot": (
        {"book": f"{IDENTITY}[required]\nfinished_when_hot_fitted = []\n"},
        "book.toml",
        "required.finished_when_hot_fitted",
        "scorch must be observed there: critical rules look at contact_time, inside_temperature, total_contact",
    ),
    "the scorch dropped at the trial": (
        {"book": f'{IDENTITY}[required]\nhot_fit = ["heel_fit", "toe_fit", "levelness"]\n'},
        "book.toml",
        "required.hot_fit",
        "scorch must be observed there",
    ),
    "a critical rule on another nail": (
        {"nails": f'[rules.close-nail-suspected]\nwith = {{suspect_nail = ["no"]}}\n{OURS}'},
        "nails.toml",
        "rules.close-nail-suspected.with",
        "where a critical rule fires stays",
    ),
    "a rule off by whose limit is computed what a critical one looks at": (
        {"nails": off("nail-high")},
        "nails.toml",
        "rules.nail-high.off",
        "suspect_nail is computed by its limit, and a critical rule looks at it",
    ),
    "a limit made laxer by which is computed what a critical rule looks at": (
        {"nails": f"[rules.nail-high]\nhigh = 45\n{OURS}"},
        "nails.toml",
        "rules.nail-high.high",
        "never laxer",
    ),
    "a quantity computed by another limit": (
        {"nails": '[quantities.suspect_nail]\nby_limit_of = "nail-low"\n'},
        "nails.toml",
        "quantities.suspect_nail.by_limit_of",
        "this key stays",
    ),
    "a bad word of the eye made good": (
        {"heel_fit": f'[rules.heel-seen-tight]\nis = ["close"]\n{OURS}'},
        "heel_fit.toml",
        "rules.heel-seen-tight.is",
        '"tight" was major by heel-seen-tight, and would be found better or not at all',
    ),
    "a bad word of the eye made less bad": (
        {"heel_fit": f'[rules.heel-seen-tight]\ngrade = "minor"\n{OURS}'},
        "heel_fit.toml",
        "rules.heel-seen-tight.grade",
        "Leave the rule of this word as it is, or make it stricter",
    ),
    "a bad word of the eye that no longer blocks": (
        {"heel_fit": f"[rules.heel-seen-tight]\nblocks = false\n{OURS}"},
        "heel_fit.toml",
        "rules.heel-seen-tight.grade",
        "found better or not at all",
    ),
    "a bad word of the eye without its rule": (
        {"heel_fit": off("heel-seen-tight")},
        "heel_fit.toml",
        "rules.heel-seen-tight.off",
        "found better or not at all",
    ),
    "a bad word of the eye called the foot's own way": (
        {"heel_fit": '[quantities.width_by_eye.own_way]\ntight = [{work = ["draught"]}]\n'},
        "heel_fit.toml",
        "quantities.width_by_eye.own_way",
        "this key stays",
    ),
}


@pytest.mark.parametrize("what", WEAKENED)
def test_a_weakened_safeguard_is_refused_with_its_file_and_key(what: str, yard: Yard) -> None:
    files, file, key, says = WEAKENED[what]
    error = refused(yard(**files))
    assert (error.file, error.key) == (file, key), str(error)
    assert says in f"{error.problem}. {error.remedy}", str(error)


# The first rulebook suspects a close nail by a critical joined rule, and asks for the heat that critical rules look at.

OVER_FIRST = IDENTITY.replace('"2"', '"1"')
REFUSED_OVER_FIRST: dict[str, tuple[dict[str, str], str, str, str]] = {
    "a critical joined rule off": (
        {"joined": off("close-nail-suspected", section="joined")},
        "joined.toml",
        "joined.close-nail-suspected.off",
        "a critical rule is never switched off",
    ),
    "a rule off that a critical one rests on": (
        {"nails": off("nail-high")},
        "nails.toml",
        "rules.nail-high.off",
        "'close-nail-suspected' rests on it",
    ),
    "a critical joined rule that rests on more": (
        {
            "joined": f"[joined.close-nail-suspected]\n{OURS}"
            '[[joined.close-nail-suspected.when]]\nfindings = ["nail-high"]\n'
            '[[joined.close-nail-suspected.when]]\nfindings = ["nail-soft"]\n'
        },
        "joined.toml",
        "joined.close-nail-suspected.when",
        "where a critical rule fires stays",
    ),
    "the scorch dropped where the shoe was hot": (
        {"book": f"{OVER_FIRST}[required]\nfinished_when_hot_fitted = []\n"},
        "book.toml",
        "required.finished_when_hot_fitted",
        "critical rules look at contact_time",
    ),
}


@pytest.mark.parametrize("what", REFUSED_OVER_FIRST)
def test_what_stops_in_the_first_rulebook_goes_on_stopping(
    what: str, yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As if the first rulebook were the one that yards inherit."""
    tables = tables_of(read_texts(ROOT / "rules" / "first_book"))
    monkeypatch.setattr("rules.loading.loader.shipped_rulebook", first_rulebook)
    monkeypatch.setattr("rules.loading.loader._shipped_tables", lambda: tables)
    files, file, key, says = REFUSED_OVER_FIRST[what]
    own = {"book": OVER_FIRST, **files}
    error = refused(yard(own.pop("book"), **own))
    assert (error.file, error.key) == (file, key), str(error)
    assert says in f"{error.problem}. {error.remedy}", str(error)
