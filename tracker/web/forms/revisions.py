"""Forms of a draft: a revision with its provisions, and what it names."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from django import forms
from django.http import QueryDict

from notices.library import ReferenceInput, RevisionInput
from notices.library.checking import checked
from notices.models import Provision, Reference
from notices.rules.errors import Fault, RuleError
from tracker.fleet.errors import ChangedMeanwhile, Refused
from tracker.web.forms.acts import EditForm, differences
from tracker.web.forms.fields import DayField
from tracker.web.forms.library import LibraryForm, typed
from tracker.web.forms.provisions import ProvisionForm, RuleForm
from tracker.web.forms.rules import RuleField

MOST_ROWS: Final = 60
_IN_ROW: Final = re.compile(r"(provisions|references)\[(\d+)\]\.?(.*)", re.DOTALL)


class ReferenceForm(LibraryForm):
    key = 0
    kind = forms.ChoiceField(choices=Reference.Kind.choices, label="This revision")
    number = forms.CharField(
        required=False,
        label="Number of the other document",
        help_text="It need not be in the library yet. Empty: names none.",
        max_length=200,
    )

    def stated(self) -> ReferenceInput | None:
        number = self.cleaned_data.get("number") or ""
        kind = self.cleaned_data.get("kind") or ""
        return ReferenceInput(kind=kind, number=number) if number else None


class DraftForm(RuleForm, EditForm):
    """A whole draft: the revision, its provisions, and what it names.

    The rows are counted by hidden fields called "provision" and "reference", so that
    one can be added or taken out while the others keep what was typed. `kept`: the
    draft as it is stored now, None to enter one; `start`: what it begins with then.
    """

    kinds = Provision.Kind.choices

    label = forms.CharField(
        label="Revision",
        help_text="As printed: 0, B, original.",
        max_length=100,
    )
    issued_on = DayField(required=False, label="Date of issue")
    effective_on = DayField(
        required=False,
        label="Effective date",
        help_text="From then on it is current. Without one, from its date of issue.",
    )
    summary = forms.CharField(
        required=False,
        label="Why it was issued, in a sentence",
        widget=forms.Textarea({"rows": "2", "cols": "72"}),
    )
    applicability = RuleField(
        label="Which engines it applies to, as JSON",
        help_text='{"always": true} means every engine. A draft may leave it out.',
    )

    def __init__(
        self,
        sent: QueryDict | None,
        *,
        roles: list[str],
        kept: RevisionInput | None = None,
        start: RevisionInput | None = None,
        version: int = 0,
        rearranged: bool = False,
    ) -> None:
        """`rearranged`: show what was typed with a row more or less, unjudged."""
        self.sent, self.roles, self.kept = sent, roles, kept
        self.filled = kept or start
        self.rearranged = rearranged
        self.corrects = False
        initial = {"version": version, **_initial(self.filled, self.base_fields)}
        if rearranged and sent is not None:
            initial = {name: sent.get(name, "") for name in self.base_fields}
        super().__init__(None if rearranged else sent, initial=initial)
        self.read: RevisionInput | None = None
        self._row_faults: list[str] = []
        provisions = len(self.filled.provisions) if self.filled else 1
        references = len(self.filled.references) if self.filled else 0
        self.provisions = [
            self._provision(key) for key in self._keys("provision", provisions)
        ]
        self.references = [
            self._reference(key) for key in self._keys("reference", references)
        ]

    def _keys(self, name: str, kept: int) -> list[int]:
        """The numbers of the rows to show, with the change that a button asks for."""
        if self.sent is None:
            return list(range(kept))
        sent = self.sent.getlist(name)
        keys = [
            int(key) for key in sent if key.isascii() and key.isdigit() and len(key) < 5
        ]
        keys = list(dict.fromkeys(keys))
        if len(keys) != len(sent) or len(keys) > MOST_ROWS:
            self._row_faults.append(
                f"The rows of the form are not understood: at most {MOST_ROWS} are "
                "taken, each once. Open the form again."
            )
            keys = keys[:MOST_ROWS]
        gone = self.sent.get(f"remove_{name}", "")
        if self.rearranged and gone:
            return [key for key in keys if str(key) != gone]
        if self.rearranged and f"more_{name}" in self.sent and len(keys) < MOST_ROWS:
            return [*keys, max(keys, default=-1) + 1]
        return keys

    def _provision(self, key: int) -> ProvisionForm:
        stored = list(self.filled.provisions) if self.filled else []
        kept = stored[key] if key < len(stored) else None
        prefix = f"p{key}"
        initial = _initial(kept, ProvisionForm.base_fields)
        more_rows = False
        if self.rearranged and self.sent is not None:
            initial = typed(self.sent, prefix, ProvisionForm.base_fields)
            more_rows = self.sent.get("more_rows") == str(key)
            if "kind" not in initial:
                initial["kind"] = self.sent.get("more_kind", Provision.Kind.ACTION)
        row = ProvisionForm(
            self.sent,
            prefix=prefix,
            initial=initial,
            roles=self.roles,
            kept=kept,
            rearranged=self.rearranged,
            more_rows=more_rows,
        )
        row.key = key
        return row

    def _reference(self, key: int) -> ReferenceForm:
        stored = list(self.filled.references) if self.filled else []
        kept = stored[key] if key < len(stored) else None
        prefix = f"r{key}"
        initial = _initial(kept, ReferenceForm.base_fields)
        if self.rearranged and self.sent is not None:
            initial = typed(self.sent, prefix, ReferenceForm.base_fields)
        data = None if self.rearranged else self.sent
        row = ReferenceForm(data, prefix=prefix, initial=initial)
        row.key = key
        return row

    @property
    def rows(self) -> list[LibraryForm]:
        return [*self.provisions, *self.references]

    def is_valid(self) -> bool:
        valid = super().is_valid()
        for message in self._row_faults:
            self.add_error(None, message)
        judged = [row.is_valid() for row in self.rows]
        valid = valid and all(judged)
        try:
            read = checked(self.stated())
        except RuleError as error:
            for fault in error.faults:
                self.place(fault)
            return False
        self.read = read if valid and not self.errors else None
        return self.read is not None

    def stated(self) -> RevisionInput:
        """What was typed, as far as it was understood."""
        entered = self.cleaned_data.get
        return RevisionInput(
            label=entered("label") or "",
            issued_on=entered("issued_on"),
            effective_on=entered("effective_on"),
            summary=entered("summary") or "",
            applicability=entered("applicability"),
            provisions=[row.stated() for row in self.provisions],
            references=[row for _, row in self._named()],
        )

    def _named(self) -> list[tuple[ReferenceForm, ReferenceInput]]:
        """The rows of references in which a number stands."""
        stated = [(row, row.stated()) for row in self.references]
        return [(row, said) for row, said in stated if said is not None]

    def place(self, fault: Fault) -> None:
        found = _IN_ROW.match(fault.path)
        if found is None:
            super().place(fault)
            return
        of, index, rest = found[1], int(found[2]), found[3]
        rows: list[Any] = self.provisions
        if of == "references":
            rows = [row for row, _ in self._named()]
        rows[index].place(Fault(rest, fault.message))

    def refuse(self, refused: Refused) -> None:
        super().refuse(refused)
        if isinstance(refused, ChangedMeanwhile):
            for number, row in enumerate(self.provisions, 1):
                self.conflicts += tuple(
                    type(one)(
                        label=f"Provision {number}: {one.label}",
                        before=one.before,
                        after=one.after,
                    )
                    for form in row.every_form
                    for one in differences(form)
                )

    def changes_nothing(self) -> bool:
        if self.kept is None or self.read is None:
            return False
        return self.read == checked(self.kept)

    @property
    def all_errors(self) -> int:
        """How many fields are marked, in all rows."""
        of_references = sum(len(row.errors) for row in self.references)
        of_provisions = sum(row.all_errors for row in self.provisions)
        return len(self.errors) + of_references + of_provisions


def _initial(kept: Any, names: Mapping[str, object]) -> dict[str, Any]:
    if kept is None:
        return {}
    found = {name: getattr(kept, name) for name in names if hasattr(kept, name)}
    if "embodies" in found:
        found["embodies"] = ", ".join(found["embodies"])
    if found.get("condition") == {"always": True}:
        found["condition"] = None
    return found


class VersionForm(LibraryForm):
    """Carries nothing but which version of the draft the person has seen."""

    version = forms.IntegerField(
        widget=forms.HiddenInput,
        error_messages=dict.fromkeys(
            ("required", "invalid"),
            "The form does not say which version it is about. Open it again.",
        ),
    )
