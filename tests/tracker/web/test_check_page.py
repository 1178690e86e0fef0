"""The check page without an account: what it says, what it refuses, what it keeps.

Of the rules for public pages: nothing is stored by looking, unknown and switched off
look alike, answers are kept by nobody on the way (RFC 9111, 5.2.2.5: no-store).
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import hypothesis
import pytest
from django.apps import apps
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from hypothesis import strategies as st

from notices.models import Provision
from tests.factories.accounts import StationFactory
from tests.factories.fleet import EngineTypeFactory, OwnerFactory
from tests.factories.notices import RevisionFactory
from tests.tracker.web.reading import rows_of, words
from tracker.accounts.access import Viewer
from tracker.accounts.models import Station
from tracker.compliance import changes
from tracker.compliance.models import Enquiry
from tracker.compliance.open_check import Fact, Kind
from tracker.fleet.register import FittingFacts

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("clock_stands")]

PAGE = reverse("web:check", args=["lowmoor"])
CONTACT = reverse("web:check-contact", args=["lowmoor"])
SENT = reverse("web:check-sent", args=["lowmoor"])
LISTED = "Is the serial listed in table 1?"


@pytest.fixture
def station() -> Station:
    """A station whose check page is open."""
    return StationFactory(
        name="Lowmoor Engines", check_is_open=True, check_address="lowmoor"
    )


@pytest.fixture
def visitor() -> Client:
    """Somebody without an account; the token of a form is asked for where it must be."""
    return Client(enforce_csrf_checks=True)


@pytest.fixture
def send(visitor: Client, station: Station) -> Callable[..., HttpResponse]:
    """Return the answer to an engine MX-4 of which only this is told."""

    def post(**told: str) -> HttpResponse:
        return visitor.post(PAGE, {"type": "MX-4", **told})  # type: ignore[return-value]  # the test client's own

    return post


def said(response: HttpResponse) -> str:
    return words(response.content.decode())


def carried(response: HttpResponse) -> dict[str, list[tuple[str, str]]]:
    """Return what goes unseen with the forms of a page, by name: values and forms."""
    found: dict[str, list[tuple[str, str]]] = {}
    page = response.content.decode()
    for form, inside in re.findall(r"<form ([^>]*)>(.*?)</form>", page, re.S):
        of = re.search(r'id="([^"]+)"', form)
        hidden = re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', inside)
        for name, value in hidden:
            found.setdefault(name, []).append((value, of[1] if of else ""))
    return found


def everything() -> str:
    """A digest of every row of every table, sessions and the framework's own included."""
    total = hashlib.sha256()
    with connection.cursor() as cursor:
        for model in apps.get_models():
            table = connection.ops.quote_name(model._meta.db_table)
            cursor.execute(f"SELECT * FROM {table} ORDER BY 1")  # noqa: S608  # our own names
            for row in cursor:
                total.update(repr(row).encode())
    return total.hexdigest()


# Where there is a page


def test_switched_off_and_unknown_look_alike(visitor: Client, station: Station) -> None:
    assert visitor.get(PAGE).status_code == 200
    Station.objects.update(check_is_open=False)
    off, unknown = visitor.get(PAGE), visitor.get("/check/nowhere/")
    assert off.status_code == unknown.status_code == 404
    assert off.content == unknown.content
    for address in (PAGE, CONTACT):
        assert visitor.post(address, {"type": "MX-4"}).status_code in (403, 404)
    assert Client().post(CONTACT, {"type": "MX-4"}).status_code == 404
    assert Client().post(PAGE, {"type": "MX-4"}).status_code == 404
    assert visitor.get(SENT).status_code == 404


def test_a_type_is_chosen_among_those_that_documents_name(
    visitor: Client, station: Station, make_provision: Any
) -> None:
    for name in ("MX-4", "MX-9"):
        EngineTypeFactory(station=station, designation=name)
    revision = make_provision().revision
    revision.applicability = {"type": ["MX-4*"]}
    revision.save(update_fields=["applicability"])
    page = visitor.get(PAGE).content.decode()
    assert f'href="{PAGE}?type=MX-4"' in page
    assert "MX-9" not in page
    assert "Your MX-4" in said(visitor.get(PAGE, {"type": "MX-4"}))


