"""Forms of parts: what a part is, how it was fitted, and why it was taken off."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, ClassVar, Final
from urllib.parse import urlencode

from django import forms
from django.urls import reverse

from tracker.compliance.named_values import Named
from tracker.fleet.errors import KnownPart, Refused
from tracker.fleet.models import Engine, PartDescription, PartFitting
from tracker.fleet.parts import Fit, PartEntry
from tracker.web.forms.acts import ActForm, Groups
from tracker.web.forms.fields import DayField, HoursField, OfferedField, SuggestedText

ASKED: Final = "What rules ask of it"
DATED, WITH_ENGINE, UNDATED = "dated", "with engine", "undated"
HOW = [
    (DATED, "fitted on the date below"),
    (WITH_ENGINE, "came new with the engine"),
    (UNDATED, "fitted at a date not known"),
]


class DescriptionFields(forms.Form):
    """What is known of a part; what is empty is unknown."""

    role = forms.CharField(label="Role", help_text="Fuel pump, magneto and so on.")
    number = forms.CharField(
        required=False, label="Part number", help_text="As on its plate."
    )
    serial = forms.CharField(
        required=False, label="Serial number", help_text="As on its plate."
    )
    change = forms.CharField(
        required=False, label="Change letter", help_text="Of its drawing."
    )
    change_known = forms.BooleanField(
        required=False, label="If the change letter is empty, it is known to have none"
    )
    built = DayField(required=False, label="Date of manufacture")
    shipped = DayField(required=False, label="Date of shipping")
    never_overhauled = forms.BooleanField(
        required=False, label="It is known that it was never overhauled"
    )

    def entry(self) -> PartEntry:
        names = DescriptionFields.base_fields
        return PartEntry(**{name: self.cleaned_data[name] for name in names})


class FitFields(forms.Form):
    """How a part was fitted, with the hours of that moment."""

    how = forms.ChoiceField(choices=HOW, label="The part")
    true_from = DayField(
        required=False,
        label="Date fitted",
        help_text="Left out where it came with the engine or is not known.",
    )
    fitted_new = forms.BooleanField(required=False, label="It was new when fitted")
    place = forms.CharField(
        required=False, label="Place", help_text="Left, right and the like."
    )
    engine_hours = HoursField(
        required=False,
        label="Hours of the engine when fitted",
        help_text="Empty: as read on that day, if they were.",
    )
    hours_new = HoursField(
        required=False,
        label="Hours of the part since new when fitted",
        help_text="Empty: as they follow from where it was before, if that is known.",
    )
    hours_overhaul = HoursField(
        required=False, label="Hours of the part since overhaul when fitted"
    )

    def clean_true_from(self) -> date | None:
        day: date | None = self.cleaned_data["true_from"]
        dated = self.cleaned_data.get("how", DATED) == DATED
        if dated and day is None:
            raise forms.ValidationError(
                "The date fitted is missing. Write it, or say that it is not known."
            )
        if not dated and day is not None:
            raise forms.ValidationError(
                "A date is written, but not that the part was fitted on it. Say so "
                "above, or leave the date out."
            )
        return day

    def fit(self, engine: Engine) -> Fit:
        """Hours at a date not known are those of now."""
        entered, how = self.cleaned_data, self.cleaned_data.get("how", DATED)
        hours = entered["engine_hours"]
        if hours is None and how == UNDATED:
            hours = engine.hours_now
        return Fit(
            place=entered["place"],
            date_known=how == DATED,
            fitted_new=how == WITH_ENGINE or entered.get("fitted_new", False),
            engine_hours=hours,
            hours_new=entered["hours_new"],
            hours_overhaul=entered["hours_overhaul"],
        )

    def fitted_on(self, engine: Engine, today: date) -> date:
        """From when it is known to be on the engine."""
        with_engine = self.cleaned_data.get("how") == WITH_ENGINE
        if with_engine and engine.built is not None:
            return engine.built
        day: date | None = self.cleaned_data["true_from"]
        return day or today


class NewPartForm(ActForm, FitFields, DescriptionFields):
    """A part that is entered as fitted to an engine.

    `known`: that it is entered here already, once it was refused for that.
    """

    known: KnownPart | None = None

    GROUPS: ClassVar[Groups] = (
        ("The part", tuple(DescriptionFields.base_fields)),
        ("How it was fitted", tuple(FitFields.base_fields)),
    )

    def __init__(
        self,
        data: Any,
        *,
        roles: Sequence[str],
        initial: dict[str, Any] | None = None,
    ) -> None:
        super().__init__(data, initial=initial)
        self.fields["role"].widget = SuggestedText(roles)

    def refuse(self, refused: Refused) -> None:
        if isinstance(refused, KnownPart):
            self.known = refused
        super().refuse(refused)

    def known_address(self, engine: Engine, **instead: str) -> str:
        """Where a known part is fitted in place of the one entered, "" without one."""
        if self.known is None:
            return ""
        args = [engine.public_id, self.known.part]
        carried = {name: self.data.get(name, "") for name in ("true_from", "place")}
        sent = {name: text for name, text in (carried | instead).items() if text}
        return f"{reverse('web:engine-part-take', args=args)}?{urlencode(sent)}"


class ReplacementForm(NewPartForm):
    """Another part in the place of one that is taken off, on a known day.

    The properties that rules ask of its role are asked for, too: without them it is
    undetermined whether like goes together with like.
    """

    GROUPS: ClassVar[Groups] = (
        ("The old part", ("reason", "true_from")),
        ("The new part", tuple(DescriptionFields.base_fields)),
        (
            "How it was fitted",
            tuple(name for name in FitFields.base_fields if name != "true_from"),
        ),
    )

    how = None  # type: ignore[assignment]  # Django's way to leave a field out
    reason = forms.CharField(label="Why the old part was taken off")

    def __init__(self, data: Any, *, today: date, role: str, named: Named) -> None:
        initial = {"true_from": today, "role": role}
        super().__init__(data, roles=[role], initial=initial)
        self.of_role, self.named = role, named
        self.asked = {f"property-{n}": p for n, p in enumerate(named.of(role))}
        for name, asked in self.asked.items():
            self.fields[name] = OfferedField(
                asked.values,
                required=False,
                label=f"{asked.name[:1].upper()}{asked.name[1:]}",
                help_text=f"Asked for by {', '.join(asked.documents)}.",
            )
        self.fields["true_from"].required = True
        self.fields["true_from"].help_text = ""
        self.fields["true_from"].label = "Taken off, and the new one fitted, on"

    @property
    def grouped(self) -> list[tuple[str, list[forms.BoundField]]]:
        asked = [self[name] for name in self.asked]
        return [*super().grouped, *([(ASKED, asked)] if asked else [])]

    def properties(self) -> dict[str, str]:
        """What was said of the new part, by the name of the property."""
        said = {one.name: self.cleaned_data[key] for key, one in self.asked.items()}
        return {name: value for name, value in said.items() if value}

    def doubt(self) -> str:
        """Return why what is entered is in question; empty where it is not."""
        asked = (
            self.named.doubt_about_value(self.of_role, name, value)
            for name, value in self.properties().items()
        )
        return " ".join(filter(None, asked))


class TakenForm(ActForm, FitFields):
    """A known part fitted here on a known day, from another engine or from the shelf."""

    how = None  # type: ignore[assignment]  # Django's way to leave a field out
    fitted_new = None  # type: ignore[assignment]  # the same
    reason = forms.CharField(label="Why the old part is taken off")
    engine_hours_before = HoursField(
        required=False,
        label="Hours of the engine that it leaves",
        help_text="Empty: as read on that day, if they were.",
    )

    def __init__(
        self,
        data: Any,
        *,
        today: date,
        moves: bool,
        replaces: bool,
        carried: Mapping[str, str],
    ) -> None:
        """`replaces`: another part is taken off; `carried`: written in a form before."""
        super().__init__(data, initial={"true_from": today, **carried})
        if not replaces:
            del self.fields["reason"]
        self.fields["true_from"].required = True
        self.fields["true_from"].help_text = ""
        if not moves:
            del self.fields["engine_hours_before"]


class DescriptionForm(ActForm, DescriptionFields):
    corrects = True

    true_from = DayField(
        required=False,
        label="Changed on",
        help_text="Leave it empty if the part was always so and what stood here was "
        "wrong or incomplete.",
    )

    def __init__(self, data: Any, *, kept: PartDescription) -> None:
        names = DescriptionFields.base_fields
        initial = {name: getattr(kept, name) for name in names}
        super().__init__(data, initial=initial)


class FittingForm(ActForm, FitFields):
    """How a part that is on the engine was fitted, written again."""

    corrects = True

    def __init__(self, data: Any, *, kept: PartFitting) -> None:
        unknown = WITH_ENGINE if kept.fitted_new else UNDATED
        initial = {
            "how": unknown if kept.day is None else DATED,
            "true_from": kept.day,
            "fitted_new": kept.fitted_new,
            "place": kept.place,
            "engine_hours": kept.engine_hours,
            "hours_new": kept.part_hours_new,
            "hours_overhaul": kept.part_hours_overhaul,
        }
        super().__init__(data, initial=initial)
        self.fields["true_from"].help_text = (
            "Where it is learnt now, hours of the part that stay as they are below are "
            "counted back to that day."
        )


class RemovalForm(ActForm):
    true_from = DayField(label="Taken off on")
    engine_hours = HoursField(
        required=False,
        label="Hours of the engine then",
        help_text="Empty: as read on that day, if they were.",
    )
    reason = forms.CharField(label="Why")

    def __init__(self, data: Any, *, today: date) -> None:
        super().__init__(data, initial={"true_from": today})
