"""The form by which somebody without an account describes an engine.

Nothing has to be filled in: what is left empty is not known. Beside the fields that are
there from the first it takes every fact that a current document may ask for, and shows
those that were told and those that an answer hangs on.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any, Final

from django import forms

from notices.rules.facts import UNKNOWN, Overhaul, TemperatureRange, Unknown
from notices.rules.serials import fits_pattern, parse_serial
from notices.rules.temperatures import Unit, degrees_words, in_celsius
from tracker.accounts.models import Station
from tracker.compliance.open_check import (
    Described,
    Fact,
    Happened,
    Kind,
    OpenLibrary,
    Told,
    Wanted,
)
from tracker.figures import wording
from tracker.web.forms import told_facts
from tracker.web.forms.fields import DayField, HoursField
from tracker.web.forms.told_facts import EVER, MOST_HOURS, NOT_KNOWN

ID: Final = "check"
"""The id of the form: its fields stand beside the answers, all over the page."""

ELSE: Final = "somebody else"
USES: Final = {
    "private": frozenset({"private"}),
    "commercial": frozenset({"commercial"}),
    "both": frozenset({"private", "commercial"}),
}
FUELS: Final = {"unleaded": Fraction(0), "leaded": Fraction(1)}
MIX: Final = "mix"
RANGES: Final = ("oil", "ambient")
HOURS_OF_DAY: Final = 2_400
"""In hundredths."""
ABSOLUTE_ZERO: Final = Fraction("-273.15")
"""In deg C: nothing is colder (International System of Units, definition of 1954)."""
_UNITS: Final = [("C", "°C"), ("F", "°F")]
_NUMBER: Final = {"inputmode": "decimal", "size": "6"}


GROUPS: Final = (
    ("The engine", "", (("serial", "built", "hours"),)),
    (
        "Overhaul",
        "The last one, if there was one.",
        (("overhauled", "overhauled_on", "overhauled_hours", "overhauled_by"),),
    ),
    (
        "How it is run",
        "",
        (
            ("uses", "fuel", "fuel_share"),
            ("oil_low", "oil_high", "oil_unit"),
            ("ambient_low", "ambient_high", "ambient_unit"),
        ),
    ),
)


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that was entered, in words."""

    label: str
    value: str


def _degrees(label: str) -> forms.DecimalField:
    return forms.DecimalField(
        required=False,
        max_digits=4,
        decimal_places=1,
        label=label,
        widget=forms.TextInput(_NUMBER),
    )