def test_a_type_that_is_typed_stands_in_no_address(
    visitor: Client, station: Station
) -> None:
    page = visitor.get(PAGE).content.decode()
    assert f'<form class="search" method="post" action="{PAGE}">' in page
    begun = visitor.post(PAGE, {"type": "MX-77", "begin": "1"})
    assert begun.status_code == 200
    assert "Your MX-77" in said(begun)
    assert "There is no answer yet." not in said(begun)


@pytest.mark.both
@pytest.mark.parametrize("name", ["", "  ", "x" * 61, "MX\x00", "MX\u202e4"])
def test_what_is_no_type_leads_back_to_the_choice(
    visitor: Client, station: Station, name: str
) -> None:
    for answer in (
        visitor.get(PAGE, {"type": name}),
        visitor.post(PAGE, {"type": name}),
    ):
        assert answer.status_code == 200
        assert "Which type?" in said(answer)


# What it says


def test_each_provision_stands_under_what_is_said_of_it(
    send: Any, make_provision: Any
) -> None:
    make_provision(
        number="SB-1", rule__condition={"serial": ["4001..4987"]}, rule__action={}
    )
    make_provision(number="SB-2", rule__condition={"serial": ["1..9"]}, title="Old")
    make_provision(number="SB-3", rule__condition={"ask": LISTED}, rule__action={})
    answer = send(serial="4118")
    rows = [row for row in rows_of(answer) if row.startswith(("nothing", "undet"))]
    assert [row.split(" rev.")[0] for row in rows] == [
        "nothing due SB-1",
        "undetermined SB-3",
    ]
    text = said(answer)
    assert "Serial number 4118 is from 4001 to 4987." in text
    assert "1 provision was looked at and does not apply." in text
    assert "Serial number 4118 is not from 1 to 9." in text
    assert "3 current documents with 3 provisions were gone through." in text


def test_a_fact_that_would_decide_is_asked_beside_the_answer_and_taken(
    send: Any, make_provision: Any
) -> None:
    make_provision(rule__condition={"ask": LISTED}, rule__action={})
    key = Fact(kind=Kind.QUESTION, name=LISTED).key
    page = send().content.decode()
    assert page.count(f'name="{key}"') == 1
    assert f'<select name="{key}" form="check"' in page
    assert "What cannot be said" in said(send())
    settled = send(**{key: "yes"})
    assert "Of every document it is decided whether it applies" in said(settled)
    # what was told goes with the next answer, too
    assert ("yes", "check") in carried(settled)[key]


def test_a_field_stands_once_on_the_page_however_many_hang_on_it(
    send: Any, make_provision: Any
) -> None:
    for _ in range(3):
        make_provision(rule__condition={"embodied": "MOD-41"}, rule__action={})
    key = Fact(kind=Kind.WORK, name="MOD-41").key
    page = send().content.decode()
    assert page.count(f'name="{key}"') == 1
    names = re.findall(r'<(?:input|select) [^>]*name="([^"]+)" form="check"', page)
    assert key in names
    assert len(names) == len(set(names))


def test_of_a_complete_list_what_is_not_marked_was_not_done(
    send: Any, make_provision: Any
) -> None:
    """It speaks of the list above it, and of no other work."""
    make_provision(
        number="SB-1",
        rule__condition={
            "all": [{"not": {"embodied": "MOD-1"}}, {"embodied": "MOD-2"}]
        },
    )
    marked = {Fact(kind=Kind.WORK, name="MOD-2").key: "yes"}
    assert "undetermined SB-1" in said(send(**marked))
    settled = said(send(complete="on", **marked))
    assert "applies SB-1" in settled
    assert "due goes by: whether and when SB-1 was done" in settled


def test_the_answer_says_on_what_it_rests(send: Any, make_provision: Any) -> None:
    make_provision()
    text = said(send(serial="4118", hours="1197.5", uses="private"))
    assert "Computed on 24 November 2026 from what you entered." in text
    assert "Nothing was stored." in text
    assert "The current document and the rules of the authority prevail" in text
    for entry in ("Serial number 4118", "Time since new 1 197.5 h", "private only"):
        assert entry in text.replace("\u202f", " ").replace("\xa0", " ")


def test_markup_in_what_was_told_is_shown_as_text(send: Any) -> None:
    page = send(serial="<script>alert(1)</script>").content.decode()
    assert "<script" not in page
    assert "&lt;script&gt;" in page


