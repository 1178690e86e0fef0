"""Hours by their forms: added, corrected, a meter changed; nonsense refused."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from tests.factories.fleet import EngineFactory, OwnerFactory
from tests.tracker.web.reading import words
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role, Station
from tracker.figures.wording import hours
from tracker.fleet.models import Engine, Meter, OwnerLogin, Reading

pytestmark = pytest.mark.django_db


def said(response: HttpResponse) -> str:
    return words(response.content.decode())


def add(engine: Engine) -> str:
    return reverse("web:engine-reading-add", args=[engine.public_id])


def test_a_reading_is_kept_in_hundredths(page: Client, engine: Engine) -> None:
    answer = page.post(
        add(engine), {"on": "2026-11-24", "shown": "525.25"}, follow=True
    )
    assert "The reading is kept" in said(answer)
    assert Engine.objects.get().hours_now == 52_525


def test_hours_are_taken_as_they_are_shown(
    page: Client, make_engine: Callable[..., Engine]
) -> None:
    engine = make_engine(hours=(98_000, 111_000))
    written = hours(111_125).removesuffix("h").strip()
    assert len(written) == len("1 111.25")
    sent = {"on": "2026-11-24", "shown": written}
    assert page.post(add(engine), sent).status_code == 302
    assert Engine.objects.get().hours_now == 111_125


@pytest.mark.parametrize("shown", ["1 20.5", "12 3456", "1\u202f200\u202f5"])
def test_blanks_elsewhere_are_refused(page: Client, engine: Engine, shown: str) -> None:
    answer = page.post(add(engine), {"on": "2026-11-24", "shown": shown})
    assert answer.status_code == 422
    assert "is not a number of hours." in said(answer)


def test_the_form_says_what_was_read_last(page: Client, engine: Engine) -> None:
    assert "Last reading: 520.0 h on 24 November 2026" in said(page.get(add(engine)))


@pytest.mark.parametrize(
    ("sent", "message"),
    [
        ({"shown": ""}, "This cannot be left out."),
        ({"shown": "1,234.5"}, '"1,234.5" is not a number of hours.'),
        ({"shown": "-3"}, '"-3" is not a number of hours.'),
        ({"shown": "560"}, "560.0 h on 2026-11-24 cannot be right."),
        (
            {"shown": "470", "on": "2026-02-01"},
            "Known is before it 480.0 h on 2026-01-10 (reading) and after it 520.0 h "
            "on 2026-11-24 (reading).",
        ),
        (
            {"on": "2026-11-25"},
            "The date 2026-11-25 lies after today, 2026-11-24. Enter what has happened",
        ),
        ({"on": "24.11.2026"}, '"24.11.2026" is not a date. Write it as 2026-05-31.'),
    ],
)
def test_an_impossible_reading_is_refused_with_the_reason(
    page: Client, engine: Engine, sent: dict[str, str], message: str
) -> None:
    answer = page.post(add(engine), {"on": "2026-11-24", "shown": "520", **sent})
    assert answer.status_code == 422
    assert message in said(answer)
    assert Reading.objects.count() == 2


def test_the_first_reading_says_which_meter_is_read(
    page: Client, station: Station
) -> None:
    engine = EngineFactory(station=station)
    sent = {"kind": "tachometer", "on": "2026-11-24", "shown": "12", "hours": "812.5"}
    assert page.post(add(engine), sent).status_code == 302
    assert Meter.objects.get().kind == "tachometer"
    assert Engine.objects.get().hours_now == 81_250


@pytest.fixture
def owner(
    viewer_as: Callable[..., Viewer],
    signed_in: Callable[[Viewer], Client],
    station: Station,
    clock_stands: None,
) -> tuple[Client, Viewer]:
    viewer = viewer_as(Role.OWNER)
    return signed_in(viewer), viewer


def test_an_owner_adds_a_reading_of_their_own_engine_only(
    owner: tuple[Client, Viewer], make_engine: Callable[..., Engine]
) -> None:
    client, viewer = owner
    mine = OwnerFactory(station=viewer.station)
    OwnerLogin.objects.create(owner=mine, user=viewer.user)
    own, other = make_engine(owner=mine), make_engine()
    sent = {"on": "2026-11-24", "shown": "521"}
    assert client.post(add(own), sent).status_code == 302
    assert client.post(add(other), sent).status_code == 404
    assert own.readings.count() == 3
    assert other.readings.count() == 2


def test_an_owner_whose_meter_is_not_entered_is_told_to_ask_the_station(
    owner: tuple[Client, Viewer],
) -> None:
    client, viewer = owner
    mine = OwnerFactory(station=viewer.station)
    OwnerLogin.objects.create(owner=mine, user=viewer.user)
    engine = EngineFactory(station=viewer.station, owner=mine)
    assert "Ask it to enter the first reading." in said(client.get(add(engine)))
    sent = {"on": "2026-11-24", "shown": "521"}
    assert client.post(add(engine), sent).status_code == 422
    assert not Reading.objects.exists()


def correct(reading: Reading) -> str:
    return reverse("web:engine-reading-correct", args=[reading.public_id])


def test_a_wrong_reading_is_corrected_and_kept(page: Client, engine: Engine) -> None:
    wrong = engine.readings.get(shown=52_000)
    sent = {"on": "2026-11-24", "shown": "502", "remark": "misread"}
    answer = page.post(correct(wrong), sent, follow=True)
    assert "The meter showed: 502.0 h, was 520.0 h" in said(answer)
    assert Reading.objects.get(corrects=wrong).hours == 50_200
    assert Engine.objects.get().hours_now == 50_200
    again = page.post(correct(wrong), sent)
    assert again.status_code == 422
    assert "is corrected already. Correct the later one." in said(again)


def test_a_reading_of_another_station_is_not_there(
    stranger: Viewer, signed_in: Callable[[Viewer], Client], engine: Engine
) -> None:
    reading = engine.readings.first()
    assert reading is not None
    client = signed_in(stranger)
    assert client.get(correct(reading)).status_code == 404
    assert client.post(correct(reading), {"shown": "1"}).status_code == 404


def test_an_owner_may_not_correct_a_reading(
    owner: tuple[Client, Viewer], engine: Engine
) -> None:
    reading = engine.readings.first()
    assert reading is not None
    sent = {"on": "2026-11-24", "shown": "502"}
    assert owner[0].post(correct(reading), sent).status_code == 403
    assert engine.readings.count() == 2


def change(engine: Engine) -> str:
    return reverse("web:engine-meter", args=[engine.public_id])


def test_hours_run_on_over_a_change_of_meter(page: Client, engine: Engine) -> None:
    sent = {
        "on": "2026-11-24",
        "old_shown": "521",
        "kind": "tachometer",
        "shown": "3.5",
        "reason": "the old meter stood still",
    }
    assert page.post(change(engine), sent).status_code == 302
    assert engine.meters.last().offset == 51_750
    assert Engine.objects.get().hours_now == 52_100


@pytest.mark.parametrize(
    ("sent", "message"),
    [
        ({"on": "2026-11-20"}, "The reading of 2026-11-24 is later than the change"),
        ({"reason": ""}, "This cannot be left out."),
        ({"old_shown": "900"}, "900.0 h on 2026-11-24 cannot be right."),
        ({"kind": "sundial"}, "Choose one from the list; what was sent is not in it."),
    ],
)
def test_a_change_of_meter_that_cannot_be_is_refused_whole(
    page: Client, engine: Engine, sent: dict[str, str], message: str
) -> None:
    whole = {
        "on": "2026-11-24",
        "kind": "tachometer",
        "shown": "0",
        "reason": "worn",
        **sent,
    }
    answer = page.post(change(engine), whole)
    assert answer.status_code == 422
    assert message in said(answer)
    assert engine.meters.count() == 1
    assert engine.readings.count() == 2
