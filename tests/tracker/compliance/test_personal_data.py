"""An owner's personal data is given out and taken out; what must be kept stays."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

import pytest
from django.apps import apps
from django.db.models import PROTECT, ForeignKey, ProtectedError
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.factories.accounts import PASSWORD
from tests.factories.compliance import entry
from tests.factories.fleet import OwnerFactory
from tests.tracker.web.reading import words, words_of
from tracker.accounts.access import Forbidden, Viewer
from tracker.accounts.models import Membership, Role, User
from tracker.compliance import changes
from tracker.compliance.changes import WrongPassword
from tracker.compliance.ledger import breaks
from tracker.compliance.models import Attachment, Enquiry, Record
from tracker.fleet.errors import Refused
from tracker.fleet.models import Engine, Owner, OwnerLogin
from tracker.fleet.register import give_login
from tracker.routes import ROUTES
from tracker.watch import personal

pytestmark = pytest.mark.django_db
CANARY = "Quillfeather"
OURS = ("accounts", "notices", "fleet", "compliance", "watch")


@pytest.fixture
def left(
    engine: Engine,
    technician: Viewer,
    viewer_as: Callable[..., Viewer],
    now: datetime,
) -> Owner:
    """An owner who added a reading, then sold the engine; work on it is on record."""
    owner = OwnerFactory(
        station=engine.station, name=CANARY, email=f"{CANARY}@post.example", phone="77"
    )
    changes.change_owner(technician, engine, owner, true_from=date(2026, 1, 10), at=now)
    person = viewer_as(Role.OWNER)
    User.objects.filter(pk=person.user.pk).update(
        name=f"Ada {CANARY}", email=f"ada@{CANARY.lower()}.example"
    )
    give_login(owner, person.user, now)
    changes.add_reading(person, engine, on=date(2026, 11, 24), shown=52_100, at=now)
    done = entry(date(2026, 11, 24), hours=52_000)
    changes.record_work(technician, engine, done, at=now)
    Enquiry.objects.create(
        station=engine.station, received_at=now, name=CANARY, email=owner.email
    )
    changes.change_owner(
        technician,
        engine,
        OwnerFactory(station=engine.station),
        true_from=date(2026, 11, 24),
        at=now,
    )
    return owner


def everything_said() -> str:
    rows = [
        str(row)
        for app in OURS
        for model in apps.get_app_config(app).get_models()
        for row in model._default_manager.values_list()
    ]
    return "\n".join(rows)


def test_everything_kept_of_a_person_is_given_out(
    administrator: Viewer, left: Owner, engine: Engine, signed_in: Any
) -> None:
    client = signed_in(administrator)
    answer = client.get(reverse("web:owner-data", args=[left.public_id]))
    assert answer["Content-Disposition"] == 'attachment; filename="personal-data.json"'
    said = answer.json()
    assert said["owner"]["email"] == f"{CANARY}@post.example"
    assert [one["name"] for one in said["who_signs_in"]] == [f"Ada {CANARY}"]
    assert [one["engine"] for one in said["engines"]] == [str(engine)]
    assert [one["on"] for one in said["hours_entered"]] == ["2026-11-24"]
    assert [one["name"] for one in said["enquiries"]] == [CANARY]


def test_what_is_only_about_the_person_goes_and_the_chain_stays(
    administrator: Viewer, left: Owner, engine: Engine, now: datetime
) -> None:
    before = list(Record.objects.values_list())
    assert CANARY in everything_said()
    personal.remove_owner(administrator, left, password=PASSWORD, at=timezone.now())
    assert CANARY.lower() not in everything_said().lower()
    assert list(Record.objects.values_list()) == before
    assert list(breaks(Record.objects.all())) == []
    assert not Enquiry.objects.exists()
    assert not OwnerLogin.objects.filter(left_at=None).exists()
    [person] = User.objects.filter(name="removed person")
    assert not person.is_active
    assert not person.has_usable_password()


def test_who_has_another_role_keeps_their_own_name(
    administrator: Viewer,
    left: Owner,
    other_station: Any,
    now: datetime,
) -> None:
    person = OwnerLogin.objects.get().user
    Membership.objects.create(
        user=person, station=other_station, role=Role.TECHNICIAN, joined_at=now
    )
    personal.remove_owner(administrator, left, password=PASSWORD, at=timezone.now())
    person.refresh_from_db()
    assert person.name == f"Ada {CANARY}"
    assert person.is_active


def test_an_owner_with_an_engine_in_care_is_not_taken_out(
    administrator: Viewer,
    left: Owner,
    engine: Engine,
    technician: Viewer,
    now: datetime,
) -> None:
    changes.change_owner(technician, engine, left, true_from=date(2026, 11, 24), at=now)
    with pytest.raises(Refused, match="still belongs to"):
        personal.remove_owner(administrator, left, password=PASSWORD, at=timezone.now())
    assert CANARY in everything_said()


def test_it_takes_the_password_and_the_right(
    administrator: Viewer, technician: Viewer, left: Owner, now: datetime
) -> None:
    with pytest.raises(WrongPassword):
        personal.remove_owner(administrator, left, password="no", at=timezone.now())
    with pytest.raises(Forbidden):
        personal.remove_owner(technician, left, password=PASSWORD, at=timezone.now())
    with pytest.raises(Forbidden):
        personal.personal_data(technician, left)
    assert CANARY in everything_said()


def test_the_page_says_what_goes_and_what_stays(
    administrator: Viewer, left: Owner, signed_in: Callable[[Viewer], Client]
) -> None:
    client = signed_in(administrator)
    at = reverse("web:owner-remove", args=[left.public_id])
    assert "Records of engines stay" in words_of(client.get(at))
    assert client.post(at, {"password": "no"}).status_code == 422
    answer = client.post(at, {"password": PASSWORD}, follow=True)
    assert "The personal data is taken out." in words_of(answer)
    again = client.post(at, {"password": PASSWORD})
    assert "was taken out already" in words(again.content.decode())


# -- nothing that must be kept can be deleted, 14 CFR 91.417(b)


@pytest.mark.parametrize("kept", [Record, Attachment])
def test_whatever_the_ledger_hangs_on_is_protected(kept: Any) -> None:
    ties = [field for field in kept._meta.fields if isinstance(field, ForeignKey)]
    loose = [tie.name for tie in ties if tie.remote_field.on_delete is not PROTECT]
    assert loose == []


def test_an_engine_with_records_cannot_be_deleted(left: Owner, engine: Engine) -> None:
    with pytest.raises(ProtectedError):
        engine.delete()
    with pytest.raises(ProtectedError):
        Engine.objects.filter(pk=engine.pk).delete()
    assert Record.objects.exists()


def test_no_route_deletes_anything_that_is_kept() -> None:
    assert {route.method for route in ROUTES} <= {"GET", "POST"}
