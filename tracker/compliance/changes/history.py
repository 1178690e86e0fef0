"""Acts on what happened to an engine and on the marks on its history."""

from __future__ import annotations

from datetime import date, datetime

from tracker.accounts.access import Right, Viewer
from tracker.compliance.changes.acting import changing
from tracker.compliance.changes.parts import part_on
from tracker.fleet import events, marks
from tracker.fleet.events import Happened
from tracker.fleet.models import (
    Attribute,
    Engine,
    Modification,
    NamedEvent,
    Overhaul,
    Part,
    PartFitting,
    Review,
    Search,
)


def add_overhaul(
    viewer: Viewer,
    engine: Engine,
    *,
    on: date,
    at: datetime,
    part: Part | None = None,
    hours: int | None = None,
    part_hours: int | None = None,
    done_by: str = "",
    tested: str = "",
    transcribed: bool = False,
) -> Overhaul:
    """Record an overhaul of the engine, or of one of its parts.

    Refused where nothing says that it was tested, unless it is `transcribed`.
    """
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        return events.add_overhaul(
            locked if part is None else part_on(locked, part),
            on=on,
            hours=hours,
            part_hours=part_hours,
            done_by=done_by,
            tested=tested,
            transcribed=transcribed,
            at=at,
            by=viewer.user,
        )


def add_rebuild(
    viewer: Viewer,
    engine: Engine,
    *,
    on: date,
    at: datetime,
    hours: int | None = None,
) -> Overhaul:
    """Record a rebuild by the maker, from which the engine counts as new."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        return events.add_rebuild(locked, on=on, hours=hours, at=at, by=viewer.user)


def add_event(
    viewer: Viewer,
    engine: Engine,
    name: str,
    *,
    on: date,
    at: datetime,
    hours: int | None = None,
    remark: str = "",
) -> NamedEvent:
    """Record something that a compliance time may hang on, such as an oil change."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        return events.add_event(
            locked, name, on=on, hours=hours, remark=remark, at=at, by=viewer.user
        )


def withdraw(viewer: Viewer, row: Happened, *, reason: str, at: datetime) -> None:
    """Mark what happened as entered by mistake; it stays visible."""
    engine = row.engine or _engine_of(row)
    with changing(viewer, engine, Right.EDIT_FLEET, at=at):
        events.withdraw(row, reason=reason, at=at)


def _engine_of(row: Happened) -> Engine:
    """The engine on which the part is, or was last."""
    fitting = PartFitting.objects.select_related("engine").get(
        part=getattr(row, "part", None), current=True
    )
    return fitting.engine


def embody(
    viewer: Viewer,
    engine: Engine,
    modification: str,
    *,
    true_from: date,
    at: datetime,
    source: str = "",
) -> Modification:
    """Record that a modification, bulletin or directive is embodied."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        return marks.embody(
            locked,
            modification,
            true_from=true_from,
            source=source,
            at=at,
            by=viewer.user,
        )


def not_embodied(
    viewer: Viewer,
    engine: Engine,
    modification: str,
    *,
    true_from: date,
    at: datetime,
    source: str = "",
) -> Modification:
    """Record that somebody has looked, and it is not embodied."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        return marks.not_embodied(
            locked,
            modification,
            true_from=true_from,
            source=source,
            at=at,
            by=viewer.user,
        )


def set_attribute(
    viewer: Viewer,
    engine: Engine,
    name: str,
    value: str,
    *,
    true_from: date,
    at: datetime,
    part: Part | None = None,
) -> Attribute:
    """Record a named property of the engine, or of one of its parts."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        subject = locked if part is None else part_on(locked, part)
        return marks.set_attribute(
            subject, name, value, true_from=true_from, at=at, by=viewer.user
        )


def review(
    viewer: Viewer,
    engine: Engine,
    scope: str,
    person: str,
    *,
    true_from: date,
    at: datetime,
    remark: str = "",
) -> Review:
    """Record that a person has gone through the history, or the parts of a role."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        return marks.review(
            locked,
            scope,
            person,
            true_from=true_from,
            remark=remark,
            at=at,
            by=viewer.user,
        )


def lapse_reviews(
    viewer: Viewer, engine: Engine, *, reason: str, true_from: date, at: datetime
) -> list[Review]:
    """End every review of the engine: it was worked on elsewhere."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        return marks.lapse_reviews(
            locked, reason=reason, true_from=true_from, at=at, by=viewer.user
        )


def note_search(
    viewer: Viewer,
    engine: Engine,
    kind: str,
    *,
    searched_to: date,
    source: str,
    person: str,
    at: datetime,
    part: Part | None = None,
) -> Search:
    """Record how far the search for documents went, for an engine or an accessory."""
    with changing(viewer, engine, Right.EDIT_FLEET, at=at) as locked:
        return marks.note_search(
            locked,
            kind,
            searched_to=searched_to,
            source=source,
            person=person,
            part=None if part is None else part_on(locked, part),
            at=at,
            by=viewer.user,
        )
