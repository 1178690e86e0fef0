"""The bytes of a mail: always the same, and nothing in them but what was written.

Headers: RFC 5322, RFC 2047, RFC 3834, RFC 8058; bodies: RFC 2046.
"""

from __future__ import annotations

import email
import email.policy
from collections.abc import Callable
from datetime import UTC, datetime
from email.message import EmailMessage
from typing import Any, cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracker.watch.delivery.mails import ascii_address, mail_of, sender_of
from tracker.watch.models import Message
from tracker.watch.outbox import one_line

WRITTEN = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
HEADERS = {
    "From",
    "To",
    "Subject",
    "Date",
    "Message-ID",
    "Auto-Submitted",
    "MIME-Version",
    "Content-Type",
}


def message(**told: Any) -> Message:
    columns: dict[str, Any] = {
        "address": "l.marrow@post.example",
        "subject": "Overdue: fuel pump of 4321",
        "text": "Text\n",
        "html": "<p>Text</p>",
        "message_id": "<5f0c3c4e-7b43-4f0e-9f9a-6f1a1d3b7a55@tracker.example>",
        "created_at": WRITTEN,
        "headers": {},
    }
    return Message(**(columns | told))


def read(content: bytes) -> EmailMessage:
    read = email.message_from_bytes(content, policy=email.policy.default)
    return cast(EmailMessage, read)


def words(content: bytes, kind: str) -> str:
    part = read(content).get_body((kind,))
    assert part is not None
    return str(part.get_content()).replace("\r\n", "\n")


def test_a_mail_says_what_was_written() -> None:
    mail = read(mail_of(message(headers={"References": "<engine@tracker.example>"})))
    assert mail["From"] == "tracker@localhost"
    assert mail["To"] == "l.marrow@post.example"
    assert mail["Subject"] == "Overdue: fuel pump of 4321"
    assert mail["Date"] == "Tue, 24 Nov 2026 09:30:00 +0000"
    assert mail["Message-ID"].startswith("<5f0c3c4e-")
    assert mail["References"] == "<engine@tracker.example>"
    assert mail["Auto-Submitted"] == "auto-generated"
    assert mail.get_content_type() == "multipart/alternative"
    assert words(mail_of(message()), "plain") == "Text\n"
    assert words(mail_of(message()), "html") == "<p>Text</p>\n"


def test_the_bytes_are_the_same_at_every_try() -> None:
    first = mail_of(message(text="Öl\n" * 400))
    assert mail_of(message(text="Öl\n" * 400)) == first
    assert mail_of(message(text="Öl\n" * 400, message_id="<other@x.example>")) != first


def test_a_mail_is_seven_bits_in_lines_that_every_server_takes() -> None:
    content = mail_of(message(subject="Öl " * 50, text="ä" * 3000, html="x" * 3000))
    content.decode("ascii")
    assert max(len(line) for line in content.split(b"\r\n")) <= 998
    assert b"\n" not in content.replace(b"\r\n", b"")


def test_a_long_address_in_a_header_stays_readable() -> None:
    """Encoded as words (RFC 2047), no mail program would find it."""
    link = f"<https://tracker.example/unsubscribe/{'a' * 300}>"
    headers = {
        "List-Unsubscribe": link,
        "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
    }
    content = mail_of(message(headers=headers))
    assert f"\r\nList-Unsubscribe: {link}\r\n".encode() in content


def test_a_mail_without_html_is_text_alone() -> None:
    assert read(mail_of(message(html=""))).get_content_type() == "text/plain"


def test_headers_of_a_row_replace_none_of_ours_but_the_sender() -> None:
    headers = {
        "From": "Tarnfield <post@tarnfield.example>",
        "to": "somebody.else@post.example",
        "Date": "never",
    }
    one = message(headers=headers)
    mail = read(mail_of(one))
    assert mail.get_all("To") == ["l.marrow@post.example"]
    assert mail.get_all("From") == ["Tarnfield <post@tarnfield.example>"]
    assert mail.get_all("Date") == ["Tue, 24 Nov 2026 09:30:00 +0000"]
    assert sender_of(one) == "post@tarnfield.example"


@pytest.mark.parametrize(
    ("entered", "sent"),
    [
        ("a@post.example", "a@post.example"),
        ("a@bücher.example", "a@xn--bcher-kva.example"),
        ("a b@post.example", '"a b"@post.example'),
    ],
)
def test_an_address_is_written_as_every_server_knows_it(
    entered: str, sent: str
) -> None:
    """The domain: RFC 5891, whose example it is in part; the local part: RFC 5321."""
    assert ascii_address(entered) == sent


@pytest.mark.parametrize("entered", ["nobody", "ä@post.example", "a@..example"])
def test_what_is_no_address_is_refused(entered: str) -> None:
    with pytest.raises(ValueError):
        ascii_address(entered)


HOSTILE = st.one_of(
    st.text(),
    st.sampled_from(
        [
            "a\r\nBcc: x@evil.example",
            "a\n\nbody",
            "\x00",
            "=?utf-8?q?=0D=0ABcc=3A_x?=",
            "=??Q?=0A0=3A",
            "\u202eabc",
            "a\u2028b",
            "--=_boundary\r\nContent-Type: text/html",
            ".\r\n",
        ]
    ),
)


@given(subject=HOSTILE, text=HOSTILE, html=HOSTILE)
def test_no_text_makes_another_header_or_part(
    subject: str, text: str, html: str
) -> None:
    one = message(subject=one_line(subject)[:150], text=text, html=html)
    try:
        content = mail_of(one)
    except ValueError:
        return  # it is put aside: no mail can hold it
    mail = read(content)
    assert set(mail.keys()) <= HEADERS | {"Content-Transfer-Encoding"}
    assert len(mail.keys()) == len(set(mail.keys()))
    assert mail.get_all("To") == ["l.marrow@post.example"]
    kinds = [part.get_content_type() for part in mail.walk()]
    assert kinds in (
        ["multipart/alternative", "text/plain", "text/html"],
        ["text/plain"],
    )


def test_a_header_of_a_row_that_would_break_its_line_is_refused() -> None:
    hidden = message(headers={"X-Kind": "=?utf-8?q?=0D=0ABcc=3A_x?="})
    with pytest.raises(ValueError, match="X-Kind"):
        mail_of(hidden)


def test_the_fixture_for_mails_is_written_by_the_outbox(
    db: None, mail: Callable[..., Message]
) -> None:
    assert b"Digest 0" in mail_of(mail())
