"""Whom a document concerns and no mail reaches: each owner with the reason."""

from __future__ import annotations

from typing import NamedTuple

from notices.models import Revision
from tracker.accounts.access import Viewer
from tracker.compliance.models import Finding
from tracker.fleet.models import Owner
from tracker.watch.telling.announcing import recipients
from tracker.watch.telling.reading import preference_of


class Unreached(NamedTuple):
    owner: Owner
    why: str


def unreached(viewer: Viewer, revision: Revision) -> list[Unreached]:
    """Return the owners of engines that a revision concerns, or may, who are not told.

    One query.
    """
    concerned = Finding.objects.visible_to(viewer).filter(provision__revision=revision)
    owners = Owner.objects.filter(pk__in=concerned.values("engine__owner"))
    told = recipients(viewer, revision).values("pk")
    rest = owners.exclude(pk__in=told).select_related("preference")
    return [Unreached(owner, _why(owner)) for owner in rest.order_by("name", "pk")]


def engines_of_nobody(viewer: Viewer, revision: Revision) -> int:
    """Return how many engines that a revision concerns have no owner. One query."""
    concerned = Finding.objects.visible_to(viewer).filter(provision__revision=revision)
    return concerned.filter(engine__owner=None).values("engine").distinct().count()


def _why(owner: Owner) -> str:
    preference = preference_of(owner)
    if not owner.email:
        return "has no address"
    if preference.is_silenced:
        return f"is told nothing: {preference.silenced_reason}"
    if preference.refused_address == owner.email:
        return f"{owner.email} was refused"
    return "does not want to be told what nobody is obliged to do"
