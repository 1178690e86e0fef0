"""The ledger in the API: records of an engine, one with its text, signing, voiding."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from typing import Any, Final, TypeVar
from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import generics, serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from notices.models import Provision
from tracker.accounts.access import Viewer
from tracker.api.fields import HoursField
from tracker.api.permissions import viewer_in
from tracker.api.serializers import KnownMembers
from tracker.api.views import engine_of
from tracker.compliance import changes
from tracker.compliance.ledger import (
    Alternative,
    Approval,
    Entry,
    FreeDocument,
    Inspection,
    RecordRefused,
)
from tracker.compliance.models import Method, Record, RecordKind, RecordQuerySet
from tracker.fleet.models import Part

ON_THE_AXIS: Final = "On the axis that is kept for the engine; null: not known."
MOST_DISCREPANCIES: Final = 200
Made = TypeVar("Made")
PATHS: Final[Mapping[str, str]] = {
    "approval": "approved_by.name",
    "certificate_kind": "approved_by.certificate_kind",
    "certificate_number": "approved_by.certificate_number",
    "alternative": "alternative.reference",
    "alternative_approved_by": "alternative.approved_by",
    "extent": "inspection.extent",
    "discrepancies": "inspection.discrepancies",
    "record": "",
}
"""Where in the body stands what an entry calls by another name."""


class RecordSerializer(serializers.ModelSerializer[Record]):
    id = serializers.UUIDField(source="public_id")
    engine = serializers.UUIDField(source="engine.public_id")
    kind = serializers.ChoiceField(choices=RecordKind.choices)
    hours = HoursField(allow_null=True, help_text=ON_THE_AXIS)
    part_hours = HoursField(allow_null=True)
    airframe_hours = HoursField(allow_null=True)
    provision = serializers.UUIDField(
        source="provision.public_id", default=None, allow_null=True
    )
    part = serializers.UUIDField(source="part.public_id", default=None, allow_null=True)
    recorded_by = serializers.CharField(source="recorded_by.name")
    voids = serializers.UUIDField(
        source="voids.public_id", default=None, allow_null=True
    )
    voided_by = serializers.UUIDField(
        source="voided_by.public_id", default=None, allow_null=True
    )

    class Meta:
        model = Record
        fields = [
            "id",
            "engine",
            "sequence",
            "kind",
            "on",
            "hours",
            "part_hours",
            "airframe_hours",
            "document_number",
            "document_revision",
            "provision",
            "part",
            "method",
            "description",
            "result",
            "en_route",
            "recorded_at",
            "recorded_by",
            "handed_over",
            "voids",
            "voided_by",
            "previous_hash",
            "hash",
        ]
        read_only_fields = fields


class RecordInFullSerializer(RecordSerializer):
    payload = serializers.CharField(
        help_text="The text that was hashed, as it was: JSON in canonical form. `hash` "
        'is the SHA-256 of "rec-v1", `previous_hash`, the id in `engine` of this text, '
        "`sequence` and this text, with line feeds between them, in UTF-8."
    )

    class Meta(RecordSerializer.Meta):
        fields = [*RecordSerializer.Meta.fields, "payload"]
        read_only_fields = fields


class DocumentSerializer(KnownMembers):
    """A document that the library does not hold, as printed."""

    number = serializers.CharField(max_length=60)
    revision = serializers.CharField(max_length=20, default="", allow_blank=True)


class ApprovalSerializer(KnownMembers):
    """Who approved the return to service, with kind and number of the certificate."""

    name = serializers.CharField(max_length=200)
    certificate_kind = serializers.CharField(max_length=120)
    certificate_number = serializers.CharField(max_length=60)


class AlternativeSerializer(KnownMembers):
    """The approval of an alternative method; only with that method."""

    reference = serializers.CharField(max_length=120)
    approved_by = serializers.CharField(max_length=120)


class InspectionSerializer(KnownMembers):
    """An inspection of the aircraft, with the list where it was not found airworthy."""

    extent = serializers.CharField(max_length=300)
    airworthy = serializers.BooleanField()
    discrepancies = serializers.ListField(
        child=serializers.CharField(max_length=2_000),
        max_length=MOST_DISCREPANCIES,
        default=list,
    )


class PasswordField(serializers.CharField):
    def __init__(self, **given: Any) -> None:
        said = "Your own, asked again, because a record is signed with it."
        super().__init__(
            trim_whitespace=False,
            max_length=1_000,
            write_only=True,
            help_text=said,
            **given,
        )


class NewRecordSerializer(KnownMembers):
    """What is sent to sign for work; unknown members are refused.

    Under a provision of the library, under a document that it does not hold, or under
    none.
    """

    on = serializers.DateField(help_text="The day on which the work was done.")
    hours = HoursField(default=None, allow_null=True, help_text=ON_THE_AXIS)
    provision = serializers.UUIDField(default=None, allow_null=True)
    document = DocumentSerializer(default=None, allow_null=True)
    part = serializers.UUIDField(default=None, allow_null=True)
    part_hours = HoursField(default=None, allow_null=True)
    airframe_hours = HoursField(default=None, allow_null=True)
    method = serializers.ChoiceField(choices=Method.choices)
    description = serializers.CharField(max_length=10_000)
    result = serializers.CharField(max_length=60, default="", allow_blank=True)
    en_route = serializers.BooleanField(
        default=False,
        help_text="The limit was passed on the way to where the work could be done.",
    )
    late = serializers.BooleanField(
        default=False,
        help_text="The revision was not current then; `remarks` says why it is entered.",
    )
    remarks = serializers.CharField(max_length=10_000, default="", allow_blank=True)
    done_by = serializers.CharField(max_length=200)
    approved_by = ApprovalSerializer()
    alternative = AlternativeSerializer(default=None, allow_null=True)
    inspection = InspectionSerializer(default=None, allow_null=True)
    password = PasswordField()


class VoidSerializer(KnownMembers):
    """What is sent to void a record."""

    reason = serializers.CharField(max_length=10_000)
    password = PasswordField()


class EngineRecords(generics.ListAPIView[Record]):
    """The ledger of one engine, newest first, voided records and voids included."""

    serializer_class = RecordSerializer

    def get_queryset(self) -> RecordQuerySet:
        engine = engine_of(self.request, self.kwargs["engine"])
        records = Record.objects.filter(engine=engine)
        return with_names(records).order_by("-sequence")

    @extend_schema(
        request=NewRecordSerializer,
        responses={201: RecordInFullSerializer},
        operation_id="sign_work",
        description="Sign for work that was done. A record is never changed; a mistake "
        "is voided by another one. Where the same is recorded already, 409 says by whom.",
    )
    def post(self, request: Request, engine: UUID) -> Response:
        viewer, found = viewer_in(request), engine_of(request, engine)
        sent = NewRecordSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        entered: dict[str, Any] = dict(sent.validated_data)
        password = entered.pop("password")
        with paths_of_the_body():
            [record] = changes.sign_work(
                viewer,
                {found: [entry_of(viewer, entered)]},
                password=password,
                at=timezone.now(),
            )
        return added(record)


class RecordDetail(APIView):
    """One record with the text that was hashed."""

    @extend_schema(responses=RecordInFullSerializer, operation_id="record")
    def get(self, request: Request, record: UUID) -> Response:
        return Response(RecordInFullSerializer(record_of(request, record)).data)


class RecordVoid(APIView):
    """Voids a record by another one that says why."""

    @extend_schema(
        request=VoidSerializer,
        responses={201: RecordInFullSerializer},
        operation_id="void_record",
    )
    def post(self, request: Request, record: UUID) -> Response:
        found = record_of(request, record)
        sent = VoidSerializer(data=request.data)
        sent.is_valid(raise_exception=True)
        with paths_of_the_body():
            void = changes.sign_void(
                viewer_in(request), found, **sent.validated_data, at=timezone.now()
            )
        return added(void)


def added(record: Record) -> Response:
    address = reverse("api:record", args=[record.public_id])
    body = RecordInFullSerializer(record).data
    return Response(body, status=201, headers={"Location": address})


def record_of(request: Request, public_id: UUID) -> Record:
    """The record that an address names; Http404 where the viewer does not see it."""
    records = with_names(Record.objects.visible_to(viewer_in(request)))
    return get_object_or_404(records, public_id=public_id)


def with_names(records: RecordQuerySet) -> RecordQuerySet:
    named = ("engine__station", "recorded_by", "provision", "part")
    return records.select_related(*named, "voids", "voided_by")


def entry_of(viewer: Viewer, entered: dict[str, Any]) -> Entry:
    """The entry that was sent; RecordRefused where it names what is not there."""
    approval = Approval(**entered.pop("approved_by"))
    return Entry(
        **{
            **entered,
            "approval": approval,
            "method": Method(entered["method"]),
            "provision": _provision(viewer, entered["provision"]),
            "document": _made(FreeDocument, entered["document"]),
            "part": _part(viewer, entered["part"]),
            "alternative": _made(Alternative, entered["alternative"]),
            "inspection": _inspection(entered["inspection"]),
        },
    )


def _made(kind: Callable[..., Made], sent: Mapping[str, Any] | None) -> Made | None:
    return None if sent is None else kind(**sent)


def _inspection(sent: Mapping[str, Any] | None) -> Inspection | None:
    if sent is None:
        return None
    return Inspection(**{**sent, "discrepancies": tuple(sent["discrepancies"])})


def _provision(viewer: Viewer, key: UUID | None) -> Provision | None:
    provisions = Provision.objects.for_station(viewer.station)
    whole = provisions.select_related("revision__publication")
    found: Provision | None = _named(whole, "provision", key)
    return found


def _part(viewer: Viewer, key: UUID | None) -> Part | None:
    found: Part | None = _named(Part.objects.visible_to(viewer), "part", key)
    return found


def _named(rows: QuerySet[Any], field: str, key: UUID | None) -> Any:
    if key is None:
        return None
    found = rows.filter(public_id=key).first()
    if found is None:
        raise RecordRefused(field, f"There is no such {field}.")
    return found


@contextmanager
def paths_of_the_body() -> Iterator[None]:
    """Let a refusal name the member of the body that it is about."""
    try:
        yield
    except RecordRefused as refused:
        refused.field = PATHS.get(refused.field, refused.field)
        raise
