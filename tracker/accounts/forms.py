"""The forms of signing in, in our words and without placeholders."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from allauth.account import forms as allauth
from django import forms

OWN = "At least fifteen characters. A few words that only you put together do well."


def worded(form: forms.Form, labels: Mapping[str, tuple[str, str]]) -> None:
    """Give fields a label and a hint; a placeholder would say the label again."""
    for name, (label, hint) in labels.items():
        field = form.fields[name]
        field.label, field.help_text = label, hint
        field.widget.attrs.pop("placeholder", None)


class SignIn(allauth.LoginForm):  # type: ignore[misc]  # allauth has no types
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        worded(self, {"login": ("E-mail address", ""), "password": ("Password", "")})


class ChangePassword(allauth.ChangePasswordForm):  # type: ignore[misc]  # the same
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        worded(
            self,
            {
                "oldpassword": ("Password until now", ""),
                "password1": ("New password", OWN),
                "password2": ("New password again", ""),
            },
        )


class ForgottenPassword(allauth.ResetPasswordForm):  # type: ignore[misc]  # the same
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        worded(self, {"email": ("E-mail address", "The one you sign in with.")})


class ChoosePassword(allauth.ResetPasswordKeyForm):  # type: ignore[misc]  # the same
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        worded(
            self,
            {
                "password1": ("New password", OWN),
                "password2": ("New password again", ""),
            },
        )
