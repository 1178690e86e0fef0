"""The rows of fields in which a person enters a table of oils."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from typing import Any, ClassVar, Final

from django import forms
from django.http import QueryDict

from notices.rules.errors import Fault, RuleError
from notices.rules.fluids import CLASSES, FUELS, parse_rows
from notices.rules.fluids_wording import row_words
from notices.rules.forms import number_of
from notices.rules.phrases import MINUS
from notices.rules.temperatures import UNITS
from tracker.web.forms.fields import SuggestedText
from tracker.web.forms.library import LibraryForm, typed
from tracker.web.forms.rules import RuleField

MOST_ROWS: Final = 60
ROWS_AT_ONCE: Final = 3
SUGGESTED: Final = ("10W-40", "15W-50", "20W-50", "30", "40", "50")
_ALWAYS_THERE: Final = ("id", "unit")


class DegreesField(forms.Field):
    """Degrees with a point or a comma, below zero with either kind of minus."""

    def __init__(self, **given: Any) -> None:
        given.setdefault("widget", forms.TextInput({"size": "6"}))
        super().__init__(required=False, **given)

    def to_python(self, value: Any) -> Any:
        if value in self.empty_values:
            return None
        text = str(value).strip().replace(MINUS, "-").replace(",", ".")
        try:
            degrees = Decimal(text)
        except InvalidOperation:
            degrees = Decimal("NaN")
        if not degrees.is_finite():
            raise forms.ValidationError(
                f'"{value}" is not a temperature. Write a number, such as \u221225.'
            )
        return number_of(Fraction(degrees))


class FluidRowForm(LibraryForm):
    """One grade of oil with where it serves. An empty row is left out."""

    PLACES: ClassVar[Mapping[str, str]] = {
        "id": "grade",
        "class": "kind",
        "ambient": "low",
        "ambient.from": "low",
        "ambient.to": "high",
        "ambient.unit": "unit",
    }

    id = forms.CharField(required=False, widget=forms.HiddenInput, max_length=60)
    grade = forms.CharField(
        required=False, label="Grade", max_length=40, widget=SuggestedText(SUGGESTED)
    )
    kind = forms.ChoiceField(
        required=False,
        choices=[("", "choose"), *((word, word) for word in CLASSES)],
        label="Class",
    )
    low = DegreesField(label="Lowest ambient")
    high = DegreesField(label="Highest ambient")
    unit = forms.ChoiceField(
        required=False,
        choices=[(unit, f"\u00b0{unit}") for unit in UNITS],
        label="Unit",
    )
    fuel = forms.MultipleChoiceField(
        required=False,
        choices=[(word, word) for word in FUELS],
        label="Fuel",
        widget=forms.CheckboxSelectMultiple,
    )
    note = forms.CharField(required=False, label="Note", max_length=300)
    when = RuleField(
        label="Only where, as JSON",
        widget=forms.TextInput({"size": "50", "class": "rule", "spellcheck": "false"}),
    )

    @property
    def is_empty(self) -> bool:
        """Whether nothing was entered in it; a unit always stands there."""
        names = (name for name in self.fields if name not in _ALWAYS_THERE)
        return not any(self[name].value() for name in names)

    def clean(self) -> dict[str, Any]:
        entered = super().clean() or self.cleaned_data
        if self.is_empty:
            return entered
        for name, words in (
            ("grade", "Write the grade, such as 15W-50."),
            ("kind", "Choose the class of the oil."),
            ("fuel", "Say with which fuel it may be used."),
        ):
            if name not in self.errors and not entered.get(name):
                self.add_error(name, words)
        self._refuse_ends(entered)
        return entered

    def clean_grade(self) -> str:
        """A grade of J300 is judged by the core; a name of another table has a number."""
        grade: str = self.cleaned_data["grade"]
        is_written = re.fullmatch(r"\w(?:[\w ./+-]*[\w+])?", grade)
        if grade and not (is_written and re.search(r"[0-9]", grade)):
            raise forms.ValidationError(
                f"\u201c{grade}\u201d is no grade. Write it in figures as in the table of "
                "the maker, such as 15W-50, 30 or W100."
            )
        return grade

    def _refuse_ends(self, entered: dict[str, Any]) -> None:
        low, high = entered.get("low"), entered.get("high")
        if self.errors.keys() & {"low", "high"}:
            return
        if low is None and high is None:
            self.add_error(
                "low",
                "Write the lowest ambient temperature, the highest, or both.",
            )
        elif low is not None and high is not None and low > high:
            self.add_error(
                "low",
                "The lowest ambient temperature is above the highest. Exchange the two.",
            )

    def stated(self) -> dict[str, Any]:
        entered = self.cleaned_data
        ends = {
            "from": entered["low"],
            "to": entered["high"],
            "unit": entered["unit"] if entered["unit"] != UNITS[0] else None,
        }
        said = {
            "id": entered["id"],
            "grade": entered["grade"],
            "class": entered["kind"],
            "ambient": {key: end for key, end in ends.items() if end not in (None, "")},
            "fuel": entered["fuel"],
            "when": entered["when"],
            "note": entered["note"],
        }
        return {key: value for key, value in said.items() if value not in (None, "")}

    def place(self, fault: Fault) -> None:
        path = fault.path
        if path.startswith("when."):
            super().place(fault)
            return
        path = path.partition("[")[0]
        super().place(Fault(self.PLACES.get(path, path), fault.message))


def _row_initial(row: Mapping[str, Any]) -> dict[str, Any]:
    ambient = row["ambient"]
    return {
        "id": row["id"],
        "grade": row["grade"],
        "kind": row["class"],
        "low": _shown(ambient.get("from")),
        "high": _shown(ambient.get("to")),
        "unit": ambient.get("unit", UNITS[0]),
        "fuel": row["fuel"],
        "note": row.get("note", ""),
        "when": row.get("when"),
    }


def _shown(degrees: Any) -> str:
    return "" if degrees is None else f"{degrees:g}".replace("-", MINUS)


class FluidsForm:
    """Several rows, of which the last few are empty. Not a form, but asked like one.

    How many there are is carried by a hidden field called after the prefix.
    """

    def __init__(
        self,
        sent: QueryDict | None,
        *,
        prefix: str,
        kept: Sequence[Mapping[str, Any]] | None,
        rearranged: bool = False,
        more: bool = False,
    ) -> None:
        """`more`: show some empty rows more."""
        self.prefix = prefix
        stored = list(kept or ())
        count = len(stored) if sent is None else _count(sent.get(prefix, ""))
        if more or (sent is None and not stored) or count == 0:
            count = min(count + ROWS_AT_ONCE, MOST_ROWS)
        self.rows = [
            self._row(number, sent, stored, rearranged) for number in range(count)
        ]

    def _row(
        self,
        number: int,
        sent: QueryDict | None,
        stored: list[Mapping[str, Any]],
        rearranged: bool,
    ) -> FluidRowForm:
        prefix = f"{self.prefix}-{number}"
        if sent is None or not rearranged:
            initial = _row_initial(stored[number]) if number < len(stored) else {}
            return FluidRowForm(sent, prefix=prefix, initial=initial)
        initial = typed(sent, prefix, FluidRowForm.base_fields)
        initial["fuel"] = sent.getlist(f"{prefix}-fuel")
        return FluidRowForm(None, prefix=prefix, initial=initial)

    @property
    def filled(self) -> list[FluidRowForm]:
        return [row for row in self.rows if not row.is_empty]

    @property
    def is_empty(self) -> bool:
        return not self.filled

    @property
    def errors(self) -> list[object]:
        """Every marked field of every row."""
        return [name for row in self.filled for name in row.errors]

    def is_valid(self) -> bool:
        judged = [row.is_valid() for row in self.filled]
        return all(judged)

    def stated(self) -> list[dict[str, Any]] | None:
        """What was typed, as it is stored; None for nothing, or what is not understood."""
        if not self.filled or self.errors:
            return None
        return _named([row.stated() for row in self.filled])

    def place(self, fault: Fault) -> None:
        """Show a fault at the row it is about; of all of them, at the first."""
        number, _, rest = fault.path.removeprefix("[").partition("]")
        index = int(number) if number.isdigit() else 0
        self.filled[index].place(Fault(rest.removeprefix("."), fault.message))

    def words(self) -> list[str]:
        """Each row as a sentence; none where that cannot be said yet."""
        if not self.rows[0].is_bound or not self.is_valid():
            return []
        try:
            return [row_words(row) for row in parse_rows(self.stated() or [])]
        except RuleError:
            return []


def _named(rows: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Give each new row a name that no other one has: its grade and class."""
    listed = list(rows)
    taken = {row["id"] for row in listed if "id" in row}
    for row in listed:
        if "id" in row:
            continue
        name, number = f"{row['grade']} {row['class']}", 1
        while name in taken:
            number += 1
            name = f"{row['grade']} {row['class']} {number}"
        taken.add(name)
        row["id"] = name
    return [{"id": row["id"], **row} for row in listed]


def _count(text: str) -> int:
    is_number = text.isascii() and text.isdigit() and len(text) < 4
    return min(int(text), MOST_ROWS) if is_number else 0
