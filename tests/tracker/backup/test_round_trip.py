"""What was backed up is there again, and the work goes on. Common practice, no source."""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
from datetime import date, datetime
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import DatabaseError, connection

import tracker
from tests.factories.accounts import PASSWORD
from tests.factories.compliance import entry
from tests.tracker.backup.conftest import PHOTO, SCAN, Place, everything
from tracker.accounts.access import Viewer
from tracker.backup.manifest import HEADS, read_manifest
from tracker.backup.restoring import restore
from tracker.backup.writing import back_up
from tracker.compliance import changes
from tracker.compliance.ledger import breaks, written_heads
from tracker.compliance.models import Record
from tracker.fleet.models import Engine
from tracker.watch.models import Message

pytestmark = [pytest.mark.both, pytest.mark.django_db(transaction=True)]


def test_everything_is_there_again_and_work_goes_on(
    kept: list[Engine],
    technician: Viewer,
    elsewhere: Place,
    now: datetime,
    tmp_path: Path,
) -> None:
    before, heads = everything(), written_heads(now)
    folder = tmp_path / "backup"
    back_up(folder, at=now)
    assert (folder / HEADS).read_text() == heads
    with elsewhere.served():
        found = restore(folder)
        assert (found.records, found.heads, found.migrated) == (6, 2, 0)
        assert everything() == before
        assert written_heads(now) == heads
        done = entry(date(2026, 11, 21), hours=51_000, attachments=(PHOTO,))
        engine = Engine.objects.get(pk=kept[0].pk)
        [record] = changes.sign_work(
            technician, {engine: [done]}, password=PASSWORD, at=now
        )
        assert record.sequence == 4
        assert list(breaks(Record.objects.all())) == []
        with pytest.raises(DatabaseError, match="only added"):
            Record.objects.update(description="Nothing was done.")
    assert everything() == before


def test_what_waited_to_be_sent_is_held_back(
    kept: list[Engine], elsewhere: Place, now: datetime, tmp_path: Path
) -> None:
    back_up(tmp_path / "backup", at=now)
    with elsewhere.served():
        assert restore(tmp_path / "backup").held == 3
        states = dict(Message.objects.values_list("dedupe_key", "state"))
        assert {key: state for key, state in states.items() if key != state} == {
            "waiting": "held",
            "sending": "held",
            "unsure": "held",
        }
        message = Message.objects.get(dedupe_key="unsure")
        assert "backup of 2026-11-24 09:30 UTC" in message.reason
    assert Message.objects.get(dedupe_key="unsure").state == "unsure"


def test_the_manifest_says_what_there_is(
    kept: list[Engine], now: datetime, tmp_path: Path
) -> None:
    written = back_up(tmp_path / "backup", at=now)
    manifest = read_manifest(tmp_path / "backup")
    assert manifest == written
    assert manifest.rows["compliance_record"] == 6
    assert manifest.versions["service"] == tracker.__version__
    assert "compliance.0001_initial" in manifest.migrations
    assert (manifest.made_at, manifest.database) == (now, connection.vendor)
    stored = {file.sha256 for file in manifest.files if "/" in file.name}
    assert {PHOTO.sha256, SCAN.sha256} < stored
    assert len(stored) == 3


def test_a_file_that_was_lost_is_named_and_the_rest_is_kept(
    kept: list[Engine],
    data: Path,
    elsewhere: Place,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    [photo] = data.rglob("*.jpg")
    photo.write_bytes(b"another photo")
    with pytest.raises(SystemExit) as left:
        call_command("backup", str(tmp_path / "backup"))
    assert left.value.code == 2
    assert f"{photo.name}: was lost or changed" in capsys.readouterr().out
    with elsewhere.served():
        call_command("restore", str(tmp_path / "backup"))
    assert f"{photo.name}: was lost before" in capsys.readouterr().out


def test_the_commands_do_it_between_two_installations(
    kept: list[Engine], data: Path, elsewhere: Place, tmp_path: Path
) -> None:
    def run(name: str, database: str, folder: Path) -> str:
        told = {"TRACKER_DATABASE_URL": url(database), "TRACKER_DATA_DIR": str(folder)}
        ran = subprocess.run(  # noqa: S603  # our own command
            [sys.executable, "manage.py", name, str(tmp_path / "backup")],
            env={**os.environ, **told},
            cwd=settings.BASE_DIR,
            capture_output=True,
            text=True,
        )
        assert ran.returncode == 0, ran.stderr
        return ran.stdout

    assert "Backup written" in run(
        "backup", str(connection.settings_dict["NAME"]), data
    )
    said = run("restore", elsewhere.database, elsewhere.folder)
    assert "6 records in 2 chains: every chain is whole" in said
    with elsewhere.served():
        assert Record.objects.count() == 6


def url(database: str) -> str:
    if connection.vendor == "sqlite":
        return f"sqlite:///{database}"
    real = urlsplit(os.environ["TRACKER_DATABASE_URL"])
    return real._replace(path=f"/{database}").geturl()


def test_the_version_is_that_of_the_project() -> None:
    project = tomllib.loads((settings.BASE_DIR / "pyproject.toml").read_text())
    assert project["project"]["version"] == tracker.__version__