@pytest.mark.parametrize("serial", ["5OO2", "abc", "K-650", "\N{NUT AND BOLT}"])
def test_by_a_serial_that_is_none_of_the_type_nothing_is_ruled_out(
    send: Any, station: Station, make_provision: Any, serial: str
) -> None:
    EngineTypeFactory(station=station, designation="MX-4", serial_pattern="#")
    make_provision(number="SB-1", rule__condition={"serial": ["4001..4987"]})
    answer = send(serial=serial)
    assert answer.status_code == 200
    assert f"{serial} is not a serial number of this type (digits only)" in said(answer)
    assert "undetermined SB-1" in said(answer)
    assert 'name="serial"' in answer.content.decode()
    assert "is not a serial number" not in said(send(serial="4118"))


def test_nought_hours_are_hours(send: Any, make_provision: Any) -> None:
    make_provision()
    assert "Time since new 0.0 h" in said(send(hours="0")).replace("\xa0", " ")


def test_a_property_can_be_none_of_those_that_rules_name(
    send: Any, visitor: Client, make_provision: Any
) -> None:
    """Where several provisions go by it, it is asked for at once."""
    stored = {"attribute": "preservation", "in": ["long-term"]}
    make_provision(number="SB-1", rule__condition=stored)
    make_provision(number="SB-2", rule__condition={"not": stored})
    make_provision(
        number="SB-3", rule__condition={"attribute": "filter", "in": ["full flow"]}
    )
    first = visitor.get(PAGE, {"type": "MX-4"}).content.decode()
    key = Fact(kind=Kind.ATTRIBUTE, name="preservation").key
    assert f'name="{key}"' in first
    assert Fact(kind=Kind.ATTRIBUTE, name="filter").key not in first
    answer = said(send(**{key: "none of these"}))
    assert "applies SB-2" in answer
    assert "undetermined SB-1" not in answer
    assert "Preservation none of these" in answer


def test_work_that_cannot_matter_for_the_type_is_not_asked_for(
    visitor: Client, station: Station, make_provision: Any
) -> None:
    make_provision(
        rule__condition={
            "any": [
                {"all": [{"type": ["LMX-4"]}, {"embodied": "MOD-9"}]},
                {"embodied": "MOD-41"},
            ]
        }
    )
    make_provision(
        rule__condition={"all": [{"type": ["MX-4"]}, {"embodied": "SB-24-011"}]}
    )
    of = {name: said(visitor.get(PAGE, {"type": name})) for name in ("MX-4", "LMX-4")}
    assert "SB-24-011" in of["MX-4"]
    assert "SB-24-011" not in of["LMX-4"]
    assert "MOD-41" in of["LMX-4"]


# What it refuses


@pytest.mark.parametrize(
    ("told", "message"),
    [
        ({"built": "2026-02-30"}, "is not a date. Write it as 2026-05-31."),
        ({"built": "2027-01-01"}, "This day lies ahead."),
        ({"hours": "1,234"}, "is not a number of hours."),
        ({"hours": "200000"}, "are more than the most that is taken"),
        ({"serial": "4" * 61}, "at most 60 characters"),
        (
            {"overhauled": "no", "overhauled_on": "2020-01-01"},
            "It was never overhauled, and below stands when.",
        ),
        (
            {"hours": "500", "overhauled_hours": "600"},
            "The engine has only 500.0 h since new.",
        ),
        (
            {"built": "2020-01-01", "overhauled_on": "2019-01-01"},
            "This is before the date of manufacture.",
        ),
        ({"fuel": "unleaded", "fuel_share": "10"}, "Only a mix has a share."),
        ({"fuel": "mix", "fuel_share": "101"}, "less than or equal to 100"),
        ({"fuel_share": "-1"}, "greater than or equal to 0"),
        (
            {"built": "2018-01-01", "hours": "99999"},
            "From 1 Jan 2018 to 24 Nov 2026 there were only 78 000.0 h.",
        ),
        (
            {
                "built": "2026-01-01",
                "hours": "99",
                "overhauled_on": "2026-01-02",
                "overhauled_hours": "50",
            },
            "From 1 Jan 2026 to 2 Jan 2026 there were only 48.0 h.",
        ),
        (
            {"oil_low": "-300", "oil_high": "80"},
            "No temperature is as low as this one.",
        ),
        (
            {"ambient_low": "-460", "ambient_high": "80", "ambient_unit": "F"},
            "No temperature is as low as this one.",
        ),
        ({"oil_low": "80"}, "A range has two ends."),
        ({"oil_low": "110", "oil_high": "80"}, "This end is lower than the other"),
        ({"oil_low": "warm", "oil_high": "80"}, "Enter a number."),
        ({"uses": "racing"}, "Select a valid choice."),
        ({"overhauled_by": "nobody"}, "Select a valid choice."),
    ],
)
def test_what_cannot_be_is_refused_with_the_reason(
    send: Any, station: Station, told: dict[str, str], message: str
) -> None:
    answer = send(**told)
    assert answer.status_code == 422
    assert message in said(answer).replace("\xa0", " ").replace("\u202f", " ")
    assert "There is no answer yet." in said(answer)
    assert 'aria-invalid="true"' in answer.content.decode()


