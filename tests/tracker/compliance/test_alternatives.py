"""An alternative method of compliance: 14 CFR 39.19, for one engine, while it holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import pytest

from notices.models import Provision
from notices.rules.errors import RuleError
from tests.factories.compliance import entry
from tests.factories.notices import ProvisionFactory, RevisionFactory
from tests.tracker.compliance.conftest import make_engine, make_provision
from tracker.accounts.access import Forbidden, Viewer
from tracker.accounts.models import Role
from tracker.compliance import changes
from tracker.compliance.changes import AlternativeEntry
from tracker.compliance.models import AlternativeMethod, Finding, Standing
from tracker.compliance.rehearsing import rehearsing
from tracker.compliance.summary import end_of_day, status_of
from tracker.compliance.summary.lines import Line
from tracker.fleet.errors import Refused
from tracker.fleet.models import Engine

__all__ = ["make_engine", "make_provision"]
pytestmark = [pytest.mark.django_db, pytest.mark.both]

EVERY_50_HOURS = {
    "initial": {"hours": 50, "after": "effective"},
    "repeat": {"hours": 50, "after": "last done"},
}
EVERY_150_HOURS = {
    "initial": {"hours": 150, "after": "effective"},
    "repeat": {"hours": 150, "after": "last done"},
}
APPROVED = AlternativeEntry(
    reference="26-014",
    approved_by="Office of the authority",
    approved_on=date(2026, 3, 2),
    description="The pump is looked at through the inspection cover.",
    times=EVERY_150_HOURS,
)
SENTENCE = (
    "By alternative method 26-014, approved by Office of the authority on 2 March 2026."
)


@pytest.fixture
def directive(make_provision: Callable[..., Provision]) -> Provision:
    """Due every 50 h from its effective date, when the engine had 480 h."""
    return make_provision(kind="AD", number="X-26-014", rule__action=EVERY_50_HOURS)


@pytest.fixture
def approve(
    technician: Viewer, engine: Engine, directive: Provision, now: datetime
) -> Callable[..., AlternativeMethod]:
    def made(*, at: datetime = now, **given: Any) -> AlternativeMethod:
        told = replace(APPROVED, **given)
        return changes.approve_alternative(technician, engine, directive, told, at=at)

    return made


def line_of(engine: Engine, on: date, known_at: datetime | None = None) -> Line:
    fresh = Engine.objects.select_related("engine_type", "station").get(pk=engine.pk)
    status = status_of(fresh, on=on, known_at=known_at)
    [line] = [*status.lines, *status.undetermined]
    return line


# -- what counts


def test_its_times_count_in_place_of_the_document_s_for_that_engine_alone(
    approve: Callable[..., AlternativeMethod],
    engine: Engine,
    make_engine: Callable[..., Engine],
    today: date,
) -> None:
    other = make_engine()
    assert line_of(engine, today).next_hours == 53_000
    approve()
    line = line_of(engine, today)
    assert line.next_hours == 63_000
    assert line.asks == (
        "Within 150\xa0h after the effective date; then again within 150\xa0h after it "
        "was last done"
    )
    assert line.sentence.endswith(SENTENCE)
    assert line.due.point.all_grounds == SENTENCE
    assert line_of(other, today).next_hours == 53_000
    assert "alternative" not in line_of(other, today).sentence


def test_what_it_leaves_unsaid_stays_as_the_document_says(
    technician: Viewer,
    approve: Callable[..., AlternativeMethod],
    engine: Engine,
    directive: Provision,
    now: datetime,
    today: date,
) -> None:
    approve(times={"repeat": EVERY_150_HOURS["repeat"]})
    assert line_of(engine, today).next_hours == 53_000
    done = entry(date(2026, 11, 20), hours=51_900, provision=directive)
    changes.record_work(technician, engine, done, at=now)
    assert line_of(engine, today).next_hours == 51_900 + 15_000


def test_another_method_alone_moves_no_time_and_is_said(
    approve: Callable[..., AlternativeMethod], engine: Engine, today: date
) -> None:
    approve(times={})
    line = line_of(engine, today)
    assert line.next_hours == 53_000
    assert line.sentence.endswith(SENTENCE)


def test_it_counts_for_a_bulletin_too_and_the_finding_is_told_in_few_words(
    technician: Viewer,
    engine: Engine,
    make_provision: Callable[..., Provision],
    now: datetime,
) -> None:
    bulletin = make_provision(kind="SB", rule__action=EVERY_50_HOURS)
    changes.approve_alternative(technician, engine, bulletin, APPROVED, at=now)
    finding = Finding.objects.get(engine=engine)
    assert finding.overdue_hours == 63_000
    assert finding.point["approval"] == SENTENCE


def test_it_holds_to_the_end_of_its_last_day_and_the_engine_is_looked_at_again(
    approve: Callable[..., AlternativeMethod], engine: Engine, today: date
) -> None:
    last = today + timedelta(days=10)
    approve(valid_until=last)
    assert Standing.objects.get(engine=engine).again_on == last + timedelta(days=1)
    assert "valid until 4 December 2026" in line_of(engine, last).sentence
    after = line_of(engine, last + timedelta(days=1))
    assert after.next_hours == 53_000
    assert (
        "Alternative method 26-014 was valid until 4 December 2026. What the document "
        "says counts again."
    ) in after.reasons


# -- its end


def test_once_ended_the_document_counts_again_and_the_past_stays_as_it_was(
    technician: Viewer,
    approve: Callable[..., AlternativeMethod],
    engine: Engine,
    directive: Provision,
    now: datetime,
    today: date,
) -> None:
    approve()
    ended = date(2026, 11, 20)
    row = changes.end_alternative(
        technician,
        engine,
        directive,
        reason="The office has withdrawn it.",
        true_from=ended,
        at=now,
    )
    assert (row.valid, row.reference) == (False, "26-014")
    assert line_of(engine, today).next_hours == 53_000
    assert line_of(engine, ended - timedelta(days=1)).next_hours == 63_000
    with pytest.raises(AlternativeMethod.DoesNotExist):
        changes.end_alternative(
            technician, engine, directive, reason="Again.", true_from=ended, at=now
        )


def test_an_end_before_it_counts_and_one_without_a_reason_are_refused(
    technician: Viewer,
    approve: Callable[..., AlternativeMethod],
    engine: Engine,
    directive: Provision,
    now: datetime,
) -> None:
    approve()
    for given, field in (
        ({"reason": "Wrong.", "true_from": date(2026, 3, 1)}, "true_from"),
        ({"reason": " ", "true_from": date(2026, 3, 2)}, "reason"),
    ):
        with pytest.raises(Refused) as refused:
            changes.end_alternative(technician, engine, directive, at=now, **given)
        assert refused.value.field == field
    assert AlternativeMethod.objects.get().valid


def test_as_of_a_day_it_counts_only_once_it_was_known(
    approve: Callable[..., AlternativeMethod],
    engine: Engine,
    now: datetime,
    today: date,
) -> None:
    approve(at=now + timedelta(days=3))
    then = end_of_day(engine.station, today)
    assert line_of(engine, today, then).next_hours == 53_000
    assert line_of(engine, today).next_hours == 63_000
    assert line_of(engine, date(2026, 3, 1)).next_hours == 53_000


# -- the next revision


@pytest.mark.parametrize("later", [False, True])
def test_a_new_revision_asks_again_unless_the_approval_says_otherwise(
    technician: Viewer,
    approve: Callable[..., AlternativeMethod],
    engine: Engine,
    directive: Provision,
    now: datetime,
    today: date,
    later: bool,
) -> None:
    approve(later_revisions=later)
    label = directive.revision.label
    revision = RevisionFactory(
        publication=directive.revision.publication,
        confirmed=True,
        issued_on=date(2026, 11, 1),
        effective_on=date(2026, 1, 10),
        sequence=directive.revision.sequence + 1,
        label="B",
        takes_over_on=date(2026, 11, 1),
    )
    again = ProvisionFactory(
        revision=revision, order=directive.order, rule__action=EVERY_50_HOURS
    )
    line = line_of(engine, today)
    assert line.revision == revision
    asked = (
        f"Alternative method 26-014 was approved for revision {label}. Until somebody "
        "enters that it is approved for revision B, too, what this one says counts."
    )
    assert (asked in line.reasons) is not later
    assert line.next_hours == (63_000 if later else 53_000)
    changes.approve_alternative(
        technician,
        engine,
        again,
        replace(APPROVED, reference="26-015", approved_on=date(2026, 11, 2)),
        at=now,
    )
    line = line_of(engine, today)
    assert line.next_hours == 63_000
    assert "26-015" in line.sentence
    assert asked not in line.reasons


# -- what is refused


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"reference": " "}, "reference"),
        ({"approved_by": ""}, "approved_by"),
        ({"description": ""}, "description"),
        ({"approved_on": date(2026, 12, 1)}, "true_from"),
        ({"true_from": date(2026, 3, 1)}, "true_from"),
        ({"valid_until": date(2026, 3, 1)}, "valid_until"),
    ],
)
def test_without_an_approval_or_with_days_that_disagree_nothing_is_kept(
    approve: Callable[..., AlternativeMethod], given: dict[str, Any], field: str
) -> None:
    """Check value: "AMOC" without an approval reference is refused (14 CFR 39.19)."""
    with pytest.raises(Refused) as refused:
        approve(**given)
    assert refused.value.field == field
    assert not AlternativeMethod.objects.exists()


@pytest.mark.parametrize(
    ("times", "path"),
    [
        ({"initial": {"hours": -1, "after": "new"}}, "initial.hours"),
        ({"repeat": {"hour": 5}}, "repeat"),
        ({"until": {"hours": 5, "after": "new"}}, "until"),
        (
            {
                "initial": {
                    "cases": [
                        {
                            "when": {"this": {"ask": "Is it red?"}},
                            "then": {"hours": 5, "after": "new"},
                        }
                    ]
                }
            },
            "initial",
        ),
    ],
)
def test_faults_in_its_times_are_named_with_their_path(
    approve: Callable[..., AlternativeMethod], times: dict[str, Any], path: str
) -> None:
    with pytest.raises(RuleError) as refused:
        approve(times=times)
    assert [fault.path[: len(path)] for fault in refused.value.faults] == [path]
    assert not AlternativeMethod.objects.exists()


def test_what_is_no_action_has_no_alternative(
    technician: Viewer,
    engine: Engine,
    interval: Callable[..., Provision],
    now: datetime,
) -> None:
    base = interval({"kind": "base", "hours": 1500, "since": "overhaul"})
    with pytest.raises(Refused, match="of the kind overhaul interval"):
        changes.approve_alternative(technician, engine, base, APPROVED, at=now)


def test_an_entry_that_an_older_one_would_hide_is_refused(
    approve: Callable[..., AlternativeMethod],
) -> None:
    approve()
    with pytest.raises(Refused, match="counts since 2026-03-02, after 2026-02-01"):
        approve(approved_on=date(2026, 2, 1))
    approve(approved_on=date(2026, 2, 1), true_from=date(2026, 3, 2))
    assert AlternativeMethod.objects.get(current=True).approved_on == date(2026, 2, 1)


def test_another_station_s_provision_is_not_found_and_an_owner_may_not(
    stranger: Viewer,
    viewer_as: Callable[..., Viewer],
    engine: Engine,
    directive: Provision,
    now: datetime,
) -> None:
    with pytest.raises(Engine.DoesNotExist):
        changes.approve_alternative(stranger, engine, directive, APPROVED, at=now)
    with pytest.raises(Forbidden):
        changes.approve_alternative(
            viewer_as(Role.OWNER), engine, directive, APPROVED, at=now
        )


# -- beside


def test_a_rehearsal_tells_what_it_would_cause_and_keeps_nothing(
    approve: Callable[..., AlternativeMethod],
    engine: Engine,
    today: date,
    now: datetime,
) -> None:
    changes.refresh_station(engine.station, today, at=now)
    with rehearsing() as rehearsal:
        approve()
        [caused] = rehearsal.caused.engines
    [effect] = caused.effects
    assert effect.before is not None
    assert effect.after is not None
    points = (effect.before.due_hours, effect.after.due_hours)
    assert points == (53_000, 63_000)
    assert not AlternativeMethod.objects.exists()


def test_a_question_in_its_times_is_asked(
    approve: Callable[..., AlternativeMethod], engine: Engine, today: date
) -> None:
    from tracker.compliance.questions import questions_of

    when, then = {"ask": "Is the cover fitted?"}, {"hours": 90, "after": "effective"}
    approve(
        times={"initial": {"cases": [{"when": when, "then": then}, {"else": then}]}}
    )
    fresh = Engine.objects.select_related("engine_type", "station").get(pk=engine.pk)
    assert [one.text for one in questions_of(fresh, today)] == ["Is the cover fitted?"]
