"""The note that goes with a document told to all owners whom it concerns."""

from __future__ import annotations

from django import forms

from tracker.watch.telling.announcing import LONGEST_NOTE
from tracker.web.forms.acts import ActForm


class NoteForm(ActForm):
    note = forms.CharField(
        required=False,
        max_length=LONGEST_NOTE,
        label="A note of yours",
        help_text="It stands in each mail, above what the document means for the "
        "owner's own engines.",
        widget=forms.Textarea({"rows": "5", "cols": "60"}),
    )