@pytest.mark.parametrize(
    ("suffix", "value", "message"),
    [
        ("-on", "2027-01-01", "This day lies ahead."),
        ("-on", "2019-12-31", "This is before the date of manufacture."),
        ("-hours", "600", "The engine has only 500.0 h since new."),
    ],
)
def test_what_is_told_of_work_is_checked_too(
    send: Any, make_provision: Any, suffix: str, value: str, message: str
) -> None:
    make_provision(rule__condition={"embodied": "MOD-41"})
    key = Fact(kind=Kind.WORK, name="MOD-41").key
    told = {"built": "2020-01-01", "hours": "500", key: "yes", f"{key}{suffix}": value}
    answer = send(**told)
    assert answer.status_code == 422
    assert message in said(answer).replace("\xa0", " ")
    contradiction = send(**{key: "no", f"{key}-on": "2020-05-05"})
    assert "Below stands when." in said(contradiction)


def test_a_large_library_asks_for_no_more_than_a_form_can_take(
    send: Any, make_provision: Any, settings: Any
) -> None:
    """What a browser sends stays under the most fields that are taken at once."""
    for number in range(120):
        make_provision(rule__condition={"ask": f"Question {number}?"})
    answer = send()
    fields = re.findall(r"<(?:input|select) ", answer.content.decode())
    assert 100 < len(fields) < settings.DATA_UPLOAD_MAX_NUMBER_FIELDS / 2
    assert "asked once others are known" in said(answer)


EVERY_KIND = {
    "any": [
        {"serial": ["4001..4987"]},
        {"built": {"from": "2015-01-01"}},
        {"overhauled": {"by": ["maker"]}},
        {"hours": {"since": "overhaul", "over": 500}},
        {"complied": "SB-1", "revisions": ["2"], "when": {"after": "2020-01-01"}},
        {"attribute": "drive", "in": ["geared"]},
        {"rebuilt": True},
        {"part": {"role": "fuel pump", "where": {"change": {"from": "K"}}}},
    ]
}
TOLD = st.one_of(
    st.sampled_from(["yes", "no", "geared", "maker", "private", "mix", "on", "K"]),
    st.dates(date(1950, 1, 1), date(2030, 1, 1)).map(str),
    st.integers(-1, 10**8).map(str),
    st.text(max_size=20),
)


def test_whatever_is_sent_is_answered_or_refused(
    station: Station, make_provision: Any, settings: Any
) -> None:
    settings.ACCOUNT_RATE_LIMITS = {}
    make_provision(rule__condition=EVERY_KIND)
    make_provision(
        role="magneto",
        rule__action={
            "initial": {"hours": 100, "after": {"event": "propeller strike"}},
            "repeat": {"months": 12, "after": "last done"},
            "ends_with": ["MOD-2"],
        },
    )
    page = Client().get(PAGE, {"type": "MX-4"}).content.decode()
    page += Client().post(PAGE, {"type": "MX-4"}).content.decode()
    found = re.findall(r'<(?:input|select)[^>]* name="([^"]+)"', page)
    names = sorted(set(found) - {"type"})
    assert len(names) > 25

    @hypothesis.given(st.dictionaries(st.sampled_from(names), TOLD))
    @hypothesis.settings(max_examples=60)
    def answered_or_refused(told: dict[str, str]) -> None:
        answer = Client().post(PAGE, {"type": "MX-4", **told})
        assert answer.status_code in (200, 422)

    answered_or_refused()


