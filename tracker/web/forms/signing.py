"""Signing: the password asked again, and files carried from one step to the next."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from django import forms
from django.core import signing
from django.core.files.uploadedfile import UploadedFile

from tracker.compliance.ledger import (
    RecordRefused,
    Upload,
    check_uploads,
    keep_uploads,
    kept_upload,
)

SALT: Final = "attached to a record that is not signed yet"
KEPT_SECONDS: Final = 2 * 60 * 60


class SignForm(forms.Form):
    password = forms.CharField(
        label="Your password",
        help_text="Asked again, because a record is signed with it.",
        strip=False,
        max_length=1000,
        widget=forms.PasswordInput({"autocomplete": "current-password"}),
    )


class _SeveralFiles(forms.FileInput):
    allow_multiple_selected = True


class FilesField(forms.FileField):
    """Photographs (JPEG, PNG) and scans (PDF), none or several, as `Upload`s."""

    def __init__(self, **given: Any) -> None:
        kinds = "image/jpeg,image/png,application/pdf"
        widget = _SeveralFiles({"multiple": True, "accept": kinds})
        super().__init__(widget=widget, required=False, **given)

    def clean(self, data: Any, initial: Any = None) -> tuple[Upload, ...]:
        sent = data if isinstance(data, list | tuple) else [data]
        files = [super(FilesField, self).clean(one, initial) for one in sent if one]
        return tuple(_upload(file) for file in files)


def _upload(file: UploadedFile[bytes]) -> Upload:
    return Upload(name=Path(file.name or "file").name, content=file.read())


class CarriedField(forms.Field):
    """Files sent with an earlier step, by tokens that this service signed itself.

    They lie in the store already; a token only says which they are, and for two hours.
    """

    widget = forms.MultipleHiddenInput

    def __init__(self, **given: Any) -> None:
        super().__init__(required=False, **given)

    def clean(self, value: Any) -> tuple[Upload, ...]:
        try:
            return tuple(_carried(token) for token in value or ())
        except signing.BadSignature:
            raise forms.ValidationError(
                "The files were attached too long ago. Attach them again."
            ) from None


def _carried(token: str) -> Upload:
    name, digest, media_type = signing.loads(token, salt=SALT, max_age=KEPT_SECONDS)
    return kept_upload(name, digest, media_type)


def carried(uploads: Sequence[Upload]) -> list[str]:
    """Store the files and return a token for each; RecordRefused for a wrong file."""
    check_uploads(uploads)
    keep_uploads(uploads)
    return [
        signing.dumps([one.label, one.sha256, one.media_type], salt=SALT)
        for one in uploads
    ]


def clean_attached(form: forms.Form, entered: dict[str, Any]) -> tuple[Upload, ...]:
    """Return what is attached, earlier and now; an error at the field where refused."""
    uploads = (*(entered.get("carried") or ()), *(entered.get("attachments") or ()))
    try:
        check_uploads(uploads)
    except RecordRefused as refused:
        form.add_error("attachments", str(refused))
    return uploads
