"""The form with which the document itself is added to a revision."""

from __future__ import annotations

from typing import Any

from django import forms
from django.conf import settings

from tracker.web.forms.library import LibraryForm


class DocumentForm(LibraryForm):
    file = forms.FileField(
        label="PDF of the document",
        help_text="It is kept unchanged under its hash. Its text is read afterwards, "
        "for the search.",
        error_messages={
            "empty": "The file is empty. Fetch the document again and upload it.",
        },
    )

    def clean_file(self) -> Any:
        """Refuse by size before a byte of it is taken into memory."""
        file, limit = self.cleaned_data["file"], settings.DOCUMENT_LIMIT_BYTES
        if file.size > limit:
            raise forms.ValidationError(
                f"The file has {file.size / 1e6:.1f} MB; at most {limit / 1e6:g} MB are "
                "taken. Save it with smaller pictures, or in parts."
            )
        return file
