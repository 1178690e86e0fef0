"""The form with which the archive of an engine is taken in."""

from __future__ import annotations

from typing import Any

from django import forms

from notices.rules.errors import RuleError
from tracker.fleet.errors import Refused
from tracker.handover.archive import MOST_BYTES, Archive, read_archive
from tracker.web.forms.acts import ActForm

MOST_SHOWN = 5


class ArchiveForm(ActForm):
    file = forms.FileField(
        label="Archive of the engine",
        help_text="The file that the other station has handed over. Every hash in it and "
        "its whole ledger are proved before anything is written.",
        error_messages={"empty": "The file is empty. Ask for it once more."},
    )

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise forms.ValidationError(
                f"The file has {file.size / 1e6:.0f} MB; at most "
                f"{MOST_BYTES / 1e6:g} MB are taken."
            )
        return file

    def archive(self) -> Archive:
        """Return the archive; Refused with what is wrong in it."""
        try:
            return read_archive(self.cleaned_data["file"].read())
        except RuleError as error:
            raise Refused("file", faults_in_words(error)) from error


def faults_in_words(error: RuleError) -> str:
    """The first faults of an archive, each with its place, as one text."""
    told = [
        f"{fault.path}: {fault.message}" if fault.path else fault.message
        for fault in error.faults[:MOST_SHOWN]
    ]
    more = len(error.faults) - len(told)
    if more:
        told.append(f"And {more} more.")
    return " ".join(["Nothing was taken in.", *told])
