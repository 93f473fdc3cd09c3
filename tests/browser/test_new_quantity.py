"""A quantity that is new to the contract is asked by the page, with no place written for it."""

from __future__ import annotations

import sys
from pathlib import Path

import httpx
import pytest

from tests.support.new_quantity import HEADINGS, PATH, RULE, SAID, add, copied, run
from tests.support.phone import Phone
from tests.support.served import Served
from tests.support.tapping import begin, numbers


@pytest.mark.long
def test_a_new_quantity_is_asked_sent_and_its_finding_shown(tmp_path: Path) -> None:
    copy = copied(tmp_path / "house")
    add(copy)
    run(copy, ".ci/refresh", str(Path(sys.executable).parent))
    with (
        Served(copy, tmp_path, f"sqlite:///{tmp_path / 'records.sqlite3'}") as service,
        Phone(tmp_path / "profile", service.url) as phone,
    ):
        begin(phone.open("/?lang=en"))
        phone.tap("place-sole")
        [row] = phone.all(f".row[data-at='{PATH}']")
        assert HEADINGS["en"] in row.text
        phone.touch(row.find_element("css selector", "summary"))
        assert "Lay a straight edge across the bearing wall" in row.text
        numbers(phone, PATH, "0.5")
        phone.tap("panel-close")
        phone.tap("send")
        phone.until(lambda: phone.all("[data-decision]"), "the answer")
        [finding] = phone.all(f".finding[data-rule='{RULE}']")
        assert SAID["en"] in str(finding.get_attribute("textContent"))
        kept = httpx.get(f"{service.url}/v1/assessments/{phone.where.removeprefix('answer/')}").json()
        assert [each["rule"] for each in kept["findings"]] == [RULE]
        assert phone.complaints() == []
