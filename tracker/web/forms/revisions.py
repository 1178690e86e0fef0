"""Forms of a revision: drafted with its provisions, confirmed, cancelled, corrected."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

from django import forms
from django.forms.boundfield import BoundField
from django.http import QueryDict

from notices.library import ProvisionInput, ReferenceInput, RevisionInput
from notices.library.checking import checked
from notices.models import Provision, Reference, RuleVersion
from notices.rules.applicability.wording import condition_sentence
from notices.rules.compliance_time import parse_action
from notices.rules.conditions import parse_condition
from notices.rules.errors import Fault, RuleError
from notices.rules.times.wording import action_words
from tracker.fleet.errors import ChangedMeanwhile, Refused
from tracker.web.forms.acts import EditForm, differences
from tracker.web.forms.fields import DayField, HoursField, SuggestedText
from tracker.web.forms.library import LibraryForm
from tracker.web.forms.rules import RuleField, read_rule

MOST_ROWS: Final = 60
_IN_ROW: Final = re.compile(r"(provisions|references)\[(\d+)\]\.?(.*)", re.DOTALL)
_READERS: Final[Mapping[str, Callable[[Mapping[str, Any]], str]]] = {
    "applicability": lambda raw: condition_sentence(parse_condition(raw)),
    "condition": lambda raw: condition_sentence(parse_condition(raw)),
    "action": lambda raw: action_words(parse_action(raw)),
}


class RuleForm(LibraryForm):
    """A form some of whose fields are rules, which it also says in words."""

    def laid_out(self) -> Iterator[tuple[BoundField, str]]:
        """Yield each visible field with what its rule says, "" for other fields."""
        for field in self.visible_fields():
            yield field, self._words(field)

    def _words(self, field: BoundField) -> str:
        reader = _READERS.get(field.name)
        if reader is None or field.errors:
            return ""
        value = field.value()
        try:
            raw = read_rule(value) if isinstance(value, str) else value
            return reader(raw) if raw else ""
        except (ValueError, RecursionError):
            return ""


class ProvisionForm(RuleForm):
    """One provision. Its fields are named as those of `ProvisionInput`."""

    kind = forms.ChoiceField(choices=Provision.Kind.choices, label="What it is")
    title = forms.CharField(
        label="In a few words",
        help_text="As it shall stand in lists.",
        max_length=500,
        widget=forms.TextInput({"size": "60"}),
    )
    description = forms.CharField(
        required=False,
        label="What is to be done, as published",
        widget=forms.Textarea({"rows": "3", "cols": "72"}),
    )
    category = forms.ChoiceField(
        choices=Provision.Category.choices, label="Category, as published"
    )
    role = forms.CharField(
        required=False,
        label="For each fitted part of this role",
        help_text="Such as magneto. Empty: about the engine.",
        widget=SuggestedText(),
    )
    effective_on = DayField(
        required=False,
        label="Own effective date",
        help_text="Where it was retained from an older document.",
    )
    condition = RuleField(
        label="Only where, as JSON",
        help_text="Narrows the applicability of the revision. Empty: narrows nothing.",
    )
    action = RuleField(
        label="By when, as JSON",
        help_text="Compliance times of an action, a prohibition, or of parts that do "
        "not go together.",
    )
    embodies = forms.CharField(
        required=False,
        label="Doing it embodies",
        help_text="Numbers of modifications, with a comma between two.",
        max_length=1000,
    )
    man_hours = HoursField(required=False, label="Hours of work")
    parts_needed = forms.CharField(required=False, label="Parts needed", max_length=500)
    ferry = forms.ChoiceField(
        required=False, choices=Provision.Ferry.choices, label="Ferry flight"
    )
    report_to = forms.CharField(required=False, label="Report to", max_length=500)

    def __init__(self, *args: Any, roles: list[str], **given: Any) -> None:
        super().__init__(*args, **given)
        widget = self.fields["role"].widget
        assert isinstance(widget, SuggestedText)
        widget.suggestions = roles

    def stated(self) -> ProvisionInput:
        entered = {name: self.cleaned_data.get(name) for name in self.fields}
        numbers = (entered.pop("embodies") or "").split(",")
        texts = {name for name, field in self.fields.items() if _is_text(field)}
        said: dict[str, Any] = {
            name: "" if name in texts and value is None else value
            for name, value in entered.items()
        }
        return ProvisionInput(
            **said, embodies=[one.strip() for one in numbers if one.strip()]
        )


def _is_text(field: forms.Field) -> bool:
    kinds = (forms.CharField, forms.ChoiceField)
    return isinstance(field, kinds) and not isinstance(field, RuleField)


class ReferenceForm(LibraryForm):
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
    draft as it is stored now, None to enter one.
    """

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
        version: int = 0,
        rearranged: bool = False,
    ) -> None:
        """`rearranged`: show what was typed with a row more or less, unjudged."""
        self.sent, self.roles, self.kept = sent, roles, kept
        self.rearranged = rearranged
        self.corrects = False
        initial = {"version": version, **_initial(kept, self.base_fields)}
        if rearranged and sent is not None:
            initial = {name: sent.get(name, "") for name in self.base_fields}
        super().__init__(None if rearranged else sent, initial=initial)
        self.read: RevisionInput | None = None
        self._row_faults: list[str] = []
        provisions = list(kept.provisions) if kept else []
        references = list(kept.references) if kept else []
        self.provisions = [
            self._row(ProvisionForm, "p", key, provisions, roles=roles)
            for key in self._keys("provision", max(len(provisions), kept is None))
        ]
        self.references = [
            self._row(ReferenceForm, "r", key, references)
            for key in self._keys("reference", len(references))
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

    def _row(
        self, kind: type[Any], mark: str, key: int, kept: list[Any], **given: Any
    ) -> Any:
        prefix = f"{mark}{key}"
        initial = _initial(kept[key], kind.base_fields) if key < len(kept) else {}
        if self.rearranged and self.sent is not None:
            typed = {n: self.sent.get(f"{prefix}-{n}") for n in kind.base_fields}
            initial = {n: value for n, value in typed.items() if value is not None}
        data = None if self.rearranged else self.sent
        row = kind(data, prefix=prefix, initial=initial, **given)
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
                    for one in differences(row)
                )

    def changes_nothing(self) -> bool:
        if self.kept is None or self.read is None:
            return False
        return self.read == checked(self.kept)

    def all_errors(self) -> int:
        """How many fields are marked, in all rows."""
        own = len(self.errors)
        return own + sum(len(row.errors) for row in self.rows)


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


