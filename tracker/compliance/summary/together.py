"""The statuses of several engines that belong together on a day: by owner, by aircraft.

Only engines that the viewer sees now are among them.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from notices.rules.designations import designation
from tracker.accounts.access import Viewer
from tracker.compliance.summary.status import StatusOfEngine, statuses_of
from tracker.fleet.models import Engine, Fitting, Owner, Ownership


def statuses_of_owner(
    viewer: Viewer, owner: Owner, *, on: date, known_at: datetime | None = None
) -> tuple[StatusOfEngine, ...]:
    """Return the engines that belonged to an owner on that day, by type and serial."""
    ever = Ownership.objects.filter(owner=owner).values("engine")
    found = statuses_of(_seen_by(viewer).filter(pk__in=ever), on=on, known_at=known_at)
    return tuple(status for status in found if status.owner == owner)


def statuses_beside(
    viewer: Viewer, engine: Engine, *, on: date, known_at: datetime | None = None
) -> tuple[StatusOfEngine, ...]:
    """Return the engines of the aircraft in which an engine was on that day, by position.

    The engine is alone where it was fitted in none, or in one without a registration.
    """
    engines = _seen_by(viewer).filter(pk__in=_ever_beside(engine))
    found = statuses_of(engines, on=on, known_at=known_at)
    [own] = (status for status in found if status.engine == engine)
    aircraft = _registration(own)
    beside = (
        status
        for status in found
        if status is own or (aircraft and _registration(status) == aircraft)
    )
    return tuple(sorted(beside, key=_position))


def _ever_beside(engine: Engine) -> set[int]:
    """Return the engines that were ever in an aircraft in which this one ever was."""
    rows = Fitting.objects.filter(station=engine.station_id, fitted=True)
    pairs = set(rows.exclude(registration="").values_list("engine", "registration"))
    own = {designation(name) for key, name in pairs if key == engine.pk}
    return {engine.pk} | {key for key, name in pairs if designation(name) in own}


def _seen_by(viewer: Viewer) -> Any:
    return Engine.objects.visible_to(viewer).for_list().select_related("station")


def _registration(status: StatusOfEngine) -> str:
    fitting = status.fitting
    return designation(fitting.registration) if fitting and fitting.fitted else ""


def _position(status: StatusOfEngine) -> str:
    return status.fitting.position if status.fitting else ""