def test_a_fact_that_no_document_asks_for_is_not_taken(send: Any) -> None:
    key = Fact(kind=Kind.QUESTION, name="Is it red?").key
    answer = send(**{key: "yes"})
    assert answer.status_code == 200
    assert key not in answer.content.decode()


# What it keeps: nothing


@pytest.mark.both
def test_no_row_of_any_table_changes_and_no_cookie_is_set(
    send: Any, visitor: Client, make_provision: Any
) -> None:
    make_provision()
    before = everything()
    for answer in (
        visitor.get(PAGE),
        visitor.get(PAGE, {"type": "MX-4"}),
        send(serial="4118", hours="1197.5"),
        send(serial="4118", hours="wrong"),
        send(serial="4118", contact="1"),
    ):
        assert answer.status_code in (200, 422)
    assert everything() == before
    # only the page with a form that stores something carries a token
    assert set(visitor.cookies) == {"csrftoken"}
    fresh = Client()
    assert not fresh.post(PAGE, {"type": "MX-4", "serial": "1"}).cookies
    assert not fresh.get(PAGE, {"type": "MX-4"}).cookies


def test_what_was_told_stands_in_no_address(send: Any, make_provision: Any) -> None:
    make_provision(rule__condition={"ask": LISTED})
    page = send(serial="SECRET-77", hours="1197.5").content.decode()
    for address in re.findall(r'(?:href|src|action)="([^"]*)"', page):
        assert "SECRET" not in address
        assert "1197" not in address
    assert 'method="post"' in page


def test_answers_are_kept_and_listed_by_nobody(send: Any, visitor: Client) -> None:
    for answer in (send(serial="1"), send(hours="x"), send(contact="1")):
        assert answer["Cache-Control"] == "no-store"
        assert answer["X-Robots-Tag"] == "noindex"
        assert answer["Referrer-Policy"] == "same-origin"
    assert "X-Robots-Tag" not in visitor.get(PAGE)


def test_nothing_of_a_customer_a_draft_or_a_person_is_in_the_answer(
    send: Any, make_provision: Any, make_engine: Any, station: Station
) -> None:
    """The same type, the same serial, and not a word of what the station knows of it."""
    kind = EngineTypeFactory(station=station, designation="MX-4")
    owner = OwnerFactory(station=station, name="Ragna Holt", email="r@holt.example")
    made = make_provision(title="Look at the pump", rule__action={})
    Provision.objects.filter(pk=made.pk).update(description="Only for the shop")
    draft = RevisionFactory(
        publication=made.revision.publication, label="DRAFT-9", summary="Not yet"
    )
    make_provision(revision=draft, title="In the draft", rule__action={})
    make_engine(
        engine_type=kind,
        serial="4118",
        owner=owner,
        hours=(77_700, 88_800),
        fitting=FittingFacts(
            fitted=True, aircraft_type="TR-20", registration="ZZ-SECRET"
        ),
    )
    text = said(send(serial="4118"))
    assert "Look at the pump" in text
    for hidden in (
        "Holt", "ZZ-SECRET", "888", "777", "TR-20", "DRAFT-9", "In the draft",
        "Not yet", "Only for the shop", made.revision.entered_by.name,
    ):  # fmt: skip
        assert hidden not in text, hidden
    assert "/documents/" not in send(serial="4118").content.decode()


def test_the_answer_is_the_same_whatever_engines_the_station_has(
    send: Any, make_provision: Any, make_engine: Any, station: Station
) -> None:
    kind = EngineTypeFactory(station=station, designation="MX-4")
    make_provision(rule__condition={"built": {"from": "2015-01-01"}})
    before = send(serial="4118").content
    make_engine(engine_type=kind, serial="4118")
    assert send(serial="4118").content == before


@pytest.mark.parametrize("notices", [1, 9])
def test_an_answer_takes_as_many_queries_for_many_notices(
    send: Any, make_provision: Any, django_assert_num_queries: Any, notices: int
) -> None:
    for _ in range(notices):
        make_provision(rule__condition={"ask": LISTED})
    # station; keys, rules; provisions about the interval, works they name; type
    with django_assert_num_queries(6):
        send(serial="4118", hours="1197.5")


