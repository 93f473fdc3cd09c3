"""How the service is run: read from settings, written to settings, and refused where it makes no sense."""

from __future__ import annotations

import pytest

from fitcheck.settings import BadSetting, ServiceSettings, is_this_machine


@pytest.mark.parametrize(
    "operation",
    [
        ServiceSettings(),
        ServiceSettings(keys_required=True),
        ServiceSettings(rate=0.0),
        ServiceSettings(rate=0.25, burst=1),
        ServiceSettings(behind_tls=True),
        ServiceSettings(rank_eyes=True),
    ],
)
def test_what_is_written_as_settings_is_read_back_as_the_same(operation: ServiceSettings) -> None:
    assert ServiceSettings.from_settings(operation.as_settings()) == operation


def test_what_is_not_set_stays_as_it_is() -> None:
    assert (
        ServiceSettings.from_settings({}) == ServiceSettings.from_settings({"FITCHECK_RATE": ""}) == ServiceSettings()
    )


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("FITCHECK_KEYS", "no"),
        ("FITCHECK_KEYS", "Required"),
        ("FITCHECK_BEHIND_TLS", "true"),
        ("FITCHECK_RANK_EYES", "on"),
        ("FITCHECK_RATE", "fast"),
        ("FITCHECK_RATE", "-1"),
        ("FITCHECK_RATE", "nan"),
        ("FITCHECK_RATE", "inf"),
        ("FITCHECK_BURST", "0"),
        ("FITCHECK_BURST", "0.5"),
    ],
)
def test_a_setting_that_makes_no_sense_is_refused_by_name_and_value(name: str, value: str) -> None:
    with pytest.raises(BadSetting, match=f"^{name}='{value}': write "):
        ServiceSettings.from_settings({name: value})


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST", "127.0.0.1", "127.255.255.254", "::1"])
def test_names_and_addresses_of_the_machine_itself(host: str) -> None:
    """RFC 5735 (127.0.0.0/8), RFC 4291 (::1), RFC 6761, 6.3 (localhost)."""
    assert is_this_machine(host)


@pytest.mark.parametrize(
    "host",
    ["", ".".join("0000"), "::", "::ffff:192.0.2.1", "192.0.2.1", "128.0.0.1", "localhost.test", "127.1", "2130706433"],
)
def test_names_and_addresses_that_may_be_another_machine(host: str) -> None:
    assert not is_this_machine(host)
