"""The form by which somebody who has checked an engine asks to be contacted."""

from __future__ import annotations

from typing import Any

from django import forms


class ContactForm(forms.Form):
    """Who asks to be contacted, and how. `website` is there for robots, who fill it."""

    name = forms.CharField(max_length=120, label="Your name")
    email = forms.EmailField(required=False, label="E-mail address")
    telephone = forms.CharField(required=False, max_length=40, label="Telephone")
    message = forms.CharField(
        required=False,
        max_length=2000,
        label="Your message",
        widget=forms.Textarea({"rows": 6}),
    )
    website = forms.CharField(
        required=False,
        label="Leave this field empty",
        widget=forms.TextInput({"autocomplete": "off", "tabindex": "-1"}),
    )

    def clean_website(self) -> str:
        if self.cleaned_data["website"]:
            raise forms.ValidationError("This field is there for robots. Empty it.")
        return ""

    def clean(self) -> dict[str, Any]:
        entered = super().clean() or self.cleaned_data
        reached = entered.get("email") or entered.get("telephone")
        if not reached and "email" not in self.errors:
            self.add_error("email", "Give an e-mail address or a telephone number.")
        return entered
