"""Forms of a station about itself: its settings, its people, who signs in for whom."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.text import slugify

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
    check_is_open = forms.BooleanField(
        required=False,
        label="Anybody may check an engine against our current documents, "
        "without an account",
    )
    check_address = forms.SlugField(
        required=False,
        max_length=60,
        label="Last part of the address of that page",
        help_text="Small letters, figures and hyphens. "
        "Whoever has kept the old address no longer finds the page.",
        error_messages={
            "invalid": "Write small letters from a to z, figures and hyphens only."
        },
    )

    def __init__(self, data: Any, *, station: Station) -> None:
        kept = {name: getattr(station, name) for name in self.base_fields}
        self.suggestion = "" if kept["check_address"] else slugify(station.name)[:60]
        kept["check_address"] = kept["check_address"] or self.suggestion
        super().__init__(data, initial=kept)
        self.fields["time_zone"].choices = [(zone, zone) for zone in time_zones()]  # type: ignore[attr-defined]  # a ChoiceField

    def clean_check_address(self) -> str:
        return str(self.cleaned_data["check_address"]).lower()

    def clean(self) -> dict[str, Any]:
        entered = super().clean() or self.cleaned_data
        is_open, address = entered.get("check_is_open"), entered.get("check_address")
        if is_open and address == "":
            self.add_error("check_address", "An open check page needs an address.")
        if not is_open and address == self.suggestion:
            # Nobody has chosen it: another station may have it.
            entered["check_address"] = ""
        return entered


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
