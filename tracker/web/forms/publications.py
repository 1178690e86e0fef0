"""The form of a publication: its kind, number, issuer and title."""

from __future__ import annotations

from typing import Any

from django import forms

from notices.models import Kind, Publication
from tracker.web.forms.library import LibraryForm


class PublicationForm(LibraryForm):
    """`kept`: the publication that is corrected, None to enter one."""

    kind = forms.ChoiceField(
        choices=[("", "choose"), *Kind.choices],
        label="Kind",
        help_text="Directives and airworthiness limitations bind by law.",
    )
    number = forms.CharField(
        label="Number", help_text="As printed, such as SB-24-011.", max_length=200
    )
    issuer = forms.CharField(
        label="Issued by",
        help_text="The maker or the authority, as on the first page.",
        max_length=500,
    )
    title = forms.CharField(label="Title", max_length=500)

    def __init__(self, sent: Any, *, kept: Publication | None = None) -> None:
        self.corrects = kept is not None
        initial = (
            {} if kept is None else {n: getattr(kept, n) for n in self.base_fields}
        )
        super().__init__(sent, initial=initial)
