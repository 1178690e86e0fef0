"""Overhauls, makers' rebuilds and named events added; what happened withdrawn."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, Final

from notices.rules.designations import plain_text
from tracker.accounts.models import User
from tracker.fleet.axis import check_fits
from tracker.fleet.entries import checked_day, checked_hours, checked_text, in_hours
from tracker.fleet.errors import Refused
from tracker.fleet.history import project_zero
from tracker.fleet.models import (
    Engine,
    FuelRecord,
    NamedEvent,
    Overhaul,
    Part,
    PartDescription,
)

Happened = Overhaul | NamedEvent | FuelRecord
"""What is withdrawn, with a reason, where it was entered by mistake."""

NO_TEST: Final = (
    "Only what was tested, too, may be described as overhauled (14 CFR 43.2(a)(2)). Say "
    "against what it was tested; or say that this is transcribed from a log which notes "
    "no test."
)


def add_overhaul(
    subject: Engine | Part,
    *,
    on: date,
    at: datetime,
    by: User,
    hours: int | None = None,
    part_hours: int | None = None,
    done_by: str = "",
    tested: str = "",
    transcribed: bool = False,
) -> Overhaul:
    """Record an overhaul. `hours`: on the axis of the engine, None where not known.

    `part_hours`: of a part, its own hours since new. `done_by`: "maker" or a name.
    `tested`: against what. What was not tested is no overhaul (14 CFR 43.2(a)(2)); a
    log that is `transcribed` may not say, and then the row does not either.
    """
    against = checked_text(Overhaul, "tested", tested)
    if not against and not transcribed:
        raise Refused("tested", NO_TEST)
    return _write_overhaul(
        subject, Overhaul.Kind.OVERHAUL, on, hours, part_hours, done_by, at, by, against
    )


def add_rebuild(
    engine: Engine, *, on: date, at: datetime, by: User, hours: int | None = None
) -> Overhaul:
    """Record a rebuild by the maker, from which the engine counts as new.

    Its hours go on along the axis and TSN counts from there (14 CFR 91.421(c)).
    """
    row = _write_overhaul(
        engine, Overhaul.Kind.REBUILD, on, hours, None, "maker", at, by
    )
    project_zero(engine)
    return row


def add_event(
    engine: Engine,
    name: str,
    *,
    on: date,
    at: datetime,
    by: User,
    hours: int | None = None,
    remark: str = "",
) -> NamedEvent:
    """Record something that a compliance time may hang on, such as an oil change."""
    named = plain_text(checked_text(NamedEvent, "name", name, required=True))
    if named == Overhaul.Kind.OVERHAUL:
        raise Refused("name", "Enter an overhaul as an overhaul, with who did it.")
    _check_day_and_hours(engine, on, hours, at)
    return NamedEvent.objects.create(
        station=engine.station,
        engine=engine,
        name=named,
        on=on,
        hours=hours,
        remark=checked_text(NamedEvent, "remark", remark),
        recorded_at=at,
        recorded_by=by,
    )


def withdraw(row: Happened, *, reason: str, at: datetime) -> None:
    """Mark an entry as made by mistake. It stays visible and no longer counts."""
    said = checked_text(type(row), "withdrawn_reason", reason, required=True)
    changed = (
        type(row)
        .objects.filter(pk=row.pk, withdrawn_at=None)
        .update(withdrawn_at=at, withdrawn_reason=said)
    )
    if not changed:
        raise Refused("", f'The entry "{row}" is withdrawn already.')
    row.withdrawn_at, row.withdrawn_reason = at, said
    if isinstance(row, Overhaul) and row.engine is not None:
        project_zero(row.engine)


def _write_overhaul(
    subject: Engine | Part,
    kind: Overhaul.Kind,
    on: date,
    hours: int | None,
    part_hours: int | None,
    done_by: str,
    at: datetime,
    by: User,
    tested: str = "",
) -> Overhaul:
    about: dict[str, Any]
    if isinstance(subject, Engine):
        about = {"engine": subject}
        _check_day_and_hours(subject, on, hours, at)
        if part_hours is not None:
            raise Refused("part_hours", "Only a part has hours of its own to note.")
    else:
        about = {"part": subject}
        checked_day(subject.station, "on", on, at)
        checked_hours("hours", hours)
        checked_hours("part_hours", part_hours)
        _check_part(subject, on, part_hours)
    if Overhaul.objects.valid().filter(**about, on=on).exists():
        raise Refused(
            "on",
            f"An overhaul on {on} is recorded already. Withdraw it if it is wrong.",
        )
    return Overhaul.objects.create(
        station=subject.station,
        **about,
        kind=kind,
        on=on,
        hours=hours,
        part_hours=part_hours,
        by=checked_text(Overhaul, "by", done_by),
        tested=tested,
        recorded_at=at,
        recorded_by=by,
    )


def _check_day_and_hours(
    engine: Engine, on: date, hours: int | None, at: datetime
) -> None:
    checked_day(engine.station, "on", on, at)
    checked_hours("hours", hours)
    if engine.built is not None and on < engine.built:
        raise Refused(
            "on", f"{on} is before the engine was made, {engine.built}. Check the date."
        )
    if hours is not None:
        check_fits(engine, on=on, hours=hours, field="hours")


def _check_part(part: Part, on: date, part_hours: int | None) -> None:
    built = (
        PartDescription.objects.filter(part=part, current=True)
        .values_list("built", flat=True)
        .first()
    )
    if built is not None and on < built:
        raise Refused(
            "on", f"{on} is before the part was made, {built}. Check the date."
        )
    if part_hours is None:
        return
    for other in Overhaul.objects.valid().filter(part=part):
        if other.part_hours is None or (other.on < on) == (
            other.part_hours <= part_hours
        ):
            continue
        raise Refused(
            "part_hours",
            f"{in_hours(part_hours)} on {on} does not go with the overhaul at "
            f"{in_hours(other.part_hours)} on {other.on}. Check both.",
        )
