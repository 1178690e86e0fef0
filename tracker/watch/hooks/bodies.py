"""What a webhook is told of an event, as JSON of a known version."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any, Final

from django.conf import settings
from django.urls import reverse

from notices.rules.facts import Hours
from notices.rules.forms import HoursForm
from tracker.compliance.models import Event, EventKind
from tracker.fleet.models import Engine

VERSION: Final = 1
TEST: Final = "test"
_HOURS: Final = HoursForm()


def body_of(event: Event) -> str:
    """Return the body of an event with its engine and type. Nothing of an owner."""
    said: Mapping[str, Any] = event.said
    is_reading = event.kind == EventKind.READING
    return _written(
        {
            "v": VERSION,
            "id": str(event.public_id),
            "kind": event.kind,
            "happened_on": event.happened_on.isoformat(),
            "noted_at": event.noted_at.isoformat(),
            "mandatory": event.mandatory,
            "engine": _engine(event.engine),
            "document": _document(said),
            "state": said.get("word") or None,
            "due": None if is_reading else _due(said),
            "last_reading_on": said.get("on") if is_reading else None,
            "part": said.get("part") or None,
            "reasons": said.get("reasons", []),
            "missing": said.get("missing", []),
        }
    )


def body_of_test(public_id: str, *, at: datetime) -> str:
    """Return the body of an event that is about no engine, to try a receiver with."""
    return _written(
        {"v": VERSION, "id": public_id, "kind": TEST, "noted_at": at.isoformat()}
    )


def _written(body: Mapping[str, object]) -> str:
    return json.dumps(body, ensure_ascii=False, separators=(",", ":"))


def _engine(engine: Engine) -> dict[str, object]:
    path = reverse("web:engine", args=[engine.public_id])
    return {
        "id": str(engine.public_id),
        "type": engine.engine_type.designation,
        "serial": engine.serial,
        "registration": engine.registration or None,
        "page": f"{settings.BASE_URL}{path}",
    }


def _document(said: Mapping[str, Any]) -> dict[str, object] | None:
    if not said.get("publication"):
        return None
    return {
        "id": said["publication"],
        "kind": said["kind"],
        "number": said["number"],
        "revision": said["revision"],
        "title": said["title"],
    }


def _due(said: Mapping[str, Any]) -> dict[str, object] | None:
    """Hours since new, a day, or at an event; None where no point is known."""
    hours = said.get("hours")
    due = {
        "hours": None if hours is None else _HOURS.write(Hours(hours)),
        "on": said.get("on"),
        "at": said.get("events", []),
    }
    return due if any(value not in (None, []) for value in due.values()) else None
