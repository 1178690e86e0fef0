"""Parts that do not go together stand above the fitted parts, both by their names."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from notices.models import Provision
from tests.factories.fleet import OwnerFactory
from tests.tracker.compliance.test_parts_together import (
    INDICATOR,
    TRANSMITTER,
    conflicting,
    fit,
    together,
)
from tests.tracker.web.reading import rows_of, words_of
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.fleet.models import Engine, OwnerLogin, Part
from tracker.fleet.parts import Fit, PartEntry

__all__ = ["conflicting", "fit", "together"]

pytestmark = pytest.mark.django_db
HEADING = "Parts that do not, or may not, go together"
Fits = Callable[..., Part]


def shown(page: Client, engine: Engine) -> list[str]:
    """The rows of the table of conflicts."""
    response = page.get(reverse("web:engine", args=[engine.public_id]))
    return [row for row in rows_of(response) if "go together:" in row]


def test_both_parts_are_named_with_what_to_do_and_by_when(
    page: Client, engine: Engine, conflicting: Part, together: Provision
) -> None:
    [row] = shown(page, engine)
    assert row.startswith("before further flight")
    assert (
        "These do not go together: the pressure transmitter T-1, serial transmitter-1, "
        "and the pressure indicator T-1, serial indicator-1." in row
    )
    assert "The gauge does not read this transmitter" in row
    assert "SL-25-009" in row
    assert "now" in row


def test_what_is_needed_is_told_and_each_part_leads_to_its_replacement(
    page: Client, engine: Engine, conflicting: Part, together: Provision
) -> None:
    together.description = "Fit the indicator of 2024."
    together.parts_needed = "Indicator T-2"
    together.save()
    [row] = shown(page, engine)
    assert "Fit the indicator of 2024. Parts needed: Indicator T-2." in row
    at = reverse("web:engine", args=[engine.public_id])
    response = page.get(at)
    leads = reverse(
        "web:engine-part-replace", args=[engine.public_id, conflicting.public_id]
    )
    assert f'<a href="{leads}">Replace the pressure ' in response.content.decode()


def test_of_two_parts_of_a_role_only_the_one_that_does_not_fit_is_named(
    page: Client,
    engine: Engine,
    technician: Viewer,
    conflicting: Part,
    now: datetime,
) -> None:
    when = {"true_from": date(2026, 2, 1), "at": now}
    right = PartEntry(role=TRANSMITTER, number="T-10", serial="transmitter-1")
    other = changes.add_part(technician, engine, right, Fit(place="right"), **when)
    changes.set_attribute(
        technician, engine, "signal", "compensated", part=other, **when
    )
    [row] = shown(page, engine)
    assert "T-10" not in row
    assert "the pressure transmitter T-1, serial transmitter-1, and" in row


def test_what_cannot_be_said_leads_to_the_property_that_is_missing(
    page: Client, engine: Engine, fit: Fits, together: Provision
) -> None:
    fit(INDICATOR, "compensated")
    fit(TRANSMITTER, None)
    [row] = shown(page, engine)
    assert row.startswith("before further flight")
    assert (
        "It cannot be said whether these go together: the pressure transmitter T-1, "
        "serial transmitter-1, and the pressure indicator T-1, serial indicator-1."
        in row
    )
    assert "Depends on: signal of pressure transmitter T-1" in row
    assert row.count("Enter the property") == 1
    content = page.get(reverse("web:engine", args=[engine.public_id])).content.decode()
    table = content.partition(f"<caption>{HEADING}")[2].partition("</table>")[0]
    assert reverse("web:engine-attribute-add", args=[engine.public_id]) in table


def test_a_role_without_a_recorded_part_is_named_as_that(
    page: Client, engine: Engine, fit: Fits, together: Provision
) -> None:
    fit(TRANSMITTER, "passive")
    [row] = shown(page, engine)
    assert "and the pressure indicator, of which none is recorded." in row


def test_parts_that_go_together_take_no_room(
    page: Client, engine: Engine, fit: Fits, together: Provision
) -> None:
    fit(TRANSMITTER, "compensated")
    fit(INDICATOR, "compensated")
    assert shown(page, engine) == []
    response = page.get(reverse("web:engine", args=[engine.public_id]))
    assert "go together" not in words_of(response)


def test_an_owner_sees_them_without_the_forms(
    engine: Engine,
    fit: Fits,
    together: Provision,
    viewer_as: Callable[..., Viewer],
    signed_in: Callable[[Viewer], Client],
    clock_stands: None,
) -> None:
    viewer = viewer_as(Role.OWNER)
    mine = OwnerFactory(station=viewer.station)
    OwnerLogin.objects.create(owner=mine, user=viewer.user)
    Engine.objects.filter(pk=engine.pk).update(owner=mine)
    fit(TRANSMITTER, None)
    fit(INDICATOR, "compensated")
    [row] = shown(signed_in(viewer), engine)
    assert "Depends on: signal of pressure transmitter" in row
    assert "Enter the property" not in row


def test_conflicts_take_no_further_query(
    page: Client,
    engine: Engine,
    fit: Fits,
    together: Provision,
    technician: Viewer,
    now: datetime,
) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as asked:
            page.get(reverse("web:engine", args=[engine.public_id]))
        return len(asked)

    part = fit(TRANSMITTER, "compensated")
    fit(INDICATOR, "compensated")
    without = queries()
    changes.set_attribute(
        technician,
        engine,
        "signal",
        "passive",
        part=part,
        true_from=date(2026, 3, 1),
        at=now,
    )
    assert len(shown(page, engine)) == 1
    assert queries() == without
