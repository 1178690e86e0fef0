"""The calendar of due items, read back by another parser of the same standard.

Source: RFC 5545: 3.1 (lines), 3.3.11 (text), 3.6 (calendar), 3.6.1 (VEVENT), 3.6.2
(VTODO), 3.8.2.2 (DTEND), 3.8.2.3 (DUE), 3.8.4.7 (UID), 3.8.7 (change management); what
of it is cited from memory: lines, text, UID and SEQUENCE, the exclusive end.
"""

from __future__ import annotations

import os
import re
import secrets
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from icalendar import Calendar, Component

from notices.models import Provision
from tests.factories.fleet import OwnerFactory
from tests.tracker.watch.links.conftest import digest, path_of, secret_in
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.compliance.models import Finding
from tracker.fleet.logins import leave_station
from tracker.fleet.models import Engine, Owner, OwnerLogin
from tracker.watch.links.calendars import make_calendar, opened

AT_RANDOM = 10_000 if os.environ.get("CI") else 500
pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock")]

BY_DATE = {"initial": {"date": "2027-04-30"}}
BY_HOURS = {"initial": {"hours": 600, "after": "new"}}
ASKED = {"ask": "pump listed?"}


@pytest.fixture
def due(
    make_provision: Callable[..., Provision],
    make_engine: Callable[..., Engine],
    owner: Owner,
) -> Engine:
    """An engine with one item by date, one by hours, and one undetermined."""
    make_provision(number="SB-26-001", title="Replace the pump", rule__action=BY_DATE)
    make_provision(number="SB-26-002", title="Look at it", rule__action=BY_HOURS)
    make_provision(
        number="SB-26-003",
        title="Listed pumps",
        rule__condition=ASKED,
        rule__action=BY_DATE,
    )
    return make_engine(owner=owner)


@pytest.fixture
def feed(technician: Viewer, now: datetime) -> str:
    """The address of the station's calendar, made by a technician."""
    return path_of(make_calendar(technician, None, at=now))


def read(client: Client, address: str) -> Calendar:
    answer = client.get(address)
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "text/calendar; charset=utf-8"
    return Calendar.from_ical(answer.content)


def of(calendar: Calendar, kind: str) -> dict[str, Component]:
    """The components of a kind by the number of their document."""
    found = {}
    for component in calendar.walk(kind):
        number = re.search(r"SB-26-00\d", str(component["SUMMARY"]))
        assert number is not None
        found[number[0]] = component
    return found


def test_what_is_due_through_a_day_is_a_task_of_that_day(
    client: Client, feed: str, due: Engine
) -> None:
    """ICS-06; RFC 5545, 3.8.2.3."""
    body = client.get(feed).content.decode()
    assert "DUE;VALUE=DATE:20270430\r\n" in body
    todo = of(read(client, feed), "VTODO")["SB-26-001"]
    assert todo["DUE"].dt == date(2027, 4, 30)
    assert (todo["STATUS"], todo["CATEGORIES"].cats) == (
        "NEEDS-ACTION",
        ["SB", "outstanding"],
    )


def test_the_same_is_an_event_of_that_whole_day(
    client: Client, feed: str, due: Engine
) -> None:
    """ICS-07; RFC 5545, 3.6.1 and 3.8.2.2: the end is exclusive."""
    body = client.get(feed).content.decode()
    assert "DTSTART;VALUE=DATE:20270430\r\n" in body
    assert "DTEND;VALUE=DATE:20270501\r\n" in body
    event = of(read(client, feed), "VEVENT")["SB-26-001"]
    assert (event["STATUS"], event["TRANSP"]) == ("CONFIRMED", "TRANSPARENT")


def test_hours_stand_on_their_forecast_day_and_say_so(
    client: Client, feed: str, due: Engine
) -> None:
    # From memory: 40 h in 318 days, 80 h ahead: 636 days after 24 November 2026.
    calendar = read(client, feed)
    todo, event = (of(calendar, kind)["SB-26-002"] for kind in ("VTODO", "VEVENT"))
    assert todo["DUE"].dt == event["DTSTART"].dt == date(2028, 8, 21)
    for component in (todo, event):
        assert "(forecast)" in component["SUMMARY"]
        assert "21 August 2028 is a forecast" in component["DESCRIPTION"]
    assert event["STATUS"] == "TENTATIVE"


