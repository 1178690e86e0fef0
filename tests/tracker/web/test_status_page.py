"""The compliance status: what 14 CFR 91.417(a)(2)(v) asks for, and as of any day.

91.417(a)(2)(v): for each directive method of compliance, number and revision date; if
recurring, time and date when the next action is required. Further columns follow the
authority's suggested form for directives (AC 43-9), from memory and not seen.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest
import time_machine
from django.contrib.staticfiles import finders
from django.urls import reverse

from tests.factories.compliance import entry
from tests.tracker.web.reading import rows_of, words_of
from tracker.compliance import changes
from tracker.compliance.facts.rows import QUERIES
from tracker.print.sheet import CAUTION, SHORT_CAUTION

TWICE = {
    "initial": {"hours": 50, "after": "effective"},
    "repeat": {
        "first_of": [
            {"hours": 100, "after": "last done"},
            {"months": 12, "after": "last done", "calendar": True},
        ]
    },
}
ASKS = {"ask": "Is the case stamped R?"}


def at(engine) -> str:
    return reverse("web:engine-status", args=[engine.public_id])


def lines(response, number: str) -> list[str]:
    """The rows of items that name a document; further tables below name it too."""
    rows = rows_of(response)
    below = ("Document Subject Not adopted", "Record Date")
    ends = [place for place, row in enumerate(rows) if row.startswith(below)]
    return [row for row in rows[: min(ends, default=None)] if number in row]


@pytest.fixture
def done(technician, make_engine, make_provision, now):
    """An engine with a recurring directive done on 2026-11-20 at 510 h."""
    provision = make_provision(
        kind="AD", number="AD X-26-014", title="Inspect the drive", rule__action=TWICE
    )
    engine = make_engine()
    made = entry(
        date(2026, 11, 20), hours=51_000, airframe_hours=400_000, provision=provision
    )
    changes.record_work(technician, engine, made, at=now)
    return engine


def test_a_directive_shows_number_revision_date_method_and_next_time_and_date(
    page, done
) -> None:
    [line] = lines(page.get(at(done)), "AD X-26-014")
    assert "AD X-26-014 rev." in line
    assert "10 Jan 2026" in line  # the date of the revision
    assert "Action done" in line
    assert "610.0 h or 30 Nov 2027" in line
    assert "recurring" in line


def test_it_also_shows_subject_date_hours_signatory_and_record(page, done) -> None:
    [line] = lines(page.get(at(done)), "AD X-26-014")
    assert "Inspect the drive" in line
    assert "20 Nov 2026" in line
    assert "510.0 h airframe 4 000.0 h" in line
    assert "Runa Tveit, inspection authorization, ZZ-4471" in line
    assert line.endswith(" 1")


def test_undetermined_items_and_open_searches_stand_on_top(
    page, done, make_provision, technician, now
) -> None:
    make_provision(number="SB-901", rule__condition=ASKS)
    changes.refresh_station(technician.station, now.date(), at=now)
    text = words_of(page.get(at(done)))
    assert text.index("SB-901") < text.index("What applies")
    assert text.index("search for bulletins went") < text.index("What applies")
    assert "Missing: the answer to the question: Is the case stamped R?" in text


def test_what_does_not_apply_is_listed_with_the_reason(
    page, done, make_provision
) -> None:
    make_provision(number="SB-902", rule__condition={"serial": ["1"]})
    text = words_of(page.get(at(done)))
    after = text[text.index("Does not apply Evaluated") :]
    assert "SB-902 rev." in after
    assert f"Serial number {done.serial} is not 1." in after


def test_what_is_not_adopted_is_listed_with_who_and_why(
    page, done, technician, make_provision, now
) -> None:
    provision = make_provision(number="SB-903")
    changes.decline(
        technician,
        done,
        provision.revision.publication,
        person="P. Aldermoor",
        reason="inspected each year",
        true_from=date(2026, 11, 1),
        at=now,
    )
    text = words_of(page.get(at(done)))
    assert "P. Aldermoor 1 Nov 2026 inspected each year" in text
    assert lines(page.get(at(done)), "SB-903") == []


def test_it_says_how_much_was_evaluated_and_where_the_chain_ends(page, done) -> None:
    text = words_of(page.get(at(done)))
    assert "1 of 1 current publications were evaluated, 1 provisions are listed" in text
    assert "The library stands at 10 January 2026." in text
    head = done.records.get().hash
    assert f"From 1 record. Head of the chain: {head}" in text
    assert "Name, kind and number of certificate Signature Place and date" in text
    assert "Whether an aircraft is airworthy is decided by its owner" in text


def test_page_and_print_say_one_caution(page, done) -> None:
    text = words_of(page.get(at(done)))
    for paragraph in CAUTION:
        assert paragraph in text
    style = finders.find("web/style.css")
    assert f'content: "{SHORT_CAUTION}"' in Path(style).read_text(encoding="utf-8")


def test_each_sheet_names_its_engine(page, done) -> None:
    response = page.get(at(done)).content.decode()
    assert '<tr class="idl">' in response
    assert done.records.get().hash[:16] in response


def test_as_known_then_leaves_out_what_was_entered_later(page, done) -> None:
    then = page.get(at(done), {"on": "2026-11-22", "known": "then"})
    now_known = page.get(at(done), {"on": "2026-11-22", "known": "now"})
    assert "as it was known at the end of that day" in words_of(then)
    assert "20 Nov 2026" not in " ".join(lines(then, "AD X-26-014"))
    assert "20 Nov 2026" in " ".join(lines(now_known, "AD X-26-014"))


def test_a_day_before_the_revision_lists_no_publication(page, done) -> None:
    text = words_of(page.get(at(done), {"on": "2026-01-05", "known": "now"}))
    assert "0 of 0 current publications" in text


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ({"on": "yesterday"}, "“yesterday” is not a day. Write it as 2026-05-31."),
        ({"on": "2026-02-30"}, "“2026-02-30” is not a day."),
        ({"on": "2026-11-25"}, "can be asked for today or a day before it"),
        ({"on": "0001-01-01"}, "can be asked for today or a day before it"),
        ({"known": "later"}, "Known is either then or now."),
    ],
)
def test_nonsense_is_named_and_today_is_shown(
    page, done, asked: dict, message: str
) -> None:
    response = page.get(at(done), asked)
    assert response.status_code == 422
    assert message in response.content.decode()
    assert "AD X-26-014" in response.content.decode()


def test_the_day_ends_in_the_time_zone_of_the_station(
    page, technician, make_engine, make_provision, now
) -> None:
    """What is recorded at 10:30 UTC is known that day at +13 hours only the next."""
    station = technician.station
    station.time_zone = "Pacific/Auckland"
    station.save()
    provision = make_provision(kind="AD", number="AD X-26-014")
    engine = make_engine()
    made = entry(date(2026, 11, 24), hours=52_000, provision=provision)
    evening = datetime(2026, 11, 24, 11, 30, tzinfo=UTC)
    changes.record_work(technician, engine, made, at=evening)
    with time_machine.travel(evening, tick=False):
        then = page.get(at(engine), {"on": "2026-11-24", "known": "then"})
        today = page.get(at(engine))
    assert "complied with" not in " ".join(lines(then, "AD X-26-014"))
    assert "complied with" in " ".join(lines(today, "AD X-26-014"))


@pytest.mark.parametrize("provisions", [1, 20])
def test_the_status_asks_as_often_for_many_provisions(
    page, make_engine, make_provision, django_assert_num_queries, provisions: int
) -> None:
    for _ in range(provisions):
        make_provision()
    engine = make_engine()
    # session, user, membership; engine; facts of an engine without parts; rules;
    # revisions that are current; head of the chain; owner on that day
    with django_assert_num_queries(4 + QUERIES - 3 + 4):
        page.get(at(engine))


def test_a_day_before_manufacture_is_said_to_be_one(page, engine) -> None:
    said = words_of(page.get(at(engine), {"on": "2019-05-01"}))
    assert (
        "There was no such engine on 1 May 2019: it was made on 1 March 2020." in said
    )
    assert "no such engine" not in words_of(page.get(at(engine)))
