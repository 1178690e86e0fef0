"""Acts on the library. What takes effect is evaluated for every engine at once."""

from __future__ import annotations

from datetime import date, datetime
from typing import Unpack

from notices import documents, library
from notices.library import RevisionInput, RuleChange
from notices.models import (
    Provision,
    Publication,
    Reference,
    Revision,
    RuleVersion,
)
from tracker.accounts.access import Right, Viewer
from tracker.compliance.changes.acting import entering
from tracker.compliance.findings import refresh_library
from tracker.fleet.entries import day_at
from tracker.fleet.models import EngineType


def add_publication(
    viewer: Viewer, *, kind: str, number: str, issuer: str, title: str, at: datetime
) -> Publication:
    with entering(viewer, Right.ENTER_NOTICES):
        return library.add_publication(
            station=viewer.station,
            kind=kind,
            number=number,
            issuer=issuer,
            title=title,
            at=at,
        )


def change_publication(
    viewer: Viewer,
    publication: Publication,
    *,
    kind: str,
    number: str,
    issuer: str,
    title: str,
    at: datetime,
) -> Publication:
    """Correct the entry of a publication; what it finds is evaluated again."""
    with entering(viewer, Right.ENTER_NOTICES):
        changed = library.change_publication(
            _own(viewer, publication),
            kind=kind,
            number=number,
            issuer=issuer,
            title=title,
        )
        _refresh(viewer, {changed.pk, *_superseded_by(changed)}, at=at)
        return changed


def add_draft(
    viewer: Viewer, publication: Publication, stated: RevisionInput, *, at: datetime
) -> Revision:
    """Enter a revision as a draft. It finds nothing until it is confirmed."""
    with entering(viewer, Right.ENTER_NOTICES):
        return library.add_draft(
            publication=_own(viewer, publication),
            stated=stated,
            by=viewer.user,
            at=at,
        )


def change_draft(
    viewer: Viewer,
    revision: Revision,
    stated: RevisionInput,
    *,
    version: int,
    at: datetime,
) -> Revision:
    with entering(viewer, Right.ENTER_NOTICES):
        return library.change_draft(
            _own_revision(viewer, revision),
            version=version,
            stated=stated,
            by=viewer.user,
            at=at,
        )


def discard_draft(
    viewer: Viewer, revision: Revision, *, version: int, at: datetime
) -> None:
    with entering(viewer, Right.ENTER_NOTICES):
        library.discard_draft(_own_revision(viewer, revision), version=version)


def confirm_revision(
    viewer: Viewer, revision: Revision, *, version: int, at: datetime
) -> Revision:
    """Confirm a draft: its rules are frozen and found for every engine."""
    with entering(viewer, Right.CONFIRM_NOTICES):
        confirmed = library.confirm_revision(
            _own_revision(viewer, revision),
            version=version,
            second_person=viewer.station.second_person_confirms,
            types=EngineType.objects.visible_to(viewer).patterns(),
            by=viewer.user,
            at=at,
        )
        _refresh(viewer, _touched_by(confirmed), at=at)
        return confirmed


def cancel_revision(
    viewer: Viewer, revision: Revision, *, on: date, reason: str, at: datetime
) -> Revision:
    """Cancel a confirmed revision from a day on."""
    with entering(viewer, Right.CONFIRM_NOTICES):
        cancelled = library.cancel_revision(
            _own_revision(viewer, revision),
            on=on,
            reason=reason,
            by=viewer.user,
            at=at,
        )
        _refresh(viewer, _touched_by(cancelled), at=at)
        return cancelled


def change_rule(
    viewer: Viewer,
    provision: Provision,
    *,
    number: int,
    reason: str,
    at: datetime,
    **changed: Unpack[RuleChange],
) -> RuleVersion:
    """Add a version of a confirmed rule. `number`: the version that was on the screen."""
    with entering(viewer, Right.CONFIRM_NOTICES):
        own = Provision.objects.for_station(viewer.station).get(pk=provision.pk)
        version = library.change_rule(
            own,
            number=number,
            reason=reason,
            by=viewer.user,
            at=at,
            types=EngineType.objects.visible_to(viewer).patterns(),
            **changed,
        )
        _refresh(viewer, {own.revision.publication_id}, at=at)
        return version


def attach_document(
    viewer: Viewer, revision: Revision, *, content: bytes, name: str, at: datetime
) -> Revision:
    """Store a document and return the revision with it. Its text is read later."""
    with entering(viewer, Right.ENTER_NOTICES):
        own = _own_revision(viewer, revision)
        document = documents.store(
            content, name=name, station=viewer.station, by=viewer.user, at=at
        )
        return library.attach_document(own, document)


def _refresh(viewer: Viewer, publications: set[int], *, at: datetime) -> None:
    on = day_at(viewer.station, at)
    refresh_library(publications, viewer.station, on=on, at=at)


def _touched_by(revision: Revision) -> set[int]:
    superseded = Reference.objects.filter(
        revision=revision, kind=Reference.Kind.SUPERSEDES, publication__isnull=False
    ).values_list("publication", flat=True)
    return {revision.publication_id, *(key for key in superseded if key is not None)}


def _superseded_by(publication: Publication) -> set[int]:
    superseded = Reference.objects.filter(
        revision__publication=publication,
        kind=Reference.Kind.SUPERSEDES,
        publication__isnull=False,
    ).values_list("publication", flat=True)
    return {key for key in superseded if key is not None}


def _own(viewer: Viewer, publication: Publication) -> Publication:
    return Publication.objects.get(pk=publication.pk, station=viewer.station)


def _own_revision(viewer: Viewer, revision: Revision) -> Revision:
    revisions = Revision.objects.for_station(viewer.station)
    return revisions.select_related("publication").get(pk=revision.pk)
