"""The form of fuel taken on."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from tracker.fleet.fuel import FuelEntry
from tracker.fleet.models import FuelKind, FuelUnit
from tracker.web.forms.acts import ActForm
from tracker.web.forms.fields import DayField, HoursField

_AMOUNT = {"inputmode": "decimal", "size": "10", "autocomplete": "off"}


class FuelForm(ActForm):
    """What was taken on, on one day."""

    on = DayField(label="Taken on")
    quantity = forms.CharField(
        max_length=20, label="Quantity", widget=forms.TextInput(_AMOUNT)
    )
    unit = forms.ChoiceField(choices=FuelUnit.choices, label="Unit")
    kind = forms.ChoiceField(choices=FuelKind.choices, label="Fuel")
    leaded_share = forms.CharField(
        required=False,
        max_length=20,
        label="Leaded share of a blend",
        help_text='By volume: "40 %", "0.4" or "2/5". For a blend only.',
        widget=forms.TextInput(_AMOUNT),
    )
    hours = HoursField(
        required=False,
        label="Hours of the engine then",
        help_text="Empty: not known. With them it is known what the engine burns.",
    )
    remark = forms.CharField(required=False, label="Remark")

    def __init__(self, data: Any, *, today: date, last: dict[str, Any]) -> None:
        super().__init__(data, initial={"on": today, **last})

    def entry(self) -> FuelEntry:
        return FuelEntry(**self.cleaned_data)