class ChangeRuleForm(RuleForm):
    """Corrects the rule of a confirmed revision. `kept`: its newest version."""

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

    def __init__(self, sent: Any, *, kept: RuleVersion, timed: bool) -> None:
        self.kept = kept
        initial = {
            n: getattr(kept, n) for n in ("applicability", "condition", "number")
        }
        super().__init__(sent, initial={**initial, "action": kept.action or None})
        if not timed:
            del self.fields["action"]

    def kept_rules(self) -> dict[str, Any]:
        """The three parts of the rule as they are in force."""
        return {name: getattr(self.kept, name) for name in _READERS}

    def _kept_rule(self, name: str) -> Any:
        return getattr(self.kept, name) or None

    def clean(self) -> dict[str, Any]:
        entered = super().clean() or self.cleaned_data
        for name in _READERS:
            if name in entered and entered[name] is None and self._kept_rule(name):
                self.add_error(name, "A rule that is in force cannot be taken out.")
        return entered

    def changed(self) -> dict[str, Any]:
        """The parts of the rule that were typed otherwise than they are kept."""
        return {
            name: self.cleaned_data[name]
            for name in _READERS
            if self.cleaned_data.get(name) not in (None, self._kept_rule(name))
        }

    def changes_nothing(self) -> bool:
        return not self.changed()
