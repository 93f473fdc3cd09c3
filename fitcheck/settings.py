"""How the service is run: what its operator decides, and how server processes learn of it."""

from __future__ import annotations

import ipaddress
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from fitcheck.errors import FitcheckError

__all__ = ["BadSetting", "ServiceSettings", "is_this_machine"]

_KEYS: Final = "FITCHECK_KEYS"
_RATE: Final = "FITCHECK_RATE"
_BURST: Final = "FITCHECK_BURST"
_TLS: Final = "FITCHECK_BEHIND_TLS"
_NETWORKS: Final = "FITCHECK_WEBHOOK_NETWORKS"
_RANKED: Final = "FITCHECK_RANK_EYES"
_WHEN_MADE: Final = "when-made"
_REQUIRED: Final = "required"


class BadSetting(FitcheckError):
    """A setting that names no way to run the service."""


@dataclass(frozen=True, slots=True)
class ServiceSettings:
    """Choices of the operator of the service.

    >>> ServiceSettings.from_settings({"FITCHECK_KEYS": "required", "FITCHECK_RATE": "5"})
    ServiceSettings(keys_required=True, rate=5.0, burst=200, behind_tls=False, webhook_networks=(), rank_eyes=False)
    """

    keys_required: bool = False
    """Whether access keys are required even while none was made; once one was made they always are."""
    rate: float = 100.0
    """Requests a second that one key, or one client address without a key, may send over time; 0 sets no limit."""
    burst: int = 200
    """How many requests one key or address may send at once after a rest."""
    behind_tls: bool = False
    """Whether every client reaches the service over TLS, such as through a proxy that ends it."""
    webhook_networks: tuple[str, ...] = ()
    """Networks of one's own, such as 10.1.0.0/16, to which events may be sent besides public addresses, also without
    TLS."""
    rank_eyes: bool = False
    """Whether eyes side by side stand in the order of their errors, as a school may want it; else by ids."""

    @classmethod
    def from_settings(cls, settings: Mapping[str, str]) -> ServiceSettings:
        """The choices in environment ``settings``; what is not set stays as it is.

        Raises BadSetting, which names the setting, its value and what is allowed.
        """
        keys = settings.get(_KEYS) or _WHEN_MADE
        if keys not in {_WHEN_MADE, _REQUIRED}:
            raise BadSetting(f"{_KEYS}={keys!r}: write {_WHEN_MADE} or {_REQUIRED}.")
        return cls(
            keys_required=keys == _REQUIRED,
            rate=_amount(settings, _RATE, cls().rate, least=0.0),
            burst=math.floor(_amount(settings, _BURST, cls().burst, least=1.0)),
            behind_tls=_is_yes(settings, _TLS),
            webhook_networks=_networks(settings.get(_NETWORKS) or ""),
            rank_eyes=_is_yes(settings, _RANKED),
        )

    def as_settings(self) -> dict[str, str]:
        """The same choices as environment settings."""
        return {
            _KEYS: _REQUIRED if self.keys_required else _WHEN_MADE,
            _RATE: f"{self.rate!r}",
            _BURST: f"{self.burst}",
            _TLS: "yes" if self.behind_tls else "no",
            _NETWORKS: ",".join(self.webhook_networks),
            _RANKED: "yes" if self.rank_eyes else "no",
        }


def is_this_machine(host: str) -> bool:
    """Whether a host name or IP address always stands for the machine itself.

    >>> [is_this_machine(host) for host in ("localhost", "127.0.0.1", "::1", "0.0.0.0", "low-meadow.test")]
    [True, True, True, False, False]
    """
    if host.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _is_yes(settings: Mapping[str, str], name: str) -> bool:
    text = settings.get(name) or "no"
    if text not in {"yes", "no"}:
        raise BadSetting(f"{name}={text!r}: write yes or no.")
    return text == "yes"


def _networks(text: str) -> tuple[str, ...]:
    networks = tuple(part.strip() for part in text.split(",") if part.strip())
    for network in networks:
        try:
            ipaddress.ip_network(network)
        except ValueError:
            raise BadSetting(
                f"{_NETWORKS}={text!r}: write networks such as 10.1.0.0/16, with commas between."
            ) from None
    return networks


def _amount(settings: Mapping[str, str], name: str, default: float, least: float) -> float:
    text = settings.get(name) or str(default)
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not least <= value < math.inf:
        raise BadSetting(f"{name}={text!r}: write a number of requests, {least:g} or more.")
    return value
