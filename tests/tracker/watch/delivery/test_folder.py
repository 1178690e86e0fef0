"""Mail as files: of messages and of accounts; where it goes by the settings."""

from __future__ import annotations

import email
import email.policy
import stat
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.core.mail import EmailMultiAlternatives, get_connection

from tests.tracker.watch.delivery.conftest import end_leases
from tracker.environment import MAIL_CONSOLE, MAIL_FOLDER, Mail
from tracker.watch.delivery import Delivered, claiming
from tracker.watch.delivery.folder import Folder
from tracker.watch.delivery.mails import mail_of
from tracker.watch.delivery.smtp import Smtp
from tracker.watch.delivery.transports import transports_in_use
from tracker.watch.models import Channel, Message

Write = Callable[..., Message]
Send = Callable[..., Delivered]


@pytest.fixture
def folder(settings: Any, tmp_path: Path) -> Path:
    settings.MAIL = Mail(backend=MAIL_FOLDER)
    settings.MAIL_DIR = tmp_path / "mail"
    return tmp_path / "mail"


@pytest.mark.django_db
def test_each_message_is_a_file_of_its_own(
    folder: Path, mail: Write, send: Send
) -> None:
    written = {mail().message_id: mail_of(Message.objects.latest("pk")) for _ in "ab"}
    assert send().as_counts() == {"sent": 2}
    files = {file.stem: file for file in folder.iterdir()}
    assert set(files) == {key.strip("<>") for key in written}
    for key, content in written.items():
        file = files[key.strip("<>")]
        assert file.read_bytes() == content
        assert file.suffix == ".eml"
        assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


@pytest.mark.both
@pytest.mark.django_db
def test_who_can_be_asked_is_asked_before_a_message_goes_again(
    folder: Path, mail: Write, send: Send, now: Any
) -> None:
    """One sender died after the file was there, one before."""
    there, missing = mail(), mail()
    claimed = claiming.claim(Channel.MAIL, at=now, most=2, lease=claiming.LEASE)
    for message in claimed.messages:
        assert claiming.begin(message, claimed)
    Folder().send(there)
    before = next(folder.iterdir()).stat().st_ino
    end_leases()
    assert send().as_counts() == {"taken before": 1, "sent": 1}
    there.refresh_from_db()
    missing.refresh_from_db()
    assert (there.state, there.unsure) == ("sent", 1)
    assert there.sent_at is not None
    assert (missing.state, missing.unsure) == ("sent", 1)
    file = folder / f"{there.message_id.strip('<>')}.eml"
    assert file.stat().st_ino == before, "it was not written again"


def test_mails_of_accounts_lie_in_the_same_folder(folder: Path) -> None:
    one = EmailMultiAlternatives("Choose a password", "Text", to=["a@post.example"])
    one.attach_alternative("<p>Text</p>", "text/html")
    assert get_connection(MAIL_FOLDER).send_messages([one]) == 1
    [file] = folder.iterdir()
    mail = email.message_from_bytes(file.read_bytes(), policy=email.policy.default)
    assert mail["Subject"] == "Choose a password"
    assert file.stem == mail["Message-ID"].strip("<>")


@pytest.mark.django_db
def test_mail_can_be_printed(
    settings: Any, mail: Write, send: Send, capsys: pytest.CaptureFixture[str]
) -> None:
    settings.MAIL = Mail(backend=MAIL_CONSOLE)
    message = mail()
    assert send().as_counts() == {"sent": 1}
    assert message.message_id in capsys.readouterr().out


def test_a_server_that_is_named_is_used(settings: Any) -> None:
    settings.MAIL = Mail(backend="django.core.mail.backends.smtp.EmailBackend")
    assert isinstance(transports_in_use()[Channel.MAIL], Smtp)