class CheckForm(forms.Form):
    serial = forms.CharField(
        required=False,
        max_length=60,
        label="Serial number",
        help_text="As stamped on the data plate.",
    )
    built = DayField(required=False, label="Date of manufacture")
    hours = HoursField(
        required=False,
        most=MOST_HOURS,
        label="Time since new",
        help_text="Hours in service, as in the engine's log.",
    )
    overhauled = forms.ChoiceField(
        choices=EVER, required=False, label="Has it been overhauled?"
    )
    overhauled_on = DayField(required=False, label="Last overhauled on")
    overhauled_hours = HoursField(
        required=False, most=MOST_HOURS, label="At time since new"
    )
    overhauled_by = forms.ChoiceField(required=False, label="Overhauled by")
    uses = forms.ChoiceField(
        choices=[
            NOT_KNOWN,
            ("private", "private only"),
            ("commercial", "commercial: for hire, instruction or the like"),
            ("both", "both"),
        ],
        required=False,
        label="Operation",
    )
    fuel = forms.ChoiceField(
        choices=[
            NOT_KNOWN,
            ("unleaded", "unleaded only"),
            ("leaded", "leaded only"),
            (MIX, "a mix"),
        ],
        required=False,
        label="Fuel",
    )
    fuel_share = forms.DecimalField(
        required=False,
        min_value=0,
        max_value=100,
        max_digits=5,
        decimal_places=2,
        label="Of a mix: leaded, per cent by volume",
        widget=forms.TextInput(_NUMBER),
    )
    oil_low = _degrees("Lowest oil temperature in flight")
    oil_high = _degrees("Highest oil temperature in flight")
    oil_unit = forms.ChoiceField(choices=_UNITS, required=False, label="Unit")
    ambient_low = _degrees("Lowest ambient temperature of the coming season")
    ambient_high = _degrees("Highest ambient temperature of the coming season")
    ambient_unit = forms.ChoiceField(choices=_UNITS, required=False, label="Unit")
    complete = forms.BooleanField(
        required=False,
        label="This list is complete: what is not marked as done was not done",
        help_text="Only if you have gone through the whole log of the engine.",
    )

    def __init__(
        self, data: Any, *, library: OpenLibrary, station: Station, today: date
    ) -> None:
        super().__init__(data, auto_id="id_%s")
        self.library, self.today = library, today
        self.facts: dict[str, Fact] = {}
        sent = data.keys() if data is not None else ()
        keys = {name.rpartition("-")[0] for name in sent} | set(sent)
        asked = {fact.key for fact in (*library.works, *library.often)}
        for key, wanted in library.facts.items():
            if key in keys or key in asked:
                self.offer(wanted)
        makers = [("maker", "its maker"), (station.name, station.name), (ELSE, ELSE)]
        self.fields["overhauled_by"].choices = [NOT_KNOWN, *makers]  # type: ignore[attr-defined]  # a ChoiceField
        for field in self.fields.values():
            self._belongs(field)

    def offer(self, wanted: Wanted) -> None:
        """Add the fields of one more fact, where they are not there already."""
        key = wanted.fact.key
        if key in self.facts:
            return
        wanted = self.library.facts.get(key, wanted)  # with what every rule names
        self.facts[key] = wanted.fact
        title = self.library.titles.get(key, "")
        for suffix, field in told_facts.fields_of(wanted, title).items():
            self._belongs(field)
            self.fields[f"{key}{suffix}"] = field

    def _belongs(self, field: forms.Field) -> None:
        """Who goes back finds what was entered: a browser empties what it may not fill."""
        field.widget.attrs["form"] = ID
        field.widget.attrs.pop("autocomplete", None)

    def fields_for(self, fact: Fact) -> list[forms.BoundField]:
        """Return the fields of a fact that was offered."""
        return [self[name] for name in self._names(fact.key)]

    def _names(self, key: str) -> list[str]:
        return [
            f"{key}{end}" for end in told_facts.SUFFIXES if f"{key}{end}" in self.fields
        ]

    @property
    def grouped(self) -> list[tuple[str, str, list[list[forms.BoundField]]]]:
        """Headings, a note to each, and the fields under it, those of a row together."""
        return [
            (heading, note, [[self[name] for name in row] for row in rows])
            for heading, note, rows in GROUPS
        ]

    @property
    def others(self) -> list[Fact]:
        """The facts that were told beyond those asked for from the first."""
        first = {fact.key for fact in (*self.library.works, *self.library.often)}
        return [fact for key, fact in self.facts.items() if key not in first]

    @property
    def serial_note(self) -> str:
        """Why nothing goes by the serial that was entered; empty where it can be one."""
        serial = self.cleaned_data.get("serial", "") if self.is_bound else ""
        pattern = self.library.of_type.serial_pattern
        if not serial or not pattern or fits_pattern(parse_serial(serial), pattern):
            return ""
        shape = "digits only" if pattern == "#" else f"{pattern}, # for digits"
        return (
            f"{serial} is not a serial number of this type ({shape}), so what goes by "
            "the serial number cannot be said. Look at the data plate."
        )

    def clean_serial(self) -> str:
        """Blanks around it are none of it; what holds nothing to compare is refused."""
        serial: str = self.cleaned_data["serial"]
        try:
            return parse_serial(serial).stamped if serial else ""
        except ValueError as error:
            raise forms.ValidationError(str(error)) from None

    def clean(self) -> dict[str, Any]:
        entered = super().clean() or self.cleaned_data
        if self.serial_note:
            self["serial"].help_text = self.serial_note
        self._check_days(entered)
        self._check_hours(entered)
        self._check_overhaul(entered)
        self._check_operation(entered)
        for key in self.facts:
            self._check_fact(key, entered)
        return entered

    def _check_days(self, entered: dict[str, Any]) -> None:
        """Nothing that was told lies ahead, and nothing before the engine was made."""
        built = entered.get("built")
        for name, value in list(entered.items()):
            if not isinstance(value, date):
                continue
            if value > self.today:
                self.add_error(name, "This day lies ahead. Enter the day it happened.")
            elif built and value < built and _is_of_engine(name):
                self.add_error(name, "This is before the date of manufacture.")

    def _check_hours(self, entered: dict[str, Any]) -> None:
        """No engine has run more hours than there were since it was made."""
        built = entered.get("built")
        for name, hours in list(entered.items()):
            if built is None or not isinstance(hours, int) or hours is True:
                continue
            day = self._day_of(name, entered)
            if day is not None and built <= day:
                most = ((day - built).days + 1) * HOURS_OF_DAY
                if hours > most:
                    self.add_error(name, _too_many(built, day, most))

    def _day_of(self, name: str, entered: dict[str, Any]) -> date | None:
        """Return on which day the engine had run these hours; None: of no known day."""
        if name == "hours":
            return self.today
        if name == "overhauled_hours":
            return entered.get("overhauled_on") or self.today
        key = name.removesuffix(told_facts.HOURS_THEN)
        fact = self.facts.get(key)
        if fact is None or fact.kind is Kind.PART:
            return None
        return fact.on or entered.get(f"{key}{told_facts.ON}") or self.today

    def _check_overhaul(self, entered: dict[str, Any]) -> None:
        details = ("overhauled_on", "overhauled_hours", "overhauled_by")
        told = [entered.get(name) not in (None, "") for name in details]
        if entered.get("overhauled") == "no" and any(told):
            self.add_error(
                "overhauled",
                "It was never overhauled, and below stands when. Take one of them out.",
            )
        now, then = entered.get("hours"), entered.get("overhauled_hours")
        if now is not None and then is not None and then > now:
            self.add_error(
                "overhauled_hours",
                f"The engine has only {wording.hours(now)} since new.",
            )

    def _check_operation(self, entered: dict[str, Any]) -> None:
        share = entered.get("fuel_share")
        if share is not None and entered.get("fuel") in FUELS:
            self.add_error(
                "fuel_share", "Only a mix has a share. Choose the mix above."
            )
        for of in RANGES:
            self._check_range(f"{of}_low", f"{of}_high", entered)

    def _check_range(self, low: str, high: str, entered: dict[str, Any]) -> None:
        ends = entered.get(low), entered.get(high)
        unit = self._unit(low.partition("_")[0])
        for name, end in zip((low, high), ends, strict=True):
            if end is not None and in_celsius(Fraction(end), unit) < ABSOLUTE_ZERO:
                self.add_error(name, "No temperature is as low as this one.")
        if None in ends and ends != (None, None):
            missing = low if ends[0] is None else high
            if missing not in self.errors:
                self.add_error(missing, "A range has two ends. Enter both or neither.")
        elif ends[0] is not None and ends[1] is not None and ends[0] > ends[1]:
            self.add_error(high, "This end is lower than the other one.")

    def _check_fact(self, key: str, entered: dict[str, Any]) -> None:
        on, then = (f"{key}{end}" for end in (told_facts.ON, told_facts.HOURS_THEN))
        told = [entered.get(name) is not None for name in (on, then)]
        if entered.get(key) == "no" and any(told):
            self.add_error(key, "Below stands when. Take one of them out.")
        now, hours = entered.get("hours"), entered.get(then)
        if now is not None and isinstance(hours, int) and hours > now:
            self.add_error(then, f"The engine has only {wording.hours(now)} since new.")

    def described(self) -> Described:
        """Return the engine as it was told; the form is valid."""
        entered = self.cleaned_data
        return Described(
            type=self.library.of_type.designation,
            serial=entered["serial"],
            built=entered["built"],
            hours=entered["hours"],
            overhauls=self._overhauls(),
            uses=USES.get(entered["uses"], UNKNOWN),
            leaded_share=self._leaded_share(),
            oil_temperature=self._range("oil"),
            climate=self._range("ambient"),
            climate_unit=self._unit("ambient"),
            told=self._left_undone() | dict(self._told()),
        )

    def _left_undone(self) -> dict[Fact, Told]:
        """Of a list that is complete, what is not marked was not done."""
        if not self.cleaned_data["complete"]:
            return {}
        undone = Happened(ever=False)
        return {self.facts[fact.key]: undone for fact in self.library.works}

    def _told(self) -> Iterator[tuple[Fact, Told]]:
        for key, fact in self.facts.items():
            names = self._names(key)
            values = {name.removeprefix(key): self.cleaned_data[name] for name in names}
            said = told_facts.told(fact, values)
            if said is not None:
                yield fact, said

    def _overhauls(self) -> tuple[Overhaul, ...] | Unknown:
        entered = self.cleaned_data
        if entered["overhauled"] == "no":
            return ()
        on, hours, by = (entered[f"overhauled_{n}"] for n in ("on", "hours", "by"))
        if not entered["overhauled"] and on is None and hours is None and not by:
            return UNKNOWN
        return (
            Overhaul(
                on=UNKNOWN if on is None else on,
                hours=UNKNOWN if hours is None else hours,
                by=by or UNKNOWN,
            ),
        )

    def _leaded_share(self) -> Fraction | Unknown:
        entered = self.cleaned_data
        if entered["fuel_share"] is not None:
            return Fraction(entered["fuel_share"]) / 100
        return FUELS.get(entered["fuel"], UNKNOWN)

    def _range(self, of: str) -> TemperatureRange | Unknown:
        low, high = (self.cleaned_data[f"{of}_{end}"] for end in ("low", "high"))
        if low is None or high is None:
            return UNKNOWN
        unit = self._unit(of)
        return TemperatureRange(
            low=in_celsius(Fraction(low), unit), high=in_celsius(Fraction(high), unit)
        )

    def _unit(self, of: str) -> Unit:
        return "F" if self.cleaned_data.get(f"{of}_unit") == "F" else "C"

    def entries(self) -> list[Entry]:
        """Return all that was entered, in words and in the order of the form."""
        found = [Entry("Type designation", self.library.of_type.designation)]
        for bound in self:
            value = self.cleaned_data.get(bound.name)
            # nought hours are told as well
            if value is None or value is False or value == "":
                continue
            if bound.name.endswith("_unit"):
                continue
            words = _words(bound.field, value)
            of = bound.name.partition("_")[0]
            if of in RANGES:
                words = degrees_words(Fraction(value), self._unit(of))
            found.append(Entry(str(bound.label), words))
        return found

    def sent_again(self) -> list[tuple[str, str]]:
        """Return what was sent, as hidden fields of another form carry it."""
        return [
            (name, str(self.data[name]))
            for name in ("type", *self.fields)
            if self.data.get(name)
        ]


def _too_many(built: date, day: date, most: int) -> str:
    there_were = f"there were only {wording.hours(most)}"
    return (
        f"From {wording.day(built)} to {wording.day(day)} {there_were}. "
        "Look at the hours and at the date of manufacture."
    )


def _is_of_engine(name: str) -> bool:
    """Whether the day is one of the engine; a part can be older."""
    return not name.startswith((f"{Kind.PART.value}-", f"{Kind.HOURS_ON.value}-"))


def _words(field: forms.Field, value: Any) -> str:
    if isinstance(field, forms.ChoiceField):
        return str(dict(field.choices)[value])  # type: ignore[arg-type]  # pairs, not groups
    if isinstance(value, date):
        return wording.day(value)
    if value is True:
        return "yes"
    return wording.hours(value) if isinstance(value, int) else str(value)
