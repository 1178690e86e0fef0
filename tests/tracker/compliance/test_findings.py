"""Findings follow facts and rules, in the same transaction, with few queries."""

from __future__ import annotations

from datetime import date, datetime

from tests.factories.compliance import entry
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.compliance.models import Closed, Finding, Standing
from tracker.fleet.models import Engine

REPEATED = {
    "initial": {"hours": 50, "after": "effective"},
    "repeat": {"hours": 100, "after": "last done"},
}


def refresh(engine: Engine, today: date, now: datetime) -> None:
    changes.refresh_station(engine.station, today, at=now)


def test_what_applies_has_a_finding_with_its_due_point(
    engine, make_provision, today, now
) -> None:
    make_provision()
    refresh(engine, today, now)
    finding = Finding.objects.get()
    # 480.00 h were read on the effective date, and 50 h are allowed from there.
    assert finding.overdue_hours == 53_000
    assert (finding.undetermined, finding.closed) == (False, Closed.OPEN)
    standing = Standing.objects.get(engine=engine)
    assert (standing.publications, standing.provisions) == (1, 1)


def test_what_does_not_apply_has_no_finding_but_was_looked_at(
    engine, make_provision, today, now
) -> None:
    make_provision(rule__condition={"type": ["QX-9"]})
    refresh(engine, today, now)
    assert not Finding.objects.exists()
    assert Standing.objects.get(engine=engine).provisions == 1


def test_recording_the_work_closes_the_finding(
    technician: Viewer, engine, make_provision, today, now
) -> None:
    provision = make_provision()
    refresh(engine, today, now)
    changes.record_work(
        technician,
        engine,
        entry(date(2026, 11, 20), hours=52_000, provision=provision),
        at=now,
    )
    assert Finding.objects.get().closed == Closed.COMPLIED
