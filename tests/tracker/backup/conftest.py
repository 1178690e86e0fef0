"""A station with records and files, and an empty place that it can be restored into."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import DEFAULT_DB_ALIAS, connection, connections
from django.test import override_settings

from tests.factories.compliance import entry
from tests.factories.notices import RevisionFactory
from tests.tracker.compliance.conftest import make_engine
from tracker.accounts.access import Viewer
from tracker.backup import stores
from tracker.backup.kinds import KINDS
from tracker.compliance import changes
from tracker.compliance.ledger import Upload
from tracker.fleet.models import Engine
from tracker.watch.models import Channel, Message, MessageKind, MessageState

__all__ = ["make_engine"]
PHOTO = Upload("crank.jpg", b"\xff\xd8\xff\xe0photo\xff\xd9")
SCAN = Upload("page 7.pdf", b"%PDF-1.4 page\n%%EOF\n")
BULLETIN = b"%PDF-1.4 bulletin\n%%EOF\n"


@dataclass(frozen=True)
class Place:
    """A database and a data folder; nothing is in them at first."""

    database: str
    folder: Path

    @contextmanager
    def served(self) -> Iterator[None]:
        """Inside, it is what the service works on."""
        folders = {
            "DOCUMENT_DIR": self.folder / "documents",
            "ATTACHMENT_DIR": self.folder / "attachments",
        }
        usual = connections[DEFAULT_DB_ALIAS]
        other = usual.copy()
        other.settings_dict["NAME"] = self.database
        connections[DEFAULT_DB_ALIAS] = other
        try:
            with override_settings(**folders):
                yield
        finally:
            other.close()
            connections[DEFAULT_DB_ALIAS] = usual

    def is_empty(self) -> bool:
        """Whether nothing is in it, no draft either."""
        with self.served():
            KINDS[connection.vendor].check_empty()
            stores.check_empty()
        return not [path for path in self.folder.rglob("*") if path.is_file()]


@pytest.fixture
def elsewhere(transactional_db: None, tmp_path: Path) -> Iterator[Place]:
    folder = tmp_path / "elsewhere"
    if connection.vendor == "sqlite":
        yield Place(str(folder / "tracker.sqlite3"), folder)
        return
    name = f"restored_{uuid4().hex[:12]}"
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE DATABASE {name} TEMPLATE template0")
    try:
        yield Place(name, folder)
    finally:
        with connection.cursor() as cursor:
            cursor.execute(f"DROP DATABASE {name} WITH (FORCE)")


@pytest.fixture
def data(settings: Any, tmp_path: Path) -> Path:
    """The data folder of the station."""
    settings.DOCUMENT_DIR = tmp_path / "data" / "documents"
    settings.ATTACHMENT_DIR = tmp_path / "data" / "attachments"
    return tmp_path / "data"


@pytest.fixture
def kept(
    transactional_db: None,
    data: Path,
    make_engine: Callable[..., Engine],
    technician: Viewer,
    inspector: Viewer,
    now: datetime,
) -> list[Engine]:
    """Two engines with three records each, files, a document, a message in each state."""
    engines = [make_engine(serial="4101"), make_engine(serial="4102")]
    for engine in engines:
        for day, files in ((18, ()), (19, (PHOTO, SCAN)), (20, (SCAN,))):
            done = entry(date(2026, 11, day), hours=51_000, attachments=files)
            changes.record_work(technician, engine, done, at=now)
    revision = RevisionFactory(publication__station=technician.station)
    changes.attach_document(inspector, revision, content=BULLETIN, name="b.pdf", at=now)
    for state in MessageState:
        Message.objects.create(
            station=technician.station,
            channel=Channel.MAIL,
            kind=MessageKind.DIGEST,
            dedupe_key=state,
            address="l.tamsin@post.example",
            subject="What is due",
            text="Nothing is due.",
            message_id=f"<{state}@tracker.example>",
            state=state,
            sent_at=now if state == MessageState.SENT else None,
            not_before=now,
            created_at=now,
        )
    return engines


def everything() -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table, but for what a restored message says of its state."""
    return {
        model._meta.label: sorted(
            model._default_manager.values_list(*_compared(model)), key=repr
        )
        for model in apps.get_models()
    }


def _compared(model: Any) -> list[str]:
    changed = {"state", "reason"} if model is Message else set()
    return [f.attname for f in model._meta.concrete_fields if f.name not in changed]
