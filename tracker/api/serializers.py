"""What the API shows and takes, field by field. No rule lives here."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from notices.models import Provision, Publication, Revision, RuleVersion
from tracker.api.fields import HoursField
from tracker.fleet.models import Engine, MeterKind, Reading


class EngineSerializer(serializers.ModelSerializer[Engine]):
    id = serializers.UUIDField(source="public_id")
    type = serializers.CharField(
        source="engine_type.designation", help_text="Type designation."
    )
    maker = serializers.CharField(source="engine_type.maker")
    owner = serializers.CharField(source="owner.name", default=None, allow_null=True)
    hours = HoursField(
        source="hours_now", allow_null=True, help_text="At the newest reading."
    )

    class Meta:
        model = Engine
        fields = [
            "id",
            "type",
            "type_complete",
            "maker",
            "serial",
            "built",
            "shipped",
            "owner",
            "state",
            "aircraft_type",
            "registration",
            "position",
            "hours",
            "read_on",
            "version",
        ]
        read_only_fields = fields


class ReadingSerializer(serializers.ModelSerializer[Reading]):
    id = serializers.UUIDField(source="public_id")
    engine = serializers.UUIDField(source="engine.public_id")
    meter = serializers.ChoiceField(source="meter.kind", choices=MeterKind.choices)
    shown = HoursField(help_text="What the meter showed.")
    hours = HoursField(help_text="On the axis that is kept for the engine.")
    corrects = serializers.UUIDField(
        source="corrects.public_id", default=None, allow_null=True
    )

    class Meta:
        model = Reading
        fields = [
            "id",
            "engine",
            "on",
            "meter",
            "shown",
            "hours",
            "corrects",
            "remark",
            "recorded_at",
        ]
        read_only_fields = fields


class NewReadingSerializer(serializers.Serializer[Any]):
    """What is sent to add a reading; unknown members are refused."""

    on = serializers.DateField(help_text="The day on which the meter was read.")
    shown = HoursField(help_text="What the meter shows.")
    remark = serializers.CharField(max_length=200, default="", allow_blank=True)

    def to_internal_value(self, data: Any) -> Any:
        values = super().to_internal_value(data)
        unknown = sorted(set(data) - set(self.fields))
        if unknown:
            message = f"Not known here. Known: {', '.join(self.fields)}."
            raise serializers.ValidationError(dict.fromkeys(unknown, message))
        return values


class RuleSerializer(serializers.ModelSerializer[RuleVersion]):
    class Meta:
        model = RuleVersion
        fields = ["number", "schema", "applicability", "condition", "action", "reason"]
        read_only_fields = fields


class ProvisionSerializer(serializers.ModelSerializer[Provision]):
    id = serializers.UUIDField(source="public_id")
    man_hours = HoursField(allow_null=True)
    rule = serializers.SerializerMethodField(help_text="The version that holds.")

    class Meta:
        model = Provision
        fields = [
            "id",
            "order",
            "kind",
            "title",
            "description",
            "category",
            "role",
            "effective_on",
            "ferry",
            "report_to",
            "man_hours",
            "parts_needed",
            "embodies",
            "rule",
        ]
        read_only_fields = fields

    @extend_schema_field(RuleSerializer(allow_null=True))
    def get_rule(self, provision: Provision) -> Any:
        """The view has fetched no version but the valid one."""
        rule = next(iter(provision.rules.all()), None)
        return RuleSerializer(rule).data if rule else None


class RevisionSerializer(serializers.ModelSerializer[Revision]):
    id = serializers.UUIDField(source="public_id")
    provisions = ProvisionSerializer(many=True)

    class Meta:
        model = Revision
        fields = [
            "id",
            "label",
            "issued_on",
            "effective_on",
            "takes_over_on",
            "summary",
            "provisions",
        ]
        read_only_fields = fields


class PublicationSerializer(serializers.ModelSerializer[Publication]):
    id = serializers.UUIDField(source="public_id")
    current = serializers.CharField(
        source="current_label",
        allow_null=True,
        help_text="Label of the revision that holds today; null if none does.",
    )

    class Meta:
        model = Publication
        fields = ["id", "kind", "number", "issuer", "title", "current"]
        read_only_fields = fields


class PublicationInFullSerializer(PublicationSerializer):
    revision = RevisionSerializer(
        source="held", allow_null=True, help_text="The revision that holds today."
    )

    class Meta(PublicationSerializer.Meta):
        fields = [*PublicationSerializer.Meta.fields, "revision"]
        read_only_fields = fields
