"""The form of a webhook: where the station's events are posted to."""

from __future__ import annotations

from django import forms

from tracker.watch.hooks.targets import LONGEST
from tracker.web.forms.acts import ActForm


class HookForm(ActForm):
    url = forms.CharField(
        label="Address",
        help_text="Of a system that anybody can reach, as in "
        "https://systems.shop.example/events. It has to begin with https://.",
        max_length=LONGEST,
    )
