"""Forms of a station about itself: its settings, its people, who signs in for whom."""

from __future__ import annotations

from typing import Any

from django import forms

from tracker.accounts.access import Viewer
from tracker.accounts.models import Membership, Role, Station, User
from tracker.accounts.time_zones import time_zones
from tracker.fleet.models import Owner
from tracker.web.forms.fields import HoursField


class StationForm(forms.Form):
    name = forms.CharField(max_length=120, label="Name of the station")
    time_zone = forms.ChoiceField(
        label="Time zone", help_text="In which a day begins and ends at the station."
    )
    lead_hours = HoursField(
        label="Coming due: hours before",
        help_text="Something is listed as coming due from so many hours before.",
        most=1_000_000,
    )
    lead_days = forms.IntegerField(
        label="Coming due: days before", min_value=0, max_value=3650
    )
    reading_age_days = forms.IntegerField(
        label="A reading is old after days",
        help_text="An engine whose last reading is older is listed.",
        min_value=1,
        max_value=3650,
    )
    second_person_confirms = forms.BooleanField(
        required=False,
        label="A revision is confirmed by another person than entered it",
    )

    def __init__(self, *args: Any, station: Station, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(station, name) for name in self.base_fields}
        super().__init__(*args, **kwargs)
        self.fields["time_zone"].choices = [(zone, zone) for zone in time_zones()]  # type: ignore[attr-defined]  # a ChoiceField


class PersonForm(forms.Form):
    email = forms.EmailField(
        label="E-mail address", help_text="The person signs in with it."
    )
    name = forms.CharField(
        max_length=120,
        label="Name",
        help_text="As it stands under a record. A person who signs in already keeps theirs.",
    )
    role = forms.ChoiceField(label="Role", choices=Role.choices)

    def clean_role(self) -> Role:
        return Role(self.cleaned_data["role"])


class RoleForm(forms.Form):
    role = forms.ChoiceField(label="Role", choices=Role.choices)

    def clean_role(self) -> Role:
        return Role(self.cleaned_data["role"])


class LoginForm(forms.Form):
    """Offers owners and people of the viewer's station, no others."""

    owner = forms.ModelChoiceField(
        Owner.objects.none(), to_field_name="public_id", label="Owner"
    )
    person = forms.ModelChoiceField(
        User.objects.none(),
        to_field_name="public_id",
        label="Person",
        help_text="One of the people of the station whose role is owner.",
    )

    def __init__(self, *args: Any, viewer: Viewer, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = Membership.objects.of(viewer.station).filter(role=Role.OWNER)
        users = User.objects.filter(memberships__in=people).order_by("name", "pk")
        self.fields["owner"].queryset = Owner.objects.visible_to(viewer)  # type: ignore[attr-defined]  # a ModelChoiceField
        self.fields["person"].queryset = users  # type: ignore[attr-defined]  # the same
