"""The status of an engine: every publication, what is known, as of any day."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from tests.factories.compliance import entry
from tests.factories.notices import RevisionFactory
from tracker.accounts.access import Viewer
from tracker.compliance import changes
from tracker.compliance.facts.rows import QUERIES
from tracker.compliance.summary import end_of_day, status_of
from tracker.fleet.models import Engine
from tracker.fleet.parts import Fit, PartEntry

REPEATED = {
    "initial": {"hours": 50, "after": "effective"},
    "repeat": {"hours": 100, "after": "last done"},
}


def test_every_current_publication_stands_in_the_status(
    engine, make_provision, today
) -> None:
    make_provision()
    make_provision(rule__condition={"type": ["QX-9"]})
    make_provision(rule__condition={"attribute": "drive", "in": ["geared"]})
    status = status_of(engine, on=today)
    sections = (status.lines, status.undetermined, status.not_applicable)
    assert [len(section) for section in sections] == [1, 1, 1]
    assert (status.evaluated, status.current, status.listed) == (3, 3, 3)
    assert status.library_on == date(2026, 1, 10)


def test_what_does_not_apply_says_why(engine, make_provision, today) -> None:
    make_provision(rule__condition={"type": ["QX-9"]})
    [line] = status_of(engine, on=today).not_applicable
    assert "QX-9" in line.reason
    assert engine.engine_type.designation in line.reason


def test_lines_go_by_kind_of_document_then_number(
    engine, make_provision, today
) -> None:
    for kind, number in (("SL", "1"), ("SB", "20"), ("AD", "9"), ("SB", "3")):
        make_provision(kind=kind, number=number)
    numbers = [line.number for line in status_of(engine, on=today).lines]
    assert numbers == ["9", "20", "3", "1"]


def test_hours_reading_and_meter_are_named(engine, today) -> None:
    status = status_of(engine, on=today)
    assert (status.hours, status.tsn) == (52_000, 52_000)
    assert (status.reading_on, status.meter) == (
        date(2026, 11, 24),
        "time in service",
    )


def test_a_rebuild_by_the_maker_starts_tsn_anew(
    technician: Viewer, engine, today, now
) -> None:
    changes.add_rebuild(technician, engine, on=date(2026, 3, 1), hours=49_000, at=now)
    status = status_of(engine, on=today)
    assert (status.hours, status.tsn, status.tso) == (52_000, 3_000, 3_000)
    assert status_of(engine, on=date(2026, 2, 28)).tsn == 48_000


def test_an_unknown_search_is_an_open_item_and_so_is_an_old_one(
    technician: Viewer, engine, today, now
) -> None:
    assert [str(s)[:10] for s in status_of(engine, on=today).open_searches] == [
        "Nobody has",
        "Nobody has",
    ]
    for kind, days in (("directives", 1), ("bulletins", 100)):
        changes.note_search(
            technician,
            engine,
            kind,
            searched_to=today - timedelta(days=days),
            source="list of the authority",
            person="Runa Tveit",
            at=now,
        )
    [old] = status_of(engine, on=today).open_searches
    assert (old.kind, old.is_old) == ("bulletins", True)
    assert "list of the authority, Runa Tveit" in str(old)


def test_an_advisory_document_that_was_not_adopted_stands_apart(
    technician: Viewer, engine, make_provision, today, now
) -> None:
    provision = make_provision(rule__action={"initial": {"date": "2026-02-01"}})
    publication = provision.revision.publication
    changes.decline(
        technician,
        engine,
        publication,
        person="The owner",
        reason="Pump is of another make.",
        true_from=today,
        at=now,
    )
    status = status_of(engine, on=today)
    [line] = status.not_adopted
    assert line.declined is not None
    assert line.declined.reason == "Pump is of another make."
    assert not status.lines
    changes.adopt(
        technician,
        engine,
        publication,
        person="The owner",
        reason="Adopted after all.",
        true_from=today,
        at=now,
    )
    assert [line.state for line in status_of(engine, on=today).lines] == ["overdue"]


def test_two_parts_have_a_line_each_with_their_own_record(
    technician: Viewer, engine, make_provision, today, now
) -> None:
    provision = make_provision(role="magneto")
    parts = [
        changes.add_part(
            technician,
            engine,
            PartEntry(role="magneto", number="P-7710", serial=serial),
            Fit(place=place, fitted_new=True, date_known=False),
            true_from=date(2025, 1, 1),
            at=now,
        )
        for place, serial in (("left", "A-17"), ("right", "A-18"))
    ]
    changes.review(technician, engine, "magneto", "Runa Tveit", true_from=today, at=now)
    done = entry(date(2026, 11, 20), hours=51_000, provision=provision, part=parts[0])
    changes.record_work(technician, engine, done, at=now)
    lines = status_of(engine, on=today).lines
    assert [(line.part, line.state) for line in lines] == [
        ("magneto, left, P-7710, serial A-17", "complied with"),
        ("magneto, right, P-7710, serial A-18", "coming due"),
    ]


def test_a_part_that_nobody_has_recorded_is_undetermined(
    engine, make_provision, today
) -> None:
    make_provision(role="magneto")
    [line] = status_of(engine, on=today).undetermined
    assert "magneto fitted" in line.missing


def test_without_review_what_is_not_recorded_is_not_known(
    make_engine, make_provision, today
) -> None:
    make_provision()
    [line] = status_of(make_engine(reviewed=False), on=today).undetermined
    assert line.state == "undetermined"
    assert line.missing


def test_the_status_can_be_asked_as_of_a_past_day_as_it_was_known_then(
    technician: Viewer, engine, make_provision, station, now
) -> None:
    provision = make_provision()
    done = entry(date(2026, 11, 20), hours=51_000, provision=provision)
    changes.record_work(technician, engine, done, at=now)
    on = date(2026, 11, 20)
    [known_now] = status_of(engine, on=on).lines
    assert known_now.state == "complied with"
    before = now - timedelta(hours=1)
    assert not status_of(engine, on=on, known_at=before).lines
    assert end_of_day(station, on) == datetime(2026, 11, 21, tzinfo=UTC)


def test_what_was_stated_once_is_stated_again_as_of_then(
    technician: Viewer, make_engine, make_provision, now
) -> None:
    """A history in steps; at the end every step is asked for again, and is equal."""
    on = now.date()
    provision = make_provision(rule__action=REPEATED)
    engine = make_engine(at=now - timedelta(days=1))
    moments = [now + timedelta(minutes=10 * step) for step in range(1, 7)]
    steps = [
        lambda at: changes.set_attribute(
            technician, engine, "drive", "geared", true_from=on, at=at
        ),
        lambda at: changes.record_work(
            technician, engine, entry(on, hours=51_500, provision=provision), at=at
        ),
        lambda at: changes.void_record(
            technician, engine.records.get(), reason="Wrong engine.", at=at
        ),
        lambda at: changes.correct_reading(
            technician, engine.readings.first(), shown=52_500, at=at
        ),
        lambda at: changes.add_event(
            technician, engine, "propeller strike", on=on, hours=52_000, at=at
        ),
        lambda at: changes.embody(technician, engine, "SB-1", true_from=on, at=at),
    ]
    stated = []
    for step, at in zip(steps, moments, strict=True):
        step(at)
        stated.append(_said(engine, on, at))
    assert [_said(engine, on, at) for at in moments] == stated
    assert len(set(stated)) > 3, "the steps are of no use if nothing changes"


def _said(engine: Engine, on: date, at: datetime) -> tuple:
    status = status_of(engine, on=on, known_at=at)
    lines = [
        (line.number, line.state, line.next_hours, line.complied_on, line.sentence)
        for line in (*status.lines, *status.undetermined)
    ]
    return (status.hours, tuple(lines), status.head and status.head.hash)


@pytest.mark.parametrize(
    ("on", "known", "said"),
    [
        (date(2020, 2, 29), False, "no such engine on 29 February 2020: it was made"),
        (date(2020, 3, 1), False, ""),
        (date(2025, 1, 5), True, "Nothing was known of this engine at the end of"),
        (date(2025, 1, 10), True, ""),
    ],
)
def test_a_day_before_the_engine_was_there_is_said_to_be_one(
    engine, on: date, known: bool, said: str
) -> None:
    """The engine was made on 2020-03-01, in care from 2025-01-01, entered on -01-10."""
    known_at = end_of_day(engine.station, on) if known else None
    found = status_of(engine, on=on, known_at=known_at).not_yet
    assert said in found
    assert bool(found) is bool(said)


def test_a_rule_counts_as_it_was_known(
    technician: Viewer, inspector: Viewer, engine, make_provision, now
) -> None:
    provision = make_provision()
    later = now + timedelta(hours=2)
    changes.change_rule(
        inspector,
        provision,
        number=1,
        reason="The limit was misread.",
        action={"initial": {"hours": 60, "after": "effective"}},
        at=later,
    )
    [then] = status_of(engine, on=now.date(), known_at=now).lines
    [since] = status_of(engine, on=now.date(), known_at=later).lines
    assert (then.next_hours, since.next_hours) == (53_000, 54_000)
    assert (then.rule_number, since.rule_number) == (1, 2)


def test_a_revision_takes_over_on_its_day(engine, make_provision, today) -> None:
    provision = make_provision()
    newer = RevisionFactory(
        publication=provision.revision.publication,
        label="2",
        sequence=10_000,
        confirmed=True,
        effective_on=today + timedelta(days=1),
    )
    make_provision(revision=newer)
    [now] = status_of(engine, on=today).lines
    # Nobody can have read the hours of tomorrow yet, so the limit is not known.
    [then] = status_of(engine, on=today + timedelta(days=1)).undetermined
    assert (now.revision.label, then.revision) == (provision.revision.label, newer)


def test_a_half_that_is_not_known_is_not_said_to_be_lacking(
    engine, make_provision, today
) -> None:
    unread = {"hours": 500, "after": {"part": "magneto", "since": "new"}}
    both = {"first_of": [{"date": "2026-06-01"}, unread]}
    make_provision(rule__action={"initial": both, "repeat": both})
    make_provision(rule__action={"initial": {"date": "2026-06-01"}, "repeat": both})
    [line, other] = status_of(engine, on=today).lines
    assert [line.state, other.state] == ["overdue", "overdue"]
    assert line.next_note == ""
    assert other.next_note == "no limit by hours"


@pytest.mark.parametrize("publications", [1, 30])
def test_a_status_takes_the_same_queries_however_large_the_library(
    engine, make_provision, today, publications, django_assert_num_queries
) -> None:
    for _ in range(publications):
        make_provision()
    found = Engine.objects.select_related("station", "engine_type").get(pk=engine.pk)
    # the rows of the engine without parts, rules, current revisions, head, owner
    with django_assert_num_queries(QUERIES - 3 + 4):
        status_of(found, on=today)
