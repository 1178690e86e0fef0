"""The form of an engine type: designation, shape of its serials, parts that it holds."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

from django import forms

from tracker.fleet.models import EngineType
from tracker.fleet.register import TypeFacts
from tracker.web.forms.acts import ActForm

ROLE = re.compile(r"(?P<role>[^:]+?)\s*(?::\s*(?P<count>[0-9]{1,3}))?")
MOST_RUNS: Final = 9


class TypeForm(ActForm):
    """`kept`: the type that is corrected, None for a new one."""

    designation = forms.CharField(
        label="Type designation", help_text='As on the data plate, such as "MX-4".'
    )
    maker = forms.CharField(label="Maker")
    serial_pattern = forms.CharField(
        required=False,
        label="Shape of its serial numbers",
        help_text='# stands for a run of figures, as in "K-#-#". A serial of another '
        "shape is kept, and ranges leave it undetermined. Leave it empty if the serials have no one shape.",
    )
    serial_run = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=MOST_RUNS,
        label="Which run of figures is the number",
        help_text="Counted from 1. Needed only where serials have several.",
    )
    parts = forms.CharField(
        required=False,
        widget=forms.Textarea({"rows": 6}),
        label="Parts that it holds",
        help_text='One role a line, with how many there are: "magneto: 2". '
        "Without a number there is one.",
    )

    def __init__(self, data: Any, *, kept: EngineType | None) -> None:
        super().__init__(data, initial=_initial(kept) if kept else None)
        self.corrects = kept is not None

    def clean_parts(self) -> Mapping[str, int]:
        counts: dict[str, int] = {}
        lines = self.cleaned_data["parts"].splitlines()
        for number, line in enumerate(lines, start=1):
            if not line.strip():
                continue
            found = ROLE.fullmatch(line.strip())
            if found is None:
                raise forms.ValidationError(
                    f'Line {number}, "{line.strip()[:60]}", is not a role. Write it as '
                    '"magneto: 2".'
                )
            role = found["role"].strip()
            if role.casefold() in {known.casefold() for known in counts}:
                raise forms.ValidationError(
                    f'Line {number}: the role "{role[:60]}" stands twice. Write it once, '
                    "with how many there are."
                )
            counts[role] = int(found["count"] or 1)
        return counts

    def facts(self) -> TypeFacts:
        return TypeFacts(**self.cleaned_data)


def _initial(kept: EngineType) -> dict[str, Any]:
    roles = kept.part_roles.all()
    return {
        "designation": kept.designation,
        "maker": kept.maker,
        "serial_pattern": kept.serial_pattern,
        "serial_run": kept.serial_run,
        "parts": "\n".join(f"{one.role}: {one.count}" for one in roles),
    }
