"""Resources of the API. Each takes its rows from `visible_to(viewer)` and adds nothing."""

from __future__ import annotations

from datetime import date
from hashlib import sha256
from typing import Any, Final
from uuid import UUID

from django.db.models import Prefetch
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import generics
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from notices.models import Revision, RuleVersion
from notices.models.publications import PublicationQuerySet
from tracker.accounts.context import today_at
from tracker.accounts.library import publications_visible_to
from tracker.api.permissions import viewer_in
from tracker.api.serializers import (
    DuePageSerializer,
    DueQuerySerializer,
    EngineSerializer,
    FindingSerializer,
    NewReadingSerializer,
    PublicationInFullSerializer,
    PublicationSerializer,
    ReadingSerializer,
)
from tracker.compliance import changes
from tracker.compliance.due import due_list, due_rows
from tracker.compliance.models import Finding
from tracker.fleet.models import Engine, Reading
from tracker.fleet.models.engines import EngineQuerySet
from tracker.fleet.models.meters import ReadingQuerySet

TAG: Final = 16


class EngineList(generics.ListAPIView[Engine]):
    """The engines that you see, by type designation and serial."""

    serializer_class = EngineSerializer

    def get_queryset(self) -> EngineQuerySet:
        engines = Engine.objects.visible_to(viewer_in(self.request)).for_list()
        with_standing = engines.select_related("standing")
        return with_standing.order_by("engine_type__designation", "serial_key", "pk")


class EngineDetail(APIView):
    """One engine. The header ETag changes whenever anything shown does."""

    @extend_schema(responses=EngineSerializer, operation_id="engine")
    def get(self, request: Request, engine: UUID) -> Response:
        found = engine_of(request, engine)
        body = EngineSerializer(found).data
        digest = sha256(JSONRenderer().render(body)).hexdigest()
        return Response(body, headers={"ETag": f'"{digest[:TAG]}"'})


class EngineFindings(generics.GenericAPIView[Any]):
    """What applies to one engine or may apply, open or closed, by publication."""

    serializer_class = FindingSerializer

    @extend_schema(operation_id="engine_findings")
    def get(self, request: Request, engine: UUID) -> Response:
        viewer, found = viewer_in(request), engine_of(request, engine)
        findings = Finding.objects.filter(engine=found).for_list()
        page = self.paginate_queryset(
            findings.select_related("engine__standing").order_by(
                "provision__revision__publication__number_key", "provision__order", "pk"
            )
        )
        rows: Any = due_rows(page or [], viewer, today_of(request))
        return self.get_paginated_response(FindingSerializer(rows, many=True).data)


class DueList(APIView):
    """What is open today on all engines that you see, most urgent first."""

    @extend_schema(
        parameters=[DueQuerySerializer],
        responses=DuePageSerializer,
        operation_id="due",
    )
    def get(self, request: Request) -> Response:
        asked = DueQuerySerializer(data=request.query_params)
        asked.is_valid(raise_exception=True)
        wanted = asked.validated_data
        page = due_list(
            viewer_in(request),
            today_of(request),
            states=wanted.get("state") or None,
            page=wanted["page"],
            size=wanted["size"],
        )
        return Response(DuePageSerializer(page).data)


class EngineReadings(generics.ListAPIView[Reading]):
    """Readings of one engine, newest first, corrected ones left out."""

    serializer_class = ReadingSerializer

    def get_queryset(self) -> ReadingQuerySet:
        engine = engine_of(self.request, self.kwargs["engine"])
        return listed(Reading.objects.valid().filter(engine=engine))

    @extend_schema(
        request=NewReadingSerializer,
        responses={201: ReadingSerializer},
        operation_id="add_reading",
        description="Add what the meter in use on that day showed. Refused where it "
        "does not fit between its neighbours.",
    )
    def post(self, request: Request, engine: UUID) -> Response:
        found = engine_of(request, engine)
        sent = NewReadingSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        added = changes.add_reading(
            viewer_in(request), found, **sent.validated_data, at=timezone.now()
        )
        address = reverse("api:reading", args=[added.public_id])
        body = ReadingSerializer(added).data
        return Response(body, status=201, headers={"Location": address})


class ReadingList(generics.ListAPIView[Reading]):
    """Readings of all engines that you see, newest first, corrected ones left out."""

    serializer_class = ReadingSerializer

    def get_queryset(self) -> ReadingQuerySet:
        return listed(Reading.objects.visible_to(viewer_in(self.request)).valid())


class ReadingDetail(APIView):
    """One reading, also one that has been corrected."""

    @extend_schema(responses=ReadingSerializer, operation_id="reading")
    def get(self, request: Request, reading: UUID) -> Response:
        readings = listed(Reading.objects.visible_to(viewer_in(request)))
        found = get_object_or_404(readings, public_id=reading)
        return Response(ReadingSerializer(found).data)


class PublicationList(generics.ListAPIView[Any]):
    """The library, by kind and number, each with the revision that holds today."""

    serializer_class = PublicationSerializer

    def get_queryset(self) -> PublicationQuerySet:
        return publications_of(self.request).order_by("kind", "number", "pk")


class PublicationDetail(APIView):
    """One publication with the revision that holds today: provisions and rules."""

    @extend_schema(responses=PublicationInFullSerializer, operation_id="publication")
    def get(self, request: Request, publication: UUID) -> Response:
        found = get_object_or_404(publications_of(request), public_id=publication)
        held = revision_in_full(found.pk, today_of(request))
        found.held = held  # type: ignore[attr-defined]  # read by the serializer
        return Response(PublicationInFullSerializer(found).data)


def today_of(request: Request) -> date:
    return today_at(viewer_in(request).station)


def engine_of(request: Request, public_id: UUID) -> Engine:
    """The engine that an address names; Http404 where the viewer does not see it."""
    engines = Engine.objects.visible_to(viewer_in(request)).for_list()
    with_standing = engines.select_related("standing")
    return get_object_or_404(with_standing, public_id=public_id)


def publications_of(request: Request) -> PublicationQuerySet:
    return publications_visible_to(viewer_in(request)).for_list(today_of(request))


def revision_in_full(publication: int, on: date) -> Revision | None:
    """The revision that holds, with provisions and their valid rules; three queries."""
    rules = Prefetch("provisions__rules", RuleVersion.objects.valid())
    held = Revision.objects.current(on).filter(publication=publication)
    return held.prefetch_related("provisions", rules).first()


def listed(readings: ReadingQuerySet) -> ReadingQuerySet:
    """Newest first, with what a reading shows."""
    return readings.select_related("engine", "meter", "corrects").order_by(
        "-on", "-hours", "-pk"
    )