def test_what_is_undetermined_is_a_task_without_a_day(
    client: Client, feed: str, due: Engine
) -> None:
    calendar = read(client, feed)
    todo = of(calendar, "VTODO")["SB-26-003"]
    assert "DUE" not in todo
    assert "undetermined" in todo["SUMMARY"]
    assert "Not known: " in todo["DESCRIPTION"]
    assert "Treat it as open." in todo["DESCRIPTION"]
    assert "SB-26-003" not in of(calendar, "VEVENT")


def test_each_says_what_and_why_and_what_it_is_worth(
    client: Client, feed: str, due: Engine
) -> None:
    said = str(of(read(client, feed), "VTODO")["SB-26-001"]["DESCRIPTION"])
    assert "Replace the pump" in said
    assert f"serial {due.serial}" in said
    assert "Why: " in said
    assert "Treat undetermined as open." in said


def faults_of(component: Component) -> list[str]:
    """What RFC 5545 forbids a VTODO or VEVENT, written down apart from the writer."""
    single = ("UID", "DTSTAMP", "DTSTART", "DUE", "DURATION", "SEQUENCE", "STATUS")
    faults = [f"{name} twice" for name in single if _count(component, name) > 1]
    faults += [f"no {name}" for name in ("UID", "DTSTAMP") if name not in component]
    if "DUE" in component and "DURATION" in component:
        faults.append("DUE and DURATION")
    if "DURATION" in component and "DTSTART" not in component:
        faults.append("DURATION without DTSTART")
    if "DTSTART" not in component and component.name == "VEVENT":
        faults.append("VEVENT without DTSTART")
    for end in ("DUE", "DTEND"):
        if "DTSTART" in component and end in component:
            start, stop = component["DTSTART"].dt, component[end].dt
            if type(start) is not type(stop):
                faults.append(f"DTSTART and {end} of two types")
            elif stop <= start:
                faults.append(f"{end} not after DTSTART")
    return faults


def _count(component: Component, name: str) -> int:
    value = component.get(name)
    return len(value) if isinstance(value, list) else int(value is not None)


def written(*lines: str, kind: str = "VTODO") -> Component:
    body = [f"BEGIN:{kind}", *lines, f"END:{kind}", ""]
    return Component.from_ical("\r\n".join(body))


NAMED = ("UID:1@x", "DTSTAMP:20261124T093000Z")


@pytest.mark.parametrize(
    ("component", "fault"),
    [
        # ICS-01
        (
            written(
                *NAMED,
                "DTSTART:20270401T080000Z",
                "DUE:20270430T000000Z",
                "DURATION:P1D",
            ),
            "DUE and DURATION",
        ),
        # ICS-02
        (written(*NAMED, "DURATION:P1D"), "DURATION without DTSTART"),
        # ICS-03
        (written("DUE;VALUE=DATE:20270430", NAMED[0]), "no DTSTAMP"),
        (written("DUE;VALUE=DATE:20270430", NAMED[1]), "no UID"),
        # ICS-04
        (
            written(*NAMED, "DTSTART;VALUE=DATE:20270401", "DUE:20270430T000000Z"),
            "DTSTART and DUE of two types",
        ),
        # ICS-05
        (
            written(*NAMED, "DTSTART;VALUE=DATE:20270430", "DUE;VALUE=DATE:20270430"),
            "DUE not after DTSTART",
        ),
    ],
)
def test_the_check_finds_what_is_forbidden(component: Component, fault: str) -> None:
    assert fault in faults_of(component)


def test_a_day_alone_is_allowed() -> None:
    """ICS-05, the second half."""
    assert faults_of(written(*NAMED, "DUE;VALUE=DATE:20270430")) == []


def test_nothing_forbidden_is_written(client: Client, feed: str, due: Engine) -> None:
    calendar = read(client, feed)
    components = [*calendar.walk("VTODO"), *calendar.walk("VEVENT")]
    assert len(components) == 5
    assert [faults_of(one) for one in components] == [[]] * 5
    assert calendar.walk("VTIMEZONE") == []
    assert not any("DTSTART" in one for one in calendar.walk("VTODO"))
    uids = [str(one["UID"]) for one in components]
    assert len(set(uids)) == 5
    assert (calendar["VERSION"], "METHOD" in calendar) == ("2.0", False)


