"""Fuel of engines in the API: listed, looked at, added."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import generics, serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from tracker.api.fields import HoursField
from tracker.api.permissions import viewer_in
from tracker.api.serializers import KnownMembers
from tracker.api.views import engine_of
from tracker.compliance import changes
from tracker.fleet.fuel import FuelEntry
from tracker.fleet.models import FuelKind, FuelRecord, FuelUnit
from tracker.fleet.models.fuel import FuelRecordQuerySet

AS_ENTERED = 'As it was entered, such as "85.5"; kept and compared exactly.'
SHARE = 'Of a blend, by volume: "0.4", "2/5" or "40 %". Empty for other fuel.'
ON_THE_AXIS = "On the axis that is kept for the engine; null: not known."


class FuelSerializer(serializers.ModelSerializer[FuelRecord]):
    id = serializers.UUIDField(source="public_id")
    engine = serializers.UUIDField(source="engine.public_id")
    quantity = serializers.CharField(help_text=AS_ENTERED)
    unit = serializers.ChoiceField(choices=FuelUnit.choices)
    kind = serializers.ChoiceField(choices=FuelKind.choices)
    leaded_share = serializers.CharField(help_text=SHARE)
    hours = HoursField(allow_null=True, help_text=ON_THE_AXIS)

    class Meta:
        model = FuelRecord
        fields = [
            "id",
            "engine",
            "on",
            "quantity",
            "unit",
            "kind",
            "leaded_share",
            "hours",
            "remark",
            "recorded_at",
            "withdrawn_at",
            "withdrawn_reason",
        ]
        read_only_fields = fields


class NewFuelSerializer(KnownMembers):
    """What is sent to add fuel; unknown members are refused."""

    on = serializers.DateField(help_text="The day on which it was taken on.")
    quantity = serializers.CharField(max_length=20, help_text="More than 0.")
    unit = serializers.ChoiceField(choices=FuelUnit.choices, default=FuelUnit.LITRES)
    kind = serializers.ChoiceField(choices=FuelKind.choices)
    leaded_share = serializers.CharField(
        max_length=20, default="", allow_blank=True, help_text=SHARE
    )
    hours = HoursField(default=None, allow_null=True, help_text=ON_THE_AXIS)
    remark = serializers.CharField(max_length=200, default="", allow_blank=True)
    confirmed = serializers.BooleanField(
        default=False,
        help_text="It is right, although the same is entered for that day already.",
    )


class EngineFuel(generics.ListAPIView[FuelRecord]):
    """Fuel of one engine, newest first. What was withdrawn says when and why."""

    serializer_class = FuelSerializer

    def get_queryset(self) -> FuelRecordQuerySet:
        engine = engine_of(self.request, self.kwargs["engine"])
        records = FuelRecord.objects.filter(engine=engine)
        return records.select_related("engine").order_by("-on", "-pk")

    @extend_schema(
        request=NewFuelSerializer,
        responses={201: FuelSerializer},
        operation_id="add_fuel",
        description="Add fuel as it was taken on. Limits that hang on its leaded share "
        "move at once.",
    )
    def post(self, request: Request, engine: UUID) -> Response:
        found = engine_of(request, engine)
        sent = NewFuelSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        entered: dict[str, Any] = dict(sent.validated_data)
        confirmed = entered.pop("confirmed")
        added = changes.add_fuel(
            viewer_in(request),
            found,
            FuelEntry(**entered),
            at=timezone.now(),
            confirmed=confirmed,
        )
        address = reverse("api:fuel", args=[added.public_id])
        body = FuelSerializer(added).data
        return Response(body, status=201, headers={"Location": address})


class FuelDetail(APIView):
    """One record of fuel, also one that has been withdrawn."""

    @extend_schema(responses=FuelSerializer, operation_id="fuel")
    def get(self, request: Request, fuel: UUID) -> Response:
        records = FuelRecord.objects.visible_to(viewer_in(request))
        found = get_object_or_404(records.select_related("engine"), public_id=fuel)
        return Response(FuelSerializer(found).data)
