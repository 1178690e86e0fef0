"""Marks on an engine's history: modifications, properties, reviews, searches."""

from __future__ import annotations

from datetime import date, datetime

from notices.rules.designations import designation, plain_text
from tracker.accounts.models import User
from tracker.fleet.entries import checked_text
from tracker.fleet.errors import Refused
from tracker.fleet.history import write_fact
from tracker.fleet.models import (
    Attribute,
    Engine,
    Modification,
    Part,
    Review,
    Search,
    SearchKind,
)


def embody(
    engine: Engine,
    modification: str,
    *,
    true_from: date,
    at: datetime,
    by: User,
    source: str = "",
) -> Modification:
    """Record that a modification, bulletin or directive is embodied in the engine."""
    return _mark(engine, modification, True, true_from, at, by, source)


def not_embodied(
    engine: Engine,
    modification: str,
    *,
    true_from: date,
    at: datetime,
    by: User,
    source: str = "",
) -> Modification:
    """Record that somebody has looked, and it is not embodied."""
    return _mark(engine, modification, False, true_from, at, by, source)


def set_attribute(
    subject: Engine | Part,
    name: str,
    value: str,
    *,
    true_from: date,
    at: datetime,
    by: User,
) -> Attribute:
    """Record a named property of an engine or a part."""
    shown = checked_text(Attribute, "name", name, required=True)
    kept = {"engine": None, "part": None, "name_key": plain_text(shown)}
    kept["part" if isinstance(subject, Part) else "engine"] = subject  # type: ignore[assignment]  # one of both
    return write_fact(
        Attribute,
        station=subject.station,
        subject=kept,
        true_from=true_from,
        at=at,
        by=by,
        name=shown,
        value=checked_text(Attribute, "value", value, required=True),
    )


def review(
    engine: Engine,
    scope: str,
    person: str,
    *,
    true_from: date,
    at: datetime,
    by: User,
    remark: str = "",
) -> Review:
    """Record that a person has gone through the history, or the parts of a role.

    `scope`: `Review.HISTORY`, or the role. What is not recorded then counts as absent.
    """
    return _write_review(engine, scope, True, person, remark, true_from, at, by)


def lapse_reviews(
    engine: Engine, *, reason: str, true_from: date, at: datetime, by: User
) -> list[Review]:
    """End every review of the engine: it was transferred, or worked on elsewhere."""
    valid = Review.objects.filter(engine=engine, current=True, valid=True)
    return [
        # A review made after the day of transfer is of the engine as it is now.
        _write_review(engine, row.scope, False, row.person, reason, true_from, at, by)
        for row in valid.filter(true_from__lte=true_from)
    ]


def note_search(
    engine: Engine,
    kind: str,
    *,
    searched_to: date,
    source: str,
    person: str,
    at: datetime,
    by: User,
    part: Part | None = None,
) -> Search:
    """Record how far the search for documents went, for an engine or an accessory."""
    if kind not in SearchKind.values:
        raise Refused(
            "kind", f'"{kind}" is not searched for. Write directives or bulletins.'
        )
    return write_fact(
        Search,
        station=engine.station,
        subject={"engine": engine, "part": part, "kind": kind},
        true_from=searched_to,
        at=at,
        by=by,
        source=checked_text(Search, "source", source, required=True),
        person=checked_text(Search, "person", person, required=True),
    )


def _mark(
    engine: Engine,
    modification: str,
    embodied: bool,
    true_from: date,
    at: datetime,
    by: User,
    source: str,
) -> Modification:
    shown = checked_text(Modification, "designation", modification, required=True)
    key = designation(shown)
    if not key or ";" in shown:
        raise Refused(
            "designation",
            f'"{shown}" does not name one modification. Write each for itself.',
        )
    return write_fact(
        Modification,
        station=engine.station,
        subject={"engine": engine, "designation_key": key},
        true_from=true_from,
        at=at,
        by=by,
        designation=shown,
        embodied=embodied,
        source=checked_text(Modification, "source", source),
    )


def _write_review(
    engine: Engine,
    scope: str,
    valid: bool,
    person: str,
    remark: str,
    true_from: date,
    at: datetime,
    by: User,
) -> Review:
    named = plain_text(checked_text(Review, "scope", scope, required=True))
    return write_fact(
        Review,
        station=engine.station,
        subject={"engine": engine, "scope": named},
        true_from=true_from,
        at=at,
        by=by,
        valid=valid,
        person=checked_text(Review, "person", person, required=True),
        remark=checked_text(Review, "remark", remark),
    )
