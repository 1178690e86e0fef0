"""The ledger by its forms: work recorded, transcribed in rows, voided, looked at."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from notices.models import Provision
from tests.factories.accounts import PASSWORD
from tests.factories.compliance import entry, past_entry
from tests.factories.notices import RevisionFactory
from tests.tracker.web.reading import words, words_of
from tracker.accounts.access import Viewer
from tracker.accounts.models import Role, Station, User
from tracker.compliance import changes
from tracker.compliance.ledger import FreeDocument
from tracker.compliance.models import Finding, Record
from tracker.fleet.models import Engine
from tracker.fleet.parts import Fit, PartEntry

pytestmark = pytest.mark.django_db

REPEATING = {
    "initial": {"hours": 50, "after": "effective"},
    "repeat": {"hours": 100, "after": "last done"},
}


def said(response: HttpResponse) -> str:
    return words(response.content.decode())


def work(**given: Any) -> dict[str, Any]:
    return {
        "on": "2026-11-24",
        "hours": "520",
        "method": "inspected",
        "description": "Fuel pump inspected, no wear found.",
        "done_by": "Jory Penhale",
        "approved_by": "Runa Tveit",
        "certificate_kind": "inspection authorization",
        "certificate_number": "ZZ-4471",
        "password": PASSWORD,
        **given,
    }


def recording(engine: Engine, provision: Provision) -> str:
    ids = [engine.public_id, provision.public_id]
    return reverse("web:engine-record-done", args=ids)


def of(name: str, engine: Engine) -> str:
    return reverse(f"web:{name}", args=[engine.public_id])


@pytest.fixture
def provision(make_provision: Callable[..., Provision]) -> Provision:
    return make_provision(number="SB-24-011", title="Inspect the fuel pump")


def test_work_is_recorded_under_a_provision_and_closes_its_finding(
    page: Client, engine: Engine, provision: Provision
) -> None:
    shown = words_of(page.get(recording(engine, provision)))
    assert "Last reading 520.0 h on 24 Nov 2026." in shown
    answer = page.post(
        recording(engine, provision), work(airframe_hours="900.5"), follow=True
    )
    record = Record.objects.get()
    assert answer.redirect_chain[-1][0] == reverse(
        "web:engine-record", args=[record.public_id]
    )
    text = said(answer)
    assert "The record is added to the ledger" in text
    assert "Runa Tveit, inspection authorization ZZ-4471" in text
    assert "900.5 h" in text
    assert record.hash in text
    assert (record.provision, record.hours) == (provision, 52_000)
    assert Finding.objects.get().closed == "complied with"
    again = page.get(recording(engine, provision)).content.decode()
    assert 'value="ZZ-4471"' not in again, "it is the approval of somebody else"
    User.objects.filter(pk=record.recorded_by_id).update(name="Runa Tveit")
    own = page.get(recording(engine, provision)).content.decode()
    assert 'value="ZZ-4471"' in own, "their own approval is offered again"


def test_hours_past_the_last_reading_are_added_with_the_record(
    page: Client, engine: Engine, provision: Provision
) -> None:
    where, sent = recording(engine, provision), work(hours="520.4")
    first = page.post(where, sent)
    assert first.status_code == 422
    assert "Add these hours as a reading of that day" in said(first)
    assert first.context["form"]["description"].value() == sent["description"]
    del sent["password"]
    look = page.post(where, sent | {"add_reading": "on"})
    assert look.status_code == 200
    assert Engine.objects.get().hours_now == 52_040
    assert ("add_reading", "on") in look.context["entered"]
    again = work(hours="520.4", add_reading="on", password="wrong")
    assert page.post(where, again).status_code == 422
    assert page.post(where, again | {"password": PASSWORD}).status_code == 302
    assert Record.objects.get().hours == 52_040
    assert engine.readings.count() == 3


def test_a_reading_that_cannot_be_is_not_added_with_a_record(
    page: Client, engine: Engine, provision: Provision
) -> None:
    sent = work(hours="5200", add_reading="on")
    del sent["password"]
    answer = page.post(recording(engine, provision), sent)
    assert answer.status_code == 422
    assert "Nothing has been kept yet." in said(answer)
    assert Engine.objects.get().hours_now == 52_000


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"hours": ""}, "This cannot be left out."),
        (
            {"hours": "521"},
            "521.00 h is beyond the last reading, 520.00 h on 2026-11-24",
        ),
        ({"hours": "10,5,1"}, '"10,5,1" is not a number of hours.'),
        ({"on": "2026-11-25"}, "2026-11-25 lies in the future; today is 2026-11-24"),
        (
            {"on": "2019-01-01", "hours": "1"},
            "2019-01-01 is before the engine was made",
        ),
        ({"on": "2026-02-30"}, '"2026-02-30" is not a date.'),
        ({"approved_by": " "}, "This cannot be left out."),
        (
            {"method": "guessed"},
            "Choose one from the list; what was sent is not in it.",
        ),
        (
            {"method": "alternative method"},
            "Give the reference under which the alternative method was approved",
        ),
        ({"part": "x"}, ""),
        ({"result": "x" * 61}, "This has 61 characters; at most 60 are kept."),
    ],
)
def test_an_entry_that_cannot_be_right_is_refused_and_nothing_is_added(
    page: Client,
    engine: Engine,
    provision: Provision,
    given: dict[str, str],
    message: str,
) -> None:
    answer = page.post(recording(engine, provision), work(**given))
    if message:
        assert answer.status_code == 422
        assert message in said(answer)
        assert not Record.objects.exists()
    else:
        assert Record.objects.get().part is None, "a part is not asked for here"


@pytest.mark.parametrize("action", [None, REPEATING])
def test_the_same_work_sent_twice_is_refused_with_who_and_when(
    page: Client,
    engine: Engine,
    make_provision: Callable[..., Provision],
    technician: Viewer,
    action: dict[str, Any] | None,
) -> None:
    given = {} if action is None else {"rule__action": action}
    provision = make_provision(**given)
    page.post(recording(engine, provision), work())
    answer = page.post(recording(engine, provision), work())
    assert answer.status_code == 409
    assert (
        f"This is recorded already: entry 1 by {technician.user.name}, "
        "2026-11-24 09:30 UTC. If that entry is wrong, void it first."
    ) in said(answer)
    assert Record.objects.count() == 1


def test_a_provision_about_parts_asks_which_one(
    page: Client,
    engine: Engine,
    make_provision: Callable[..., Provision],
    technician: Viewer,
    now: datetime,
) -> None:
    provision = make_provision(role="magneto", title="Inspect the magneto")
    left, right = (
        changes.add_part(
            technician,
            engine,
            PartEntry(role="magneto", number="P-7710", serial=serial),
            Fit(place=place, engine_hours=48_000, hours_new=0),
            true_from=date(2026, 1, 10),
            at=now,
        )
        for place, serial in (("left", "A-17"), ("right", "A-18"))
    )
    without = page.post(recording(engine, provision), work())
    assert "This is about each fitted magneto. Say which one it was done on." in said(
        without
    )
    offered = page.get(f"{recording(engine, provision)}?part={right.public_id}")
    assert f'value="{right.public_id}" selected' in offered.content.decode()
    sent = work(part=str(left.public_id), part_hours="40")
    assert page.post(recording(engine, provision), sent).status_code == 302
    assert Record.objects.get().part == left


def test_an_older_revision_is_recorded_only_as_a_late_entry_that_says_why(
    page: Client,
    engine: Engine,
    provision: Provision,
    make_provision: Callable[..., Provision],
) -> None:
    publication = provision.revision.publication
    newer = RevisionFactory(
        publication=publication,
        label="2",
        sequence=provision.revision.sequence + 1,
        confirmed=True,
        effective_on=date(2026, 6, 1),
    )
    other = make_provision(revision=newer, order=provision.order)
    shown = page.get(recording(engine, provision))
    assert "This revision is not current today." in said(shown)
    assert recording(engine, other) in shown.content.decode()
    refused = page.post(recording(engine, provision), work())
    assert "was not current on 2026-11-24: revision 2 took over on 2026-06-01" in said(
        refused
    )
    late = work(late="on", remarks="The newer revision came afterwards.")
    assert page.post(recording(engine, provision), late).status_code == 302
    assert Record.objects.get().text["late"] is True


def test_the_way_to_a_place_of_work_is_asked_for_only_where_it_counts(
    page: Client, engine: Engine, make_provision: Callable[..., Provision]
) -> None:
    tolerant = {**REPEATING, "tolerance": {"hours": 10, "en_route": True}}
    provision = make_provision(rule__action=tolerant)
    plain = make_provision(rule__action=REPEATING)
    assert "en_route" not in page.get(recording(engine, plain)).content.decode()
    page.post(recording(engine, provision), work(en_route="on"))
    assert Record.objects.get().en_route is True


def test_other_work_is_recorded_without_a_document_or_under_a_foreign_one(
    page: Client, engine: Engine
) -> None:
    at = of("engine-record-other", engine)
    refused = page.post(at, work(revision="2"))
    assert "A revision is written, but not of which document." in said(refused)
    assert not Record.objects.exists()
    page.post(at, work())
    page.post(at, work(number="SL-8", revision="2"))
    first, second = Record.objects.order_by("sequence")
    assert (first.document_number, first.provision) == ("", None)
    assert (second.document_number, second.document_revision) == ("SL-8", "2")
    assert second.previous_hash == first.hash


def test_a_record_is_voided_by_another_that_says_why(
    page: Client, engine: Engine, provision: Provision
) -> None:
    page.post(recording(engine, provision), work())
    record = Record.objects.get()
    at = reverse("web:engine-record-void", args=[record.public_id])
    assert page.post(at, {"reason": " ", "password": PASSWORD}).status_code == 422
    answer = page.post(
        at, {"reason": "Wrong engine.", "password": PASSWORD}, follow=True
    )
    assert "Record 1 is void, and the engine is evaluated again." in said(answer)
    assert "Wrong engine." in said(answer)
    assert Finding.objects.get().closed == ""
    shown = page.get(reverse("web:engine-record", args=[record.public_id]))
    assert "Void: record 2 says why." in words_of(shown)
    again = page.post(at, {"reason": "Once more.", "password": PASSWORD})
    assert again.status_code == 422
    assert "Entry 1 is void already, by entry 2." in said(again)
    assert Record.objects.count() == 2
    assert page.post(recording(engine, provision), work()).status_code == 302


@pytest.mark.parametrize("records", [1, 60])
def test_the_ledger_is_paged_with_a_constant_number_of_queries(
    page: Client,
    engine: Engine,
    technician: Viewer,
    now: datetime,
    records: int,
    django_assert_num_queries,
) -> None:
    work_done = [
        past_entry(date(2026, 2, 1), document=FreeDocument(number=f"SL-{n}"))
        for n in range(records)
    ]
    changes.record_all(technician, engine, work_done, at=now)
    # session, user, memberships, engine, count, records, head
    with django_assert_num_queries(7):
        shown = page.get(of("engine-ledger", engine))
    assert Record.objects.order_by("-sequence")[0].hash in said(shown)
    assert said(shown).count("transcribed from logbook") == min(records, 50)


def rows(*filled: dict[str, str]) -> dict[str, str]:
    """Rows of the form for past work, as it sends them."""
    sent = {"rows": str(len(filled))}
    for key, row in enumerate(filled):
        whole = {"document": "SL-8", "date": "2026-02-02", "page": "12", **row}
        sent |= {f"row{key}-{name}": value for name, value in whole.items()}
    return sent


def test_rows_of_a_logbook_are_taken_together(
    page: Client, engine: Engine, provision: Provision
) -> None:
    at = of("engine-record-past", engine)
    sent = rows(
        {"document": "SB 24 011", "hours": "490", "done_by": "a name, illegible"},
        {"method": "inspected", "work": "Looked at, =1+1"},
    )
    answer = page.post(at, {**sent, "rows": "5"}, follow=True)
    assert "2 records added to the ledger." in said(answer)
    assert {(r.kind, r.provision) for r in Record.objects.all()} == {
        ("transcribed", provision),
        ("transcribed", None),
    }
    other = Record.objects.get(provision=None)
    assert (other.description, other.method) == ("Looked at, =1+1", "inspected")
    again = page.post(at, sent, follow=True)
    assert "0 records added to the ledger. 2 stood there already." in said(again)
    assert Record.objects.count() == 2


def test_one_bad_row_keeps_all_out_and_each_bad_row_is_named(
    page: Client, engine: Engine, provision: Provision
) -> None:
    sent = rows(
        {},
        {"date": "2.2.2026", "document": "SL-9"},
        {"document": "SB-24-011", "revision": "77"},
        {"document": "SL-10", "page": ""},
        {"document": "SL-11", "date": "2027-01-01"},
    )
    answer = page.post(of("engine-record-past", engine), sent)
    assert answer.status_code == 422
    text = said(answer)
    assert "Nothing has been kept yet. Look at rows 2, 3, 4 and 5." in text
    assert '"2.2.2026" is not a date. Write it as 2026-05-31.' in text
    assert 'No revision "77" of SB-24-011 is confirmed in the library.' in text
    assert "This cell is empty and must not be." in text
    assert "2027-01-01 lies in the future" in text
    wrong = [list(row.errors) for row in answer.context["form"].rows]
    assert wrong == [[], ["date"], ["revision"], ["page"], ["date"]]
    assert not Record.objects.exists()


@pytest.mark.parametrize("count", ["0", "3", "x", "99999"])
def test_a_form_without_any_filled_row_says_so(
    page: Client, engine: Engine, count: str
) -> None:
    answer = page.post(of("engine-record-past", engine), {"rows": count})
    assert answer.status_code == 422
    assert "No row says anything. Fill in at least one." in said(answer)


def test_more_rows_keep_what_was_typed(page: Client, engine: Engine) -> None:
    sent = {**rows({"date": "half a da"}), "more": "1"}
    answer = page.post(of("engine-record-past", engine), sent)
    assert answer.status_code == 200
    first, *blank = answer.context["form"].rows
    assert first.cell("date") == "half a da"
    assert len(blank) == 3
    assert "is not a date" not in said(answer)


def test_a_stranger_finds_no_ledger_and_an_owner_may_only_look(
    page: Client,
    station: Station,
    engine: Engine,
    provision: Provision,
    technician: Viewer,
    now: datetime,
    stranger: Viewer,
    viewer_as: Callable[..., Viewer],
    signed_in: Callable[[Viewer], Client],
) -> None:
    record = changes.record_work(
        technician, engine, entry(date(2026, 11, 24), hours=52_000), at=now
    )
    record_page = reverse("web:engine-record", args=[record.public_id])
    void = reverse("web:engine-record-void", args=[record.public_id])
    foreign, owner = signed_in(stranger), signed_in(viewer_as(Role.OWNER))
    acts = {
        recording(engine, provision): work(),
        of("engine-record-other", engine): work(),
        of("engine-record-past", engine): rows({}),
        void: {"reason": "Not mine.", "password": PASSWORD},
    }
    for at, sent in acts.items():
        assert foreign.post(at, sent).status_code == 404
        assert owner.post(at, sent).status_code == 403
    for at in (of("engine-ledger", engine), record_page):
        assert foreign.get(at).status_code == 404
        assert owner.get(at).status_code == 404, "this owner has no engine here"
    assert Record.objects.count() == 1
