"""Which revision of a publication holds, and what one revision is on a day."""

from __future__ import annotations

from datetime import date, datetime

from notices.models import Publication, Revision, RevisionStanding


def standing(
    revision: Revision, on: date, known_at: datetime | None = None
) -> RevisionStanding:
    """Return draft, waiting, current, superseded or cancelled. Two queries."""
    rows = Revision.objects.filter(pk=revision.pk)
    return rows.standings(on, known_at)[revision.pk]


def current_revision(
    publication: Publication, on: date, known_at: datetime | None = None
) -> Revision | None:
    """Return the revision that holds on a day, None if none does."""
    return publication.revisions.current(on, known_at).first()


def newer_drafts(revision: Revision) -> list[Revision]:
    """Return drafts entered after a revision, newest first: they wait to take over."""
    return list(
        Revision.objects.drafts()
        .filter(publication=revision.publication_id, sequence__gt=revision.sequence)
        .order_by("-sequence")
    )