def test_what_was_entered_can_be_changed_from_every_page(
    send: Any, visitor: Client, make_provision: Any
) -> None:
    """No browser keeps these pages to go back to: they send the entries again."""
    make_provision(rule__condition={"embodied": "MOD-41"})
    key = Fact(kind=Kind.WORK, name="MOD-41").key
    told = {"serial": "4118", "hours": "1197.5", "oil_low": "75", "oil_high": "105"}
    answer = send(**told, **{key: "yes"})
    asked = send(**told, contact="1", **{key: "yes"})
    for page in (answer, asked):
        text = page.content.decode()
        assert "Change what you entered</button>" in text
        again = {name: values[0][0] for name, values in carried(page).items()}
        assert again.items() >= {**told, key: "yes", "type": "MX-4"}.items()
        again.pop("csrfmiddlewaretoken", None)
        changing = visitor.post(PAGE, {**again, "change": "1"})
        assert changing.status_code == 200
        assert changing["Cache-Control"] == "no-store"
        for value in ("4118", "1197.5", "75", "105"):
            assert f'value="{value}"' in changing.content.decode()
    assert "Send nothing: back to the answer</button>" in asked.content.decode()


def test_an_answer_loses_nothing_of_what_was_entered(
    send: Any, make_provision: Any
) -> None:
    """What stands in no field beside the answers goes with the form unseen."""
    make_provision(rule__condition={"ask": LISTED})
    answer = send(serial="4118", hours="1197.5", fuel="unleaded")
    unseen = carried(answer)
    for name, value in (("serial", "4118"), ("hours", "1197.5"), ("fuel", "unleaded")):
        assert (value, "check") in unseen[name]


def test_browsers_may_fill_in_again_what_was_entered(
    visitor: Client, station: Station
) -> None:
    page = visitor.get(PAGE, {"type": "MX-4"}).content.decode()
    assert 'name="hours"' in page
    assert 'autocomplete="off"' not in page.partition("<main")[2]


# How often


def test_too_many_checks_from_one_address_are_refused(
    send: Any, visitor: Client, settings: Any, station: Station
) -> None:
    settings.ACCOUNT_RATE_LIMITS = {"check": "2/m/ip"}
    assert [send().status_code for _ in range(3)] == [200, 200, 429]
    refused = send()
    assert "Wait a few minutes, then try again." in said(refused)
    assert refused["Cache-Control"] == "no-store"
    assert visitor.get(PAGE).status_code == 200
    elsewhere = Client(REMOTE_ADDR="198.51.100.7")
    assert elsewhere.post(PAGE, {"type": "MX-4"}).status_code == 200


def test_what_a_proxy_forwards_is_only_believed_where_one_stands(
    send: Any, settings: Any, station: Station
) -> None:
    settings.ACCOUNT_RATE_LIMITS = {"check": "1/m/ip"}
    answers = [
        Client(headers={"X-Forwarded-For": f"203.0.113.{n}"}).post(
            PAGE, {"type": "MX-4"}
        )
        for n in range(2)
    ]
    assert [answer.status_code for answer in answers] == [200, 429]


# Ask the station


CONTACTED = {
    "type": "MX-4",
    "serial": "4118",
    "hours": "1197.5",
    "name": "Ragna Holt",
    "email": "ragna@post.example",
    "message": "Can you embody it in spring?",
}


@pytest.fixture
def leave() -> Callable[..., HttpResponse]:
    def post(**changed: str) -> HttpResponse:
        return Client().post(CONTACT, {**CONTACTED, **changed})  # type: ignore[return-value]  # the test client's own

    return post


@pytest.mark.both
def test_only_a_message_to_the_station_is_stored(
    leave: Any, station: Station, make_provision: Any, visitor: Client, now: Any
) -> None:
    made = make_provision()
    answer = leave()
    assert answer.status_code == 302
    assert answer["Location"] == SENT
    assert "Your message has been sent" in said(visitor.get(SENT))
    kept = Enquiry.objects.get()
    assert (kept.station, kept.name, kept.email) == (
        station,
        "Ragna Holt",
        "ragna@post.example",
    )
    assert kept.received_at == now
    assert kept.engine == "MX-4, serial 4118"
    entries = dict(kept.described["entries"])
    assert entries["Serial number"] == "4118"
    assert entries["Time since new"].replace("\u202f", "") == "1197.5\xa0h"
    assert kept.described["on"] == "2026-11-24"
    lines = kept.answer.splitlines()
    assert lines[0].startswith("Answered on 24 November 2026, ")
    assert lines[1].endswith(".")
    assert lines[-1] == f"Applies: {made.revision.publication.number}."


