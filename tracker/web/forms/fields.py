"""Fields that read hours, dates and chosen objects as sheets do, in the same words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from django import forms
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from notices.rules.designations import plain_text
from tracker.figures import wording
from tracker.fleet.engine_entries import single_uses
from tracker.fleet.sheets.cells import read_day, read_hours, written_hours


class HoursField(forms.Field):
    """Decimal hours with up to two places; hundredths of an hour inside.

    `most`: the most that is taken, in hundredths.
    """

    def __init__(self, *, most: int | None = None, **given: Any) -> None:
        self.most = most
        attributes = {"inputmode": "decimal", "size": "10", "autocomplete": "off"}
        given.setdefault("widget", forms.TextInput(attrs=attributes))
        super().__init__(**given)

    def to_python(self, value: Any) -> int | None:
        if value in self.empty_values:
            return None
        try:
            hundredths = read_hours(str(value))
        except ValueError as error:
            raise forms.ValidationError(str(error)) from None
        if self.most is not None and hundredths > self.most:
            raise forms.ValidationError(
                f"{wording.hours(hundredths)} are more than the most that is taken, "
                f"{wording.hours(self.most)}."
            )
        return hundredths

    def prepare_value(self, value: Any) -> Any:
        return str(written_hours(value)) if isinstance(value, int) else value


class DayField(forms.Field):
    """A date, as the browser's own date field sends it and as anybody may write it."""

    def __init__(self, **given: Any) -> None:
        given.setdefault("widget", forms.DateInput({"type": "date"}, "%Y-%m-%d"))
        super().__init__(**given)

    def to_python(self, value: Any) -> Any:
        if value in self.empty_values:
            return None
        try:
            return read_day(str(value))
        except ValueError as error:
            raise forms.ValidationError(str(error)) from None


class PickField(forms.ChoiceField):
    """One of a few rows that `offer` names; inside the row itself, None for no choice.

    Rows are known by their public id, so that nothing else can be sent.
    """

    def __init__(self, **given: Any) -> None:
        self.rows: dict[str, Any] = {}
        unknown = "Choose one from the list; what was sent is not in it."
        super().__init__(error_messages={"invalid_choice": unknown}, **given)

    def offer(self, rows: Iterable[tuple[Any, str]], *, none: str) -> None:
        """Offer rows with their names, after `none`, the words for no choice."""
        named = list(rows)
        self.rows = {str(row.public_id): row for row, _ in named}
        words = [(str(row.public_id), name) for row, name in named]
        self.choices = [("", none), *words]

    def clean(self, value: Any) -> Any:
        return self.rows.get(super().clean(value))


class SuggestedText(forms.TextInput):
    """A text field that suggests what is known already, and takes anything else."""

    def __init__(self, suggestions: Sequence[str] = ()) -> None:
        self.suggestions = suggestions
        super().__init__()

    def render(
        self,
        name: str,
        value: Any,
        attrs: dict[str, Any] | None = None,
        renderer: Any = None,
    ) -> SafeString:
        listed = f"{name}-known"
        field = super().render(name, value, {**(attrs or {}), "list": listed}, renderer)
        options = format_html_join(
            "", '<option value="{}"></option>', ((word,) for word in self.suggestions)
        )
        return format_html('{}<datalist id="{}">{}</datalist>', field, listed, options)


class OfferedWidget(forms.RadioSelect):
    """Values to choose from, and a line for another one. What is sent is one text."""

    OTHER: Final = "another value"

    def value_from_datadict(
        self, data: Mapping[str, Any], files: Any, name: str
    ) -> str | None:
        chosen, other = data.get(name), data.get(f"{name}-other", "").strip()
        if other and chosen in (None, "", self.OTHER):
            return str(other)
        return None if chosen == self.OTHER else chosen

    def value_omitted_from_data(
        self, data: Mapping[str, Any], files: Any, name: str
    ) -> bool:
        return name not in data and f"{name}-other" not in data

    def render(
        self,
        name: str,
        value: Any,
        attrs: dict[str, Any] | None = None,
        renderer: Any = None,
    ) -> SafeString:
        known = {str(key) for key, _ in self.choices}
        other = value if value and value not in known else ""
        radios = super().render(name, self.OTHER if other else value, attrs, renderer)
        return format_html(
            '{}<input type="text" name="{}-other" value="{}" aria-label="{}">',
            radios,
            name,
            other,
            "Another value, in words",
        )


class OfferedField(forms.CharField):
    """A text of which some values are offered; another one is taken as it is written."""

    def __init__(self, offered: Sequence[str], **given: Any) -> None:
        required = given.get("required", True)
        unknown = [] if required else [("", "not known")]
        widget = OfferedWidget(choices=[*unknown, *((v, v) for v in offered), _ANOTHER])
        self.offered = {plain_text(value): value for value in offered}
        super().__init__(widget=widget, **given)

    def clean(self, value: Any) -> str:
        """Return the text, of an offered value as that is written."""
        text: str = super().clean(value)
        return self.offered.get(plain_text(text), text)


class UsesWidget(forms.CheckboxSelectMultiple):
    """Kinds of operation to tick, and a line for others."""

    def value_from_datadict(
        self, data: Mapping[str, Any], files: Any, name: str
    ) -> list[str]:
        ticked: list[str] = super().value_from_datadict(data, files, name) or []
        return [*ticked, data.get(f"{name}-other", "")]

    def value_omitted_from_data(
        self, data: Mapping[str, Any], files: Any, name: str
    ) -> bool:
        return False

    def render(
        self,
        name: str,
        value: Any,
        attrs: dict[str, Any] | None = None,
        renderer: Any = None,
    ) -> SafeString:
        known = {str(key) for key, _ in self.choices}
        others = "; ".join(one for one in value or () if one and one not in known)
        return format_html(
            '{}<label>Another <input type="text" name="{}-other" value="{}"></label>',
            super().render(name, value, attrs, renderer),
            name,
            others,
        )


class UsesField(forms.Field):
    """How an engine is run: what is ticked, and others in words. A list inside."""

    widget = UsesWidget

    def offer(self, uses: Iterable[str]) -> None:
        self.widget.choices = [(use, use) for use in uses]

    def to_python(self, value: Any) -> list[str]:
        return list(single_uses(value or ()))

    def has_changed(self, initial: Any, data: Any) -> bool:
        return list(initial or ()) != self.to_python(data)


_ANOTHER: Final = (OfferedWidget.OTHER, OfferedWidget.OTHER)
