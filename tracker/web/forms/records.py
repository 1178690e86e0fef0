"""Forms of the ledger: work done, past work transcribed in rows, a record voided."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, ClassVar, Final

from django import forms
from django.http import QueryDict

from notices.models import Provision, RuleVersion
from tracker.accounts.models import User
from tracker.compliance.ledger import (
    Alternative,
    Approval,
    BeyondReading,
    Entry,
    FreeDocument,
    Inspection,
)
from tracker.compliance.models import Method, Record
from tracker.compliance.sheets import COLUMNS
from tracker.figures import wording
from tracker.fleet.errors import Refused
from tracker.fleet.fitted_parts import FittedPart
from tracker.fleet.models import Engine
from tracker.fleet.sheets.plan import Fault
from tracker.web.forms.acts import ActForm, Groups
from tracker.web.forms.fields import DayField, HoursField, PickField, SuggestedText
from tracker.web.forms.signing import (
    CarriedField,
    FilesField,
    SignForm,
    clean_attached,
)

MOST_PAST_ROWS: Final = 100
ROWS_AT_ONCE: Final = 3
WHEN: Final = ("on", "hours", "add_reading", "part", "part_hours", "airframe_hours")
WHAT: Final = (
    "method",
    "alternative",
    "alternative_approved_by",
    "description",
    "result",
    "en_route",
    "late",
    "remarks",
)
INSPECTION: Final = ("airworthy", "extent", "discrepancies")
FILES: Final = ("attachments",)
WHO: Final = ("done_by", "approved_by", "certificate_kind", "certificate_number")
ENGINE_COLUMNS: Final = ("engine type", "engine serial")


class ApprovedForm(ActForm):
    """What every signed entry says: when, how, and who did and approved it.

    `carried`: files that were attached before the entry was looked at.
    """

    NAMES: ClassVar[Mapping[str, str]] = {"approval": "approved_by"}

    on = DayField(label="Date of the work")
    method = forms.ChoiceField(choices=Method.choices, label="How it was complied with")
    result = forms.CharField(
        required=False,
        label="Result",
        help_text="What was found, if the document asks for it.",
        max_length=60,
        widget=SuggestedText(),
    )
    remarks = forms.CharField(
        required=False,
        label="Remarks",
        widget=forms.Textarea({"rows": "2", "cols": "60"}),
        max_length=10_000,
    )
    attachments = FilesField(
        label="Files",
        help_text="JPEG, PNG or PDF. They are kept unchanged and tied to the record by "
        "their hash.",
    )
    carried = CarriedField()
    done_by = forms.CharField(label="Done by", max_length=200)
    approved_by = forms.CharField(
        label="Approved for return to service by", max_length=200
    )
    certificate_kind = forms.CharField(label="Kind of certificate", max_length=120)
    certificate_number = forms.CharField(label="Number of certificate", max_length=60)

    def __init__(
        self,
        sent: Any,
        *,
        by: User,
        today: date,
        last: Record | None,
        files: Any = None,
    ) -> None:
        """`last`: what this person recorded last. Their own approval is offered again,
        never that of somebody else.
        """
        approval = (last.text.get("approved_by") or {}) if last else {}
        if approval.get("name", "").casefold() != by.name.casefold():
            approval = {}
        initial = {
            "on": today,
            "done_by": by.name,
            "approved_by": approval.get("name", ""),
            "certificate_kind": approval.get("certificate_kind", ""),
            "certificate_number": approval.get("certificate_number", ""),
        }
        super().__init__(sent, files, initial=initial)

    def clean(self) -> dict[str, Any]:
        entered = super().clean() or self.cleaned_data
        entered["attached"] = clean_attached(self, entered)
        return entered

    def approved(self) -> dict[str, Any]:
        """What was entered here, by the names of `Entry`."""
        entered = self.cleaned_data
        return {
            "on": entered["on"],
            "method": Method(entered["method"]),
            "result": entered["result"],
            "remarks": entered["remarks"],
            "attachments": entered["attached"],
            "done_by": entered["done_by"],
            "approval": Approval(
                name=entered["approved_by"],
                certificate_kind=entered["certificate_kind"],
                certificate_number=entered["certificate_number"],
            ),
        }


class WorkForm(ApprovedForm):
    """Work that was done and approved: all that an entry must hold, 14 CFR 43.9(a).

    `late`, `en_route` and the parts are asked for only where they can matter.
    """

    GROUPS: ClassVar[Groups] = (
        ("When, at which hours", WHEN),
        ("What was done", WHAT),
        ("If it was an inspection of the aircraft", INSPECTION),
        ("Photographs and scans", FILES),
        ("Who did and approved it", WHO),
    )

    hours = HoursField(
        required=False, label="Hours of the engine then", help_text="None kept yet."
    )
    add_reading = forms.BooleanField(
        required=False,
        label="Add these hours as a reading of that day",
        help_text="The reading is kept when you look at the entry, signed or not.",
    )
    part = PickField(required=False, label="Part it was done on")
    part_hours = HoursField(required=False, label="Hours of that part since new then")
    airframe_hours = HoursField(required=False, label="Hours of the airframe then")
    alternative = forms.CharField(
        required=False,
        label="Reference of the alternative method",
        help_text="Only for an alternative method of compliance.",
        max_length=120,
    )
    alternative_approved_by = forms.CharField(
        required=False, label="Alternative method approved by", max_length=120
    )
    description = forms.CharField(
        label="Work that was done",
        widget=forms.Textarea({"rows": "3", "cols": "60"}),
        max_length=10_000,
    )
    en_route = forms.BooleanField(
        required=False,
        label="The limit was passed on the way to where the work could be done",
    )
    late = forms.BooleanField(
        required=False,
        label="Late entry: that revision was not current when the work was done",
        help_text="Say why in the remarks.",
    )
    airworthy = forms.ChoiceField(
        required=False,
        label="Inspection",
        choices=[
            ("", "no inspection of the aircraft"),
            ("yes", "inspected, and found airworthy"),
            ("no", "inspected, and not found airworthy"),
        ],
        help_text="An annual, a 100-hour or a progressive inspection.",
    )
    extent = forms.CharField(
        required=False,
        label="Which inspection, and its extent",
        max_length=300,
        widget=forms.TextInput({"size": "48"}),
    )
    discrepancies = forms.CharField(
        required=False,
        label="Discrepancies",
        help_text="One a line, where it was not found airworthy. The owner is given "
        "this list, signed and dated.",
        widget=forms.Textarea({"rows": "3", "cols": "60"}),
        max_length=10_000,
    )

    def __init__(
        self,
        sent: Any,
        *,
        engine: Engine,
        parts: Iterable[FittedPart],
        **given: Any,
    ) -> None:
        super().__init__(sent, **given)
        if engine.hours_now is not None and engine.read_on is not None:
            self.fields["hours"].required = True
            self.fields["hours"].help_text = (
                f"Last reading {wording.hours(engine.hours_now)} on "
                f"{wording.day(engine.read_on)}."
            )
        if not self.data.get("add_reading"):
            self._reading = self.fields.pop("add_reading")
        fitted = list(parts)
        if fitted:
            self._offer(fitted)
        else:
            del self.fields["part"], self.fields["part_hours"]

    def refuse(self, refused: Refused) -> None:
        """Hours past the last reading are asked about: nothing typed is left behind."""
        if isinstance(refused, BeyondReading) and "add_reading" not in self.fields:
            self.fields["add_reading"] = self._reading
        super().refuse(refused)

    @property
    def adds_reading(self) -> bool:
        return bool(self.cleaned_data.get("add_reading"))

    def _offer(self, fitted: list[FittedPart]) -> None:
        part = self.fields["part"]
        assert isinstance(part, PickField)
        rows = [(one.part, str(one)) for one in fitted]
        part.offer(rows, none="the engine itself")

    def entry(self) -> Entry:
        return Entry(**self.work())

    def work(self) -> dict[str, Any]:
        """What was done, without under which document."""
        entered = self.cleaned_data
        return {
            **self.approved(),
            "hours": entered["hours"],
            "part": entered.get("part"),
            "part_hours": entered.get("part_hours"),
            "airframe_hours": entered["airframe_hours"],
            "description": entered["description"],
            "en_route": entered.get("en_route", False),
            "late": entered.get("late", False),
            "alternative": self._alternative(),
            "inspection": self._inspection(),
        }

    def _alternative(self) -> Alternative | None:
        reference = self.cleaned_data["alternative"]
        approved_by = self.cleaned_data["alternative_approved_by"]
        if not reference and not approved_by:
            return None
        return Alternative(reference=reference, approved_by=approved_by)

    def _inspection(self) -> Inspection | None:
        entered = self.cleaned_data
        if not entered["airworthy"] and not entered["extent"]:
            return None
        found = entered["discrepancies"].splitlines()
        return Inspection(
            extent=entered["extent"],
            airworthy=entered["airworthy"] != "no",
            discrepancies=tuple(line.strip() for line in found if line.strip()),
        )


class ProvisionWorkForm(WorkForm):
    """Work under a provision of the library."""

    def __init__(
        self, sent: Any, *, provision: Provision, rule: RuleVersion, **given: Any
    ) -> None:
        self.provision = provision
        role = provision.role.casefold()
        fitted = [
            part
            for part in given.pop("parts")
            if role and part.description.role.casefold() == role
        ]
        super().__init__(sent, parts=fitted, **given)
        self.initial["description"] = f"Carried out: {provision.title}."
        if fitted:
            self._ask_for_part(fitted)
        if not (rule.action.get("tolerance") or {}).get("en_route"):
            del self.fields["en_route"]
        result = self.fields["result"].widget
        assert isinstance(result, SuggestedText)
        result.suggestions = list(dict.fromkeys(_results_in(rule.action)))

    def _ask_for_part(self, fitted: list[FittedPart]) -> None:
        part = self.fields["part"]
        assert isinstance(part, PickField)
        part.required = True
        part.error_messages["required"] = (
            f"This is about each fitted {self.provision.role}. Say which one it was "
            "done on."
        )
        part.offer([(one.part, str(one)) for one in fitted], none="choose")
        if len(fitted) == 1:
            self.initial["part"] = str(fitted[0].part.public_id)

    def entry(self) -> Entry:
        return Entry(provision=self.provision, **self.work())


class OtherWorkForm(WorkForm):
    """Work under a document that the library does not hold, or under none."""

    GROUPS: ClassVar[Groups] = (
        ("Under which document", ("number", "revision")),
        *WorkForm.GROUPS,
    )

    number = forms.CharField(
        required=False,
        label="Document",
        help_text="As printed. Empty: other work, such as scheduled maintenance.",
        max_length=60,
    )
    revision = forms.CharField(required=False, label="Its revision", max_length=20)

    def __init__(self, sent: Any, **given: Any) -> None:
        super().__init__(sent, **given)
        del self.fields["late"], self.fields["en_route"]

    def clean_revision(self) -> str:
        revision: str = self.cleaned_data["revision"]
        if revision and not self.cleaned_data.get("number"):
            raise forms.ValidationError(
                "A revision is written, but not of which document. Write its number."
            )
        return revision

    def entry(self) -> Entry:
        number = self.cleaned_data["number"]
        document = FreeDocument(number=number, revision=self.cleaned_data["revision"])
        return Entry(document=document if number else None, **self.work())


def _results_in(raw: Any) -> Iterable[str]:
    """The results that a rule tests for, to be suggested."""
    if isinstance(raw, list):
        for member in raw:
            yield from _results_in(member)
    elif isinstance(raw, Mapping):
        for key, value in raw.items():
            if key == "result" and isinstance(value, list):
                yield from value
            else:
                yield from _results_in(value)


class VoidForm(SignForm, ActForm):
    field_order = ("reason", "password")

    reason = forms.CharField(
        label="Why the record is void",
        help_text="The record stays in the ledger; another one says that it is void.",
        widget=forms.Textarea({"rows": "3", "cols": "60"}),
        max_length=1000,
    )


class PastRowForm(forms.Form):
    """One thing done, as a page of the logbook says. Read as a row of a sheet is."""

    WORDS: ClassVar[Mapping[str, str]] = {
        "done_by": "Done by",
        "item": "Item of it",
        "page": "Logbook page",
        "hours": "Engine hours",
    }
    SHORT: ClassVar[frozenset[str]] = frozenset(
        {"revision", "item", "hours", "part_hours", "airframe_hours", "page"}
    )

    def __init__(self, data: Any, *, key: int) -> None:
        super().__init__(data, prefix=f"row{key}")
        self.key = key
        for column in COLUMNS:
            if column.name not in ENGINE_COLUMNS:
                self.fields[field_of(column.name)] = self._field(column.name)

    def _field(self, column: str) -> forms.Field:
        name = field_of(column)
        label = self.WORDS.get(name, column.capitalize())
        given: dict[str, Any] = {"required": False, "label": label, "max_length": 2000}
        if name == "date":
            return forms.CharField(widget=forms.DateInput({"type": "date"}), **given)
        if name == "method":
            choices = [("", "previously complied with"), *_but_previously()]
            return forms.ChoiceField(required=False, label="Method", choices=choices)
        size = "8" if name in self.SHORT else "24"
        widget = forms.TextInput({"size": size, "autocomplete": "off"})
        return forms.CharField(widget=widget, **given)

    def cell(self, column: str) -> str:
        """What was typed for a column of the sheet, as it stands."""
        return " ".join(str(self[field_of(column)].value() or "").split())

    @property
    def is_empty(self) -> bool:
        names = (c.name for c in COLUMNS if c.name not in ENGINE_COLUMNS)
        return not any(self.cell(name) for name in names)


def _but_previously() -> list[tuple[str, str]]:
    return [(v, str(w)) for v, w in Method.choices if v != Method.PREVIOUSLY]


def field_of(column: str) -> str:
    return column.replace(" ", "_")


class PastForm(ActForm):
    """Several rows of past work of one engine, taken together or not at all.

    They go the way of a sheet of past compliance, so that the same is refused, in the
    same words. `more`: show three rows more, unjudged.
    """

    def __init__(
        self, sent: QueryDict | None, *, engine: Engine, more: bool = False
    ) -> None:
        super().__init__(None if more else sent)
        self.engine, self.more = engine, more
        count = 0 if sent is None else _count(sent.get("rows", ""))
        if sent is None or more:
            count = min(count + ROWS_AT_ONCE, MOST_PAST_ROWS)
        self.rows = [PastRowForm(sent, key=key) for key in range(count)]

    @property
    def filled(self) -> list[PastRowForm]:
        return [row for row in self.rows if not row.is_empty]

    def is_valid(self) -> bool:
        if not super().is_valid():
            return False
        if not self.filled:
            self.add_error(None, "No row says anything. Fill in at least one.")
        for row in self.filled:
            row.full_clean()
        return not self.errors and not any(row.errors for row in self.filled)

    def content(self) -> bytes:
        """The filled rows as a sheet in CSV."""
        text = io.StringIO(newline="")
        writer = csv.writer(text)
        names = [column.name for column in COLUMNS]
        writer.writerow(names)
        own = {
            "engine type": self.engine.engine_type.designation,
            "engine serial": self.engine.serial,
        }
        for row in self.filled:
            writer.writerow(own[n] if n in own else row.cell(n) for n in names)
        return text.getvalue().encode()

    def mark(self, faults: Iterable[Fault]) -> None:
        """Show each fault of the sheet at its row: line 2 is the first filled one."""
        for fault in faults:
            row = self.filled[fault.line - 2]
            name = field_of(fault.column)
            row.add_error(name if name in row.fields else None, fault.reason)
        bad = [str(row.key + 1) for row in self.filled if row.errors]
        if bad:
            noun = "row" if len(bad) == 1 else "rows"
            self.add_error(None, f"Look at {noun} {wording.listed(bad, 'and')}.")

    def refuse(self, refused: Refused) -> None:
        self.add_error(None, str(refused))


def _count(text: str) -> int:
    is_number = text.isascii() and text.isdigit() and len(text) < 4
    return min(int(text), MOST_PAST_ROWS) if is_number else 0
