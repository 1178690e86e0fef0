"""Values at the edge of the API: hours are decimals there, hundredths inside."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from notices.rules.errors import Fault
from notices.rules.facts import Hours
from notices.rules.forms import HoursForm, RefusedError

HOURS = HoursForm()
REMAINING = {
    "type": "number",
    "multipleOf": 0.01,
    "description": "hours; negative once the point is past",
}


@extend_schema_field(HOURS.schema())
class HoursField(serializers.Field[int, Any, Any, Any]):
    """Decimal hours with up to two places; hundredths of an hour inside."""

    def to_internal_value(self, data: Any) -> int:
        faults: list[Fault] = []
        try:
            return HOURS.read(data, "", faults)
        except RefusedError:
            raise serializers.ValidationError(
                [fault.message for fault in faults]
            ) from None

    def to_representation(self, value: int) -> Any:
        return HOURS.write(Hours(value))


@extend_schema_field(REMAINING)
class RemainingField(HoursField):
    """Hours that are left, only ever shown."""
