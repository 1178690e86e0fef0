"""At once what presses, the rest once a day, and nothing that has ended meanwhile."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest

from tests.factories.compliance import entry
from tests.factories.fleet import OwnerFactory
from tests.tracker.watch.telling.conftest import moment
from tracker.compliance import changes
from tracker.compliance.findings import refresh
from tracker.compliance.models import Event, EventKind
from tracker.fleet.models import Engine, Owner, Preference
from tracker.watch.models import HoursLink, Message, MessageState, Run, Told
from tracker.watch.telling import storms, write_due, writing
from tracker.watch.telling.reading import news_of

pytestmark = [pytest.mark.django_db, pytest.mark.both]

NOW = date(2026, 11, 24)
DUE: dict[str, Any] = {"initial": {"date": "2027-03-01"}}
PAST: dict[str, Any] = {"initial": {"date": "2026-11-01"}}
Telling = Callable[..., list[Message]]


def kinds(messages: list[Message]) -> list[str]:
    return [message.kind for message in messages]


def untold() -> list[str]:
    """The kinds of events that were settled with no message."""
    settled = Event.objects.exclude(settled_at=None).filter(told=None)
    return sorted(settled.values_list("kind", flat=True))


def waiting() -> list[str]:
    return sorted(Event.objects.unsettled().values_list("kind", flat=True))


def test_what_is_new_stands_in_one_digest(engine, make_provision, told_of) -> None:
    make_provision(number="SB-24-011", rule__action=DUE)
    make_provision(number="SB-24-012", rule__action=DUE)
    [digest] = told_of(NOW)
    assert (digest.kind, digest.address, digest.engine, digest.state) == (
        "digest",
        "marrow@post.example",
        engine,
        MessageState.WAITING,
    )
    assert digest.dedupe_key == f"digest|{engine.owner_id}|2026-11-24"
    assert digest.subject.endswith("· 4021: 2 outstanding")
    assert "SB-24-011" in digest.text
    assert "SB-24-012" in digest.html
    assert Told.objects.filter(message=digest).count() == 2
    assert waiting() == []
    assert told_of(NOW) == []


def test_it_waits_for_the_hour_of_the_owner(
    engine, make_provision, evaluate, tell
) -> None:
    Preference.objects.create(owner=engine.owner, at_hour=18)
    Owner.objects.update(time_zone="America/New_York")
    make_provision(rule__action=DUE)
    evaluate(NOW)
    assert tell(NOW, 22, 59) == []
    assert kinds(tell(NOW, 23)) == ["digest"]


def test_what_is_overdue_goes_at_once_by_engine(
    engine, make_engine, make_provision, evaluate, tell
) -> None:
    make_provision(number="SB-24-011", rule__action=PAST)
    make_provision(number="SB-24-012", rule__action=PAST)
    make_provision(rule__action=DUE)
    other = make_engine(owner=engine.owner, serial="4022")
    Preference.objects.create(owner=engine.owner, at_hour=23)
    evaluate(NOW)
    first, second = tell(NOW)
    assert kinds([first, second]) == ["overdue", "overdue"]
    assert {first.engine, second.engine} == {engine, other}
    assert first.subject.endswith("· 4021: 2 overdue")
    assert kinds(tell(NOW, 23)) == ["digest"]
    assert tell(NOW, 23, 45) == []


def test_a_single_matter_is_named_in_the_subject(
    engine, make_provision, told_of
) -> None:
    make_provision(number="SB-24-011", rule__action=PAST)
    [message] = told_of(NOW)
    name = f"{engine.engine_type.designation} · 4021"
    assert message.subject == f"{name}: SB-24-011 is overdue"
    assert message.mandatory


def test_before_further_flight_is_told_at_once(engine, make_provision, told_of) -> None:
    make_provision(
        number="SB-24-011", rule__action={"initial": {"event": "further flight"}}
    )
    [message] = told_of(NOW)
    assert message.kind == "overdue"
    assert message.subject.endswith("SB-24-011 is due before further flight")


def test_four_a_day_go_at_once_and_the_others_into_the_digest(
    engine, make_engine, make_provision, evaluate, tell
) -> None:
    Preference.objects.create(owner=engine.owner, at_hour=12)
    for serial in ("4022", "4023", "4024", "4025", "4026"):
        make_engine(owner=engine.owner, serial=serial)
    make_provision(rule__action=PAST)
    make_provision(rule__action=DUE)
    evaluate(NOW)
    assert kinds(tell(NOW)) == ["overdue"] * 4
    assert tell(NOW, 10) == []
    [digest] = tell(NOW, 12)
    assert digest.subject == "6 engines: 2 overdue and 6 more"
    marks = [line[0] for line in digest.text.splitlines() if line[:2] in ("■ ", "○ ")]
    assert marks[:8] == ["■"] * 2 + ["○"] * 6
    assert Told.objects.filter(message=digest).count() == 8
    assert waiting() == []


def test_both_mails_of_a_run_lead_to_the_same_page_of_hours(
    engine, make_provision, told_of
) -> None:
    make_provision(rule__action=PAST)
    make_provision(rule__action=DUE)
    messages = told_of(NOW)
    assert kinds(messages) == ["overdue", "digest"]
    link = HoursLink.objects.get(revoked_at=None)
    assert (link.engine, link.owner) == (engine, engine.owner)
    [address] = {
        line
        for message in messages
        for line in message.text.splitlines()
        if "/hours/" in line
    }
    assert all(address in message.html for message in messages)


def test_coming_due_waits_for_the_owners_own_lead(
    engine, make_provision, told_of
) -> None:
    Preference.objects.create(owner=engine.owner, lead_days=45)
    make_provision(rule__action={"initial": {"date": "2027-02-15"}})
    told_of(NOW)
    assert told_of(date(2026, 12, 17)) == []  # the station's sixty days
    assert waiting() == ["coming due"]
    assert told_of(date(2026, 12, 31)) == []
    [digest] = told_of(date(2027, 1, 1))
    assert digest.subject.endswith("is coming due")
    assert "45 days left" in digest.text
    assert waiting() == []


def test_what_is_new_is_told_before_it_comes_due_for_the_owner(
    engine, make_provision, told_of
) -> None:
    Preference.objects.create(owner=engine.owner, lead_days=10)
    make_provision(number="SB-24-011", rule__action={"initial": {"date": "2026-12-24"}})
    [news] = told_of(NOW)
    assert news.subject.endswith("SB-24-011 newly applies")
    assert "outstanding" in news.text
    assert waiting() == ["coming due"]
    assert told_of(date(2026, 11, 25)) == []
    [digest] = told_of(date(2026, 12, 14))
    assert digest.subject.endswith("SB-24-011 is coming due")
    assert waiting() == []


def test_what_was_done_meanwhile_is_not_told(
    engine, make_provision, evaluate, tell, technician
) -> None:
    provision = make_provision(rule__action=PAST)
    evaluate(NOW)
    done = entry(NOW, hours=52_000, provision=provision)
    changes.record_work(technician, engine, done, at=moment(NOW, 8))
    assert tell(NOW) == []
    assert untold() == ["overdue"]


def test_what_applies_no_longer_is_told(
    engine, make_provision, told_of, tell, technician
) -> None:
    make_provision(
        number="SB-24-011",
        rule__condition={"attribute": "drive", "in": ["geared"]},
        rule__action=DUE,
    )
    changes.set_attribute(
        technician,
        engine,
        "drive",
        "geared",
        true_from=date(2026, 2, 1),
        at=moment(NOW, 1),
    )
    told_of(NOW)
    next_day = NOW + timedelta(days=1)
    changes.set_attribute(
        technician,
        engine,
        "drive",
        "direct",
        true_from=date(2026, 3, 1),
        at=moment(next_day, 1),
    )
    [digest] = tell(next_day)
    assert digest.subject.endswith("SB-24-011 no longer applies")
    assert "It does not apply as the engine" in digest.text


def test_current_values_are_shown_and_not_those_of_the_event(
    engine, make_provision, evaluate, tell, technician
) -> None:
    make_provision(rule__action={"initial": {"hours": 550, "after": "new"}})
    evaluate(NOW)
    assert Event.objects.get().kind == EventKind.APPLIES
    later = NOW + timedelta(days=2)
    changes.add_reading(
        technician, engine, on=later, shown=53_000, at=moment(later, 6), confirmed=True
    )
    [digest] = tell(later)
    assert digest.subject.endswith("is coming due")
    assert "20.0 h left" in digest.text
    assert "530.0 h TSN on 26 November 2026" in digest.text


def test_old_hours_are_told_with_a_link_to_enter_them(engine, told_of) -> None:
    [message] = told_of(date(2027, 1, 9))
    assert message.subject.endswith("the hours were last read on 24 November 2026")
    assert "/hours/" in message.text


@pytest.mark.parametrize(
    "change",
    [
        {"email": ""},
        {"removed_at": moment(NOW, 1)},
    ],
)
def test_where_nobody_can_be_told_the_events_are_settled_untold(
    change, engine, make_provision, told_of
) -> None:
    make_provision(rule__action=PAST)
    Owner.objects.update(**change)
    assert told_of(NOW) == []
    assert (untold(), waiting()) == (["overdue"], [])


def test_an_engine_without_an_owner_is_told_of_to_nobody(
    make_engine, make_provision, told_of
) -> None:
    make_provision(rule__action=PAST)
    make_engine()
    assert told_of(NOW) == []
    assert (untold(), waiting()) == (["overdue"], [])


def test_nothing_goes_to_an_address_that_was_refused_and_nothing_is_lost(
    engine, make_provision, told_of, tell
) -> None:
    make_provision(rule__action=PAST)
    make_provision(rule__action=DUE)
    refused = Preference.objects.create(
        owner=engine.owner, refused_address="marrow@post.example"
    )
    assert told_of(NOW) == []
    assert waiting() == ["newly applies", "overdue"]
    Owner.objects.update(email="l.marrow@post.example")
    assert kinds(tell(NOW, 10)) == ["overdue", "digest"]
    refused.refresh_from_db()
    assert waiting() == []


def test_the_station_silences_even_what_is_mandatory(
    engine, make_provision, told_of, technician
) -> None:
    make_provision(rule__action=PAST)
    Preference.objects.create(
        owner=engine.owner,
        silenced_at=moment(NOW, 1),
        silenced_reason="The estate is being settled.",
        silenced_by=technician.user,
    )
    assert told_of(NOW) == []
    assert (untold(), waiting()) == (["overdue"], [])


@pytest.mark.parametrize(
    "wanted", [{"optional": False}, {"without": ["newly applies"]}]
)
def test_what_is_left_out_is_left_out_and_what_is_mandatory_is_not(
    wanted, engine, make_provision, told_of
) -> None:
    Preference.objects.create(owner=engine.owner, **wanted)
    make_provision(number="SB-24-011", rule__action=DUE, category="recommended")
    make_provision(number="SB-24-012", rule__action=DUE)
    [digest] = told_of(NOW)
    assert digest.subject.endswith("SB-24-012 newly applies")
    assert (untold(), waiting()) == (["newly applies"], [])


def test_an_owner_is_not_told_of_anothers_engine(
    engine, make_engine, make_provision, station, told_of
) -> None:
    other = OwnerFactory(station=station, name="Other", email="other@post.example")
    make_engine(owner=other, serial="5999")
    make_provision(rule__action=DUE)
    by_owner = {message.owner.name: message for message in told_of(NOW)}
    assert set(by_owner) == {"L. Marrow", "Other"}
    assert "5999" not in by_owner["L. Marrow"].text
    assert "4021" not in by_owner["Other"].text


def test_an_outage_of_days_ends_in_one_digest_for_each(
    engine, make_engine, make_provision, station, evaluate, tell, monkeypatch
) -> None:
    monkeypatch.setattr(writing, "OWNERS_AT_ONCE", 2)
    for number in range(4):
        owner = OwnerFactory(station=station, email=f"o{number}@post.example")
        make_engine(owner=owner)
    for day in range(3):
        make_provision(rule__action=DUE)
        evaluate(NOW + timedelta(days=day))
    back = NOW + timedelta(days=3)
    assert tell(back, 6, 45) == []
    digests = tell(back, 7)
    assert len({digest.owner_id for digest in digests}) == len(digests) == 5
    assert Told.objects.count() == 15
    assert tell(back, 7, 15) == tell(back, 23) == []


def test_one_mail_that_cannot_be_written_stops_no_other(
    engine, make_engine, make_provision, station, evaluate, tell
) -> None:
    bad = OwnerFactory(
        station=station, name="Bad", email="a@b.example\nBcc: x@y.example"
    )
    make_engine(owner=bad, serial="4022")
    make_provision(rule__action=DUE)
    evaluate(NOW)
    [digest] = tell(NOW)
    assert digest.owner == engine.owner
    assert waiting() == ["newly applies"]
    assert Run.objects.get().shard == f"owner {engine.owner_id}"


def test_far_more_at_once_than_ever_are_held_and_digests_go_on(
    engine, make_engine, make_provision, station, told_of, monkeypatch
) -> None:
    monkeypatch.setattr(storms, "ALWAYS", 1)
    for number in range(4):
        owner = OwnerFactory(station=station, email=f"o{number}@post.example")
        make_engine(owner=owner)
    make_provision(rule__action=PAST)
    make_provision(rule__action=DUE)
    messages = told_of(NOW)
    assert kinds(messages).count("digest") == 5
    states = [m.state for m in messages if m.kind == "overdue"]
    assert states == [MessageState.WAITING, *[MessageState.HELD] * 4]
    held = Message.objects.filter(state=MessageState.HELD)
    assert all(message.reason == storms.HELD for message in held)
    assert waiting() == []
    # a run of one went: three times as many may go the next day
    make_provision(rule__action=PAST)
    states = [m.state for m in told_of(NOW + timedelta(days=1))]
    assert states == [MessageState.WAITING] * 3 + [MessageState.HELD] * 2


def test_an_owner_is_looked_at_once_a_day_and_again_once_something_is_noted(
    engine, make_provision, told_of, tell, django_assert_num_queries
) -> None:
    Preference.objects.create(owner=engine.owner, lead_days=30)
    make_provision(rule__action=DUE)
    told_of(NOW)
    day = date(2026, 12, 31)
    assert told_of(day) == []
    with django_assert_num_queries(
        6
    ):  # settle, noted, digests, looked, owners, pressing
        assert write_due(moment(day, 12)) == 0
    make_provision(number="SB-24-012", rule__action=DUE)
    engines = Engine.objects.filter(pk=engine.pk).select_related("engine_type")
    refresh(engine.station, engines, on=day, at=moment(day, 13))
    assert kinds(tell(day, 13, 5)) == ["digest"]


@pytest.mark.parametrize("owners", [1, 6])
def test_reading_takes_as_many_queries_for_many_owners_as_for_one(
    owners, station, make_engine, make_provision, evaluate, django_assert_num_queries
) -> None:
    for number in range(owners):
        made = OwnerFactory(station=station, email=f"o{number}@post.example")
        make_engine(owner=made)
    make_provision(rule__action=PAST)
    make_provision(rule__action={"initial": {"date": "2026-12-24"}})
    evaluate(NOW)
    found = list(Owner.objects.select_related("station", "preference"))
    with django_assert_num_queries(3):  # events, told before, findings
        news = news_of(found, at=moment(NOW, 9))
    assert [len(one.items) for one in news] == [2] * owners


def test_each_more_owner_costs_the_same_few_queries(
    station, make_engine, make_provision, evaluate, django_assert_max_num_queries
) -> None:
    make_provision(rule__action=DUE)
    asked = []
    for number in range(4):
        for _ in range(2 * number + 1):
            made = OwnerFactory(
                station=station, email=f"{Owner.objects.count()}@p.example"
            )
            make_engine(owner=made)
        day = NOW + timedelta(days=number)
        evaluate(day)
        with django_assert_max_num_queries(300) as queries:
            assert write_due(moment(day, 9)) == 2 * number + 1
        asked.append(len(queries))
    _, two, three, four = asked  # the first link of all makes an account
    assert four - three == three - two
    assert (four - three) / 2 <= 16
