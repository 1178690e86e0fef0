"""The plain fields in which a person enters an overhaul interval."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any, ClassVar, Final

from django import forms
from django.http import QueryDict

from notices.rules.errors import Fault, RuleError
from notices.rules.forms import HoursForm, number_of
from notices.rules.overhaul import parse_interval
from notices.rules.overhaul_wording import interval_sentences
from tracker.web.forms.fields import HoursField, SuggestedText
from tracker.web.forms.library import LibraryForm, typed

EVERYWHERE: Final = "everywhere"
SOMEWHERE: Final = "somewhere"
USES: Final = ("commercial", "private")
_HOURS: Final = HoursForm()


class IntervalForm(LibraryForm):
    """An overhaul interval. Empty but for what always stands in it: none is entered."""

    GROUPS = (
        ("What it is", ("kind", "name")),
        ("How long it is", ("hours", "years", "since")),
        (
            "What an engine must not have exceeded when it enters an extension",
            ("enter_hours", "enter_years"),
        ),
        ("What it rests on, and whom it binds", ("builds_on", "binds", "operations")),
    )
    PLACES: ClassVar[Mapping[str, str]] = {
        "id": "name",
        "enter_by": "enter_hours",
        "enter_by.hours": "enter_hours",
        "enter_by.years": "enter_years",
        "binding": "operations",
    }

    kind = forms.ChoiceField(
        required=False,
        choices=[
            ("", "choose"),
            ("base", "base: the interval itself"),
            ("extension", "extension: longer where its condition holds"),
            ("restriction", "restriction: at most so long where its condition holds"),
        ],
        label="Base, extension or restriction",
    )
    name = forms.CharField(
        required=False,
        label="Short name",
        help_text="Such as base or oil-feed. Others build on it by this name.",
        max_length=60,
        widget=forms.TextInput({"size": "14", "autocomplete": "off"}),
    )
    hours = HoursField(required=False, label="Hours")
    years = forms.IntegerField(
        required=False,
        label="Years",
        widget=forms.TextInput({"inputmode": "numeric", "size": "6"}),
    )
    since = forms.ChoiceField(
        choices=[("overhaul", "since overhaul"), ("new", "since new")],
        label="Counted",
        required=False,
    )
    enter_hours = HoursField(
        required=False,
        label="Enter before, hours",
    )
    enter_years = forms.IntegerField(
        required=False,
        label="Enter before, years",
        widget=forms.TextInput({"inputmode": "numeric", "size": "6"}),
    )
    builds_on = forms.CharField(
        required=False,
        label="Builds on",
        help_text="Short name of another interval that must hold, too.",
        max_length=60,
        widget=forms.TextInput({"size": "14", "autocomplete": "off"}),
    )
    binds = forms.ChoiceField(
        required=False,
        choices=[
            ("", "a recommendation"),
            (SOMEWHERE, "law in some operations"),
            (EVERYWHERE, "law in every operation"),
        ],
        label="What it is to the operator",
    )
    operations = forms.CharField(
        required=False,
        label="Operations in which it is law",
        help_text="With a comma between two.",
        max_length=200,
        widget=SuggestedText(USES),
    )

    def __init__(
        self,
        sent: QueryDict | None,
        *,
        prefix: str,
        kept: Mapping[str, Any] | None,
        rearranged: bool = False,
    ) -> None:
        """`kept`: as stored, None to enter one. `rearranged`: what was typed, unjudged."""
        self.kept = kept
        initial = interval_initial(kept)
        if rearranged and sent is not None:
            initial = typed(sent, prefix, self.base_fields)
        super().__init__(None if rearranged else sent, prefix=prefix, initial=initial)

    @property
    def is_empty(self) -> bool:
        """Whether nothing was entered; what it counts from always stands there."""
        return not any(
            field.value() for field in self.visible_fields() if field.name != "since"
        )

    def clean(self) -> dict[str, Any]:
        entered = super().clean() or self.cleaned_data
        if self.is_empty:
            return entered
        if not entered.get("kind"):
            self.add_error("kind", "Choose what it is.")
        if not entered.get("name"):
            self.add_error("name", "Give it a short name, such as base.")
        self._refuse_ends(entered)
        binds, operations = entered.get("binds"), self._operations()
        if binds == SOMEWHERE and not operations:
            self.add_error("operations", "Name the operations in which it is law.")
        if operations and binds != SOMEWHERE:
            self.add_error(
                "operations", "Say beside it that it is law in some, or none."
            )
        return entered

    def _refuse_ends(self, entered: dict[str, Any]) -> None:
        """Refuse what the kind has no use for, at the fields in which it stands."""
        if not self.errors.keys() & {"hours", "years"} and not (
            entered.get("hours") is not None or entered.get("years") is not None
        ):
            self.add_error(
                "hours", "Say how long the interval is: write hours, years, or both."
            )
        kind = entered.get("kind")
        if kind and kind != "extension":
            for name in ("enter_hours", "enter_years"):
                if entered.get(name) is not None:
                    self.add_error(
                        name,
                        f"Only an extension is entered; this is a {kind}. Leave "
                        f"\u201c{self.fields[name].label}\u201d empty, or make it an "
                        "extension.",
                    )
        below = entered.get("builds_on")
        if below and kind == "base":
            self.add_error(
                "builds_on",
                "A base stands alone. Leave \u201cBuilds on\u201d empty, or make it an "
                "extension or a restriction.",
            )
        elif below and below == entered.get("name"):
            self.add_error(
                "builds_on",
                "It cannot build on itself. Write the short name of another interval, "
                "or leave \u201cBuilds on\u201d empty.",
            )

    def _operations(self) -> list[str]:
        words = (self.cleaned_data.get("operations") or "").split(",")
        return [word.strip() for word in words if word.strip()]

    def stated(self) -> dict[str, Any] | None:
        """What was typed, as it is stored; None for nothing, or what is not understood."""
        if self.is_empty or self.errors:
            return None
        entered = self.cleaned_data
        bound = {
            "hours": _hours(entered["enter_hours"]),
            "years": entered["enter_years"],
        }
        said = {
            "id": entered["name"],
            "kind": entered["kind"],
            "hours": _hours(entered["hours"]),
            "years": entered["years"],
            "since": entered["since"] or "overhaul",
            "enter_by": {key: end for key, end in bound.items() if end is not None},
            "binding": entered["binds"] == EVERYWHERE or self._operations(),
            "builds_on": entered["builds_on"],
        }
        return {
            key: value for key, value in said.items() if value not in (None, "", {}, [])
        }

    def place(self, fault: Fault) -> None:
        path = fault.path.partition("[")[0]
        super().place(Fault(self.PLACES.get(path, path), fault.message))

    @property
    def words(self) -> str:
        """What it says, "" where that cannot be said yet."""
        raw = self.stated() if self.is_bound and self.is_valid() else self.kept
        try:
            return interval_sentences(parse_interval(raw)) if raw else ""
        except RuleError:
            return ""


def interval_initial(kept: Mapping[str, Any] | None) -> dict[str, Any]:
    """Return what the fields show of an interval as it is stored."""
    if not kept:
        return {}
    bound = kept.get("enter_by", {})
    binding = kept.get("binding", [])
    return {
        "kind": kept["kind"],
        "name": kept["id"],
        "hours": _hundredths(kept.get("hours")),
        "years": kept.get("years"),
        "since": kept["since"],
        "enter_hours": _hundredths(bound.get("hours")),
        "enter_years": bound.get("years"),
        "builds_on": kept.get("builds_on", ""),
        "binds": EVERYWHERE if binding is True else SOMEWHERE if binding else "",
        "operations": "" if binding is True else ", ".join(binding),
    }


def _hours(hundredths: int | None) -> Any:
    return None if hundredths is None else number_of(Fraction(hundredths, 100))


def _hundredths(hours: Any) -> int | None:
    return None if hours is None else _HOURS.read(hours, "", [])
