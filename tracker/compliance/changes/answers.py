"""Acts of judgement: a question answered, an advisory document not adopted."""

from __future__ import annotations

from datetime import date, datetime

from notices.models import Publication, Revision
from tracker.accounts.access import Right, Viewer
from tracker.compliance.changes.acting import changing
from tracker.compliance.changes.parts import part_on
from tracker.compliance.models import Answer, Declined
from tracker.fleet.entries import checked_text
from tracker.fleet.errors import Refused
from tracker.fleet.history import write_fact
from tracker.fleet.models import Engine, Part


def answer(
    viewer: Viewer,
    engine: Engine,
    revision: Revision,
    question: str,
    yes: bool | None,
    *,
    at: datetime,
    true_from: date,
    part: Part | None = None,
    seen_on: str = "",
) -> Answer:
    """Answer a question of a revision, of which the answer holds for that revision only.

    `yes`: None where it cannot be found out. `seen_on`: what the answer was read from.
    """
    with changing(viewer, engine, Right.ANSWER, at=at) as locked:
        _check_ours(viewer, revision.station_id)
        return write_fact(
            Answer,
            station=viewer.station,
            subject={
                "engine": locked,
                "part": None if part is None else part_on(locked, part),
                "revision": revision,
                "question": checked_text(Answer, "question", question, required=True),
            },
            true_from=true_from,
            at=at,
            by=viewer.user,
            yes=yes,
            seen_on=checked_text(Answer, "seen_on", seen_on),
        )


def decline(
    viewer: Viewer,
    engine: Engine,
    publication: Publication,
    *,
    person: str,
    reason: str,
    true_from: date,
    at: datetime,
) -> Declined:
    """Record that the owner or operator does not adopt an advisory document."""
    if publication.binds:
        raise Refused(
            "publication",
            f"{publication} is binding and cannot be left unadopted: it is "
            f"of the kind {publication.get_kind_display()}.",
        )
    return _adoption(viewer, engine, publication, True, person, reason, true_from, at)


def adopt(
    viewer: Viewer,
    engine: Engine,
    publication: Publication,
    *,
    person: str,
    reason: str,
    true_from: date,
    at: datetime,
) -> Declined:
    """Record that a document that was not adopted is adopted after all."""
    return _adoption(viewer, engine, publication, False, person, reason, true_from, at)


def _adoption(
    viewer: Viewer,
    engine: Engine,
    publication: Publication,
    declined: bool,
    person: str,
    reason: str,
    true_from: date,
    at: datetime,
) -> Declined:
    with changing(viewer, engine, Right.DECLINE, at=at) as locked:
        _check_ours(viewer, publication.station_id)
        return write_fact(
            Declined,
            station=viewer.station,
            subject={"engine": locked, "publication": publication},
            true_from=true_from,
            at=at,
            by=viewer.user,
            declined=declined,
            person=checked_text(Declined, "person", person, required=True),
            reason=checked_text(Declined, "reason", reason, required=True),
        )


def _check_ours(viewer: Viewer, station: int) -> None:
    if station != viewer.station.pk:
        raise Publication.DoesNotExist("This publication is of another station.")
