"""An owner with an engine, somebody who signs in for them, and the secret of a link."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from datetime import datetime

import pytest
import time_machine
from django.db import connection

from tests.factories.fleet import OwnerFactory
from tests.tracker.compliance.conftest import make_engine, make_provision
from tests.tracker.world import our_models
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role, Station
from tracker.fleet.models import Engine, Owner
from tracker.fleet.register import give_login
from tracker.watch.links import hours_url

__all__ = ["make_engine", "make_provision"]


@pytest.fixture
def clock(now: datetime) -> Iterator[time_machine.Traveller]:
    with time_machine.travel(now, tick=False) as travelling:
        yield travelling


@pytest.fixture
def owner(station: Station) -> Owner:
    return OwnerFactory(station=station, email="owner@post.example")


@pytest.fixture
def engine(make_engine: Callable[..., Engine], owner: Owner) -> Engine:
    """Read last at 520.0 h on 24 November 2026."""
    return make_engine(owner=owner)


@pytest.fixture
def as_owner(
    owner: Owner, viewer_as: Callable[..., Viewer], now: datetime
) -> Callable[[], Viewer]:
    """Return another person each time, who signs in for the owner."""

    def make() -> Viewer:
        viewer = viewer_as(Role.OWNER)
        give_login(owner, viewer.user, now)
        return viewer

    return make


@pytest.fixture
def address(engine: Engine, owner: Owner, now: datetime) -> str:
    """Where the link of a mail leads, without the host."""
    return path_of(hours_url(engine, owner, at=now))


def path_of(url: str) -> str:
    host = "http://127.0.0.1:8000"
    assert url.startswith(f"{host}/")
    return url.removeprefix(host)


def secret_in(path: str) -> str:
    return path.rstrip("/").rsplit("/", 1)[1].removesuffix(".ics")


def digest() -> str:
    """A digest of every row of every table of ours."""
    total = hashlib.sha256()
    with connection.cursor() as cursor:
        for model in our_models():
            table = connection.ops.quote_name(model._meta.db_table)
            cursor.execute(f"SELECT * FROM {table} ORDER BY 1")  # noqa: S608  # our own names
            total.update(repr(cursor.fetchall()).encode())
    return total.hexdigest()
