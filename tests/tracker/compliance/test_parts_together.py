"""Two fitted parts that do not go together: found, and gone when one is changed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime

import pytest

from notices.models import Provision
from tests.factories.accounts import PASSWORD
from tests.factories.compliance import entry
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.compliance.due import DueRow, due_list
from tracker.compliance.ledger import RecordRefused
from tracker.compliance.models import Finding, Record
from tracker.fleet.models import Engine, Part
from tracker.fleet.parts import Fit, PartEntry

pytestmark = pytest.mark.django_db

FITTED_ON = date(2026, 2, 1)
DAY = date(2026, 11, 20)
TRANSMITTER = "pressure transmitter"
INDICATOR = "pressure indicator"
CONFLICT = {
    "all": [
        {
            "part": {
                "role": TRANSMITTER,
                "where": {"attribute": "signal", "in": ["passive"]},
            }
        },
        {
            "part": {
                "role": INDICATOR,
                "where": {"attribute": "signal", "in": ["compensated"]},
            }
        },
    ]
}
Fits = Callable[..., Part]


@pytest.fixture
def together(make_provision: Callable[..., Provision]) -> Provision:
    made = make_provision(
        kind="SL",
        number="SL-25-009",
        title="The gauge does not read this transmitter",
        rule__condition=CONFLICT,
        rule__action={"initial": {"event": "further flight"}},
    )
    made.kind = Provision.Kind.TOGETHER
    made.save(update_fields=["kind"])
    return made


@pytest.fixture
def fit(technician: Viewer, engine: Engine, now: datetime) -> Fits:
    """Fit a part with its signal, None where that was never looked at."""

    def make(role: str, signal: str | None) -> Part:
        entry = PartEntry(role=role, number="T-1", serial=f"{role[9:]}-1")
        when = {"true_from": FITTED_ON, "at": now}
        part = changes.add_part(technician, engine, entry, Fit(), **when)
        changes.review(technician, engine, role, "Runa Tveit", **when)
        if signal is not None:
            changes.set_attribute(
                technician, engine, "signal", signal, part=part, **when
            )
        return part

    return make


@pytest.fixture
def conflicting(fit: Fits, together: Provision) -> Part:
    """Both parts with signals that do not go together; return the transmitter."""
    fit(INDICATOR, "compensated")
    return fit(TRANSMITTER, "passive")


def only_row(viewer: Viewer, on: date) -> DueRow:
    [row] = due_list(viewer, on).rows
    return row


def test_two_parts_that_do_not_go_together_are_found(
    technician: Viewer, conflicting: Part, today: date
) -> None:
    row = only_row(technician, today)
    assert row.word == "before further flight"
    assert "passive" in " ".join(row.reasons)
    assert "compensated" in " ".join(row.reasons)


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        (Provision.Kind.TOGETHER, "it ends when the parts fit"),
        (Provision.Kind.PROHIBITION, "holds until its document is superseded"),
        (Provision.Kind.INTERVAL, "Enter the overhaul"),
        (Provision.Kind.FLUIDS, "as other work"),
        (Provision.Kind.INFORMATION, "as other work"),
    ],
)
def test_no_record_is_taken_that_could_complete_nothing(
    technician: Viewer,
    engine: Engine,
    together: Provision,
    now: datetime,
    kind: str,
    said: str,
) -> None:
    together.kind = kind
    done = entry(DAY, hours=51_000, provision=together)
    with pytest.raises(RecordRefused, match=said) as recorded:
        changes.record_work(technician, engine, done, at=now)
    with pytest.raises(RecordRefused, match=said):
        changes.sign_work(technician, {engine: [done]}, password=PASSWORD, at=now)
    assert recorded.value.field == "provision"
    assert not Record.objects.exists()


def test_a_record_does_not_make_them_fit(
    technician: Viewer,
    engine: Engine,
    conflicting: Part,
    together: Provision,
    today: date,
    now: datetime,
) -> None:
    """None is taken here, but one may come along with an engine that is taken in."""
    done = entry(DAY, hours=51_000, provision=together)
    together.kind = Provision.Kind.ACTION
    changes.record_work(technician, engine, done, at=now)
    assert only_row(technician, today).word == "before further flight"


def test_it_ends_when_the_software_of_the_gauge_is_changed(
    technician: Viewer, engine: Engine, fit: Fits, together: Provision, now: datetime
) -> None:
    fit(TRANSMITTER, "passive")
    gauge = fit(INDICATOR, "compensated")
    assert Finding.objects.exists()
    changes.set_attribute(
        technician, engine, "signal", "passive", part=gauge, true_from=DAY, at=now
    )
    assert not Finding.objects.exists()


def test_a_new_transmitter_is_undetermined_until_its_signal_is_known(
    technician: Viewer, engine: Engine, conflicting: Part, now: datetime
) -> None:
    new = changes.replace_part(
        technician,
        engine,
        conflicting,
        PartEntry(role=TRANSMITTER, number="T-2", serial="T-900"),
        Fit(),
        true_from=DAY,
        reason="Does not fit the gauge.",
        at=now,
    )
    changes.review(technician, engine, TRANSMITTER, "R. T.", true_from=DAY, at=now)
    assert Finding.objects.get().undetermined
    changes.set_attribute(
        technician, engine, "signal", "compensated", part=new, true_from=DAY, at=now
    )
    assert not Finding.objects.exists()


def test_a_signal_that_nobody_looked_at_is_named(
    technician: Viewer, fit: Fits, together: Provision, today: date
) -> None:
    fit(INDICATOR, "compensated")
    fit(TRANSMITTER, None)
    row = only_row(technician, today)
    assert row.finding.undetermined
    assert any("signal" in fact for fact in row.missing)
