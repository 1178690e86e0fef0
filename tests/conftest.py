"""Few fixtures: a station, its people, and a signed-in client for each role."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from datetime import UTC, datetime

import hypothesis
import pytest
from django.conf import settings
from django.core.cache import cache
from django.test import Client, TransactionTestCase

from tests.factories.accounts import MembershipFactory, StationFactory
from tests.factories.compliance import ledger_unprotected
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role, Station


def pytest_configure() -> None:
    """Passwords are hashed cheaply in tests; the real hasher is slow on purpose.

    No example of a property has a deadline: on a busy machine any one can be slow. A
    property that does not say how many it needs gets fewer of them where somebody waits.
    """
    examples = 100 if os.environ.get("CI") else 30
    hypothesis.settings.register_profile(
        "tracker", deadline=None, max_examples=examples
    )
    hypothesis.settings.load_profile("tracker")
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


def pytest_collection_modifyitems(
    config: pytest.Config, items: list[pytest.Item]
) -> None:
    """Tests of one database are left out on the other, not skipped."""
    url = os.environ.get("TRACKER_DATABASE_URL", "sqlite")
    other = "sqlite_only" if url.startswith("postgres") else "postgresql_only"
    kept = [item for item in items if other not in item.keywords]
    left_out = [item for item in items if other in item.keywords]
    config.hook.pytest_deselected(items=left_out)
    items[:] = kept


def pytest_sessionfinish(session: pytest.Session) -> None:
    """In CI nothing may be skipped."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if os.environ.get("CI") and reporter and reporter.stats.get("skipped"):
        session.exitstatus = 1


@pytest.fixture(autouse=True)
def _empty_cache() -> Iterator[None]:
    """Sign-in limits live in the cache and would leak from test to test."""
    cache.clear()
    yield
    cache.clear()


@pytest.fixture(autouse=True, scope="session")
def _flush_past_the_ledger() -> Iterator[None]:
    """Transactional tests empty every table afterwards, which the ledger refuses."""
    flush = TransactionTestCase._fixture_teardown  # type: ignore[attr-defined]  # not in the stubs

    def flush_all(case: TransactionTestCase) -> None:
        with ledger_unprotected():
            flush(case)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", flush_all)
        yield


@pytest.fixture
def station(db: None) -> Station:
    return StationFactory()


@pytest.fixture
def other_station(db: None) -> Station:
    return StationFactory()


@pytest.fixture
def viewer_as(station: Station) -> Callable[..., Viewer]:
    """Return a viewer of a role, in the station unless another is named."""

    def make(role: Role, at: Station | None = None) -> Viewer:
        member = MembershipFactory(role=role, station=at or station)
        return Viewer(user=member.user, station=member.station, role=role)

    return make


@pytest.fixture
def administrator(viewer_as: Callable[..., Viewer]) -> Viewer:
    return viewer_as(Role.ADMINISTRATOR)


@pytest.fixture
def technician(viewer_as: Callable[..., Viewer]) -> Viewer:
    return viewer_as(Role.TECHNICIAN)


@pytest.fixture
def inspector(viewer_as: Callable[..., Viewer]) -> Viewer:
    return viewer_as(Role.INSPECTOR)


@pytest.fixture
def stranger(viewer_as: Callable[..., Viewer], other_station: Station) -> Viewer:
    """An administrator of another station."""
    return viewer_as(Role.ADMINISTRATOR, at=other_station)


@pytest.fixture
def signed_in() -> Callable[[Viewer], Client]:
    def make(viewer: Viewer) -> Client:
        client = Client()
        client.force_login(viewer.user)
        return client

    return make


@pytest.fixture
def now() -> datetime:
    return datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
