"""Forms of how an owner is told: what they want, and silence for a reason."""

from __future__ import annotations

from typing import Any

from django import forms

from tracker.accounts.models import Station
from tracker.accounts.time_zones import time_zones
from tracker.compliance.models import EventKind
from tracker.figures import wording
from tracker.fleet.models import Preference, Units
from tracker.fleet.preferences import MOST_LEAD_DAYS, MOST_LEAD_HOURS, PreferenceFacts
from tracker.web.forms.acts import ActForm
from tracker.web.forms.fields import HoursField

_HOURS = [(str(hour), f"{hour:02}:00") for hour in range(24)]


class PreferenceForm(ActForm):
    """What an owner wants; changes what is kept, or what holds without any entry."""

    GROUPS = (
        ("What", ("optional", "without")),
        ("How early", ("lead_hours", "lead_days")),
        ("When, and in which units", ("at_hour", "time_zone", "units")),
    )
    corrects = True

    optional = forms.BooleanField(
        required=False, label="Tell also what nobody is obliged to do"
    )
    without = forms.MultipleChoiceField(
        required=False,
        choices=EventKind.choices,
        widget=forms.CheckboxSelectMultiple,
        label="Of that, leave out",
    )
    lead_hours = HoursField(
        required=False, label="Coming due: hours before", most=MOST_LEAD_HOURS
    )
    lead_days = forms.IntegerField(
        required=False,
        label="Coming due: days before",
        min_value=0,
        max_value=MOST_LEAD_DAYS,
        error_messages={
            "invalid": "Write a whole number of days.",
            "min_value": "Write 0 days or more.",
            "max_value": f"At most {MOST_LEAD_DAYS} days before can be told.",
        },
    )
    at_hour = forms.ChoiceField(
        choices=_HOURS,
        label="The mail of a day goes from",
        help_text="There is at most one such mail a day, and none where nothing is new.",
    )
    time_zone = forms.ChoiceField(
        label="Time zone", help_text="In which that hour is meant and the day begins."
    )
    units = forms.ChoiceField(
        choices=Units.choices, label="Temperatures and volumes in"
    )

    def __init__(self, data: Any, *, kept: Preference, station: Station) -> None:
        names = ("optional", "without", "lead_hours", "lead_days", "units")
        initial = {name: getattr(kept, name) for name in names}
        initial["at_hour"] = str(kept.at_hour)
        initial["time_zone"] = kept.owner.time_zone
        super().__init__(data, initial=initial)
        self.fields["time_zone"].choices = [(zone, zone) for zone in time_zones()]  # type: ignore[attr-defined]  # a ChoiceField
        lead = wording.hours(station.lead_hours), wording.days(station.lead_days)
        for name, shown in zip(("lead_hours", "lead_days"), lead, strict=True):
            self.fields[name].help_text = f"Left empty: as the station does, {shown}."

    def facts(self) -> PreferenceFacts:
        entered = dict(self.cleaned_data)
        entered["at_hour"] = int(entered["at_hour"])
        return PreferenceFacts(**entered)


class SilenceForm(ActForm):
    NAMES = {"silenced_reason": "reason"}

    reason = forms.CharField(
        max_length=200,
        label="Why this owner is told nothing",
        help_text='Such as "gave up flying, engine stored at our hangar".',
    )
