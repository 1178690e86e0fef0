"""The form for an advisory document that is not adopted, or is adopted after all."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from tracker.web.forms.acts import ActForm
from tracker.web.forms.fields import DayField


class AdoptionForm(ActForm):
    person = forms.CharField(
        label="Decided by",
        help_text="The owner or operator, by name.",
        max_length=120,
    )
    reason = forms.CharField(
        label="Why",
        widget=forms.Textarea({"rows": "3", "cols": "60"}),
        max_length=1000,
    )
    true_from = DayField(label="Decided on")

    def __init__(self, sent: Any, *, today: date, owner: str) -> None:
        super().__init__(sent, initial={"true_from": today, "person": owner})
