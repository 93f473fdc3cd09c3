"""Where the service may send something of its own accord: looked up first, and then connected to just there.

A name is resolved once for each delivery, every address that it has must be allowed, and the connection goes to one of
these, so that no second look-up leads elsewhere. Nothing is redirected, and no proxy of the environment is asked.
"""

from __future__ import annotations

import asyncio
import ipaddress
import socket
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlsplit

import httpx

from fitcheck.errors import FitcheckError

__all__ = ["RefusedTarget", "Resolved", "Targets", "post"]

_Address = ipaddress.IPv4Address | ipaddress.IPv6Address
_Network = ipaddress.IPv4Network | ipaddress.IPv6Network
_PORTS: Final = {"https": 443, "http": 80}
_LONGEST: Final = 2000
_TRANSLATED: Final = ipaddress.IPv6Network("64:ff9b::/96")
"""IPv6 addresses that stand for those of IPv4 (RFC 6052)."""


class RefusedTarget(FitcheckError):
    """An address to which nothing is sent; the text says why and what is allowed."""


@dataclass(frozen=True, slots=True)
class Resolved:
    """A target with the address that it is at."""

    url: httpx.URL
    address: str
    host: str
    """What the header Host says, and the certificate is for."""


class Targets:
    """What is allowed: public addresses over TLS, and those in ``networks`` also without."""

    def __init__(self, networks: Sequence[str]) -> None:
        self._networks: tuple[_Network, ...] = tuple(ipaddress.ip_network(each) for each in networks)

    async def resolved(self, text: str) -> Resolved:
        """Where the target ``text`` is. Raises RefusedTarget."""
        url = _read(text)
        port = url.port or _PORTS[url.scheme]
        try:
            found = await asyncio.get_running_loop().getaddrinfo(url.host, port, type=socket.SOCK_STREAM)
        except (OSError, UnicodeError):
            raise RefusedTarget(f"There is no host {url.host}.") from None
        addresses = [_plain(ipaddress.ip_address(str(each[4][0]).partition("%")[0])) for each in found]
        for address in addresses:
            own = any(address in network for network in self._networks)
            if not own and not _is_public(address):
                raise RefusedTarget(
                    f"{url.host} is at an address that is not public. Those who run the service may allow its network."
                )
            if not own and url.scheme != "https":
                raise RefusedTarget("Only https is sent to, outside networks that those who run the service allow.")
        if not addresses:
            raise RefusedTarget(f"There is no host {url.host}.")
        return Resolved(url, str(addresses[0]), url.host)


def _read(text: str) -> httpx.URL:
    try:
        url, parts = httpx.URL(text), urlsplit(text)
        wrong = parts.username is not None or parts.password is not None or parts.port == 0
    except (httpx.InvalidURL, ValueError):
        raise RefusedTarget("This is no address. Write one such as https://yard.example/fitcheck.") from None
    if url.scheme not in _PORTS or not url.host or wrong or url.fragment or len(text) > _LONGEST or not text.isascii():
        raise RefusedTarget(
            "Write an https address in ASCII of at most 2,000 characters, without a user's name and without #."
        )
    return url


def _plain(address: _Address) -> _Address:
    """The address of IPv4 that one of IPv6 stands for, else itself."""
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped is not None:
            return address.ipv4_mapped
        if address in _TRANSLATED:
            return ipaddress.IPv4Address(int(address) & 0xFFFF_FFFF)
        if address.sixtofour is not None:
            return address.sixtofour
    return address


def _is_public(address: _Address) -> bool:
    return address.is_global and not address.is_multicast and not address.is_reserved


async def post(client: httpx.AsyncClient, target: Resolved, body: bytes, headers: dict[str, str]) -> int:
    """Send ``body`` to ``target``; the status of the answer, whose body is not read. Raises httpx.HTTPError."""
    url = target.url.copy_with(host=target.address)
    port = "" if target.url.port is None else f":{target.url.port}"
    host = f"[{target.host}]" if ":" in target.host else target.host
    request = client.build_request(
        "POST",
        url,
        content=body,
        headers=headers | {"host": f"{host}{port}"},
        extensions={"sni_hostname": target.host},
    )
    response = await client.send(request, stream=True)
    try:
        return response.status_code
    finally:
        await response.aclose()
