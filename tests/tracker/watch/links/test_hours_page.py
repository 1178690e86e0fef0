"""The hours page of a mail: one reading for each link, and nothing else.

Sources: RFC 8058, abstract (programs that scan mails follow links, so GET changes
nothing); for the rest common practice, no source.
"""

from __future__ import annotations

import os
import re
import secrets
from collections.abc import Callable
from datetime import date, datetime, timedelta
from threading import Barrier, Thread

import pytest
import time_machine
from django.db import connection, connections
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.factories.fleet import EngineFactory, OwnerFactory
from tests.tracker.watch.links.conftest import digest, path_of, secret_in
from tests.tracker.web.reading import words
from tracker.accounts.access import Viewer
from tracker.accounts.models import Station, User
from tracker.fleet.models import (
    Engine,
    FuelRecord,
    Owner,
    Preference,
    Reading,
    Units,
)
from tracker.watch.links.hours import BY_LINK, REMARK, hours_url, link_of
from tracker.watch.models import HoursLink

AT_RANDOM = 10_000 if os.environ.get("CI") else 500
pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]

SENT = {"shown": "521.5", "on": "2026-11-24"}
FUEL = {"quantity": "85.5", "unit": "L", "kind": "leaded"}


def said(response: object) -> str:
    return words(response.content.decode())  # type: ignore[attr-defined]


def test_the_page_shows_the_engine_and_its_last_reading(
    client: Client, address: str, engine: Engine
) -> None:
    page = client.get(address)
    assert page.status_code == 200
    assert f"serial {engine.serial}" in said(page)
    assert "Last reading: 520.0 h on 24 November 2026, time in service" in said(page)
    assert 'inputmode="decimal"' in page.content.decode()


def test_the_hours_are_kept_and_the_link_is_used(
    client: Client, address: str, engine: Engine, now: datetime
) -> None:
    page = client.post(address, SENT)
    assert page.status_code == 200
    assert "The hours are kept" in said(page)
    engine.refresh_from_db()
    assert engine.hours_now == 52_150
    link = HoursLink.objects.get()
    assert link.used_at == now
    reading = Reading.objects.get(hours=52_150)
    assert (reading.on, reading.remark) == (date(2026, 11, 24), REMARK)


def test_the_findings_move_with_it(
    client: Client,
    address: str,
    engine: Engine,
) -> None:
    before = engine.standing.evaluated_at
    client.post(address, SENT)
    engine.standing.refresh_from_db()
    assert engine.standing.evaluated_at >= before
    assert Engine.objects.get().version == engine.version + 1


def test_fuel_is_taken_with_the_hours(client: Client, address: str) -> None:
    page = client.post(address, SENT | FUEL)
    assert "85.5 litres, leaded" in said(page)
    fuel = FuelRecord.objects.get()
    assert (fuel.quantity, fuel.unit, fuel.kind) == ("85.5", "L", "leaded")
    assert (fuel.on, fuel.hours) == (date(2026, 11, 24), None)


@pytest.mark.parametrize(
    ("units", "chosen"), [(Units.METRIC, "L"), (Units.US, "US gal")]
)
def test_the_unit_is_the_one_the_owner_prefers(
    client: Client, address: str, owner: Owner, units: str, chosen: str
) -> None:
    Preference.objects.create(owner=owner, units=units)
    page = client.get(address).content.decode()
    assert re.search(rf'<option value="{chosen}" selected>', page)


def test_a_second_use_says_what_was_entered_and_changes_nothing(
    client: Client, address: str
) -> None:
    client.post(address, SENT | FUEL)
    before = digest()
    for page in (client.get(address), client.post(address, SENT | {"shown": "530"})):
        assert page.status_code == 200
        assert "The hours are already entered" in said(page)
        assert "521.5 h" in said(page)
        assert "85.5 litres" in said(page)
    assert digest() == before


