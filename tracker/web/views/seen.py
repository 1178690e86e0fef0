"""What an address names, as far as the viewer sees it; otherwise 404."""

from __future__ import annotations

from uuid import UUID

from django.shortcuts import get_object_or_404
from django.urls import reverse

from notices.models import Publication, Revision
from tracker.accounts.middleware import ViewedRequest
from tracker.compliance.models import Record
from tracker.fleet.models import Engine, PartFitting


def engine_seen(request: ViewedRequest, engine: UUID) -> Engine:
    engines = Engine.objects.visible_to(request.viewer).for_list()
    return get_object_or_404(engines.select_related("station"), public_id=engine)


def fitting_seen(engine: Engine, part: UUID) -> PartFitting:
    """How the part is fitted to this engine now, with the part."""
    fitted = PartFitting.objects.filter(engine=engine, current=True, removed=False)
    return get_object_or_404(fitted.select_related("part"), part__public_id=part)


def page_of(engine: Engine) -> str:
    return reverse("web:engine", args=[engine.public_id])


def history_of(engine: Engine) -> str:
    return reverse("web:engine-history", args=[engine.public_id])


def publication_seen(request: ViewedRequest, publication: UUID) -> Publication:
    mine = Publication.objects.for_station(request.viewer.station)
    return get_object_or_404(mine, public_id=publication)


def revision_seen(request: ViewedRequest, revision: UUID) -> Revision:
    mine = Revision.objects.for_station(request.viewer.station)
    return get_object_or_404(mine.select_related("publication"), public_id=revision)


def draft_seen(request: ViewedRequest, draft: UUID) -> Revision:
    """A revision that nobody has confirmed yet."""
    mine = Revision.objects.for_station(request.viewer.station).drafts()
    return get_object_or_404(mine.select_related("publication"), public_id=draft)


def record_seen(request: ViewedRequest, record: UUID) -> Record:
    mine = Record.objects.visible_to(request.viewer)
    named = ("engine__engine_type", "engine__station", "recorded_by", "provision")
    voided = ("voids", "voided_by", "revision__publication", "part")
    return get_object_or_404(mine.select_related(*named, *voided), public_id=record)
