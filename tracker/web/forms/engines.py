"""Forms about an engine itself: what it is, where it is, whose, and how it is run."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from tracker.accounts.access import Viewer
from tracker.compliance.named_values import Named
from tracker.fleet.models import (
    Engine,
    EngineType,
    Fitting,
    Identity,
    Operation,
    Owner,
    State,
)
from tracker.fleet.register import (
    FittingFacts,
    IdentityFacts,
    NewEngine,
    OperationFacts,
)
from tracker.web.forms.acts import ActForm, EditForm
from tracker.web.forms.fields import DayField, HoursField, PickField, UsesField

REBUILT = [
    ("", "not known"),
    ("never", "never"),
    ("dated", "yes, on the date below"),
    ("undated", "yes, at a date not known"),
]
FITTED = [("yes", "in an aircraft"), ("no", "known to be in no aircraft")]
NOTHING_SAID = ("", "not known")


def own_types(viewer: Viewer) -> list[tuple[EngineType, str]]:
    types = EngineType.objects.visible_to(viewer)
    return [(one, one.designation) for one in types]


def own_owners(viewer: Viewer) -> list[tuple[Owner, str]]:
    return [(one, one.name) for one in Owner.objects.visible_to(viewer)]


class IdentityFields(forms.Form):
    """What is stamped on an engine and recorded of its making."""

    engine_type = PickField(label="Type designation")
    type_complete = forms.BooleanField(
        required=False, initial=True, label="This is the complete designation"
    )
    serial = forms.CharField(
        label="Serial number", help_text="As stamped on the data plate, with its zeros."
    )
    built = DayField(required=False, label="Date of manufacture")
    shipped = DayField(required=False, label="Date of shipping")
    rebuilt = forms.ChoiceField(
        choices=REBUILT,
        required=False,
        label="Rebuilt by the maker before it came here",
    )
    rebuilt_on = DayField(required=False, label="Date of that rebuild")
    hours_at_new = HoursField(
        required=False,
        initial=0,
        label="Hours that its record showed when it was new",
        help_text="0 as a rule. Leave it empty if time since new is not known.",
    )

    def clean_rebuilt_on(self) -> Any:
        day, said = self.cleaned_data["rebuilt_on"], self.cleaned_data.get("rebuilt")
        if day is None and said == "dated":
            raise forms.ValidationError(
                "The date of the rebuild is missing. Write it, or say that it is not "
                "known."
            )
        if day is not None and said != "dated":
            raise forms.ValidationError(
                "A date of rebuild is written, but not that there was one on a date. "
                "Say so above, or leave the date out."
            )
        return day

    def identity(self) -> IdentityFacts:
        entered = self.cleaned_data
        return IdentityFacts(
            engine_type=entered["engine_type"],
            serial=entered["serial"],
            type_complete=entered["type_complete"],
            built=entered["built"],
            shipped=entered["shipped"],
            rebuilt_known=entered["rebuilt"] != "",
            rebuilt_undated=entered["rebuilt"] == "undated",
            rebuilt=entered["rebuilt_on"],
            hours_at_new=entered["hours_at_new"],
        )


class AircraftFields(forms.Form):
    """Where an engine is fitted."""

    fitted = forms.ChoiceField(choices=FITTED, label="The engine is")
    registration = forms.CharField(required=False, label="Registration of the aircraft")
    aircraft_type = forms.CharField(required=False, label="Type of the aircraft")
    registry = forms.CharField(
        required=False,
        label="State of registry",
        help_text='Two letters, such as "NO".',
    )
    position = forms.CharField(
        required=False, label="Position", help_text="Left, right and the like."
    )
    airframe_hours = HoursField(required=False, label="Hours of the airframe then")

    def fitting(self) -> FittingFacts:
        entered = self.cleaned_data
        return FittingFacts(
            fitted=entered["fitted"] == "yes",
            registration=entered["registration"],
            aircraft_type=entered["aircraft_type"],
            registry=entered["registry"],
            position=entered["position"],
            airframe_hours=entered["airframe_hours"],
        )


class OperationFields(forms.Form):
    """How an engine is run."""

    uses = UsesField(
        required=False,
        label="Operation",
        help_text="All that documents in force name are offered. None ticked: not known.",
    )
    leaded_share = forms.CharField(
        required=False,
        label="Share of leaded fuel, as the owner declares it",
        help_text='By volume: "40 %", "0.4" or "2/5". Empty: not declared.',
    )
    oil_low = forms.CharField(
        required=False, label="Lowest oil temperature in operation"
    )
    oil_high = forms.CharField(
        required=False, label="Highest oil temperature in operation"
    )
    oil_unit = forms.ChoiceField(
        choices=[("C", "°C"), ("F", "°F")], label="Unit of both oil temperatures"
    )
    ambient_low = forms.CharField(
        required=False,
        label="Lowest ambient temperature of the coming season",
        help_text="Of the air in which the engine is started. The advice on oil goes "
        "by it.",
    )
    ambient_high = forms.CharField(
        required=False, label="Highest ambient temperature of the coming season"
    )
    ambient_unit = forms.ChoiceField(
        choices=[("C", "°C"), ("F", "°F")], label="Unit of both ambient temperatures"
    )

    def operation(self) -> OperationFacts:
        entered = self.cleaned_data
        others = (name for name in OperationFacts.__slots__ if name != "uses")
        return OperationFacts(
            uses=tuple(entered["uses"]),
            **{name: entered[name] for name in others},
        )


WHERE = (
    "owner",
    "state",
    "aircraft",
    "registration",
    "aircraft_type",
    "registry",
    "position",
    "uses",
    "true_from",
)


class NewEngineForm(ActForm, IdentityFields):
    """A new engine: its identity, and where it is now as far as that is known."""

    NAMES = {"fitted": "aircraft"}
    GROUPS = (
        ("What it is", tuple(IdentityFields.base_fields)),
        ("Whose and where it is", WHERE),
    )

    owner = PickField(required=False, label="Owner")
    state = forms.ChoiceField(choices=State.choices, label="State")
    aircraft = forms.ChoiceField(
        choices=[NOTHING_SAID, *FITTED], required=False, label="The engine is fitted"
    )
    registration = AircraftFields.base_fields["registration"]
    aircraft_type = AircraftFields.base_fields["aircraft_type"]
    registry = AircraftFields.base_fields["registry"]
    position = AircraftFields.base_fields["position"]
    uses = OperationFields.base_fields["uses"]
    true_from = DayField(
        label="Owner, state, aircraft and operation hold since",
        help_text="Since when you know it to be so; today if in doubt.",
    )

    def __init__(self, data: Any, *, viewer: Viewer, today: date, named: Named) -> None:
        super().__init__(data, initial={"true_from": today})
        self.named = named
        self.fields["uses"].offer(named.offered_uses)  # type: ignore[attr-defined]  # a UsesField
        self.fields["engine_type"].offer(own_types(viewer), none="Choose the type")  # type: ignore[attr-defined]  # a PickField
        self.fields["owner"].offer(own_owners(viewer), none="not known")  # type: ignore[attr-defined]  # the same

    def doubt(self) -> str:
        """Return why what is entered is in question; empty where it is not."""
        return self.named.doubt_about_uses(self.cleaned_data["uses"])

    def entry(self) -> NewEngine:
        entered = self.cleaned_data
        said = any(
            entered[n]
            for n in ("registration", "aircraft_type", "registry", "position")
        )
        fitting = None
        if entered["aircraft"] or said:
            fitting = FittingFacts(
                fitted=entered["aircraft"] != "no",
                registration=entered["registration"],
                aircraft_type=entered["aircraft_type"],
                registry=entered["registry"],
                position=entered["position"],
            )
        uses = tuple(entered["uses"])
        return NewEngine(
            identity=self.identity(),
            owner=entered["owner"],
            fitting=fitting,
            state=entered["state"],
            operation=OperationFacts(uses=uses) if uses else None,
        )


class IdentityForm(EditForm, IdentityFields):
    """Identity corrected from the start, or changed on a day by a conversion."""

    NAMES = {"rebuilt": "rebuilt_on"}

    changed_on = DayField(
        required=False,
        label="Changed on",
        help_text="The day of a conversion. Leave it empty if the engine was always so "
        "and what stood here was wrong or incomplete.",
    )

    def __init__(
        self, data: Any, *, viewer: Viewer, engine: Engine, kept: Identity
    ) -> None:
        super().__init__(data, initial=_identity(engine, kept))
        self.fields["engine_type"].offer(own_types(viewer), none="Choose the type")  # type: ignore[attr-defined]  # a PickField


def _identity(engine: Engine, kept: Identity) -> dict[str, Any]:
    rebuilt = "never" if kept.rebuilt_known else ""
    if kept.rebuilt is not None:
        rebuilt = "dated"
    elif kept.rebuilt_undated:
        rebuilt = "undated"
    return {
        "version": engine.version,
        "engine_type": str(engine.engine_type.public_id),
        "type_complete": kept.type_complete,
        "serial": kept.serial,
        "built": kept.built,
        "shipped": kept.shipped,
        "rebuilt": rebuilt,
        "rebuilt_on": kept.rebuilt,
        "hours_at_new": kept.hours_at_new,
    }


class SinceForm(EditForm):
    """Holds from a day on; today unless another is written."""

    true_from = DayField(label="Since")

    def __init__(
        self, data: Any, *, engine: Engine, today: date, kept: dict[str, Any]
    ) -> None:
        initial = {"version": engine.version, "true_from": today, **kept}
        super().__init__(data, initial=initial)


class AircraftForm(SinceForm, AircraftFields):
    def __init__(
        self, data: Any, *, engine: Engine, today: date, kept: Fitting | None
    ) -> None:
        names = (
            "registration",
            "aircraft_type",
            "registry",
            "position",
            "airframe_hours",
        )
        values = {name: getattr(kept, name) for name in names} if kept else {}
        if kept is not None:
            values["fitted"] = "yes" if kept.fitted else "no"
        super().__init__(data, engine=engine, today=today, kept=values)
        self.order_fields([*AircraftFields.base_fields, "true_from"])


class StateForm(SinceForm):
    state = forms.ChoiceField(choices=State.choices, label="State")

    def __init__(self, data: Any, *, engine: Engine, today: date) -> None:
        kept = {"state": engine.state}
        super().__init__(data, engine=engine, today=today, kept=kept)
        self.order_fields(["state", "true_from"])


class TransferForm(SinceForm):
    owner = PickField(
        label="Owner",
        help_text="With a new owner the reviews of the engine's history lapse.",
    )

    def __init__(
        self, data: Any, *, viewer: Viewer, engine: Engine, today: date
    ) -> None:
        kept = {"owner": str(engine.owner.public_id) if engine.owner else ""}
        super().__init__(data, engine=engine, today=today, kept=kept)
        self.fields["owner"].offer(own_owners(viewer), none="Choose the owner")  # type: ignore[attr-defined]  # a PickField
        self.order_fields(["owner", "true_from"])


class OperationForm(SinceForm, OperationFields):
    GROUPS = (
        ("Use and fuel", ("uses", "leaded_share")),
        ("Oil in operation", ("oil_low", "oil_high", "oil_unit")),
        ("Air of the coming season", ("ambient_low", "ambient_high", "ambient_unit")),
        ("Since when", ("true_from",)),
    )

    def __init__(
        self,
        data: Any,
        *,
        engine: Engine,
        today: date,
        kept: Operation | None,
        named: Named,
    ) -> None:
        names = OperationFacts.__slots__
        values = {name: getattr(kept, name) for name in names} if kept else {}
        super().__init__(data, engine=engine, today=today, kept=values)
        self.named = named
        self.fields["uses"].offer(named.offered_uses)  # type: ignore[attr-defined]  # a UsesField
        self.order_fields([*OperationFields.base_fields, "true_from"])

    def doubt(self) -> str:
        """Return why what is entered is in question; empty where it is not."""
        return self.named.doubt_about_uses(self.cleaned_data["uses"])