def test_the_form_carries_what_was_entered_and_asks_for_its_token(
    send: Any, visitor: Client, make_provision: Any
) -> None:
    make_provision(rule__condition={"embodied": "MOD-41"})
    key = Fact(kind=Kind.WORK, name="MOD-41").key
    asked = send(serial="4118", contact="1", **{key: "yes"})
    page = asked.content.decode()
    assert "Ask Lowmoor Engines to contact you" in said(asked)
    hidden = dict(re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', page))
    token = hidden.pop("csrfmiddlewaretoken")
    assert hidden == {"type": "MX-4", "serial": "4118", key: "yes"}
    person = {"name": "Ragna Holt", "telephone": "01 23 45"}
    assert visitor.post(CONTACT, {**hidden, **person}).status_code == 403
    sent = {**hidden, **person, "csrfmiddlewaretoken": token}
    assert visitor.post(CONTACT, sent).status_code == 302
    [[_, number], [_, done]] = Enquiry.objects.get().described["entries"][1:]
    assert (number, done) == ("4118", "yes")


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"name": ""}, "This field is required."),
        ({"name": "x" * 121}, "at most 120 characters"),
        ({"email": ""}, "Give an e-mail address or a telephone number."),
        ({"email": "nobody"}, "Enter a valid email address."),
        ({"email": "a@b.example\nBcc: c@d.example"}, "Enter a valid email address."),
        ({"telephone": "1" * 41}, "at most 40 characters"),
        ({"message": "x" * 2001}, "at most 2000 characters"),
        ({"website": "http://spam.example"}, "This field is there for robots."),
    ],
)
def test_a_message_that_cannot_be_taken_is_refused_and_nothing_is_stored(
    leave: Any, station: Station, changed: dict[str, str], message: str
) -> None:
    answer = leave(**changed)
    assert answer.status_code == 422
    assert message in said(answer)
    assert "Nothing has been sent yet." in said(answer)
    assert not Enquiry.objects.exists()


def test_an_engine_that_cannot_be_is_not_sent(leave: Any, station: Station) -> None:
    answer = leave(hours="many")
    assert answer.status_code == 422
    assert "is not a number of hours." in said(answer)
    assert not Enquiry.objects.exists()


def test_messages_are_limited_by_address_and_by_station(
    leave: Any, station: Station, settings: Any
) -> None:
    settings.ACCOUNT_RATE_LIMITS = {"enquiry": "2/h/ip,3/d/key"}
    assert [leave().status_code for _ in range(3)] == [302, 302, 429]
    elsewhere = [
        Client(REMOTE_ADDR=f"198.51.100.{n}").post(CONTACT, CONTACTED).status_code
        for n in range(2)
    ]
    assert elsewhere == [302, 429]
    assert Enquiry.objects.count() == 3
    StationFactory(check_is_open=True, check_address="other")
    other = reverse("web:check-contact", args=["other"])
    answer = Client(REMOTE_ADDR="198.51.100.9").post(other, CONTACTED)
    assert answer.status_code == 302


def test_a_refused_message_does_not_count(
    leave: Any, station: Station, settings: Any
) -> None:
    settings.ACCOUNT_RATE_LIMITS = {"enquiry": "1/h/ip"}
    assert leave(name="").status_code == 422
    assert leave().status_code == 302


def test_the_address_of_the_form_alone_leads_to_the_check(
    visitor: Client, station: Station
) -> None:
    assert visitor.get(CONTACT)["Location"] == PAGE
    assert Client().post(CONTACT, {"name": "X"})["Location"] == PAGE


# The interval


@pytest.fixture
def intervals(make_provision: Any) -> None:
    both: dict[str, Any] = {"years": 12, "since": "overhaul"}
    base = make_provision(
        kind="SI",
        number="SI-1",
        title="1,500 h",
        rule__interval={"id": "base", "kind": "base", "hours": 1500, **both},
        rule__action={},
    )
    longer = make_provision(
        revision=base.revision,
        title="1,800 h",
        rule__interval={"id": "longer", "kind": "extension", "hours": 1800, **both},
        rule__condition={"embodied": "SB-1"},
        rule__action={},
    )
    about = Provision.objects.filter(pk__in=[base.pk, longer.pk])
    about.update(kind=Provision.Kind.INTERVAL)
    make_provision(number="SB-1", embodies=["SB-1"], man_hours=1400)


