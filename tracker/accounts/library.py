"""Which part of the library somebody sees. `notices` itself knows no viewers."""

from __future__ import annotations

from django.db.models import Exists, OuterRef

from notices.models import Publication, Revision
from notices.models.publications import PublicationQuerySet
from notices.models.revisions import RevisionQuerySet
from tracker.accounts.access import Viewer


def revisions_visible_to(viewer: Viewer) -> RevisionQuerySet:
    """The revisions of the viewer's station; an owner sees no drafts."""
    revisions = Revision.objects.for_station(viewer.station)
    if viewer.is_owner:
        revisions = revisions.filter(confirmed_at__isnull=False)
    return revisions


def publications_visible_to(viewer: Viewer) -> PublicationQuerySet:
    """The publications of the viewer's station; an owner's need a confirmed revision."""
    publications = Publication.objects.for_station(viewer.station)
    if viewer.is_owner:
        shown = revisions_visible_to(viewer).filter(publication=OuterRef("pk"))
        publications = publications.filter(Exists(shown))
    return publications
