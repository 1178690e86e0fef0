"""What the API shows and takes, field by field. No rule lives here."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from notices.models import Kind, Provision, Publication, Revision, RuleVersion
from tracker.api.fields import HoursField, RemainingField
from tracker.compliance.due import DuePage, DueRow
from tracker.compliance.models import Closed, LongerInterval
from tracker.compliance.models.findings import Standing
from tracker.compliance.rule_words import RuleWords, words_of
from tracker.compliance.states import WORDS
from tracker.fleet.models import Engine, MeterKind, Reading


class OverhaulInBriefSerializer(serializers.ModelSerializer[Standing]):
    """The interval as it was last evaluated. Hours on the axis kept for the engine."""

    ends_hours = HoursField(source="overhaul_hours", allow_null=True)
    ends_on = serializers.DateField(source="overhaul_on", allow_null=True)
    binding = serializers.BooleanField(
        source="overhaul_binds",
        help_text="It is law in the engine's operation, or may be.",
    )
    missing = serializers.ListField(
        source="overhaul_missing", child=serializers.CharField()
    )
    longer = serializers.ChoiceField(
        source="longer_interval",
        choices=LongerInterval.choices,
        help_text="The best outcome among extensions on offer; empty without any.",
    )

    class Meta:
        model = Standing
        fields = ["ends_hours", "ends_on", "binding", "missing", "longer"]
        read_only_fields = fields


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
    overhaul = serializers.SerializerMethodField(
        help_text="The interval in brief; null where the engine was not evaluated yet."
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
            "overhaul",
            "version",
        ]
        read_only_fields = fields

    @extend_schema_field(OverhaulInBriefSerializer(allow_null=True))
    def get_overhaul(self, engine: Engine) -> Any:
        """The view has fetched the standing with the engine."""
        standing = getattr(engine, "standing", None)
        return None if standing is None else OverhaulInBriefSerializer(standing).data


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


class KnownMembers(serializers.Serializer[Any]):
    """Refuses members that it does not know, in place of leaving them unread."""

    def to_internal_value(self, data: Any) -> Any:
        values = super().to_internal_value(data)
        unknown = sorted(set(data) - set(self.fields))
        if unknown:
            message = f"Not known here. Known: {', '.join(self.fields)}."
            raise serializers.ValidationError(dict.fromkeys(unknown, message))
        return values


class NewReadingSerializer(KnownMembers):
    """What is sent to add a reading; unknown members are refused."""

    on = serializers.DateField(help_text="The day on which the meter was read.")
    shown = HoursField(help_text="What the meter shows.")
    remark = serializers.CharField(max_length=200, default="", allow_blank=True)
    confirmed = serializers.BooleanField(
        default=False,
        help_text="It is right, although it means far more use than this engine ever had.",
    )


class RuleWordsSerializer(serializers.Serializer[RuleWords]):
    """The parts of a rule as plain sentences; empty where it has none."""

    applicability = serializers.CharField()
    condition = serializers.CharField()
    action = serializers.CharField()
    interval = serializers.CharField()
    fluids = serializers.ListField(child=serializers.CharField())


class RuleSerializer(serializers.ModelSerializer[RuleVersion]):
    """`interval`: an overhaul interval; `fluids`: rows of oils; empty without any."""

    words = serializers.SerializerMethodField()

    class Meta:
        model = RuleVersion
        fields = [
            "number",
            "schema",
            "applicability",
            "condition",
            "action",
            "interval",
            "fluids",
            "words",
            "reason",
        ]
        read_only_fields = fields

    @extend_schema_field(RuleWordsSerializer)
    def get_words(self, version: RuleVersion) -> Any:
        return RuleWordsSerializer(words_of(version)).data


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


class ForecastSerializer(serializers.Serializer[Any]):
    """When hours are reached as the engine is run; null: not at all as it is run."""

    on = serializers.DateField(allow_null=True)
    earliest = serializers.DateField(allow_null=True)
    latest = serializers.DateField(allow_null=True)


class FindingSerializer(serializers.Serializer[DueRow]):
    """One provision for one engine, or for one part of it, as it stands today."""

    id = serializers.UUIDField(source="finding.public_id")
    engine = serializers.UUIDField(source="engine.public_id")
    publication = serializers.UUIDField(source="publication.public_id")
    kind = serializers.ChoiceField(source="publication.kind", choices=Kind.choices)
    number = serializers.CharField(source="publication.number")
    revision = serializers.CharField(source="revision.label", help_text="As printed.")
    provision = serializers.UUIDField(source="provision.public_id")
    title = serializers.CharField(source="provision.title")
    category = serializers.ChoiceField(
        source="provision.category", choices=Provision.Category.choices
    )
    part = serializers.CharField(help_text="Empty where it is about the engine.")
    state = serializers.SerializerMethodField()
    due_hours = HoursField(
        allow_null=True, help_text="On the axis of hours that is kept for the engine."
    )
    due_on = serializers.DateField(allow_null=True)
    which = serializers.ChoiceField(
        source="due.which",
        choices=["first", "last"],
        allow_null=True,
        help_text="Whether hours or date counts that comes first, or last.",
    )
    events = serializers.ListField(child=serializers.CharField())
    remaining_hours = RemainingField(source="due.remaining_hours", allow_null=True)
    remaining_days = serializers.IntegerField(
        source="due.remaining_days", allow_null=True
    )
    forecast = ForecastSerializer(allow_null=True)
    estimated = serializers.BooleanField(source="due.estimated")
    may_be_overdue = serializers.BooleanField(
        help_text="The last reading is so old that the point may have been passed."
    )
    reasons = serializers.ListField(child=serializers.CharField())
    missing = serializers.ListField(child=serializers.CharField())
    sentence = serializers.CharField()
    alternative = serializers.CharField(
        source="due.point.approval",
        help_text="Under what approval another method or time counts; mostly empty.",
    )

    def get_state(self, row: DueRow) -> str:
        """The state in the words of a due list, or why nothing is open."""
        if row.finding.closed == Closed.NOT_ADOPTED:
            return str(Closed.NOT_ADOPTED.value)
        return row.word


class DueQuerySerializer(serializers.Serializer[Any]):
    """What may be asked of the due list."""

    state = serializers.MultipleChoiceField(
        choices=WORDS, required=False, help_text="All where none is named."
    )
    page = serializers.IntegerField(min_value=1, max_value=1_000_000, default=1)
    size = serializers.IntegerField(min_value=1, max_value=500, default=50)


class DuePageSerializer(serializers.Serializer[DuePage]):
    count = serializers.IntegerField(source="total", help_text="On all pages.")
    page = serializers.IntegerField(source="number")
    pages = serializers.IntegerField()
    states = serializers.DictField(
        source="counts",
        child=serializers.IntegerField(),
        help_text="How many there are of each state, whatever was asked for.",
    )
    results = FindingSerializer(source="rows", many=True)
