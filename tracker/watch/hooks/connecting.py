"""One POST over TLS to an address that was checked, with a limit on everything.

No proxy of the environment, no second look-up of the name, no redirect, and nothing of
the answer but its status: what follows is read to an end or to a limit and forgotten.
"""

from __future__ import annotations

import re
import socket
import ssl
import time
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from ipaddress import ip_address
from typing import Final

from tracker.watch.hooks.targets import Target

MOST_BYTES: Final = 64 * 1024
MOST_ADDRESSES: Final = 4
_STATUS: Final = re.compile(rb"HTTP/1\.[01] ([1-9][0-9]{2})(?: |\r|\n|\Z)")


class NoAnswer(Exception):  # noqa: N818  # a sentence of the house, not a fault
    """What came, if anything, is no answer of HTTP."""


@dataclass(frozen=True, slots=True)
class Deadline:
    """A moment by the clock that never jumps, and what is left until then."""

    moment: float

    @classmethod
    def after(cls, seconds: float) -> Deadline:
        return cls(time.monotonic() + seconds)

    @property
    def left(self) -> float:
        left = self.moment - time.monotonic()
        if left <= 0:
            raise TimeoutError("too slow")
        return left


def exchange(
    target: Target,
    addresses: Sequence[str],
    *,
    headers: Mapping[str, str],
    body: bytes,
    seconds: float = 5,
) -> int:
    """Send the body and return the status of the answer.

    To reach the host takes so many seconds at most, and so does each of: agreeing on
    TLS, sending and answering. Raises OSError (ssl.SSLError is one) and NoAnswer.
    """
    plain = _connected(addresses, target.port, Deadline.after(seconds))
    with plain, _encrypted(plain, target.host, seconds) as tls:
        tls.settimeout(seconds)
        tls.sendall(_request(target, headers, body))
        return _status(tls, Deadline.after(seconds))


def _connected(
    addresses: Sequence[str], port: int, deadline: Deadline
) -> socket.socket:
    """Connect to the first that answers; each gets its share of the time."""
    tried = addresses[:MOST_ADDRESSES]
    fault: OSError = OSError("no address")
    for place, address in enumerate(tried):
        is_6 = ip_address(address.partition("%")[0]).version == 6
        one = socket.socket(
            socket.AF_INET6 if is_6 else socket.AF_INET, socket.SOCK_STREAM
        )
        try:
            one.settimeout(deadline.left / (len(tried) - place))
            one.connect((address, port))
        except OSError as refused:
            one.close()
            fault = refused
        else:
            return one
    raise fault


def _encrypted(plain: socket.socket, host: str, seconds: float) -> ssl.SSLSocket:
    """Agree on TLS. The certificate has to be one for the name that was entered."""
    plain.settimeout(seconds)  # of the whole handshake, however many pieces it has
    return ssl.create_default_context().wrap_socket(plain, server_hostname=host)


def _request(target: Target, headers: Mapping[str, str], body: bytes) -> bytes:
    fields = {
        "Host": target.authority,
        "User-Agent": "engine-notice-and-overhaul-tracker",
        "Content-Length": str(len(body)),
        "Connection": "close",
        **headers,
    }
    lines = [f"{name}: {value}" for name, value in fields.items()]
    head = "\r\n".join([f"POST {target.path} HTTP/1.1", *lines, "", ""])
    return head.encode("ascii") + body


def _status(tls: ssl.SSLSocket, deadline: Deadline) -> int:
    """Return the status of the final answer; what is only said meanwhile is passed."""
    came, total = b"", 0
    while True:
        head, ends, rest = came.partition(b"\r\n\r\n")
        if ends and (code := _code(head)) >= 200:
            _drain(tls, MOST_BYTES - total, deadline)
            return code
        if ends:
            came = rest
            continue
        if total >= MOST_BYTES:
            raise NoAnswer("its headers do not end")
        tls.settimeout(deadline.left)
        more = tls.recv(4096)
        if not more:
            raise NoAnswer("the connection was closed before an answer")
        came, total = came + more, total + len(more)


def _code(head: bytes) -> int:
    match = _STATUS.match(head)
    if match is None:
        raise NoAnswer("it does not begin as an answer of HTTP does")
    return int(match[1])


def _drain(tls: ssl.SSLSocket, most: int, deadline: Deadline) -> None:
    """Let the other end finish, so that it sees no broken connection; not for long."""
    with suppress(OSError):
        while most > 0:
            tls.settimeout(deadline.left)
            more = tls.recv(4096)
            if not more:
                return
            most -= len(more)
