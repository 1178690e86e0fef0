"""Forms of what happened to an engine, and of the marks on its history."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import Any

from django import forms

from tracker.compliance.named_values import Named
from tracker.fleet.fitted_parts import FittedPart
from tracker.fleet.models import Review, SearchKind
from tracker.web.forms.acts import ActForm
from tracker.web.forms.fields import (
    DayField,
    HoursField,
    OfferedField,
    PickField,
    SuggestedText,
)

THE_ENGINE = "the engine itself"


class RebuildForm(ActForm):
    on = DayField(label="Returned to service on")
    hours = HoursField(
        required=False,
        label="Hours of the engine then",
        help_text="Empty: not known.",
    )


class OverhaulForm(RebuildForm):
    NAMES = {"by": "done_by"}

    done_by = forms.CharField(
        required=False, label="Done by", help_text='The name, or "maker".'
    )
    tested = forms.CharField(
        required=False,
        label="Tested as",
        help_text="Against which limits or data, in the words of its record, such as "
        "run to the maker's test sheet. Only what was tested may be described as "
        "overhauled (14 CFR 43.2(a)(2)).",
    )
    transcribed = forms.BooleanField(
        required=False, label="It is transcribed from a log that notes no test"
    )


class PartOverhaulForm(OverhaulForm):
    part_hours = HoursField(
        required=False,
        label="Hours of the part since new then",
        help_text="Empty: not known.",
    )


class EventForm(ActForm):
    name = forms.CharField(
        label="What happened",
        help_text="As compliance times name it, such as propeller strike or oil change.",
    )
    on = DayField(label="On")
    hours = HoursField(
        required=False,
        label="Hours of the engine then",
        help_text="Empty: not known.",
    )
    remark = forms.CharField(required=False, label="Remark")

    def __init__(self, data: Any, *, today: date, known: Sequence[str]) -> None:
        super().__init__(data, initial={"on": today})
        self.fields["name"].widget = SuggestedText(known)


class WithdrawalForm(ActForm):
    NAMES = {"withdrawn_reason": "reason"}

    reason = forms.CharField(label="Why it is wrong")


class ModificationForm(ActForm):
    NAMES = {"designation": "modification"}

    modification = forms.CharField(
        label="Modification, bulletin or directive",
        help_text='One designation, such as "SB-24-011".',
    )
    embodied = forms.ChoiceField(
        choices=[("yes", "embodied"), ("no", "looked for, and not embodied")],
        widget=forms.RadioSelect,
        label="It is",
    )
    true_from = DayField(
        label="Since", help_text="The day it was done, or seen not to be."
    )
    source = forms.CharField(
        required=False,
        label="How it is known",
        help_text="Data plate, logbook page and the like.",
    )

    def __init__(self, data: Any, *, today: date) -> None:
        super().__init__(data, initial={"true_from": today})


class AboutForm(ActForm):
    """About the engine itself, or about one of the parts fitted to it."""

    part = PickField(required=False, label="About")

    def __init__(
        self,
        data: Any,
        *,
        fitted: Iterable[FittedPart],
        initial: Mapping[str, Any],
    ) -> None:
        super().__init__(data, initial=dict(initial))
        named = [(one.part, str(one)) for one in fitted]
        self.fields["part"].offer(named, none=THE_ENGINE)  # type: ignore[attr-defined]  # a PickField


class AttributeForm(AboutForm):
    """A property, with the values that rules in force name once it is said which."""

    name = forms.CharField(
        label="Property",
        help_text="As a rule asks for it, such as drive or plate colour.",
    )
    value = forms.CharField(label="What it is", help_text='Such as "geared".')
    true_from = DayField(label="Since")

    def __init__(
        self,
        data: Any,
        *,
        today: date,
        known: Iterable[str],
        named: Named,
        fitted: Sequence[FittedPart],
        about: Mapping[str, str],
    ) -> None:
        """`named`: what rules name; `about`: part and name where an address says them."""
        super().__init__(data, fitted=fitted, initial={"true_from": today, **about})
        self.named = named
        self.roles = {str(f.part.public_id): f.description.role for f in fitted}
        names = {*known, *(asked.name for asked in named.properties)}
        self.fields["name"].widget = SuggestedText(sorted(names))
        said = {key: str(self[key].value() or "") for key in ("part", "name")}
        asked = named.find(self._role(said["part"]), said["name"])
        if asked is not None:
            self.fields["value"] = OfferedField(asked.values, label="What it is")

    def doubt(self) -> str:
        """Return why what is entered is in question; empty where it is not."""
        entered = self.cleaned_data
        role = self._role(entered["part"] and str(entered["part"].public_id))
        return self.named.doubt_about_value(role, entered["name"], entered["value"])

    def _role(self, part: str | None) -> str:
        return self.roles.get(part or "", "")


class SearchForm(AboutForm):
    NAMES = {"true_from": "searched_to"}

    kind = forms.ChoiceField(choices=SearchKind.choices, label="Searched for")
    searched_to = DayField(
        label="Searched to", help_text="The day up to which the source was complete."
    )
    source = forms.CharField(
        label="Source", help_text="Where it was searched, and in which edition."
    )
    person = forms.CharField(label="By whom")

    def __init__(
        self, data: Any, *, today: date, person: str, fitted: Iterable[FittedPart]
    ) -> None:
        initial = {"searched_to": today, "person": person}
        super().__init__(data, fitted=fitted, initial=initial)


class ReviewForm(ActForm):
    scope = forms.ChoiceField(
        label="Gone through",
        help_text="From then on, what is not recorded of it counts as absent.",
    )
    person = forms.CharField(label="By whom")
    true_from = DayField(label="On")
    remark = forms.CharField(required=False, label="Remark")

    def __init__(
        self, data: Any, *, today: date, person: str, roles: Sequence[str]
    ) -> None:
        initial = {"true_from": today, "person": person}
        super().__init__(data, initial=initial)
        self.fields["scope"].choices = [  # type: ignore[attr-defined]  # a ChoiceField
            (Review.HISTORY, "the whole history of the engine"),
            *((role, f"the parts of the role {role}") for role in roles),
        ]


class LapseForm(ActForm):
    reason = forms.CharField(
        label="Why", help_text="Such as: worked on by another shop."
    )
    true_from = DayField(label="Since")

    def __init__(self, data: Any, *, today: date) -> None:
        super().__init__(data, initial={"true_from": today})
