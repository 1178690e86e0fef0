"""The form that the link of a mail opens: the hours now, and fuel taken on since."""

from __future__ import annotations

import hashlib
from datetime import date
from typing import Any

from django import forms

from tracker.fleet.fuel import FuelEntry
from tracker.fleet.models import FuelKind, FuelUnit, Preference, Units
from tracker.web.forms.acts import ActForm
from tracker.web.forms.fields import DayField, HoursField

_AMOUNT = {"inputmode": "decimal", "size": "10", "autocomplete": "off"}
FUEL = ("quantity", "unit", "kind", "leaded_share")


class HoursByLinkForm(ActForm):
    """What the meter shows on a day. `seen`: what was sent when it was put in doubt."""

    shown = HoursField(label="The meter shows", help_text='Hours, such as "512.3".')
    on = DayField(label="Read on")
    quantity = forms.CharField(
        required=False,
        max_length=20,
        label="Fuel taken on since the last reading",
        widget=forms.TextInput(_AMOUNT),
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
    seen = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, data: Any, *, today: date, preference: Preference | None):
        us = preference is not None and preference.units == Units.US
        unit = FuelUnit.US_GALLONS if us else FuelUnit.LITRES
        super().__init__(data, initial={"on": today, "unit": unit})
        for name in ("unit", "kind"):
            self.fields[name].required = bool(data and data.get("quantity"))

    @property
    def reading_fields(self) -> list[forms.BoundField]:
        return [self["shown"], self["on"]]

    @property
    def fuel_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in FUEL]

    def clean(self) -> dict[str, Any]:
        entered = super().clean() or self.cleaned_data
        if entered.get("leaded_share") and not entered.get("quantity"):
            self.add_error("quantity", "Say how much was taken on, too.")
        return entered

    def fuelled(self) -> FuelEntry:
        """The fuel on the day of the reading; without a quantity there is none."""
        sent = {name: self.cleaned_data[name] for name in FUEL}
        return FuelEntry(on=self.cleaned_data["on"], **sent)

    @property
    def digest(self) -> str:
        """The same for the same entry: only what was looked at counts as confirmed."""
        names = ("shown", "on", *FUEL)
        sent = "\n".join(str(self.cleaned_data[name]) for name in names)
        return hashlib.sha256(sent.encode()).hexdigest()

    @property
    def is_confirmed(self) -> bool:
        seen: str = self.cleaned_data["seen"]
        return seen == self.digest
