"""Each event of a station is written for each of its webhooks once, and says no owner."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import pytest

from tests.factories.fleet import EngineFactory, OwnerFactory
from tracker.accounts.access import Viewer
from tracker.accounts.models import Station
from tracker.compliance.events import note_events
from tracker.compliance.findings import refresh
from tracker.compliance.models import Event, EventKind
from tracker.fleet.models import Engine
from tracker.fleet.register import FittingFacts
from tracker.watch.hooks import acts, events
from tracker.watch.hooks.events import write_events
from tracker.watch.jobs.work import WORK
from tracker.watch.models import Channel, Hook, Job, Message, MessageState, Told

pytestmark = [pytest.mark.django_db, pytest.mark.both]
URL = "https://systems.shop.example/events"
Note = Callable[..., Event]


@pytest.fixture
def hook(administrator: Viewer, now: datetime) -> Hook:
    made, _ = acts.add_hook(administrator, url=URL, at=now)
    return made


@pytest.fixture
def engine(station: Station) -> Engine:
    return EngineFactory(station=station, serial="4118")


@pytest.fixture
def note(engine: Engine, now: datetime) -> Note:
    """Return an event of the engine, or of another one, noted so many minutes later."""

    def make(
        key: str, minutes: int = 1, of: Engine | None = None, **said: Any
    ) -> Event:
        about = of or engine
        return Event.objects.create(
            station=about.station,
            engine=about,
            kind=said.pop("kind_of_event", EventKind.OVERDUE),
            key=key,
            mandatory=True,
            said=said,
            happened_on=now.date(),
            noted_at=now + timedelta(minutes=minutes),
        )

    return make


def told(message: Message) -> dict[str, Any]:
    body: dict[str, Any] = json.loads(message.text)
    return body


def test_an_event_becomes_one_message(hook: Hook, note: Note, now: datetime) -> None:
    event = note("a")
    assert write_events(now) == 1
    message = Message.objects.get()
    assert (
        message.channel,
        message.kind,
        message.state,
        message.hook,
        message.engine,
    ) == (
        Channel.WEBHOOK,
        "event",
        MessageState.WAITING,
        hook,
        event.engine,
    )
    assert message.address == URL
    assert message.dedupe_key == f"event|{event.public_id}|hook {hook.pk}"
    assert Told.objects.get().recipient == f"hook {hook.pk}"


def test_a_second_run_writes_nothing(hook: Hook, note: Note, now: datetime) -> None:
    note("a")
    assert [write_events(now), write_events(now)] == [1, 0]


def test_the_job_that_tells_writes_them(hook: Hook, note: Note, now: datetime) -> None:
    note("a")
    assert WORK[Job.TELL](now)["for webhooks"] == 1
    assert WORK[Job.TELL](now)["for webhooks"] == 0


def test_each_webhook_is_told(
    hook: Hook, note: Note, administrator: Viewer, now: datetime
) -> None:
    acts.add_hook(administrator, url=f"{URL}/more", at=now)
    note("a")
    assert write_events(now) == 2
    assert Told.objects.values("recipient").distinct().count() == 2


def test_what_was_noted_before_the_webhook_was_made_is_left_out(
    hook: Hook, note: Note, now: datetime
) -> None:
    note("before", minutes=-1)
    note("then", minutes=0)
    assert write_events(now) == 1


def test_another_station_is_not_told(
    hook: Hook, note: Note, other_station: Station, now: datetime
) -> None:
    note("a", of=EngineFactory(station=other_station))
    assert write_events(now) == 0


def test_a_webhook_that_is_off_hears_what_it_missed_when_it_is_on_again(
    hook: Hook, note: Note, administrator: Viewer, now: datetime
) -> None:
    acts.stop(administrator, hook, at=now)
    note("a")
    assert write_events(now) == 0
    acts.start(administrator, hook, at=now)
    assert write_events(now) == 1


def test_a_run_is_bounded_and_the_next_goes_on(
    hook: Hook, note: Note, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(events, "EACH", 2)
    for name in "cab":
        note(name, minutes=ord(name) - 96)
    assert [write_events(now) for _ in range(3)] == [2, 1, 0]
    order = Message.objects.order_by("pk").values_list("events__key", flat=True)
    assert list(order) == ["a", "b", "c"]


def test_the_body_says_what_is_so_of_which_engine(
    hook: Hook, note: Note, station: Station, now: datetime, settings: Any
) -> None:
    settings.BASE_URL = "https://tracker.example"
    fitting = FittingFacts(aircraft_type="Brent 12", registration="TF-OLA")
    engine = EngineFactory(station=station, serial="4119", fitting=fitting)
    event = note(
        "a",
        of=engine,
        publication="6c1f",
        kind="SB",
        number="SB-26-014",
        revision="2",
        title="Fuel pump: inspect",
        word="overdue",
        hours=123_450,
        on="2026-11-20",
        events=[],
        part="fuel pump 881",
        reasons=["Serial number 4119 is from 4001 to 4987."],
        missing=[],
        is_new=False,
        sentence="Overdue by 3.0 h.",
    )
    write_events(now)
    assert told(Message.objects.get()) == {
        "v": 1,
        "id": str(event.public_id),
        "kind": "overdue",
        "happened_on": "2026-11-24",
        "noted_at": "2026-11-24T09:31:00+00:00",
        "mandatory": True,
        "engine": {
            "id": str(engine.public_id),
            "type": engine.engine_type.designation,
            "serial": "4119",
            "registration": "TF-OLA",
            "page": f"https://tracker.example/engines/{engine.public_id}/",
        },
        "document": {
            "id": "6c1f",
            "kind": "SB",
            "number": "SB-26-014",
            "revision": "2",
            "title": "Fuel pump: inspect",
        },
        "state": "overdue",
        "due": {"hours": 1234.5, "on": "2026-11-20", "at": []},
        "last_reading_on": None,
        "part": "fuel pump 881",
        "reasons": ["Serial number 4119 is from 4001 to 4987."],
        "missing": [],
    }


def test_what_an_event_does_not_say_is_null(
    hook: Hook, note: Note, now: datetime
) -> None:
    note("a", kind_of_event=EventKind.LONGER, word="within reach")
    write_events(now)
    body = told(Message.objects.get())
    nothing = ("document", "due", "part", "last_reading_on")
    assert [body[name] for name in nothing] == [None] * 4
    assert body["state"] == "within reach"


def test_the_day_of_an_old_reading_is_no_due_date(
    hook: Hook, note: Note, now: datetime
) -> None:
    note("a", kind_of_event=EventKind.READING, on="2026-08-01")
    write_events(now)
    body = told(Message.objects.get())
    assert (body["due"], body["last_reading_on"]) == (None, "2026-08-01")


def test_events_that_are_really_noted_are_told_without_the_owner(
    hook: Hook,
    station: Station,
    make_engine: Callable[..., Engine],
    make_provision: Callable[..., Any],
    now: datetime,
) -> None:
    owner = OwnerFactory(
        station=station, name="Ragna Zwill", email="zwill@post.example"
    )
    make_provision(rule__action={"initial": {"hours": 100, "after": "new"}})
    engine = make_engine(owner=owner)
    engines = Engine.objects.select_related("engine_type").filter(pk=engine.pk)
    refresh(station, engines, on=now.date(), at=now)
    note_events(station, [engine.pk], on=date(2027, 6, 1), at=now)
    assert write_events(now) == Event.objects.count() >= 2
    kinds = {told(message)["kind"] for message in Message.objects.all()}
    assert {"overdue", "reading is old"} <= kinds
    assert not [m for m in Message.objects.all() if "zwill" in m.text.lower()]


@pytest.mark.parametrize("count", [1, 6])
def test_the_number_of_queries_to_find_them_is_constant(
    hook: Hook,
    note: Note,
    now: datetime,
    count: int,
    django_assert_num_queries: Any,
) -> None:
    for number in range(count):
        note(str(number))
    write_events(now)
    with django_assert_num_queries(2):  # webhooks in use, untold events of the one
        assert write_events(now) == 0
