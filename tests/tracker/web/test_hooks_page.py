"""The page of webhooks: the list, the secret shown once, off, on, and a test event."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests.tracker.web.reading import rows_of, words, words_of
from tracker.accounts.access import Viewer
from tracker.watch.hooks import acts
from tracker.watch.hooks.signing import secret_of
from tracker.watch.models import Attempt, Hook, Message

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock_stands")]
LIST = reverse("web:hook-list")
ADD = reverse("web:hook-add")
URL = "https://systems.shop.example/events"


@pytest.fixture
def managing(administrator: Viewer, signed_in: Callable[[Viewer], Client]) -> Client:
    """A client signed in as an administrator."""
    return signed_in(administrator)


@pytest.fixture
def hook(administrator: Viewer, now: datetime) -> Hook:
    made, _ = acts.add_hook(administrator, url=URL, at=now)
    return made


def at(name: str, hook: Hook) -> str:
    return reverse(f"web:hook-{name}", args=[hook.public_id])


def test_without_any_the_page_says_what_would_be_here(managing: Client) -> None:
    assert "No system of yours is told of events yet." in words_of(managing.get(LIST))
    assert LIST in managing.get(reverse("web:station")).content.decode()


def test_a_secret_is_shown_once(managing: Client) -> None:
    shown = managing.post(ADD, {"url": URL})
    hook = Hook.objects.get()
    secret = secret_of(hook)
    assert shown.status_code == 200
    assert secret in words_of(shown)
    assert str(hook.public_id) in words_of(shown)
    assert "no-store" in shown.headers["Cache-Control"]
    assert secret not in managing.get(LIST).content.decode()


@pytest.mark.parametrize(
    ("url", "why"),
    [
        ("https://127.0.0.1/", "not a number, not one word"),
        ("http://systems.shop.example/", "has to begin with https://"),
        (f"https://systems.shop.example/{'a' * 500}", "at most 500 are kept"),
        ("", "This cannot be left out."),
    ],
)
def test_an_address_that_will_not_do_comes_back_with_the_reason(
    managing: Client, url: str, why: str
) -> None:
    answer = managing.post(ADD, {"url": url})
    assert answer.status_code == 422
    assert why in words(answer.content.decode())
    assert not Hook.objects.exists()


def test_a_new_secret_is_shown_and_the_old_one_is_not(
    managing: Client, hook: Hook
) -> None:
    old = secret_of(hook)
    shown = words_of(managing.post(at("secret", hook)))
    hook.refresh_from_db()
    assert secret_of(hook) in shown
    assert old not in shown


def test_the_list_says_how_each_stands(
    managing: Client, administrator: Viewer, hook: Hook, now: datetime
) -> None:
    message = acts.send_test(administrator, hook, at=now)
    Attempt.objects.create(
        message=message,
        started_at=now,
        ended_at=now,
        outcome="later",
        code=500,
        reply="It answered 500.",
    )
    Hook.objects.filter(pk=hook.pk).update(failing_since=now - timedelta(days=1))
    [_, row] = rows_of(managing.get(LIST))
    assert "not taken since 23 Nov 2026, 09:30" in row
    assert "24 Nov 2026, 09:30 It answered 500." in row
    Hook.objects.filter(pk=hook.pk).update(
        off_at=now, off_reason="Gone <b>for good</b>."
    )
    [_, row] = rows_of(managing.get(LIST))
    assert "off since 24 Nov 2026, 09:30 Gone <b>for good</b>." in row
    assert "Switch on" in row
    assert "Test" not in row


def test_it_is_switched_off_and_on(managing: Client, hook: Hook) -> None:
    off = managing.post(at("switch", hook), {"to": "off"}, follow=True)
    assert "The webhook is switched off." in words_of(off)
    assert Hook.objects.in_use().count() == 0
    again = managing.post(at("switch", hook), {"to": "off"}, follow=True)
    assert "It is switched off already." in words_of(again)
    on = managing.post(at("switch", hook), {"to": "on"}, follow=True)
    assert "What it has missed is posted now." in words_of(on)
    assert Hook.objects.in_use().count() == 1


def test_a_test_event_waits(managing: Client, hook: Hook) -> None:
    sent = managing.post(at("test", hook), follow=True)
    assert "A test event waits to be posted." in words_of(sent)
    assert Message.objects.get().hook == hook
    managing.post(at("switch", hook), {"to": "off"})
    refused = managing.post(at("test", hook), follow=True)
    assert "Switch it on before you try it." in words_of(refused)
    assert Message.objects.count() == 1


@pytest.mark.parametrize("count", [1, 8])
def test_the_number_of_queries_is_constant(
    managing: Client,
    administrator: Viewer,
    now: datetime,
    count: int,
    django_assert_num_queries: Any,
) -> None:
    for number in range(count):
        acts.add_hook(administrator, url=f"{URL}/{number}", at=now)
    with django_assert_num_queries(4):  # session, person, role, webhooks
        managing.get(LIST)
