"""Which revision holds on a day, as known at a moment; against a slow, obvious answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import product

import pytest
from django.db import transaction
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from notices.library import current_revision, newer_drafts, standing
from notices.models import Provision, Reference, Revision
from tests.factories.accounts import StationFactory, UserFactory
from tests.factories.notices import (
    ProvisionFactory,
    PublicationFactory,
    RevisionFactory,
)

FIRST = date(2026, 1, 1)
DAYS = 6


def day(number: int) -> date:
    return FIRST + timedelta(days=number)


def moment(number: int) -> datetime:
    return datetime(2026, 1, 1, 12, tzinfo=UTC) + timedelta(days=number)


@dataclass(frozen=True)
class Issue:
    """One revision in short: which publication, and numbers of days."""

    of: int
    takes_over: int = 0
    confirmed: int | None = 0
    cancelled: tuple[int, int] | None = None
    """From which day, and on which it became known."""
    supersedes: tuple[int, ...] = ()


def oracle(issues: Sequence[Issue], on: int, known: int | None) -> set[int]:
    """Return the places of the issues that hold; read it beside the design, 6."""

    def cancelled_from(issue: Issue) -> int | None:
        if issue.cancelled is None:
            return None
        from_day, known_on = issue.cancelled
        return from_day if known is None or known_on <= known else None

    def took_over(issue: Issue) -> bool:
        if issue.confirmed is None or (known is not None and issue.confirmed > known):
            return False
        end = cancelled_from(issue)
        if end is not None and end <= issue.takes_over:
            return False
        return issue.takes_over <= on

    holding = set()
    for place, issue in enumerate(issues):
        end = cancelled_from(issue)
        if not took_over(issue) or (end is not None and end <= on):
            continue
        rivals = [
            (other.takes_over, other_place)
            for other_place, other in enumerate(issues)
            if took_over(other) and other.of == issue.of
        ]
        superseded = any(
            took_over(other)
            and other.of != issue.of
            and issue.of in other.supersedes
            and other.takes_over >= issue.takes_over
            for other in issues
        )
        if max(rivals) == (issue.takes_over, place) and not superseded:
            holding.add(place)
    return holding


def written(issues: Sequence[Issue]) -> list[Revision]:
    """Write the issues, in order, as revisions of one station."""
    station, person = StationFactory(), UserFactory()
    publications = [PublicationFactory(station=station) for _ in range(3)]
    rows = Revision.objects.bulk_create(
        RevisionFactory.build(
            publication=publications[issue.of],
            station=station,
            entered_by=person,
            sequence=place,
            effective_on=day(issue.takes_over),
            confirmed_at=None if issue.confirmed is None else moment(issue.confirmed),
            takes_over_on=None if issue.confirmed is None else day(issue.takes_over),
            cancelled_on=day(issue.cancelled[0]) if issue.cancelled else None,
            cancelled_at=moment(issue.cancelled[1]) if issue.cancelled else None,
        )
        for place, issue in enumerate(issues)
    )
    Reference.objects.bulk_create(
        Reference(
            revision=row,
            kind=Reference.Kind.SUPERSEDES,
            number=publications[number].number,
            number_key=publications[number].number_key,
            publication=publications[number],
        )
        for row, issue in zip(rows, issues, strict=True)
        for number in issue.supersedes
    )
    return rows


@st.composite
def an_issue(draw: st.DrawFn) -> Issue:
    confirmed = draw(st.none() | st.integers(0, DAYS - 1))
    cancelled = None
    if confirmed is not None and draw(st.booleans()):
        known_on = draw(st.integers(confirmed, DAYS))
        cancelled = (draw(st.integers(0, DAYS)), known_on)
    return Issue(
        of=draw(st.integers(0, 2)),
        takes_over=draw(st.integers(0, DAYS - 1)),
        confirmed=confirmed,
        cancelled=cancelled,
        supersedes=tuple(draw(st.sets(st.integers(0, 2), max_size=2))),
    )


ASKED = tuple(product(range(-1, DAYS + 1), (None, 1, 4)))


@pytest.mark.both
@pytest.mark.django_db
@settings(
    max_examples=50,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(st.lists(an_issue(), min_size=1, max_size=6))
# Two of one day: the later in order holds. Each supersedes the other on two days.
@example([Issue(of=0), Issue(of=0)])
@example([Issue(of=0, supersedes=(1,)), Issue(of=1, takes_over=2, supersedes=(0,))])
@example([Issue(of=0), Issue(of=1, takes_over=1, cancelled=(1, 3), supersedes=(0,))])
@example([Issue(of=0), Issue(of=1, takes_over=1, cancelled=(3, 3), supersedes=(0,))])
def test_what_is_current_agrees_with_the_slow_answer(
    db: None, issues: list[Issue]
) -> None:
    with transaction.atomic():
        places = {row.pk: place for place, row in enumerate(written(issues))}
        for on, known in ASKED:
            known_at = None if known is None else moment(known)
            words = Revision.objects.standings(day(on), known_at)
            current = {places[pk] for pk, word in words.items() if word == "current"}
            assert current == oracle(issues, on, known), (on, known)
        transaction.set_rollback(True)


def test_a_confirmed_revision_takes_over_on_its_day_and_not_before(db: None) -> None:
    old, new = written([Issue(of=0), Issue(of=0, takes_over=3)])
    assert current_revision(old.publication, day(2)) == old
    assert [standing(row, day(2)) for row in (old, new)] == ["current", "waiting"]
    assert current_revision(old.publication, day(3)) == new
    assert [standing(row, day(3)) for row in (old, new)] == ["superseded", "current"]


def test_a_draft_waits_however_late_it_is(db: None) -> None:
    old, draft = written([Issue(of=0), Issue(of=0, takes_over=1, confirmed=None)])
    assert current_revision(old.publication, day(5)) == old
    assert standing(draft, day(5)) == "draft"
    assert newer_drafts(old) == [draft]


def test_an_old_revision_entered_late_does_not_take_over(db: None) -> None:
    new, old = written([Issue(of=0, takes_over=3), Issue(of=0, takes_over=1)])
    assert current_revision(new.publication, day(4)) == new
    assert standing(old, day(4)) == "superseded"


def test_a_cancelled_revision_leaves_its_publication_without_a_current_one(
    db: None,
) -> None:
    old, new = written([Issue(of=0), Issue(of=0, takes_over=1, cancelled=(3, 3))])
    assert current_revision(old.publication, day(2)) == new
    assert current_revision(old.publication, day(3)) is None
    assert [standing(row, day(3)) for row in (old, new)] == ["superseded", "cancelled"]


def test_one_cancelled_on_the_day_it_takes_over_never_held(db: None) -> None:
    old, new = written([Issue(of=0), Issue(of=0, takes_over=1, cancelled=(1, 3))])
    assert current_revision(old.publication, day(2)) == old
    assert standing(new, day(2)) == "cancelled"
    # As it was known before, the mistake still stood.
    assert current_revision(old.publication, day(2), moment(2)) == new


def test_a_superseded_publication_does_not_come_back_with_a_cancellation(
    db: None,
) -> None:
    issues = [Issue(of=0), Issue(of=1, takes_over=1, cancelled=(3, 3), supersedes=(0,))]
    old, successor = written(issues)
    assert current_revision(old.publication, day(0)) == old
    assert current_revision(old.publication, day(1)) is None
    assert current_revision(old.publication, day(4)) is None
    assert current_revision(successor.publication, day(4)) is None


def test_another_station_supersedes_nothing_of_ours(db: None) -> None:
    ours = RevisionFactory(confirmed=True)
    theirs = RevisionFactory(confirmed=True)
    Reference.objects.create(
        revision=theirs,
        kind=Reference.Kind.SUPERSEDES,
        number=ours.publication.number,
        number_key=ours.publication.number_key,
    )
    assert current_revision(ours.publication, day(30)) == ours


def test_provisions_in_force_are_those_of_the_current_revision(db: None) -> None:
    old, new = written([Issue(of=0), Issue(of=0, takes_over=3)])
    first, second = ProvisionFactory(revision=old), ProvisionFactory(revision=new)
    assert list(Provision.objects.in_force(day(2))) == [first]
    assert list(Provision.objects.in_force(day(3))) == [second]
