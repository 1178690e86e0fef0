"""Forms of a confirmed revision: cancelled, or a rule of it corrected."""

from __future__ import annotations

from typing import Any, Final

from django import forms
from django.http import QueryDict

from notices.models import RuleVersion
from tracker.web.forms.fields import DayField
from tracker.web.forms.library import LibraryForm
from tracker.web.forms.provisions import ContentsForm
from tracker.web.forms.rules import RuleField

GONE: Final = "A rule that is in force cannot be taken out."


class CancelForm(LibraryForm):
    on = DayField(
        label="Cancelled from", help_text="The first day on which it no longer holds."
    )
    reason = forms.CharField(
        label="Why it is cancelled",
        help_text="Such as who withdrew it, and where that stands.",
        widget=forms.Textarea({"rows": "2", "cols": "60"}),
        max_length=1000,
    )


class ChangeRuleForm(ContentsForm):
    """Corrects the rule of a confirmed revision. `kept`: its newest version.

    `kind`: of the provision. `rearranged`: show what was typed with more rows, unjudged.
    """

    applicability = RuleField(label="Which engines the revision applies to, as JSON")
    condition = RuleField(
        label="Only where, as JSON", help_text='{"always": true} narrows nothing.'
    )
    action = RuleField(label="By when, as JSON")
    reason = forms.CharField(
        label="Why the rule is changed",
        help_text="Findings and records made before keep pointing to the old version.",
        widget=forms.Textarea({"rows": "2", "cols": "60"}),
        max_length=1000,
    )
    number = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(
        self,
        sent: QueryDict | None,
        *,
        kept: RuleVersion,
        kind: str,
        rearranged: bool = False,
    ) -> None:
        self.kept = kept
        names = ("applicability", "condition", "number")
        initial = {name: getattr(kept, name) for name in names}
        initial["action"] = kept.action or None
        if rearranged and sent is not None:
            initial = {name: sent.get(name, "") for name in self.base_fields}
        super().__init__(None if rearranged else sent, initial=initial)
        self.hold(kind, sent, kept=kept, rearranged=rearranged, more_rows=rearranged)

    def clean(self) -> dict[str, Any]:
        entered = super().clean() or self.cleaned_data
        for name in ("applicability", "condition", "action"):
            if name in entered and entered[name] is None and getattr(self.kept, name):
                self.add_error(name, GONE)
        return entered

    def is_valid(self) -> bool:
        valid = super().is_valid()
        for name, part in (("interval", self.interval), ("fluids", self.fluids)):
            if part is not None and part.is_empty and getattr(self.kept, name):
                self.add_error(None, GONE)
        return valid and not self.errors

    def changed(self) -> dict[str, Any]:
        """The parts of the rule that were typed otherwise than they are kept."""
        conditions = ("applicability", "condition")
        typed = {name: self.cleaned_data.get(name) for name in conditions}
        return {
            name: given
            for name, given in {**typed, **self.stated_contents()}.items()
            if given is not None and given != getattr(self.kept, name)
        }

    def changes_nothing(self) -> bool:
        return not self.changed()
