"""A form whose entries go to one act, and where a refusal of that act is shown."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, ClassVar, Final

from django import forms

from tracker.figures import wording
from tracker.fleet.errors import ChangedMeanwhile, Refused
from tracker.web.forms.fields import HoursField

_NOT_OFFERED: Final = "Choose one from the list; what was sent is not in it."
SAID: Final = {
    "required": "This cannot be left out.",
    "invalid_choice": _NOT_OFFERED,
    "invalid_list": _NOT_OFFERED,
    "max_length": "This has %(show_value)d characters; at most %(limit_value)d are kept. "
    "Shorten it.",
    "min_value": "%(show_value)s is too little. Write %(limit_value)s or more.",
    "max_value": "%(show_value)s is too much. Write %(limit_value)s or less.",
}
"""What a field says of what is wrong, by the codes of the framework."""
NOTHING: Final = "nothing"
NOT_SAID: Final = (NOTHING, "no")
Groups = tuple[tuple[str, tuple[str, ...]], ...]
"""Headings, each with the names of the fields under it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A field that was sent otherwise than it is kept, both as words."""

    label: str
    before: str
    after: str


class ActForm(forms.Form):
    """Knows under which of its fields a refusal is shown.

    `NAMES`: the form's own name of a field, by the name that the act gives it.
    `corrects`: its `initial` is what is kept already, so that sending it back changes
    nothing. `GROUPS`: headings over its fields where it has many, each with names.
    """

    GROUPS: ClassVar[Groups] = ()
    NAMES: ClassVar[Mapping[str, str]] = {}
    corrects = False
    conflicts: tuple[Difference, ...] = ()

    def __init__(self, *args: Any, **given: Any) -> None:
        super().__init__(*args, **given)
        for field in self.fields.values():
            field.error_messages |= {**SAID, **_of_its_own(field)}

    def refuse(self, refused: Refused) -> None:
        """Show why the act was refused, at its field if the form shows that."""
        name = self.NAMES.get(refused.field, refused.field)
        field = self.fields.get(name)
        shown = field is not None and not field.widget.is_hidden
        self.add_error(name if shown else None, str(refused))

    @property
    def grouped(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The visible fields under their headings; all under "" without groups."""
        groups = self.GROUPS or (("", tuple(self.fields)),)
        visible = {field.name: field for field in self.visible_fields()}
        return [
            (heading, [visible[name] for name in names if name in visible])
            for heading, names in groups
        ]

    def changes_nothing(self) -> bool:
        """Whether sending the form would write again what is kept already."""
        return self.corrects and not set(self.changed_data) - {"version"}


class EditForm(ActForm):
    """Changes what is kept, and carries the version that the person has seen.

    Its `initial` is what is kept at the moment of the request, so that after somebody
    else's change the differences are those between their values and the ones sent.
    """

    corrects = True

    version = forms.CharField(widget=forms.HiddenInput, required=False)

    def clean(self) -> dict[str, Any]:
        entered = super().clean() or self.cleaned_data
        text = entered.get("version", "")
        if not (text.isascii() and text.isdigit() and len(text) < 10):
            raise forms.ValidationError(
                "The form does not say which version it changes. Open it again."
            )
        entered["version"] = int(text)
        return entered

    def refuse(self, refused: Refused) -> None:
        if isinstance(refused, ChangedMeanwhile):
            self.conflicts = differences(self)
            self.data = self.data.copy()  # type: ignore[attr-defined]  # a QueryDict
            self.data["version"] = self.initial["version"]  # type: ignore[index]  # the copy may be changed
        super().refuse(refused)


def _of_its_own(field: forms.Field) -> dict[str, Any]:
    """Return what a field says in words of its own, other than the framework's."""
    usual: dict[str, Any] = {}
    for kind in reversed(type(field).__mro__):
        usual |= getattr(kind, "default_error_messages", {})
    said = field.error_messages.items()
    return {code: own for code, own in said if own != usual.get(code)}


def differences(form: forms.Form) -> tuple[Difference, ...]:
    """Return the visible fields that were sent otherwise than they are kept."""
    return tuple(
        Difference(
            label=str(field.label),
            before=_words(field, form.get_initial_for_field(field, name)),
            after=_words(field, _sent(form, name)),
        )
        for name, field in form.fields.items()
        if name in form.changed_data and not field.widget.is_hidden
    )


def entered(form: ActForm) -> tuple[Difference, ...]:
    """Return what was entered: of a change what is different, else all that is said."""
    if form.corrects:
        return differences(form)
    said = (
        Difference(
            label=str(field.label), before="", after=_words(field, _sent(form, name))
        )
        for name, field in form.fields.items()
        if not field.widget.is_hidden
    )
    return tuple(one for one in said if one.after not in NOT_SAID)


def _sent(form: forms.Form, name: str) -> Any:
    """What was sent: a chosen row under its id again, to be worded as a choice."""
    value = form.cleaned_data.get(name)
    return getattr(value, "public_id", value)


def _words(field: forms.Field, value: Any) -> str:
    match value:
        case list():
            return ", ".join(_words(field, one) for one in value) or NOTHING
        case bool():
            return "yes" if value else "no"
        case int() if isinstance(field, HoursField):
            return wording.hours(value)
        case date():
            return wording.day(value)
        case None | "":
            words = ""
        case _:
            words = str(value)
    if isinstance(field, forms.ChoiceField):
        words = str(dict(field.choices).get(words, words))  # type: ignore[arg-type]  # pairs, not groups
    return words or NOTHING
