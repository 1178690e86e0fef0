"""The overhaul interval of an engine in the API: in brief beside it, in full by itself."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from notices.rules.facts import Unknown
from notices.rules.overhaul import Holding, Offer, Reach, Step
from tracker.api.fields import HoursField, RemainingField
from tracker.api.permissions import viewer_in
from tracker.api.serializers import ForecastSerializer
from tracker.api.views import engine_of, today_of
from tracker.compliance.longer_words import work_of
from tracker.compliance.overhaul_words import answer_sentences
from tracker.compliance.overhauls import Overhaul, Provided, overhauls_of


class StepSerializer(serializers.Serializer[Any]):
    words = serializers.CharField()
    kind = serializers.ChoiceField(
        choices=["embody", "comply", "fit", "replace", "remove"]
    )
    number = serializers.CharField(
        help_text="Of the modification, document or part; empty for none."
    )
    title = serializers.SerializerMethodField(
        help_text="Of the work by which it is done; empty where no document has it."
    )

    def get_title(self, step: Step) -> str:
        work = work_of(step, self.context["works"])
        return "" if work is None else work.title


class ReachSerializer(serializers.Serializer[Reach]):
    """A smallest set of things to do that makes an extension hold."""

    steps = StepSerializer(many=True)
    man_hours = HoursField(allow_null=True)


class ProvidedSerializer(serializers.Serializer[Provided]):
    """One provision as it stands to the engine."""

    provision = serializers.UUIDField(source="rule.provision.public_id")
    publication = serializers.UUIDField(source="rule.publication.public_id")
    number = serializers.CharField(source="rule.publication.number")
    revision = serializers.CharField(source="rule.revision.label")
    title = serializers.CharField(source="rule.provision.title")
    outcome = serializers.ChoiceField(
        source="holding.value", choices=[holding.value for holding in Holding]
    )
    hours = HoursField(source="said.hours", allow_null=True)
    years = serializers.IntegerField(source="said.years", allow_null=True)
    ends_hours = serializers.SerializerMethodField(
        help_text="Where its own limit falls, on the axis kept for the engine."
    )
    ends_on = serializers.DateField(source="ending.on", allow_null=True)
    reasons = serializers.ListField(
        source="said.reasons", child=serializers.CharField()
    )
    missing = serializers.ListField(
        source="said.missing", child=serializers.CharField()
    )

    @extend_schema_field(HoursField(allow_null=True))
    def get_ends_hours(self, one: Provided) -> Any:
        return on_axis(one.ending.hours, self.context["zero"])


class OfferSerializer(ProvidedSerializer):
    """One extension; `fixed`: what stands against it and nobody can change."""

    lengthens = serializers.BooleanField()
    fixed = serializers.ListField(source="said.fixed", child=serializers.CharField())
    reach = ReachSerializer(source="said.reach", many=True)
    enter_hours = serializers.SerializerMethodField(
        help_text="The last hour at which it may be entered."
    )
    enter_on = serializers.DateField(source="said.enter_on", allow_null=True)

    @extend_schema_field(HoursField(allow_null=True))
    def get_enter_hours(self, one: Provided) -> Any:
        assert isinstance(one.said, Offer)
        return on_axis(one.said.enter_hours, self.context["zero"])


class OverhaulSerializer(serializers.Serializer[Overhaul]):
    """The overhaul interval today. Hours on the axis that is kept for the engine."""

    state = serializers.CharField(
        source="word",
        help_text="A state, or that it is past an interval that is only recommended.",
    )
    hours = HoursField(source="found.point.hours", allow_null=True)
    years = serializers.IntegerField(source="found.point.years", allow_null=True)
    hours_from = serializers.SerializerMethodField()
    years_from = serializers.SerializerMethodField()
    binding = serializers.SerializerMethodField(
        help_text="Whether it is law in the engine's operation; null if not known."
    )
    ends_hours = serializers.SerializerMethodField()
    ends_on = serializers.DateField(source="due.due.on", allow_null=True)
    remaining_hours = RemainingField(source="due.due.remaining_hours", allow_null=True)
    remaining_days = serializers.IntegerField(
        source="due.due.remaining_days", allow_null=True
    )
    used_hours = serializers.SerializerMethodField(
        help_text="Share of the hours used, above 1 once past."
    )
    used_years = serializers.SerializerMethodField(
        help_text="Share of the years used, above 1 once past."
    )
    forecast = ForecastSerializer(source="due.due.forecast", allow_null=True)
    missing = serializers.ListField(
        source="found.point.missing", child=serializers.CharField()
    )
    bases = ProvidedSerializer(many=True)
    restrictions = ProvidedSerializer(many=True)
    extensions = OfferSerializer(source="offers", many=True)
    sentences = serializers.SerializerMethodField(
        help_text="The interval, whether it is law, and whether a longer one applies."
    )

    @extend_schema_field(serializers.UUIDField(allow_null=True))
    def get_hours_from(self, found: Overhaul) -> Any:
        return _provision(found, found.found.point.from_hours)

    @extend_schema_field(serializers.UUIDField(allow_null=True))
    def get_years_from(self, found: Overhaul) -> Any:
        return _provision(found, found.found.point.from_years)

    def get_binding(self, found: Overhaul) -> bool | None:
        binding = found.found.point.binding
        return None if isinstance(binding, Unknown) else binding

    @extend_schema_field(HoursField(allow_null=True))
    def get_ends_hours(self, found: Overhaul) -> Any:
        return on_axis(found.due.due.hours, found.file.zero)

    def get_used_hours(self, found: Overhaul) -> float | None:
        return None if found.due.used is None else round(float(found.due.used), 4)

    def get_used_years(self, found: Overhaul) -> float | None:
        years = found.due.used_years
        return None if years is None else round(float(years), 4)

    def get_sentences(self, found: Overhaul) -> list[str]:
        return list(answer_sentences(found))


def on_axis(hours: int | None, zero: int) -> Any:
    """Return hours as the core counts them as decimals on the engine's axis."""
    return None if hours is None else HoursField().to_representation(hours + zero)


def _provision(found: Overhaul, name: str | None) -> str | None:
    if name is None:
        return None
    return str(found.found.by_id[name].provision.public_id)


class EngineOverhaulSerializer(serializers.Serializer[Any]):
    """`overhaul`: null where no document in force says anything of an interval."""

    engine = serializers.UUIDField()
    overhaul = OverhaulSerializer(allow_null=True)


class EngineOverhaul(APIView):
    """The overhaul interval of an engine today, and what would make a longer one apply."""

    @extend_schema(responses=EngineOverhaulSerializer, operation_id="engine_overhaul")
    def get(self, request: Request, engine: UUID) -> Response:
        seen = engine_of(request, engine)
        seen.station = viewer_in(request).station
        found = overhauls_of([seen], on=today_of(request)).get(seen.pk)
        context = {
            "zero": 0 if found is None else found.file.zero,
            "works": {} if found is None else found.works,
        }
        body = EngineOverhaulSerializer(
            {"engine": seen.public_id, "overhaul": found}, context=context
        )
        return Response(body.data)
