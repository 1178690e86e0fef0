"""What stands in a mail, in text and in HTML, and what no text of anybody can do to it."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from datetime import date
from email import message_from_bytes
from email.policy import default
from typing import Any, cast

import pytest
from hypothesis import HealthCheck, example, given
from hypothesis import settings as hypothesis_settings

from notices.models import Provision
from tests.factories.compliance import entry
from tests.sink import Sink
from tests.tracker.watch.delivery.conftest import sink
from tests.tracker.watch.telling.conftest import moment
from tests.tracker.watch.telling.hostile import (
    HOSTILE,
    PIECES,
    PLAIN,
    TEXTS,
    body_of,
    faults,
    links_of,
    tags_of,
    written,
)
from tracker.compliance import changes
from tracker.compliance.models import Finding
from tracker.fleet.models import Engine, Owner
from tracker.fleet.register import FittingFacts
from tracker.print.sheet import CAUTION
from tracker.watch.delivery import deliver_due
from tracker.watch.links import unsubscribe_url
from tracker.watch.models import Message
from tracker.watch.outbox import one_line
from tracker.watch.telling.reading import rows_of
from tracker.watch.telling.words import lines, paragraphs

__all__ = ["sink"]

pytestmark = pytest.mark.django_db
NOW = date(2026, 11, 24)
IN_50: dict[str, Any] = {"initial": {"hours": 50, "after": "effective"}}
PAST: dict[str, Any] = {"initial": {"date": "2026-11-01"}}


@pytest.fixture
def flown(make_engine: Callable[..., Engine], owner: Owner) -> Engine:
    fitting = FittingFacts(aircraft_type="TR-20", registration="ZZ-MU")
    return make_engine(owner=owner, serial="4021", fitting=fitting)


@pytest.fixture
def bulletin(make_provision: Callable[..., Provision]) -> Provision:
    return make_provision(
        number="SB-24-011",
        title="Inspect the fuel pump",
        description="Take off the cover.\nLook for wear of the vanes.",
        rule__action=IN_50,
    )


def joined(text: str) -> str:
    return " ".join(text.split())


def test_it_says_which_engine_what_by_when_why_and_what_to_do(
    flown, bulletin, told_of
) -> None:
    [digest] = told_of(NOW)
    text = joined(digest.text)
    html = joined(re.sub(r"<[^>]+>|\xa0|\u202f", " ", digest.html))
    for words in (
        f"{flown.engine_type.designation}, serial 4021",
        "ZZ-MU, TR-20",
        "520.0 h TSN on 24 November 2026",
        "service bulletin, mandatory",
        "530.0 h",
        "10.0 h left",
        "about 1",
        "as the engine is run",
        "Take off the cover. Look for wear of the vanes.",
        "Maker of the engine: Inspect the fuel pump",
        "no record yet",
        "Tarn Engine Shop sends this by itself",
        *map(joined, CAUTION),
    ):
        assert words in text
        assert words in html
    for words in (
        "□ coming due: SB-24-011 revision",
        "Last reading: 520.0 h TSN",
        "Due: 530.0 h Remaining: 10.0 h left Foreseen: about",
        "What to do: Take off the cover.",
        "Why:",
    ):
        assert words in text


def test_every_date_says_its_month_in_letters(flown, bulletin, told_of) -> None:
    [digest] = told_of(NOW)
    assert not re.search(r"\d{4}-\d\d-\d\d|\d\d?[./]\d\d?[./]\d{2,4}", digest.text)


def test_text_and_html_lead_to_the_same_places(flown, bulletin, told_of) -> None:
    [digest] = told_of(NOW)
    in_text = {line for line in digest.text.splitlines() if line.startswith("http")}
    assert set(links_of(digest.html)) == in_text
    assert len(in_text) == 3  # hours, engine, preferences
    assert all(link.startswith("http://127.0.0.1:8000/") for link in in_text)


def test_lines_of_the_text_are_short_but_for_addresses(
    flown, bulletin, told_of
) -> None:
    [digest] = told_of(NOW)
    lines = digest.text.splitlines()
    assert all(len(line) <= 76 or line.startswith("http") for line in lines)
    assert "\n\n\n" not in digest.text
    assert "\xa0" not in digest.text


def test_the_html_loads_nothing_and_knows_the_dark(flown, bulletin, told_of) -> None:
    [digest] = told_of(NOW)
    tags = tags_of(digest.html)
    assert not tags.keys() & {"img", "script", "link", "iframe", "form", "svg"}
    assert "url(" not in digest.html
    assert "@import" not in digest.html
    assert '<meta name="color-scheme" content="light dark">' in digest.html
    assert "prefers-color-scheme: dark" in digest.html


def test_the_head_of_the_chain_stands_in_the_digest(
    flown, bulletin, told_of, technician, make_provision
) -> None:
    other = make_provision(rule__action=PAST)
    done = entry(NOW, hours=52_000, provision=other)
    record = changes.record_work(technician, flown, done, at=moment(NOW, 8))
    [digest] = told_of(NOW)
    assert f"1 record, head of the chain {record.hash[:16]}" in digest.text


def test_what_may_be_overdue_asks_to_read_the_meter(
    flown, make_provision, told_of
) -> None:
    make_provision(
        number="SB-24-011", rule__action={"initial": {"hours": 521, "after": "new"}}
    )
    [message] = told_of(date(2026, 12, 20))
    assert message.subject.endswith("SB-24-011 may be overdue")
    assert "May be overdue: read the meter, last read on 24 Nov 2026." in message.text


def test_a_missing_fact_is_named_with_whom_to_tell(
    flown, make_provision, told_of
) -> None:
    make_provision(
        number="SB-24-011",
        rule__condition={"ask": "Is the mark seen?"},
        rule__action={},
    )
    [message] = told_of(NOW)
    assert message.subject.endswith("SB-24-011 may apply, a fact is missing")
    assert "Missing, tell Tarn Engine Shop:\n  - the answer to the" in message.text


@pytest.mark.parametrize("base", ["https://tracker.example", "http://127.0.0.1:8000"])
def test_one_click_is_offered_over_https_on_what_may_be_ended(
    base, flown, make_provision, told_of, settings
) -> None:
    """RFC 8058, section 3.1: one HTTPS address, and the one pair beside it."""
    settings.BASE_URL = base
    make_provision(rule__action=IN_50, category="recommended")
    [message] = told_of(NOW)
    assert not message.mandatory
    address = unsubscribe_url(flown.owner)
    assert address in message.text
    assert address in message.html
    pair = {
        name: value
        for name, value in message.headers.items()
        if name.startswith("List-")
    }
    expected = {
        "List-Unsubscribe": f"<{address}>",
        "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
    }
    assert pair == (expected if base.startswith("https:") else {})


def test_what_is_mandatory_offers_no_end(flown, bulletin, told_of, settings) -> None:
    settings.BASE_URL = "https://tracker.example"
    [message] = told_of(NOW)
    assert message.mandatory
    assert "/unsubscribe/" not in message.text + message.html
    assert not any(name.startswith("List-") for name in message.headers)
    assert "Only Tarn Engine Shop can end that" in joined(message.text)


def test_a_mail_program_keeps_mails_of_one_engine_together(
    flown, make_engine, make_provision, told_of
) -> None:
    make_provision(rule__action=PAST)
    [first] = told_of(NOW)
    make_provision(rule__action=IN_50)
    [second] = told_of(date(2026, 11, 25))
    assert first.headers["References"] == second.headers["References"]
    make_engine(owner=flown.owner, serial="4022")
    [of_both, *_] = [m for m in told_of(date(2026, 11, 26)) if m.kind == "digest"]
    assert of_both.engine is not None
    assert of_both.headers["References"] != first.headers["References"]


def test_it_arrives_as_it_was_written(flown, bulletin, told_of, sink: Sink) -> None:
    [message] = told_of(NOW)
    deliver_due(moment(NOW, 10))
    [taken] = sink.taken
    assert taken.recipients == ("marrow@post.example",)
    mail = cast(Any, message_from_bytes(taken.content, policy=default))
    assert mail["Subject"] == message.subject
    assert mail["From"].addresses[0].display_name == "Tarn Engine Shop"
    assert mail["Auto-Submitted"] == "auto-generated"  # RFC 3834, section 5
    assert mail["Message-ID"] == message.message_id
    assert mail["References"] == message.headers["References"]
    assert body_of(mail, "plain").split() == message.text.split()
    assert body_of(mail, "html").split() == message.html.split()


@pytest.fixture
def row(flown: Engine, bulletin: Provision, told_of: Callable[..., Any]) -> Any:
    told_of(NOW)
    found = Finding.objects.for_list().select_related("engine__standing")
    owner = Owner.objects.select_related("station", "preference").get()

    def read() -> Any:
        finding = found.get()
        finding.engine.owner = owner
        [made] = rows_of([finding], owner, {}, on=NOW)
        return made

    return read()


@hypothesis_settings(
    max_examples=300 if os.environ.get("CI") else 50,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@example(texts=dict.fromkeys(PLAIN, "".join(PIECES)))
@given(texts=TEXTS)
def test_no_text_adds_a_header_a_recipient_or_an_element(
    row: Any, texts: dict[str, str]
) -> None:
    assert faults(written(texts, row), written(PLAIN, row)) == []


def test_the_search_finds_what_a_text_could_do(row: Any) -> None:
    plain = written(PLAIN, row)
    broken: Message = written(PLAIN, row)
    broken.html = broken.html.replace("plain", "<b>plain</b><a href='x'>x</a>", 1)
    assert len(faults(broken, plain)) == 2


@given(text=HOSTILE)
def test_the_first_lines_of_a_text_are_ours(text: str) -> None:
    for line in (*paragraphs(text), *lines([text])):
        assert line == line.strip()
        assert len(line.splitlines()) == 1
        assert one_line(line) == line
        assert not set(line) & {"\u202e", "\x00", "\ufeff"}


def test_an_overhaul_interval_says_with_whom_to_agree(
    evaluated, interval, owner, told_of
) -> None:
    evaluated("commercial", owner=owner)
    law = {"hours": 500, "since": "overhaul", "binding": ["commercial"]}
    interval({"id": "base", "kind": "base", **law})
    [message] = told_of(NOW)
    assert message.subject.endswith("SI-18-001 is overdue")
    assert "Agree on the overhaul with Tarn Engine Shop." in message.text
