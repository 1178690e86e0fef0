"""The form in which a person answers what only a person can say."""

from __future__ import annotations

from datetime import date
from typing import Any, Final

from django import forms

from tracker.compliance.questions import Question
from tracker.web.forms.acts import ActForm
from tracker.web.forms.fields import DayField

YES: Final = "yes"
NO: Final = "no"
CANNOT: Final = "cannot"
TRUTHS: Final = {YES: True, NO: False, CANNOT: None}


class AnswerForm(ActForm):
    answer = forms.ChoiceField(
        label="Answer",
        choices=[(YES, "yes"), (NO, "no"), (CANNOT, "it cannot be found out")],
        widget=forms.RadioSelect,
    )
    seen_on = forms.CharField(
        required=False,
        label="Seen on",
        help_text="What the answer was read from, such as data plate or logbook page 12.",
        max_length=120,
    )
    true_from = DayField(
        label="True from",
        help_text="The day on which it was seen, or since when it is so.",
    )
    question = forms.CharField(widget=forms.HiddenInput)
    part = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, sent: Any, *, asked: Question, today: date) -> None:
        initial: dict[str, Any] = {
            "question": asked.text,
            "part": asked.part_id,
            "true_from": today,
        }
        super().__init__(sent, initial=initial)

    @property
    def truth(self) -> bool | None:
        return TRUTHS[self.cleaned_data["answer"]]