@pytest.mark.parametrize(
    ("sent", "message"),
    [
        ({"shown": ""}, "This cannot be left out."),
        ({"shown": "1,521.5"}, '"1,521.5" is not a number of hours.'),
        ({"shown": "470"}, "cannot be right"),
        ({"shown": "560"}, "cannot be right"),
        ({"on": "2026-11-25"}, "lies after today, 2026-11-24"),
        ({"on": "24.11.2026"}, '"24.11.2026" is not a date.'),
        ({"quantity": "many", **{"unit": "L", "kind": "leaded"}}, "many"),
        ({"quantity": "5", "unit": "L", "kind": "blend"}, "share"),
        ({"leaded_share": "0.5"}, "Say how much was taken on, too."),
        ({"quantity": "5", "unit": "L"}, "This cannot be left out."),
        (
            {"quantity": "5", "unit": "barrel", "kind": "leaded"},
            "Choose one from the list; what was sent is not in it.",
        ),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(
    client: Client, address: str, sent: dict[str, str], message: str
) -> None:
    before = digest()
    page = client.post(address, SENT | sent)
    assert page.status_code == 422
    assert message in said(page)
    assert "Nothing has been kept yet." in said(page)
    assert digest() == before


def test_unlikely_hours_are_asked_about_and_kept_at_the_second_press(
    client: Client, address: str, engine: Engine, clock: time_machine.Traveller
) -> None:
    clock.shift(timedelta(days=3))
    sent = {"shown": "580", "on": "2026-11-27"}
    before = digest()
    asked = client.post(address, sent)
    assert asked.status_code == 200
    assert "Read the meter again" in said(asked)
    assert "It is right, keep it" in said(asked)
    assert digest() == before
    seen = re.search(r'name="seen" value="([0-9a-f]{64})"', asked.content.decode())
    assert seen is not None
    other = client.post(address, sent | {"shown": "585", "seen": seen[1]})
    assert "Read the meter again" in said(other), "another figure is asked about anew"
    assert digest() == before
    kept = client.post(address, sent | {"seen": seen[1]})
    assert "The hours are kept" in said(kept)
    engine.refresh_from_db()
    assert engine.hours_now == 58_000


def test_the_day_is_the_owners_unless_the_station_is_behind(
    client: Client, address: str, owner: Owner, clock: time_machine.Traveller
) -> None:
    clock.move_to(datetime.fromisoformat("2026-11-25T03:00:00+00:00"))
    for zone, day in (
        ("America/Denver", "2026-11-24"),  # 20:00 of the day before
        ("Europe/Lisbon", "2026-11-25"),
        ("Pacific/Kiritimati", "2026-11-25"),
    ):
        Owner.objects.filter(pk=owner.pk).update(time_zone=zone)
        assert f'value="{day}"' in client.get(address).content.decode(), zone
    clock.move_to(datetime.fromisoformat("2026-11-25T13:00:00+00:00"))
    # It is the 26th there already, which the station would not take.
    assert 'value="2026-11-25"' in client.get(address).content.decode()


def ended(address: str, how: str, now: datetime) -> str:
    """An address that opens nothing, for the reason named."""
    link = HoursLink.objects.all()
    match how:
        case "expired":
            link.update(expires_at=now)
        case "revoked":
            link.update(revoked_at=now)
        case "another owner's engine":
            gained = OwnerFactory(station=Station.objects.get())
            Engine.objects.update(owner=gained)
        case "owner taken out":
            Owner.objects.update(removed_at=now)
        case "unknown":
            return f"/hours/{secrets.token_urlsafe(32)}/"
        case "cut short":
            return f"{address[:-2]}/"
        case "the hash itself":
            return f"/hours/{link.get().secret}/"
    return address


ENDS = (
    "expired",
    "revoked",
    "another owner's engine",
    "owner taken out",
    "unknown",
    "cut short",
    "the hash itself",
)


@pytest.mark.parametrize("how", ENDS)
def test_whatever_opens_nothing_looks_the_same_and_changes_nothing(
    client: Client, address: str, now: datetime, how: str
) -> None:
    missing = client.get(f"/hours/{'A' * 43}/")
    address = ended(address, how, now)
    before = digest()
    for page in (client.get(address), client.post(address, SENT)):
        assert page.status_code == missing.status_code == 404
        assert page.content == missing.content
        assert dict(page.headers) == dict(missing.headers)
    assert digest() == before


def test_a_used_link_that_ran_out_opens_nothing(
    client: Client, address: str, clock: time_machine.Traveller
) -> None:
    client.post(address, SENT)
    clock.shift(timedelta(days=30, seconds=1))
    assert client.get(address).status_code == 404


def test_a_link_lasts_thirty_days(
    client: Client, address: str, clock: time_machine.Traveller
) -> None:
    clock.shift(timedelta(days=30, seconds=-1))
    assert client.get(address).status_code == 200
    clock.shift(timedelta(seconds=1))
    assert client.get(address).status_code == 404


def test_a_later_link_ends_the_earlier_unused_ones_of_that_engine_only(
    client: Client,
    address: str,
    engine: Engine,
    owner: Owner,
    make_engine: Callable[..., Engine],
    now: datetime,
) -> None:
    beside = path_of(hours_url(make_engine(owner=owner), owner, at=now))
    later = path_of(hours_url(engine, owner, at=now))
    assert client.get(address).status_code == 404
    assert client.get(beside).status_code == 200
    assert client.post(later, SENT).status_code == 200
    hours_url(engine, owner, at=now)
    assert "already entered" in said(client.get(later))


def test_looking_changes_nothing_however_often(client: Client, address: str) -> None:
    before = digest()
    for _ in range(5):
        assert client.get(address).status_code == 200
        assert client.head(address).status_code == 200
    assert digest() == before


def test_the_secret_is_kept_as_its_hash_alone(address: str) -> None:
    secret = secret_in(address)
    assert len(secret) == 43  # 256 bits in base64
    with connection.cursor() as cursor:
        cursor.execute("SELECT * FROM watch_hourslink")
        assert secret not in repr(cursor.fetchall())


def test_thousands_of_guesses_open_nothing(address: str, now: datetime) -> None:
    """Far fewer than 2^256; what it holds is that nothing short or near matches."""
    assert link_of(secret_in(address), at=now) is not None
    guesses = [secrets.token_urlsafe(32) for _ in range(AT_RANDOM)]
    right = secret_in(address)
    guesses += [right[:n] for n in range(len(right))]
    guesses += [right.lower(), right.upper(), f"{right} ", f" {right}", f"{right}="]
    guesses += [f"{right[:n]}~{right[n + 1 :]}" for n in range(len(right))]
    guesses += [str(number) for number in range(900)]
    before = digest()
    assert [guess for guess in guesses if link_of(guess, at=now)] == []
    assert digest() == before


def test_tries_are_slowed_by_place_and_by_how_the_secret_begins(
    client: Client, address: str
) -> None:
    near = address[:15]
    answers = [client.get(f"{near}{n:034}/").status_code for n in range(31)]
    assert answers == [404] * 30 + [429]
    assert client.get(address).status_code == 429
    other = [client.get(f"/hours/{n:043}/").status_code for n in range(10, 45)]
    assert 429 in other, "sixty a minute from one place, whatever they try"
    elsewhere = client.get(f"/hours/{'z' * 43}/", REMOTE_ADDR="192.0.2.7")
    assert elsewhere.status_code == 404


HEADERS = {
    "Referrer-Policy": "no-referrer",
    "Cache-Control": "no-store",
    "X-Robots-Tag": "noindex",
}


def test_nobody_keeps_a_copy_and_the_address_is_told_to_nobody(
    client: Client, address: str
) -> None:
    for page in (
        client.get(address),
        client.post(address, {}),
        client.post(address, SENT),
        client.get(address),
        client.get("/hours/none/"),
    ):
        assert {name: page.headers[name] for name in HEADERS} == HEADERS
        assert not page.cookies


def test_no_token_of_a_form_is_needed_and_no_origin(address: str) -> None:
    """Told to send no referrer, a browser sends "Origin: null" with the form (Fetch)."""
    strict = Client(enforce_csrf_checks=True)
    page = strict.post(address, SENT, HTTP_ORIGIN="null")
    assert "The hours are kept" in said(page)


def test_a_link_of_hours_is_no_link_of_anything_else(
    client: Client, address: str
) -> None:
    secret = secret_in(address)
    before = digest()
    for other in (
        reverse("web:calendar-feed", args=[secret]),
        reverse("web:unsubscribe", args=[secret]),
    ):
        assert client.get(other).status_code == 404
        assert client.post(other, SENT).status_code in (404, 405)
    assert digest() == before


def test_an_engine_without_a_meter_takes_no_hours(
    client: Client, owner: Owner, station: Station, now: datetime
) -> None:
    engine = EngineFactory(station=station, owner=owner)
    address = path_of(hours_url(engine, owner, at=now))
    assert "has not entered the meter of this engine yet" in said(client.get(address))
    before = digest()
    assert client.post(address, SENT).status_code == 422
    assert digest() == before


class TestInWhoseName:
    def test_of_the_one_person_who_signs_in_for_the_owner(
        self, client: Client, address: str, as_owner: Callable[[], Viewer]
    ) -> None:
        person = as_owner().user
        client.post(address, SENT | FUEL)
        assert Reading.objects.get(hours=52_150).recorded_by == person
        assert FuelRecord.objects.get().recorded_by == person

    @pytest.mark.parametrize("people", [0, 2])
    def test_of_nobody_else_where_nobody_can_say_who(
        self, client: Client, address: str, as_owner: Callable[[], Viewer], people: int
    ) -> None:
        for _ in range(people):
            as_owner()
        client.post(address, SENT)
        by = Reading.objects.get(hours=52_150).recorded_by
        assert (by.email, by.name) == (BY_LINK, "Link in a mail")

    def test_that_account_opens_nothing(self, client: Client, address: str) -> None:
        client.post(address, SENT)
        account = User.objects.get(email=BY_LINK)
        assert not account.is_active
        assert not account.has_usable_password()
        assert not account.memberships.exists()


@pytest.mark.both
@pytest.mark.django_db(transaction=True)
def test_of_two_at_once_one_is_kept_and_the_other_is_told(
    address: str, engine: Engine
) -> None:
    start, pages = Barrier(2), []

    def send(shown: str) -> None:
        client = Client(raise_request_exception=False)
        start.wait()
        pages.append(client.post(address, SENT | FUEL | {"shown": shown}))
        connections.close_all()

    threads = [Thread(target=send, args=[shown]) for shown in ("521.5", "522.5")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [page.status_code for page in pages] == [200, 200]
    headings = sorted("are already entered" in said(page) for page in pages)
    assert headings == [False, True]
    entered = Reading.objects.get(remark=REMARK)
    assert FuelRecord.objects.count() == 1
    assert all(f"{entered.shown / 100} h" in said(page) for page in pages)
    engine.refresh_from_db()
    assert engine.hours_now == entered.hours


@pytest.mark.parametrize("engines", [1, 5])
def test_the_page_asks_the_same_number_of_queries(
    client: Client,
    address: str,
    owner: Owner,
    make_engine: Callable[..., Engine],
    engines: int,
) -> None:
    for _ in range(engines - 1):
        make_engine(owner=owner)
    with CaptureQueriesContext(connection) as asked:
        client.get(address)
    assert len(asked) == 2  # the link with its engine and owner, the last reading
