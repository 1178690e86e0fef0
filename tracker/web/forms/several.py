"""Several records signed at once: one action of many engines, or many of one engine."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, ClassVar

from django import forms

from tracker.compliance.ledger import Entry, RecordRefused
from tracker.compliance.models import Method
from tracker.compliance.signable import Signable
from tracker.figures import wording
from tracker.fleet.errors import Refused
from tracker.fleet.models import Engine
from tracker.web.forms.acts import Groups
from tracker.web.forms.fields import HoursField
from tracker.web.forms.records import FILES, WHO, ApprovedForm

OF_A_ROW = frozenset({"hours", "description", "part_hours"})


class RowForm(forms.Form):
    """One of them: whether it was done, at which hours, and what was done."""

    take = forms.BooleanField(required=False, label="Done")
    hours = HoursField(required=False, label="Hours of the engine then")
    description = forms.CharField(
        required=False,
        label="Work that was done",
        max_length=10_000,
        widget=forms.Textarea({"rows": "2", "cols": "32"}),
    )

    def __init__(self, sent: Any, *, row: Signable) -> None:
        self.row = row
        initial = {
            "hours": row.engine.hours_now,
            "description": f"{row.provision.title}.",
        }
        super().__init__(sent, prefix=str(row.finding.public_id), initial=initial)

    @property
    def is_taken(self) -> bool:
        return bool(self["take"].value())


class SeveralForm(ApprovedForm):
    """What is the same for all of them, and a row for each.

    `rows`: what may be signed for. The hours of each row are offered as last read.
    """

    GROUPS: ClassVar[Groups] = (
        ("When and how", ("on", "method", "result", "remarks")),
        ("Photographs and scans", FILES),
        ("Who did and approved it", WHO),
    )

    def __init__(self, sent: Any, *, rows: Iterable[Signable], **given: Any) -> None:
        super().__init__(sent, **given)
        self._choose_methods()
        self.rows = [RowForm(sent, row=row) for row in rows]

    def _choose_methods(self) -> None:
        """An alternative method is approved for one engine, so it is signed alone."""
        method = self.fields["method"]
        assert isinstance(method, forms.ChoiceField)
        method.choices = [
            (value, words)
            for value, words in Method.choices
            if value != Method.ALTERNATIVE
        ]

    @property
    def taken(self) -> list[RowForm]:
        return [row for row in self.rows if row.is_taken]

    def is_valid(self) -> bool:
        valid = super().is_valid()
        if self._gone():
            self.add_error(
                None,
                "A line that you marked is no longer open: somebody has signed it, or "
                "it no longer applies. Look at the lines again.",
            )
        elif self.is_bound and not self.taken:
            self.add_error(None, "Nothing is marked as done. Mark at least one line.")
        rows_valid = [row.is_valid() for row in self.taken]
        return valid and not self.errors and all(rows_valid)

    def _gone(self) -> bool:
        """Whether a line was marked that is not among the rows any more."""
        known = {row.add_prefix("take") for row in self.rows}
        marked = {name for name in self.data if name.endswith("-take")}
        return bool(marked - known)

    def work_of_all(self) -> dict[Engine, list[Entry]]:
        """Return the entries of each engine."""
        found: dict[Engine, list[Entry]] = {}
        for row in self.taken:
            found.setdefault(row.row.engine, []).append(self._entry_of(row))
        return found

    def _entry_of(self, form: RowForm) -> Entry:
        own = form.cleaned_data
        return Entry(
            hours=own["hours"],
            provision=form.row.provision,
            part=form.row.on_part,
            description=own["description"],
            **self.approved(),
        )

    def refuse(self, refused: Refused) -> None:
        """Show the refusal at the line it is about, else as any other form does."""
        row = self._row_of(refused)
        if row is None:
            super().refuse(refused)
            return
        row.add_error(
            refused.field if refused.field in OF_A_ROW else None, str(refused)
        )
        about = f"{row.row.engine}, {row.row.provision.revision.publication.number}"
        self.add_error(None, f"Look at the line of {about}.")

    def _row_of(self, refused: Refused) -> RowForm | None:
        if not isinstance(refused, RecordRefused) or refused.entry is None:
            return None
        entry, engine = refused.entry, refused.engine
        return next(
            (
                form
                for form in self.taken
                if form.row.engine == engine
                and form.row.provision == entry.provision
                and form.row.on_part == entry.part
            ),
            None,
        )

    def lines(self) -> Iterator[tuple[RowForm, str]]:
        """Each row with what its engine's meter showed last."""
        for form in self.rows:
            engine = form.row.engine
            read = (
                "no reading"
                if engine.hours_now is None or engine.read_on is None
                else f"{wording.hours(engine.hours_now)} on {wording.day(engine.read_on)}"
            )
            yield form, read