@pytest.mark.parametrize(
    ("done", "verdict"),
    [
        ("", "That cannot be said yet"),
        ("yes", "Yes, a longer interval applies"),
        ("no", "Not yet, but a longer interval is within reach"),
    ],
)
@pytest.mark.usefixtures("intervals")
def test_the_owners_question_is_answered_first(
    send: Any, done: str, verdict: str
) -> None:
    key = Fact(kind=Kind.WORK, name="SB-1").key
    answer = send(
        serial="4118",
        built=str(date(2026, 11, 24) - timedelta(days=2000)),
        hours="1197.5",
        overhauled="no",
        uses="private",
        **({key: done} if done else {}),
    )
    page = answer.content.decode()
    heading = re.search(r"<h1>(.*?)</h1>", page, re.S)
    assert heading
    assert words(heading[1]) == verdict
    assert page.index("Overhaul interval</h2>") < page.index("What applies</h2>")
    assert "<svg" in page.partition("Overhaul interval</h2>")[2]


FEED: dict[str, Any] = {
    "id": "longer",
    "kind": "extension",
    "hours": 1800,
    "years": 12,
    "since": "overhaul",
    "enter_by": {"hours": 1500},
}


@pytest.mark.parametrize(
    ("told", "verdict"),
    [
        ({}, "cannot be said yet"),
        ({"-hours": "1490"}, "Yes, a longer interval applies"),
        ({"-hours": "1500"}, "Yes, a longer interval applies"),
    ],
)
def test_past_the_bound_it_is_asked_when_the_work_was_done(
    send: Any, make_provision: Any, told: dict[str, str], verdict: str
) -> None:
    both: dict[str, Any] = {"years": 12, "since": "overhaul"}
    base = make_provision(
        number="SI-1",
        rule__interval={"id": "base", "kind": "base", "hours": 1500, **both},
        rule__action={},
    )
    longer = make_provision(
        revision=base.revision,
        rule__interval=FEED,
        rule__condition={"embodied": "SB-1"},
        rule__action={},
    )
    about = Provision.objects.filter(pk__in=[base.pk, longer.pk])
    about.update(kind=Provision.Kind.INTERVAL)
    make_provision(number="SB-1", embodies=["SB-1"], rule__action={})
    key = Fact(kind=Kind.WORK, name="SB-1").key
    engine = {"built": "2020-01-01", "hours": "1550", "overhauled": "no"}
    details = {f"{key}{end}": value for end, value in told.items()}
    page = send(**engine, **{key: "yes"}, **details).content.decode()
    heading = re.search(r"<h1>(.*?)</h1>", page, re.S)
    assert heading
    assert verdict in words(heading[1])
    if not told:
        assert f'name="{key}-hours"' in page
        assert f'name="{key}-on"' in page
    denied = send(**engine, **{key: "no"}).content.decode()
    assert f'name="{key}-hours"' not in denied


def test_without_a_provision_about_it_the_page_says_so(
    send: Any, make_provision: Any
) -> None:
    make_provision()
    text = said(send(serial="4118"))
    assert "says anything of an overhaul interval for this engine." in text


@pytest.mark.usefixtures("intervals")
def test_somebody_who_is_signed_in_gets_no_link_into_the_service(
    station: Station, signed_in: Any, technician: Viewer
) -> None:
    """The engine of the page is nobody's: no form of the service could take it."""
    client = signed_in(technician)
    page = client.post(PAGE, {"type": "MX-4", "hours": "1000"}).content.decode()
    main = page.partition("<main")[2]
    assert "/engines/" not in main
    assert "/publications/" not in main


def test_an_enquiry_left_while_the_page_is_switched_off_is_refused(
    station: Station, now: Any
) -> None:
    Station.objects.update(check_is_open=False)
    entry = changes.EnquiryEntry(name="R", email="r@post.example", described={})
    with pytest.raises(ValueError, match="switched off"):
        changes.leave_enquiry(station, entry, at=now)
    assert not Enquiry.objects.exists()
