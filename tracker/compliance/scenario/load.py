"""Load the scenario, once: a station that is there already is left as it is."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from zoneinfo import ZoneInfo

from tracker.accounts.models import Station
from tracker.compliance import changes
from tracker.compliance.models import Declined
from tracker.compliance.scenario import (
    files,
    fleet,
    fuel,
    history,
    ledger,
    library,
    people,
)
from tracker.compliance.scenario.stage import Stage, iso


class LoadedInPart(RuntimeError):  # noqa: N818 - said so in its sentence
    """An earlier load broke off; what it left cannot be completed."""


ACTS: tuple[Callable[[Stage], None], ...] = (
    fleet.enter_owners,
    fleet.enter_types,
    library.enter_publications,
    fleet.enter_engines,
    history.enter_histories,
    ledger.enter_answers,
    ledger.enter_records,
    ledger.void_mistakes,
    ledger.enter_alternatives,
    fuel.enter_fuel,
    ledger.enter_declined,
)
"""What is entered, in order."""


def load(now: datetime) -> Stage | None:
    """Return what was entered, None if the scenario is there already.

    Every act commits by itself, as it does for people. The library comes before the
    engines, so that each revision is confirmed while nothing has to be evaluated.
    Raises LoadedInPart where an earlier load did not come to its end.
    """
    zone = ZoneInfo(files.setting(now.date())["station"]["time_zone"])
    today = now.astimezone(zone).date()
    setting = files.setting(today)
    station = Station.objects.filter(name=setting["station"]["name"]).first()
    if station is not None:
        _check_is_whole(station, len(files.rows("declined", today)))
        return None
    founded = datetime.combine(iso(setting["since"]), now.timetz())
    stage = Stage(team=people.found(setting, founded), now=now, today=today)
    for enter in ACTS:
        enter(stage)
    changes.refresh_station(stage.team.station, today, at=now)
    return stage


def _check_is_whole(station: Station, declined: int) -> None:
    """The last thing entered is what was not adopted."""
    if Declined.objects.filter(station=station).count() < declined:
        raise LoadedInPart(
            f"{station} is there, but not all of it: an earlier load broke off. "
            "Begin with a new database."
        )