def test_lines_are_folded_and_texts_escaped(
    client: Client,
    feed: str,
    make_provision: Callable[..., Provision],
    make_engine: Callable[..., Engine],
    owner: Owner,
) -> None:
    """RFC 5545, 3.1 and 3.3.11: 75 octets, CRLF, and a backslash before , ; and itself."""
    title = "Pump, seal; and \\ valve: " + "é\u202f€ " * 25 + "\x0b\u202ename\nBEGIN:X"
    make_provision(number="SB-26-001", title=title, rule__action=BY_DATE)
    make_engine(owner=owner)
    body = client.get(feed).content
    assert body.endswith(b"END:VCALENDAR\r\n")
    lines = body.split(b"\r\n")
    assert all(len(line) <= 75 for line in lines)
    assert not any(b"\n" in line or b"\r" in line for line in lines)
    assert re.search(rb"[\x00-\x08\x0b-\x1f\x7f]", body.replace(b"\r\n", b"")) is None
    unfolded = body.replace(b"\r\n ", b"").decode()
    assert "Pump\\, seal\\; and \\\\ valve: é" in unfolded
    assert "\u202e" not in unfolded
    assert "\r\nBEGIN:X" not in unfolded
    todo = of(Calendar.from_ical(body), "VTODO")["SB-26-001"]
    assert "Pump, seal; and \\ valve: é" in todo["DESCRIPTION"]


