"""Forms of sheets: a file uploaded, and what was looked at imported."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from tracker.fleet.models import SheetKind
from tracker.fleet.sheets.reading import MOST_BYTES
from tracker.web.forms.acts import ActForm


class UploadForm(ActForm):
    kind = forms.ChoiceField(choices=SheetKind.choices, label="The sheet is about")
    file = forms.FileField(
        label="File",
        help_text=f"CSV in UTF-8 or XLSX, {MOST_BYTES // 1_000_000} MB at most; the "
        "first sheet of a workbook is read.",
        allow_empty_file=True,
        widget=forms.FileInput({"accept": ".csv,.xlsx"}),
    )

    def clean_file(self) -> Any:
        """A file that is too large is not read into memory at all."""
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise forms.ValidationError(
                f"The file has {file.size:,} bytes; at most {MOST_BYTES:,} are read. "
                "Split it into several."
            )
        return file


class ImportForm(ActForm):
    """`has_faults`, `has_doubts`: whether the sheet held bad rows, or figures in
    question, when it was looked at.
    """

    NAMES: ClassVar[dict[str, str]] = {"file": "digest"}

    digest = forms.CharField(widget=forms.HiddenInput, required=False)
    good_rows_only = forms.BooleanField(
        required=False, label="Leave the bad rows out and take only the good ones"
    )

    confirmed = forms.BooleanField(
        required=False, label="The figures in question are right"
    )

    def __init__(
        self, data: Any, *, digest: str, has_faults: bool, has_doubts: bool
    ) -> None:
        super().__init__(data, initial={"digest": digest})
        if not has_doubts:
            del self.fields["confirmed"]
        if not has_faults:
            del self.fields["good_rows_only"]
