"""The form of an owner: name, kind, and how to reach them."""

from __future__ import annotations

from typing import Any

from django import forms

from tracker.accounts.time_zones import time_zones
from tracker.fleet.models import Owner, OwnerKind
from tracker.fleet.register import OwnerFacts
from tracker.web.forms.acts import ActForm
from tracker.web.forms.signing import SignForm


class OwnerForm(ActForm):
    """`kept`: the owner whose entry is changed, None for a new one."""

    name = forms.CharField(
        label="Name", help_text="Of the person, club, school or company."
    )
    kind = forms.ChoiceField(choices=OwnerKind.choices, label="Kind of owner")
    email = forms.EmailField(
        required=False,
        label="E-mail address",
        error_messages={
            "invalid": 'This is not an e-mail address. Write it as "name@place.example".'
        },
    )
    phone = forms.CharField(required=False, label="Telephone")
    time_zone = forms.ChoiceField(
        label="Time zone", help_text="In which the owner's day begins."
    )

    def __init__(self, data: Any, *, kept: Owner | None, time_zone: str) -> None:
        names = ("name", "kind", "email", "phone", "time_zone")
        initial: dict[str, Any] = {"time_zone": time_zone}
        if kept is not None:
            initial = {name: getattr(kept, name) for name in names}
        super().__init__(data, initial=initial)
        self.corrects = kept is not None
        self.fields["time_zone"].choices = [(zone, zone) for zone in time_zones()]  # type: ignore[attr-defined]  # a ChoiceField

    def facts(self) -> OwnerFacts:
        return OwnerFacts(**self.cleaned_data)


class RemovalForm(SignForm, ActForm):
    """The password, before personal data is taken out for good."""

    def __init__(self, *args: Any, **given: Any) -> None:
        super().__init__(*args, **given)
        self.fields["password"].help_text = "Asked again: this cannot be taken back."
