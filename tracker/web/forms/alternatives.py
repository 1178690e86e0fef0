"""Forms for an alternative method of compliance: as it was approved, and its end."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, ClassVar, Final

from django import forms

from tracker.compliance.changes import AlternativeEntry
from tracker.compliance.models import AlternativeMethod
from tracker.web.forms.acts import ActForm, Groups
from tracker.web.forms.fields import DayField
from tracker.web.forms.library import LibraryForm
from tracker.web.forms.rules import RuleField

_LASTING: Final = ("reference", "approved_by", "description")
_OF_A_DAY: Final = ("approved_on", "later_revisions", "true_from", "valid_until")


class AlternativeForm(LibraryForm):
    GROUPS: ClassVar[Groups] = (
        (
            "The approval",
            ("reference", "approved_by", "approved_on", "later_revisions"),
        ),
        ("What is done instead", ("description",)),
        ("Times, where they are others", ("due_first", "due_again")),
        ("How long it counts", ("true_from", "valid_until")),
    )

    NAMES: ClassVar[Mapping[str, str]] = {"initial": "due_first", "repeat": "due_again"}

    reference = forms.CharField(
        label="Reference",
        help_text="Number or date of the letter of approval.",
        widget=forms.TextInput({"size": "44"}),
    )
    approved_by = forms.CharField(
        label="Approved by",
        help_text="The office that the directive names for this. A change of a "
        "compliance time needs its approval, too (14 CFR 39.19).",
        widget=forms.TextInput({"size": "44"}),
    )
    approved_on = DayField(label="Approved on")
    later_revisions = forms.BooleanField(
        required=False,
        label="The approval says that it holds for later revisions, too",
    )
    description = forms.CharField(
        label="What is done", widget=forms.Textarea({"rows": "3", "cols": "60"})
    )
    due_first = RuleField(
        label="Due first",
        help_text='As in a rule: {"hours": 150, "after": "effective"}. Empty: as the '
        "document says.",
    )
    due_again = RuleField(
        label="Due again",
        help_text='As in a rule: {"hours": 150, "after": "last done"}. Empty: as the '
        "document says.",
    )
    true_from = DayField(
        required=False,
        label="Counts since",
        help_text="For this engine. Empty: since the approval.",
    )
    valid_until = DayField(
        required=False, label="Valid until", help_text="Empty: no end is named."
    )

    def __init__(
        self,
        sent: Any,
        *,
        kept: AlternativeMethod | None,
        earlier: AlternativeMethod | None,
    ) -> None:
        """`kept`: what counts now; `earlier`: approved for an earlier revision."""
        initial: dict[str, Any] = {}
        if kept is not None:
            initial = _approved(kept, (*_LASTING, *_OF_A_DAY))
        elif earlier is not None:
            initial = _approved(earlier, _LASTING)
        super().__init__(sent, initial=initial)

    def entry(self) -> AlternativeEntry:
        entered = dict(self.cleaned_data)
        times = {name: entered.pop(field) for name, field in self.NAMES.items()}
        stated = {name: time for name, time in times.items() if time is not None}
        return AlternativeEntry(**entered, times=stated)


def _approved(row: AlternativeMethod, names: tuple[str, ...]) -> dict[str, Any]:
    times = {
        field: row.times.get(name) for name, field in AlternativeForm.NAMES.items()
    }
    return {name: getattr(row, name) for name in names} | times


class EndForm(ActForm):
    reason = forms.CharField(
        label="Why",
        help_text="Such as: withdrawn by the office on a date, or entered by mistake.",
        widget=forms.Textarea({"rows": "3", "cols": "60"}),
    )
    true_from = DayField(label="Counts no longer since")

    def __init__(self, sent: Any, *, today: date) -> None:
        super().__init__(sent, initial={"true_from": today})
