"""Forms of meters and readings."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from tracker.fleet.models import MeterKind, Reading
from tracker.web.forms.acts import ActForm
from tracker.web.forms.fields import DayField, HoursField


class ReadingForm(ActForm):
    """What the meter in use showed on a day."""

    on = DayField(label="Read on")
    shown = HoursField(label="The meter shows", help_text='Hours, such as "512.3".')
    remark = forms.CharField(required=False, label="Remark")

    def __init__(self, data: Any, *, today: date) -> None:
        super().__init__(data, initial={"on": today})


class FirstReadingForm(ReadingForm):
    """The first reading of an engine also says which meter is read."""

    kind = forms.ChoiceField(
        choices=MeterKind.choices,
        label="Kind of meter",
        help_text="Limits count time in service; another meter stands in for it and is "
        "named with every answer.",
    )
    hours = HoursField(
        required=False,
        label="Hours of the engine then",
        help_text="Only where they are other than the meter shows.",
    )

    def __init__(self, data: Any, *, today: date) -> None:
        super().__init__(data, today=today)
        self.order_fields(["kind", "on", "shown", "hours", "remark"])


class CorrectionForm(ActForm):
    """The right reading in place of a wrong one."""

    corrects = True

    on = DayField(label="Read on")
    shown = HoursField(label="The meter showed")
    remark = forms.CharField(required=False, label="Why it was wrong")

    def __init__(self, data: Any, *, wrong: Reading) -> None:
        kept = {"on": wrong.on, "shown": wrong.shown}
        super().__init__(data, initial=kept)


class MeterChangeForm(ActForm):
    """Another meter counts from a day on."""

    on = DayField(label="Changed on")
    old_shown = HoursField(
        required=False,
        label="The old meter last showed",
        help_text="Leave it empty if it can no longer be read; the hours then go on "
        "from the last reading.",
    )
    kind = forms.ChoiceField(choices=MeterKind.choices, label="Kind of the new meter")
    shown = HoursField(label="The new meter shows")
    reason = forms.CharField(label="Why it was changed")

    def __init__(self, data: Any, *, today: date) -> None:
        super().__init__(data, initial={"on": today})
