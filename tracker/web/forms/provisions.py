"""The form of one provision: what it is, what it asks, and the rule behind it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, ClassVar, Final

from django import forms
from django.forms.boundfield import BoundField
from django.http import QueryDict

from notices.library import ProvisionInput
from notices.library.contents import ABOUT_THE_ENGINE, HOLDS
from notices.models import Provision, RuleVersion
from notices.rules.applicability.wording import condition_sentence
from notices.rules.compliance_time import parse_action
from notices.rules.conditions import parse_condition
from notices.rules.errors import Fault
from notices.rules.times.wording import action_words
from tracker.web.forms.fields import DayField, HoursField, SuggestedText
from tracker.web.forms.fluids import FluidsForm
from tracker.web.forms.intervals import IntervalForm
from tracker.web.forms.library import LibraryForm, parted
from tracker.web.forms.rules import RuleField, read_rule

_READERS: Final[Mapping[str, Callable[[Mapping[str, Any]], str]]] = {
    "applicability": lambda raw: condition_sentence(parse_condition(raw)),
    "condition": lambda raw: condition_sentence(parse_condition(raw)),
    "action": lambda raw: action_words(parse_action(raw)),
}


TOGETHER: Final = (
    "The two parts that are not allowed beside each other, each with a test, as in the "
    "guide below. Where both tests are true there is a finding."
)


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


class ContentsForm(RuleForm):
    """A form of a rule with what goes with a kind: times, an interval, rows of oils.

    What does not go with the kind is shown only where something was entered in it.
    """

    interval: IntervalForm | None = None
    fluids: FluidsForm | None = None

    def hold(
        self,
        kind: str,
        sent: QueryDict | None,
        *,
        kept: ProvisionInput | RuleVersion | None,
        rearranged: bool = False,
        more_rows: bool = False,
    ) -> None:
        """Take the fields that go with a kind. `kept`: what is stored of them."""
        held = HOLDS.get(kind)
        if held != "action" and not self["action"].value():
            del self.fields["action"]
        interval = IntervalForm(
            sent,
            prefix=self.add_prefix("interval"),
            kept=kept.interval if kept else None,
            rearranged=rearranged,
        )
        fluids = FluidsForm(
            sent,
            prefix=self.add_prefix("fluids"),
            kept=kept.fluids if kept else None,
            rearranged=rearranged,
            more=more_rows,
        )
        if held == "interval" or not interval.is_empty:
            self.interval = interval
        if held == "fluids" or not fluids.is_empty:
            self.fluids = fluids

    @property
    def contents(self) -> list[IntervalForm | FluidsForm]:
        return [part for part in (self.interval, self.fluids) if part is not None]

    @property
    def every_form(self) -> list[forms.Form]:
        """This form and those inside it."""
        rows = self.fluids.rows if self.fluids else []
        return [self, *([self.interval] if self.interval else []), *rows]

    @property
    def all_errors(self) -> int:
        """How many fields are marked, those of its contents included."""
        return len(self.errors) + sum(len(part.errors) for part in self.contents)

    def is_valid(self) -> bool:
        judged = [part.is_valid() for part in self.contents]
        return super().is_valid() and all(judged)

    def stated_contents(self) -> dict[str, Any]:
        """What was typed, as far as it was understood."""
        return {
            "action": self.cleaned_data.get("action"),
            "interval": self.interval.stated() if self.interval else None,
            "fluids": self.fluids.stated() if self.fluids else None,
        }

    def place(self, fault: Fault) -> None:
        name, rest = parted(fault.path)
        part = {"interval": self.interval, "fluids": self.fluids}.get(name)
        if part is None:
            super().place(fault)
        else:
            part.place(Fault(rest, fault.message))


class ProvisionForm(ContentsForm):
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
        label="What it says, as published",
        widget=forms.Textarea({"rows": "3", "cols": "72"}),
    )
    category = forms.ChoiceField(
        choices=[("", "choose"), *Provision.Category.choices],
        label="Category, as published",
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

    key = 0
    WORK: ClassVar[tuple[str, ...]] = (
        "embodies",
        "man_hours",
        "parts_needed",
        "ferry",
        "report_to",
    )
    """Shown where something is to be done, or where something was entered."""

    def __init__(
        self,
        sent: QueryDict | None,
        *,
        prefix: str,
        initial: Mapping[str, Any],
        roles: list[str],
        kept: ProvisionInput | None,
        rearranged: bool = False,
        more_rows: bool = False,
    ) -> None:
        """`rearranged`: show what was typed, unjudged; it is `initial` then."""
        super().__init__(None if rearranged else sent, prefix=prefix, initial=initial)
        widget = self.fields["role"].widget
        assert isinstance(widget, SuggestedText)
        widget.suggestions = roles
        kind = self["kind"].value() or Provision.Kind.ACTION
        self.hold(kind, sent, kept=kept, rearranged=rearranged, more_rows=more_rows)
        if kind == Provision.Kind.TOGETHER:
            self.fields["condition"].help_text = TOGETHER
        hidden = () if HOLDS.get(kind) == "action" else self.WORK
        if kind in ABOUT_THE_ENGINE:
            hidden = (*hidden, "role")
        for name in hidden:
            if not self[name].value():
                del self.fields[name]

    def stated(self) -> ProvisionInput:
        entered = {name: self.cleaned_data.get(name) for name in self.fields}
        numbers = (entered.pop("embodies", "") or "").split(",")
        texts = {name for name, field in self.fields.items() if _is_text(field)}
        said: dict[str, Any] = {
            name: "" if name in texts and value is None else value
            for name, value in entered.items()
        }
        return ProvisionInput(
            **{**said, **self.stated_contents()},
            embodies=[one.strip() for one in numbers if one.strip()],
        )


def _is_text(field: forms.Field) -> bool:
    kinds = (forms.CharField, forms.ChoiceField)
    return isinstance(field, kinds) and not isinstance(field, RuleField)
