"""Meters and readings: add, correct, change the meter; the axis of hours runs on."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from django.db.models import QuerySet

from tracker.accounts.models import User
from tracker.fleet.axis import ReadingRefused, check_fits
from tracker.fleet.entries import checked_day, checked_hours, checked_text
from tracker.fleet.errors import Refused
from tracker.fleet.models import Engine, Meter, MeterKind, Reading

__all__ = [
    "ReadingRefused",
    "add_reading",
    "change_meter",
    "correct_reading",
    "hours_read_on",
    "meter_on",
    "readings_of",
    "start_meter",
]


def start_meter(
    engine: Engine,
    *,
    kind: str,
    on: date,
    shown: int,
    at: datetime,
    by: User,
    hours: int | None = None,
    remark: str = "",
) -> Reading:
    """Record the first meter of an engine with its first reading, which is returned.

    `shown`: what the meter shows; `hours`: the engine's hours then, if they differ.
    """
    if Meter.objects.filter(engine=engine).exists():
        raise Refused(
            "kind",
            f"{engine} has a meter already. Add a reading, or record a change of meter.",
        )
    checked_hours("shown", shown)
    checked_hours("hours", hours)
    offset = 0 if hours is None else hours - shown
    meter = _write_meter(engine, kind, on, offset, "", at, by)
    return add_reading(
        engine, on=on, shown=shown, meter=meter, at=at, by=by, remark=remark
    )


def change_meter(
    engine: Engine,
    *,
    kind: str,
    on: date,
    shown: int,
    reason: str,
    at: datetime,
    by: User,
    old_shown: int | None = None,
) -> Reading:
    """Record that another meter counts from a day on; return its first reading.

    `old_shown`: the last that the old one showed. None: it cannot be read any more,
    and the axis goes on from the last reading.
    """
    said = checked_text(Meter, "reason", reason, required=True)
    last = Reading.objects.valid().filter(engine=engine).first()
    if last is None:
        raise Refused("kind", f"{engine} has no meter yet. Record its first reading.")
    if last.on > on:
        raise ReadingRefused(
            "on",
            f"The reading of {last.on} is later than the change of meter on {on}. "
            "Correct that reading first, or check the date of the change.",
        )
    if old_shown is not None:
        last = add_reading(engine, on=on, shown=old_shown, at=at, by=by, remark=said)
    checked_hours("shown", shown)
    meter = _write_meter(engine, kind, on, last.hours - shown, said, at, by)
    return add_reading(
        engine, on=on, shown=shown, meter=meter, at=at, by=by, remark=said
    )


def add_reading(
    engine: Engine,
    *,
    on: date,
    shown: int,
    at: datetime,
    by: User,
    meter: Meter | None = None,
    remark: str = "",
) -> Reading:
    """Add what the meter showed on a day; `meter`: the one in use that day if None.

    Raises ReadingRefused where it does not fit between its neighbours.
    """
    return _write_reading(
        engine, meter or meter_on(engine, on), on, shown, None, remark, at, by
    )


def correct_reading(
    wrong: Reading,
    *,
    shown: int,
    at: datetime,
    by: User,
    on: date | None = None,
    remark: str = "",
) -> Reading:
    """Add the right reading in place of a wrong one, which is kept and no longer counts.

    `on`: its day if that was wrong, too. The right one must fit between the others.
    """
    if Reading.objects.filter(corrects=wrong).exists():
        raise Refused(
            "corrects",
            f"The reading {wrong} is corrected already. Correct the later one.",
        )
    day = on or wrong.on
    meter = wrong.meter if day == wrong.on else meter_on(wrong.engine, day)
    return _write_reading(wrong.engine, meter, day, shown, wrong, remark, at, by)


def meter_on(engine: Engine, on: date) -> Meter:
    """Return the meter in use on a day; the first one for the time before it."""
    meters = list(Meter.objects.filter(engine=engine))
    if not meters:
        raise Refused("kind", f"{engine} has no meter yet. Say which kind is read.")
    return next((m for m in reversed(meters) if m.started_on <= on), meters[0])


def hours_read_on(engine: Engine, on: date) -> int | None:
    """Return the engine's hours if they were read on that very day."""
    reading = Reading.objects.valid().filter(engine=engine, on=on).first()
    return reading.hours if reading else None


def readings_of(
    engines: Iterable[Engine],
    *,
    on: date | None = None,
    known_at: datetime | None = None,
) -> dict[int, list[Reading]]:
    """Return the valid readings of engines by their key, oldest first. One query."""
    wanted = list(engines)
    found: dict[int, list[Reading]] = {engine.pk: [] for engine in wanted}
    for reading in _valid(wanted, on, known_at).select_related("meter"):
        found[reading.engine_id].append(reading)
    return found


def last_hours_of(
    engines: Iterable[Engine], *, on: date, known_at: datetime
) -> dict[int, int]:
    """Return the newest hours of engines by their key, none unread. One query."""
    rows = _valid(list(engines), on, known_at)
    return dict(rows.values_list("engine_id", "hours"))


def _valid(
    engines: list[Engine], on: date | None, known_at: datetime | None
) -> QuerySet[Reading]:
    """Return the valid readings, oldest first."""
    valid = (
        Reading.objects.valid()
        if known_at is None
        else Reading.objects.known_at(known_at)
    )
    if on is not None:
        valid = valid.filter(on__lte=on)
    return valid.filter(engine__in=engines).order_by("on", "hours", "pk")


def _write_meter(
    engine: Engine,
    kind: str,
    on: date,
    offset: int,
    reason: str,
    at: datetime,
    by: User,
) -> Meter:
    if kind not in MeterKind.values:
        raise Refused(
            "kind",
            f'"{kind}" is not a kind of meter. Write one of: '
            f"{', '.join(MeterKind.values)}.",
        )
    return Meter.objects.create(
        station=engine.station,
        engine=engine,
        kind=kind,
        started_on=checked_day(engine.station, "on", on, at),
        offset=offset,
        reason=reason,
        recorded_at=at,
        recorded_by=by,
    )


def _write_reading(
    engine: Engine,
    meter: Meter,
    on: date,
    shown: int,
    wrong: Reading | None,
    remark: str,
    at: datetime,
    by: User,
) -> Reading:
    checked_day(engine.station, "on", on, at)
    checked_hours("shown", shown)
    hours = shown + meter.offset
    check_fits(engine, on=on, hours=hours, field="shown", without=wrong)
    reading = Reading.objects.create(
        station=engine.station,
        engine=engine,
        meter=meter,
        on=on,
        shown=shown,
        hours=hours,
        corrects=wrong,
        remark=checked_text(Reading, "remark", remark),
        recorded_at=at,
        recorded_by=by,
    )
    _project_hours(engine)
    return reading


def _project_hours(engine: Engine) -> None:
    newest = Reading.objects.valid().filter(engine=engine).first()
    assert newest is not None
    engine.hours_now, engine.read_on = newest.hours, newest.on
    Engine.objects.filter(pk=engine.pk).update(
        hours_now=newest.hours, read_on=newest.on
    )