def test_the_same_is_not_sent_again(client: Client, feed: str, due: Engine) -> None:
    first = client.get(feed)
    again = client.get(feed, headers={"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert again.headers["ETag"] == first.headers["ETag"]
    other = client.get(feed, headers={"If-None-Match": '"other"'})
    assert other.status_code == 200
    assert other.content == first.content


def test_a_moved_day_keeps_its_uid_and_raises_its_sequence(
    client: Client,
    feed: str,
    due: Engine,
    technician: Viewer,
    clock: time_machine.Traveller,
) -> None:
    """RFC 5545, 3.8.4.7 and 3.8.7.4."""
    before = of(read(client, feed), "VTODO")
    tag = client.get(feed).headers["ETag"]
    clock.shift(timedelta(days=2))
    at = datetime(2026, 11, 26, 9, 30, tzinfo=UTC)
    changes.add_reading(technician, due, on=at.date(), shown=53_000, at=at)
    after = of(read(client, feed), "VTODO")
    moved_before, moved = before["SB-26-002"], after["SB-26-002"]
    assert moved["DUE"].dt < moved_before["DUE"].dt
    assert moved["UID"] == moved_before["UID"]
    assert int(moved["SEQUENCE"]) > int(moved_before["SEQUENCE"])
    assert moved["LAST-MODIFIED"].dt == moved["DTSTAMP"].dt == at
    assert client.get(feed).headers["ETag"] != tag


def test_an_owner_reads_own_engines_only(
    client: Client,
    due: Engine,
    make_engine: Callable[..., Engine],
    owner: Owner,
    as_owner: Callable[[], Viewer],
    technician: Viewer,
    now: datetime,
) -> None:
    other = make_engine(owner=OwnerFactory(station=owner.station))
    address = path_of(make_calendar(as_owner(), owner, at=now))
    body = client.get(address).content.decode()
    assert due.serial in body
    assert other.serial not in body
    whole = client.get(path_of(make_calendar(technician, None, at=now)))
    assert other.serial in whole.content.decode()


def test_no_name_or_address_of_a_person_is_in_it(
    client: Client, feed: str, due: Engine, owner: Owner, technician: Viewer
) -> None:
    body = client.get(feed).content.decode().replace("\r\n ", "")
    for word in (owner.name, owner.email, technician.user.name, technician.user.email):
        assert word not in body


def test_an_engine_that_was_sold_leaves_the_owners_calendar(
    client: Client,
    due: Engine,
    owner: Owner,
    as_owner: Callable[[], Viewer],
    now: datetime,
) -> None:
    address = path_of(make_calendar(as_owner(), owner, at=now))
    assert len(read(client, address).walk("VTODO")) == 3
    Engine.objects.update(owner=OwnerFactory(station=owner.station))
    assert read(client, address).walk("VTODO") == []


class TestWhatEndsAnAddress:
    def test_the_role_of_who_made_it(
        self,
        client: Client,
        administrator: Viewer,
        feed: str,
        technician: Viewer,
        now: datetime,
    ) -> None:
        leave_station(administrator, technician.user.memberships.get(), at=now)
        assert client.get(feed).status_code == 404

    def test_signing_in_for_the_owner(
        self,
        client: Client,
        owner: Owner,
        as_owner: Callable[[], Viewer],
        now: datetime,
    ) -> None:
        address = path_of(make_calendar(as_owner(), owner, at=now))
        assert client.get(address).status_code == 200
        OwnerLogin.objects.update(left_at=now)
        assert client.get(address).status_code == 404

    def test_becoming_an_owner(
        self, client: Client, feed: str, technician: Viewer
    ) -> None:
        technician.user.memberships.update(role=Role.OWNER)
        assert client.get(feed).status_code == 404

    def test_an_account_that_is_closed(
        self, client: Client, feed: str, technician: Viewer
    ) -> None:
        technician.user.is_active = False
        technician.user.save()
        assert client.get(feed).status_code == 404

    def test_another_address(
        self, client: Client, feed: str, technician: Viewer, now: datetime
    ) -> None:
        another = path_of(make_calendar(technician, None, at=now))
        assert client.get(feed).status_code == 404
        assert client.get(another).status_code == 200


def test_what_opens_nothing_looks_the_same(
    client: Client, feed: str, technician: Viewer, now: datetime
) -> None:
    make_calendar(technician, None, at=now)
    revoked, unknown = client.get(feed), client.get(f"/calendar/{'A' * 43}.ics")
    assert revoked.content == unknown.content
    assert dict(revoked.headers) == dict(unknown.headers)


def test_reading_it_changes_nothing(client: Client, feed: str, due: Engine) -> None:
    before = digest()
    for _ in range(3):
        answer = client.get(feed)
    assert client.head(feed).status_code == 200
    assert digest() == before
    assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert answer.headers["X-Robots-Tag"] == "noindex"
    assert answer.headers["Cache-Control"] == "private, no-cache"
    assert not answer.cookies


def test_thousands_of_guesses_open_nothing(feed: str) -> None:
    right = secret_in(feed)
    assert opened(right) is not None
    guesses = [secrets.token_urlsafe(32) for _ in range(AT_RANDOM)]
    guesses += [right[:n] for n in range(43)]
    guesses += [right.lower(), f"{right}=", f"{right}.ics", "", " ", "0", "None"]
    assert [guess for guess in guesses if opened(guess) is not None] == []


@pytest.mark.parametrize("engines", [1, 4])
def test_it_asks_the_same_number_of_queries(
    client: Client,
    feed: str,
    due: Engine,
    make_engine: Callable[..., Engine],
    engines: int,
) -> None:
    for _ in range(engines - 1):
        make_engine()
    assert Finding.objects.count() == 3 * engines
    with CaptureQueriesContext(connection) as asked:
        client.get(feed)
    # the address; the role; twice: what only its point tells, the counts, the rows
    assert len(asked) == 8


def test_a_forbidden_thing_is_no_task(
    client: Client,
    feed: str,
    make_provision: Callable[..., Provision],
    make_engine: Callable[..., Engine],
    owner: Owner,
) -> None:
    given: dict[str, Any] = {"kind": Provision.Kind.PROHIBITION, "rule__action": {}}
    provision = make_provision(number="SB-26-001", rule__action=BY_DATE)
    Provision.objects.filter(pk=provision.pk).update(kind=given["kind"])
    make_engine(owner=owner)
    assert read(client, feed).walk("VTODO") == []


def test_what_is_left_out_is_said(
    client: Client, feed: str, due: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tracker.watch.links.feed.MOST", 1)
    calendar = read(client, feed)
    assert len(calendar.walk("VTODO")) == 2  # one that is known, one undetermined
    assert "Left out, as others press more: 1." in str(calendar["DESCRIPTION"])
