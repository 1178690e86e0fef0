"""Mail by SMTP (RFC 5321): one recipient a mail, and each stage's answer told apart.

Whether a mail was taken hangs on the stage at which a session ended: before the last
byte it was not, after an answer it was or was not, and in between nobody can say.
"""

from __future__ import annotations

import smtplib
import socket
import ssl
import time
from contextlib import suppress
from typing import Final

from django.conf import settings
from django.core.mail.utils import DNS_NAME

from tracker.watch.delivery.answers import Answer, Outcome
from tracker.watch.delivery.mails import ascii_address, mail_of, sender_of
from tracker.watch.delivery.replies import at_recipient, in_one_line, in_words, of_data
from tracker.watch.models import Message

CONNECT_SECONDS: Final = 10
TAKEN_SECONDS: Final = 120
"""How long the answer after the last byte may take; a short wait makes repeats."""
SHUT: Final = 421


class Smtp:
    """Sessions with the configured server, one for as long as it holds."""

    def __init__(self) -> None:
        self._session: smtplib.SMTP | None = None
        self._last = time.monotonic()

    def send(self, message: Message) -> Answer:
        content = mail_of(message)
        sender, recipient = sender_of(message), ascii_address(message.address)
        self._keep_pace()
        try:
            session = self._opened(sender)
        except smtplib.SMTPResponseException as refused:
            self.close()
            words = in_one_line(refused.smtp_error)
            return Answer(Outcome.OURS, refused.smtp_code, words, reached=False)
        except OSError as fault:
            self.close()
            words = f"No session: {in_words(fault)}"
            return Answer(Outcome.OURS, None, words, reached=False)
        return self._transaction(session, recipient, content)

    def accepted(self, message: Message) -> bool | None:
        """SMTP has no such question."""
        return None

    def close(self) -> None:
        session, self._session = self._session, None
        if session is not None:
            with suppress(OSError):
                session.quit()
            session.close()

    def _opened(self, sender: str) -> smtplib.SMTP:
        """Return a session in which the sender was said and taken.

        A session held from the mail before may have ended since: then a new one is
        opened, once. Every fault of smtplib is an OSError.
        """
        if self._session is not None:
            with suppress(OSError):
                return _taken(self._session, *self._session.mail(sender))
            self._drop()
        self._session = _connected()
        return _taken(self._session, *self._session.mail(sender))

    def _transaction(
        self, session: smtplib.SMTP, recipient: str, content: bytes
    ) -> Answer:
        """Say the recipient and the data; every stage's answer has its own meaning."""
        is_said = False
        try:
            code, reply = session.rcpt(recipient)
            if code not in (250, 251):
                return self._refused(session, at_recipient(code, reply), code, reply)
            code, reply = session.docmd("DATA")
            if code != 354:
                return self._refused(session, of_data(code, reply), code, reply)
            session.send(_quoted(content))
            _patience(session, TAKEN_SECONDS)
            is_said = True
            session.send(b".\r\n")
            code, reply = session.getreply()
            _patience(session, settings.EMAIL_TIMEOUT)
        except OSError as fault:
            self._drop()
            outcome = Outcome.UNSURE if is_said else Outcome.OURS
            return Answer(outcome, None, f"The line broke: {in_words(fault)}")
        if code == 250:
            return Answer(Outcome.SENT, code, in_one_line(reply))
        return self._refused(session, of_data(code, reply), code, reply)

    def _refused(
        self, session: smtplib.SMTP, outcome: Outcome, code: int, reply: bytes
    ) -> Answer:
        """Keep the session for the next mail where the server still listens."""
        try:
            is_clear = code != SHUT and session.rset()[0] == 250
        except OSError:
            is_clear = False
        if not is_clear:
            self._drop()
        return Answer(outcome, code, in_one_line(reply))

    def _drop(self) -> None:
        """End a session that is of no use any more, without another word."""
        if self._session is not None:
            self._session.close()
        self._session = None

    def _keep_pace(self) -> None:
        """Wait for this process's turn where so many mails a second are allowed."""
        if settings.MAIL_RATE:
            turn = self._last + 1 / settings.MAIL_RATE
            time.sleep(max(0, turn - time.monotonic()))
        self._last = time.monotonic()


def _connected() -> smtplib.SMTP:
    """Open a session with the server, encrypted and signed in as configured."""
    context = ssl.create_default_context()
    session: smtplib.SMTP
    where = (settings.EMAIL_HOST, settings.EMAIL_PORT, DNS_NAME.get_fqdn())
    if settings.EMAIL_USE_SSL:
        session = smtplib.SMTP_SSL(*where, timeout=CONNECT_SECONDS, context=context)
    else:
        session = smtplib.SMTP(*where, timeout=CONNECT_SECONDS)
    try:
        assert session.sock is not None, "it was connected a moment ago"
        session.sock.settimeout(settings.EMAIL_TIMEOUT)
        # The end of the data is sent by itself and must not wait for what was before.
        session.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        if settings.EMAIL_USE_TLS:
            session.starttls(context=context)
        session.ehlo_or_helo_if_needed()
        if settings.EMAIL_HOST_USER:
            session.login(settings.EMAIL_HOST_USER, settings.EMAIL_HOST_PASSWORD)
    except BaseException:
        session.close()
        raise
    return session


def _taken(session: smtplib.SMTP, code: int, reply: bytes) -> smtplib.SMTP:
    """Return the session where it took the sender."""
    if code != 250:
        raise smtplib.SMTPResponseException(code, reply)
    return session


def _patience(session: smtplib.SMTP, seconds: float) -> None:
    if session.sock is not None:
        session.sock.settimeout(seconds)


def _quoted(content: bytes) -> bytes:
    """Return the lines as they go after DATA: a full stop at the start is doubled."""
    lines = content if content.endswith(b"\r\n") else content + b"\r\n"
    doubled = lines.replace(b"\r\n.", b"\r\n..")
    return b"." + doubled if doubled.startswith(b".") else doubled
