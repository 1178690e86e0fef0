"""System checks: what settings cannot refuse by themselves, with a hint each."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.checks import CheckMessage, Error, register, run_checks
from django.core.exceptions import ImproperlyConfigured
from django.http.request import validate_host

from tracker.environment import MAIL_KEPT_HERE
from tracker.gate import discovered
from tracker.routes import METHODS

TAG = "tracker"


def refuse_faults() -> None:
    """Called where a server starts, which runs no checks by itself."""
    faults = [fault for fault in run_checks(tags=[TAG]) if fault.is_serious()]
    if faults:
        raise ImproperlyConfigured(
            " ".join(f"{f.id}: {f.msg} {f.hint}" for f in faults)
        )


@register(TAG)
def production(app_configs: object, **kwargs: Any) -> list[CheckMessage]:
    """Refuse a served installation that would lose or leak something."""
    if not settings.PRODUCTION:
        return []
    database = settings.DATABASES["default"]
    return [*database_faults(database), *_mail(), *_address()]


@register(TAG)
def routes(app_configs: object, **kwargs: Any) -> list[CheckMessage]:
    """Refuse a route that the table does not know, or knows otherwise."""
    found = {route.name: set(route.methods) for route in discovered()}
    names = sorted(
        name
        for name in found.keys() | METHODS.keys()
        if found.get(name) != set(METHODS.get(name, ()))
    )
    return [
        Error(
            f"The route {name} answers {_listed(found.get(name))}, but the table "
            f"declares {_listed(METHODS.get(name))}.",
            hint="Write a row for each route and method in tracker/routes.py.",
            id="tracker.E006",
        )
        for name in names
    ]


def database_faults(database: Mapping[str, object]) -> Iterator[CheckMessage]:
    """Give what is wrong with where the records of a served installation lie."""
    if database["ENGINE"] == "django.db.backends.sqlite3":
        folder = Path(str(database["NAME"])).resolve().parent
        if folder.is_relative_to(settings.BASE_DIR):
            yield Error(
                "The database file lies in the folder of the program.",
                hint="Name one elsewhere in TRACKER_DATABASE_URL or TRACKER_DATA_DIR: "
                "an upgrade replaces that folder.",
                id="tracker.E001",
            )
        elif not os.access(folder, os.W_OK):
            yield Error(
                "The folder of the database file is missing or cannot be written to.",
                hint="Make it, or name another in TRACKER_DATABASE_URL.",
                id="tracker.E002",
            )
    elif database["PASSWORD"] in {"", database["USER"], "postgres", "password"}:
        yield Error(
            "The database has no password, or one that anybody would try first.",
            hint="Write an own one into TRACKER_DATABASE_URL.",
            id="tracker.E005",
        )


def _mail() -> Iterator[CheckMessage]:
    if settings.EMAIL_BACKEND in MAIL_KEPT_HERE.values():
        yield Error(
            "Mail would be printed or kept, not sent, with links that let people in.",
            hint="Name a server in TRACKER_EMAIL_URL.",
            id="tracker.E003",
        )


def _address() -> Iterator[CheckMessage]:
    host = urlsplit(settings.BASE_URL).hostname or ""
    if not validate_host(host, settings.ALLOWED_HOSTS):
        yield Error(
            "Links in mail would lead to a host that is not answered.",
            hint="Name the host of TRACKER_BASE_URL in TRACKER_ALLOWED_HOSTS, too.",
            id="tracker.E004",
        )


def _listed(methods: object) -> str:
    return ", ".join(sorted(methods)) if isinstance(methods, set | list) else "nothing"
