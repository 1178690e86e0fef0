"""Which addresses events may be posted to: public hosts over TLS, and no others.

What is special about an address stands in the registries of special-purpose addresses
(RFC 6890 and its updates). Every address of a host has to be global, else none is used.
"""

from __future__ import annotations

import re
import socket
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network
from typing import Final
from urllib.parse import urlsplit

from django.conf import settings

Resolver = Callable[[str, int], Sequence[str]]
"""Returns every address of a host as text; raises OSError where there is none."""

LONGEST: Final = 500
PORT: Final = 443
_SIGNS: Final = re.compile(r"[A-Za-z0-9\-._~:/?%!$&'()*+,;=@]+")
_HOST: Final = re.compile(
    r"(?=.{1,253}\Z)(?:[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?\.)+"
    r"[a-z](?:[a-z0-9-]{0,61}[a-z0-9])?"
)
# Names that mean the machine itself or its own network: RFC 6761, 6762, 8375, 9476.
_LOCAL: Final = ("localhost", "local", "internal", "home.arpa", "alt", "test")
_PUBLIC_6: Final = ip_network("2000::/3")
# Global by the registries of some versions of Python, and yet no host of its own.
_NOT_PUBLIC: Final = tuple(
    map(
        ip_network,
        (
            "192.0.0.0/24",  # assignments of the IETF
            "168.63.129.16/32",  # answers for a cloud's own host
            "192.88.99.0/24",  # relays of 6to4, RFC 7526
            "2001::/23",  # Teredo and other assignments of the IETF
            "2001:db8::/32",
            "2002::/16",  # 6to4: holds an address of version 4
            "3fff::/20",
        ),
    )
)


class TargetRefused(ValueError):  # noqa: N818  # as `Refused`
    """An address that nothing is posted to; says why."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """Where to post. `is_allowed`: the installation names it, whatever its address."""

    host: str
    port: int
    path: str
    is_allowed: bool

    @property
    def authority(self) -> str:
        return self.host if self.port == PORT else f"{self.host}:{self.port}"

    @property
    def url(self) -> str:
        """The address as it is kept and signed: one spelling of each."""
        return f"https://{self.authority}{self.path}"


def target_of(url: str) -> Target:
    """Return the parts of an address that was entered. Resolves nothing.

    Raises TargetRefused. A host is a name with dots: no number in any spelling.
    """
    if len(url) > LONGEST:
        raise TargetRefused(f"The address has more than {LONGEST} characters.")
    if not _SIGNS.fullmatch(url):
        raise TargetRefused(
            "Write the address in plain ASCII, without spaces, brackets or a part "
            "after #; write other signs of a path as %20 and the like."
        )
    try:
        parts = urlsplit(url)
        port = PORT if parts.port is None else parts.port
    except ValueError:
        raise TargetRefused("The port is not understood.") from None
    if not url.startswith("https://"):
        raise TargetRefused("The address has to begin with https://.")
    if "@" in parts.netloc:
        raise TargetRefused("No name and password may stand in the address.")
    host = parts.hostname or ""
    is_allowed = f"{host}:{port}" in _allowed()
    if not is_allowed:
        _check_host(host)
        if port != PORT:
            raise TargetRefused(f"Only port {PORT} is posted to, not {port}.")
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    return Target(host=host, port=port, path=path, is_allowed=is_allowed)


def addresses_of(target: Target, resolve: Resolver) -> list[str]:
    """Resolve the host and return its addresses, every one of which may be used.

    Raises TargetRefused where one of them may not, OSError where there is none.
    """
    found = list(dict.fromkeys(resolve(target.host, target.port)))
    if not found:
        raise socket.gaierror(socket.EAI_NONAME, "no address")
    if not target.is_allowed and not all(map(is_public, found)):
        raise TargetRefused(
            "The host has an address that is not public. Nothing is posted to it."
        )
    return found


def is_public(text: str) -> bool:
    """Return whether it is the address of one host that anybody can reach."""
    try:
        address = ip_address(text)
    except ValueError:
        return False
    if isinstance(address, IPv6Address) and address not in _PUBLIC_6:
        return False  # mapped, translated, local: none of them lies in it
    return _is_unicast(address) and not any(
        address in network
        for network in _NOT_PUBLIC
        if network.version == address.version
    )


def resolved(host: str, port: int, *, seconds: float = 5) -> list[str]:
    """Ask the system for every address of a host. Gives up after so many seconds."""
    found: list[str] = []
    faults: list[OSError] = []

    def ask() -> None:
        try:
            rows = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
            found.extend(str(row[4][0]) for row in rows)
        except OSError as fault:
            faults.append(fault)

    # The system's call knows no limit of time; a thread that hangs ends with it.
    asking = threading.Thread(target=ask, daemon=True)
    asking.start()
    asking.join(seconds)
    if faults:
        raise faults[0]
    if asking.is_alive():
        raise TimeoutError("the host was not found in time")
    return found


def _check_host(host: str) -> None:
    if host.endswith("."):
        raise TargetRefused("Leave out the dot at the end of the host.")
    if not _HOST.fullmatch(host):
        raise TargetRefused(
            "Name the host as in systems.shop.example: not a number, not one word."
        )
    if any(host.endswith(f".{name}") for name in _LOCAL):
        raise TargetRefused("The host is one of a local network.")


def _is_unicast(address: IPv4Address | IPv6Address) -> bool:
    return address.is_global and not (address.is_multicast or address.is_reserved)


def _allowed() -> set[str]:
    """Host and port of what the installation allows although it is not public."""
    return {
        entry if ":" in entry else f"{entry}:{PORT}" for entry in settings.WEBHOOK_HOSTS
    }
