"""A mail server on a real socket that keeps what it takes, and answers as told."""

# ruff: noqa: N802 - the library looks for hooks by these names

from __future__ import annotations

import asyncio
import logging
import re
import socket
import ssl
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Final

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, Session

TAKEN: Final = "250 2.0.0 taken"
CUT: Final = "cut"
"""Instead of an answer: the line is cut. After the data, what came was taken."""
logging.getLogger("mail.log").setLevel(logging.WARNING)  # it writes every command
Answers = Callable[[str], str]


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as one:
        return int(one.getsockname()[1])


@dataclass(frozen=True)
class Taken:
    """One mail that was taken, in the envelope that it came in."""

    message_id: str
    sender: str
    recipients: tuple[str, ...]
    content: bytes


@dataclass
class Sink:
    """`at_mail`, `at_rcpt`, `at_data` give the answer for an address or a message id.

    `password`: who does not sign in with it is refused. `tls`: nothing is taken without
    STARTTLS. VRFY asks whether a message of
    an id was taken. `cuts`: how often it cut the line.
    """

    at_mail: Answers = lambda _: "250 OK"
    at_rcpt: Answers = lambda _: "250 OK"
    at_data: Answers = lambda _: TAKEN
    password: str = ""
    tls: ssl.SSLContext | None = None
    port: int = field(default_factory=free_port)
    taken: list[Taken] = field(default_factory=list)
    sessions: int = 0
    cuts: int = 0

    def __enter__(self) -> Sink:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()

    def start(self) -> None:
        told: dict[str, Any] = {"hostname": "127.0.0.1", "port": self.port}
        if self.tls:
            told |= {"tls_context": self.tls, "require_starttls": True}
        if self.password:
            told |= {
                "authenticator": self._authenticated,
                "auth_required": True,
                "auth_require_tls": False,
            }
        self._controller: Controller | None = Controller(self, **told)
        self._controller.start()

    def stop(self) -> None:
        if self._controller is not None:
            self._controller.stop()
        self._controller = None

    @property
    def copies(self) -> Counter[str]:
        """How often the mail of each id was taken."""
        return Counter(mail.message_id for mail in self.taken)

    async def handle_EHLO(
        self,
        server: SMTP,
        session: Session,
        envelope: Envelope,
        hostname: str,
        responses: list[str],
    ) -> list[str]:
        self.sessions += 1
        session.host_name = hostname
        return responses

    async def handle_MAIL(
        self,
        server: SMTP,
        session: Session,
        envelope: Envelope,
        address: str,
        options: list[str],
    ) -> str:
        answer = self.at_mail(address)
        if answer.startswith("250"):
            envelope.mail_from = address
        return self._answer(server, answer)

    async def handle_RCPT(
        self,
        server: SMTP,
        session: Session,
        envelope: Envelope,
        address: str,
        options: list[str],
    ) -> str:
        answer = self.at_rcpt(address)
        if answer.startswith("250"):
            envelope.rcpt_tos.append(address)
        return self._answer(server, answer)

    async def handle_DATA(
        self, server: SMTP, session: Session, envelope: Envelope
    ) -> str:
        content = bytes(envelope.original_content or b"")
        found = re.search(rb"(?im)^message-id: *(\S+)", content)
        key = found[1].decode() if found else ""
        answer = self.at_data(key)
        if answer == CUT or answer.startswith("250"):
            taken = Taken(
                key, envelope.mail_from or "", tuple(envelope.rcpt_tos), content
            )
            self.taken.append(taken)
        return self._answer(server, answer)

    async def handle_VRFY(
        self, server: SMTP, session: Session, envelope: Envelope, address: str
    ) -> str:
        was_taken = any(address in mail.message_id for mail in self.taken)
        return "250 taken" if was_taken else "550 not taken"

    def _answer(self, server: SMTP, answer: str) -> str:
        if answer != CUT:
            return answer
        self.cuts += 1
        assert server.transport is not None
        server.transport.abort()
        raise asyncio.CancelledError

    def _authenticated(
        self, server: SMTP, session: Session, envelope: Envelope, how: str, what: Any
    ) -> AuthResult:
        is_right = what.password == self.password.encode()
        return AuthResult(success=is_right, handled=False)
