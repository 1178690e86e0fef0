"""A revision from draft to cancelled, and the versions of its rules."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest
from django.db import DatabaseError
from django.db.transaction import atomic

from notices.library import (
    ChangedMeanwhile,
    LibraryRefused,
    ProvisionInput,
    ReferenceInput,
    RevisionInput,
    add_draft,
    attach_document,
    cancel_revision,
    change_draft,
    change_rule,
    confirm_revision,
    current_revision,
    discard_draft,
    standing,
    stated_in,
)
from notices.models import Provision, Publication, Reference, Revision, RuleVersion
from notices.rules.errors import RuleError
from tests.factories.accounts import UserFactory
from tests.factories.notices import (
    ALWAYS,
    WITHIN_50_HOURS,
    DocumentFactory,
    PublicationFactory,
)
from tracker.accounts.models import Station, User

MX4 = {"type": ["MX-4*"]}
INSPECT = ProvisionInput(
    title="Inspect the fuel pump",
    role="fuel pump",
    man_hours=150,
    embodies=("SB-24-011",),
    condition={"this": {"serial": ["A-1..A-90"]}},
    action=WITHIN_50_HOURS,
)
STATED = RevisionInput(
    label="1",
    issued_on=date(2026, 1, 5),
    effective_on=date(2026, 1, 15),
    applicability=MX4,
    provisions=(INSPECT, ProvisionInput(title="Read it", kind="information")),
    references=(ReferenceInput(kind="revises", number="SB-23-002"),),
)


@pytest.fixture
def writer(db: None) -> User:
    return UserFactory()


@pytest.fixture
def publication(station: Station) -> Publication:
    return PublicationFactory(station=station, number="SB-24-011")


@pytest.fixture
def drafted(publication: Publication, writer: User, now: datetime) -> Any:
    def make(stated: RevisionInput = STATED, of: Publication | None = None) -> Revision:
        return add_draft(
            publication=of or publication, stated=stated, by=writer, at=now
        )

    return make


@pytest.fixture
def confirmed(drafted: Any, now: datetime) -> Any:
    def make(
        stated: RevisionInput = STATED,
        of: Publication | None = None,
        *,
        by: User | None = None,
        second_person: bool = False,
    ) -> Revision:
        draft = drafted(stated, of)
        return confirm_revision(
            draft,
            version=draft.version,
            second_person=second_person,
            by=by or UserFactory(),
            at=now,
        )

    return make


def paths_of(refused: pytest.ExceptionInfo[RuleError]) -> list[str]:
    return [fault.path for fault in refused.value.faults]


def test_a_draft_says_what_was_entered(drafted: Any, writer: User) -> None:
    draft = drafted()
    inspect, read = draft.provisions.all()
    assert str(draft) == "SB-24-011 rev. 1"
    assert draft.is_draft
    assert draft.entered_by == writer
    assert (inspect.order, inspect.kind, inspect.man_hours) == (1, "action", 150)
    rule = inspect.rules.get()
    assert rule.condition == INSPECT.condition
    assert rule.action == WITHIN_50_HOURS
    assert rule.frozen_at is None
    assert read.rules.get().condition == ALWAYS
    assert read.rules.get().action == {}


def test_what_a_draft_says_can_be_entered_again(drafted: Any) -> None:
    draft = drafted()
    again = drafted(replace(stated_in(draft), label="2"))
    assert replace(stated_in(again), label="1") == stated_in(draft)


@pytest.mark.parametrize("provisions", [1, 20])
def test_what_a_revision_says_takes_three_queries(
    drafted: Any, django_assert_num_queries: Any, provisions: int
) -> None:
    draft = drafted(replace(STATED, provisions=(INSPECT,) * provisions))
    with django_assert_num_queries(3):  # provisions, their rules, references
        assert len(stated_in(draft).provisions) == provisions


def test_what_is_entered_is_checked_as_a_whole_and_nothing_is_kept(
    drafted: Any,
) -> None:
    wrong = RevisionInput(
        label=" ",
        applicability={"all": [MX4, {"serial": ["L-500..M-900"]}]},
        provisions=(
            ProvisionInput(title="", kind="guess", man_hours=-1, embodies=("",)),
            replace(INSPECT, action={"initial": {"hours": 50, "after": "soon"}}),
            replace(INSPECT, kind="information"),
            replace(INSPECT, role=""),
        ),
        references=(
            ReferenceInput(kind="supersedes", number="SB-1"),
            ReferenceInput(kind="supersedes", number="sb 1"),
            ReferenceInput(kind="likes", number="-"),
        ),
    )
    with pytest.raises(RuleError) as refused:
        drafted(wrong)
    assert set(paths_of(refused)) == {
        "label",
        "applicability.all[1].serial[0]",
        "provisions[0].title",
        "provisions[0].kind",
        "provisions[0].man_hours",
        "provisions[0].embodies[0]",
        "provisions[1].action.initial.after",
        "provisions[2].action",
        "provisions[3].role",
        "references[1].number",
        "references[2].kind",
        "references[2].number",
    }
    assert not Revision.objects.exists()
    assert not Provision.objects.exists()


def test_a_test_of_this_part_in_the_applicability_needs_provisions_about_parts(
    drafted: Any,
) -> None:
    about_part = replace(STATED, applicability={"this": {"serial": ["A-1"]}})
    with pytest.raises(RuleError) as refused:
        drafted(about_part)
    assert paths_of(refused) == ["applicability"]
    drafted(replace(about_part, provisions=(INSPECT,)))


@pytest.mark.both
def test_control_characters_and_endless_rules_are_refused(drafted: Any) -> None:
    deep: Any = {"hours": 50, "after": "effective"}
    for _ in range(3000):
        deep = {"first_of": [deep]}
    wrong = replace(
        STATED,
        applicability={"ask": "Is it listed\x00?"},
        provisions=(replace(INSPECT, action={"initial": deep}),),
    )
    with pytest.raises(RuleError) as refused:
        drafted(wrong)
    assert paths_of(refused)[0] == "applicability"
    assert paths_of(refused)[1].startswith("provisions[0].action")


@pytest.mark.parametrize("label", ["1", " 1 "])
def test_a_publication_has_a_label_once(drafted: Any, label: str) -> None:
    drafted()
    with pytest.raises(RuleError, match='SB-24-011 has a revision "1" already'):
        drafted(replace(STATED, label=label))


def test_revisions_are_in_the_order_in_which_they_were_entered(drafted: Any) -> None:
    labels = ["B", "A", "10"]
    drafts = [drafted(replace(STATED, label=label)) for label in labels]
    assert [draft.sequence for draft in drafts] == [1, 2, 3]


def test_a_draft_is_changed_as_a_whole(
    drafted: Any, writer: User, now: datetime
) -> None:
    draft = drafted()
    other = UserFactory()
    less = replace(STATED, label="1A", provisions=(INSPECT,), references=())
    changed = change_draft(draft, version=1, stated=less, by=other, at=now)
    assert (changed.label, changed.version) == ("1A", 2)
    assert changed.entered_by == writer
    assert changed.changed_by == other
    assert changed.provisions.count() == 1
    assert not Reference.objects.exists()


def test_a_draft_that_was_changed_meanwhile_is_not_overwritten(
    drafted: Any, writer: User, now: datetime
) -> None:
    draft = drafted()
    change_draft(draft, version=1, stated=STATED, by=writer, at=now)
    with pytest.raises(ChangedMeanwhile, match="Look at it again"):
        change_draft(draft, version=1, stated=STATED, by=writer, at=now)
    with pytest.raises(ChangedMeanwhile):
        discard_draft(draft, version=1)
    with pytest.raises(ChangedMeanwhile):
        confirm_revision(draft, version=1, second_person=False, by=writer, at=now)
    discard_draft(draft, version=2)
    with pytest.raises(ChangedMeanwhile, match="was discarded meanwhile"):
        discard_draft(draft, version=2)
    assert not Revision.objects.exists()
    assert not RuleVersion.objects.exists()


def test_confirming_freezes_the_rules_and_sets_the_day(
    confirmed: Any, now: datetime
) -> None:
    revision = confirmed()
    assert revision.takes_over_on == date(2026, 1, 15)
    assert revision.confirmed_at == now
    for rule in RuleVersion.objects.filter(provision__revision=revision):
        assert rule.applicability == MX4
        assert rule.frozen_at == now


def test_without_an_effective_date_the_day_of_issue_counts(confirmed: Any) -> None:
    revision = confirmed(replace(STATED, effective_on=None))
    assert revision.takes_over_on == date(2026, 1, 5)


def test_what_a_draft_still_lacks_is_named_on_confirming(
    confirmed: Any, publication: Publication
) -> None:
    with pytest.raises(RuleError) as refused:
        confirmed(RevisionInput(label="1"))
    assert paths_of(refused) == ["issued_on", "applicability", "provisions"]
    untimed = replace(STATED, label="2", provisions=(ProvisionInput(title="Do it"),))
    with pytest.raises(RuleError) as refused:
        confirmed(untimed)
    assert paths_of(refused) == ["provisions[0].action"]
    assert all(revision.is_draft for revision in publication.revisions.all())


def test_a_rule_that_was_spoiled_since_is_not_confirmed(
    drafted: Any, writer: User, now: datetime
) -> None:
    draft = drafted()
    RuleVersion.objects.filter(provision__order=1).update(action={"initial": {}})
    with pytest.raises(RuleError) as refused:
        confirm_revision(draft, version=1, second_person=False, by=writer, at=now)
    assert paths_of(refused) == ["provisions[0].action.initial"]


def test_a_second_person_confirms_where_the_station_asks_for_it(
    drafted: Any, writer: User, now: datetime
) -> None:
    draft = drafted()
    changer, third = UserFactory(), UserFactory()
    change_draft(draft, version=1, stated=STATED, by=changer, at=now)
    for person in (writer, changer):
        with pytest.raises(LibraryRefused, match="Another person"):
            confirm_revision(draft, version=2, second_person=True, by=person, at=now)
    done = confirm_revision(draft, version=2, second_person=True, by=third, at=now)
    assert done.confirmed_by == third


def test_one_person_may_confirm_where_nobody_else_is_asked_for(
    confirmed: Any, writer: User
) -> None:
    assert confirmed(by=writer).confirmed_by == writer


def test_a_confirmed_revision_stays_as_it_is(
    confirmed: Any, writer: User, now: datetime
) -> None:
    revision = confirmed()
    for act in (
        lambda: change_draft(revision, version=2, stated=STATED, by=writer, at=now),
        lambda: discard_draft(revision, version=2),
        lambda: confirm_revision(
            revision, version=2, second_person=False, by=writer, at=now
        ),
    ):
        with pytest.raises(LibraryRefused, match="is confirmed and stays as it is"):
            act()


def test_what_supersedes_another_publication_ends_it(
    confirmed: Any, station: Station
) -> None:
    old = confirmed()
    successor = PublicationFactory(station=station)
    reference = ReferenceInput(kind="supersedes", number="SB-24-011")
    later = replace(STATED, effective_on=date(2026, 3, 1), references=(reference,))
    confirmed(later, successor)
    assert standing(old, date(2026, 2, 28)) == "current"
    assert standing(old, date(2026, 3, 1)) == "superseded"


def test_a_number_that_nobody_knows_is_kept_as_a_number(confirmed: Any) -> None:
    reference = confirmed().references.get()
    assert reference.number == "SB-23-002"
    assert reference.publication is None


def test_nothing_supersedes_itself_or_in_a_ring_on_one_day(
    confirmed: Any, station: Station
) -> None:
    others = [PublicationFactory(station=station) for _ in range(2)]
    numbers = ["SB-24-011", *(other.number for other in others)]

    def superseding(number: str, on: date = date(2026, 1, 15)) -> RevisionInput:
        reference = ReferenceInput(kind="supersedes", number=number)
        return replace(STATED, effective_on=on, references=(reference,))

    with pytest.raises(LibraryRefused, match="would supersede itself"):
        confirmed(superseding(numbers[0]))
    Revision.objects.all().delete()
    first = confirmed(superseding(numbers[1]))
    confirmed(superseding(numbers[2]), others[0])
    with pytest.raises(LibraryRefused, match="would supersede itself"):
        confirmed(superseding(numbers[0]), others[1])
    others[1].revisions.all().delete()
    # A day later it is no ring: the later document wins.
    later = confirmed(superseding(numbers[0], date(2026, 1, 16)), others[1])
    assert standing(first, date(2026, 2, 1)) == "superseded"
    assert standing(later, date(2026, 2, 1)) == "current"


def test_a_cancelled_revision_says_by_whom_and_why(
    confirmed: Any, publication: Publication, writer: User, now: datetime
) -> None:
    revision = confirmed()
    done = cancel_revision(
        revision, on=date(2026, 6, 1), reason="Withdrawn.", by=writer, at=now
    )
    assert done.cancelled_by == writer
    assert current_revision(publication, date(2026, 5, 31)) == revision
    assert current_revision(publication, date(2026, 6, 1)) is None
    with pytest.raises(LibraryRefused, match="is cancelled already"):
        cancel_revision(
            revision, on=date(2026, 7, 1), reason="Again.", by=writer, at=now
        )


def test_cancelling_needs_a_reason_and_a_confirmed_revision(
    drafted: Any, writer: User, now: datetime
) -> None:
    draft = drafted()
    with pytest.raises(RuleError, match="reason: Say why"):
        cancel_revision(draft, on=date(2026, 6, 1), reason=" ", by=writer, at=now)
    with pytest.raises(LibraryRefused, match="is a draft"):
        cancel_revision(draft, on=date(2026, 6, 1), reason="No.", by=writer, at=now)


def test_a_changed_rule_is_a_new_version_and_the_old_one_stays(
    confirmed: Any, writer: User, now: datetime
) -> None:
    provision = confirmed().provisions.get(order=1)
    before = provision.rules.get()
    sooner = {"initial": {"hours": 25, "after": "effective"}}
    after = change_rule(
        provision, number=1, action=sooner, reason="Misread.", by=writer, at=now
    )
    assert (after.number, after.action, after.reason) == (2, sooner, "Misread.")
    assert after.condition == before.condition
    assert after.applicability == before.applicability
    assert after.frozen_at == now
    old = RuleVersion.objects.get(pk=before.pk)
    assert (old.action, old.current) == (WITHIN_50_HOURS, False)
    with pytest.raises(ChangedMeanwhile):
        change_rule(
            provision, number=1, action=sooner, reason="Again.", by=writer, at=now
        )


def test_the_rule_that_was_valid_at_a_moment_is_found_again(
    confirmed: Any, writer: User, now: datetime
) -> None:
    provision = confirmed().provisions.get(order=1)
    later = now.replace(hour=20)
    after = change_rule(
        provision, number=1, condition=ALWAYS, reason="Wider.", by=writer, at=later
    )
    rules = provision.rules.all()
    assert rules.valid().get() == after
    assert rules.valid(later).get() == after
    assert rules.valid(now).get().number == 1
    assert not rules.valid(now.replace(hour=1)).exists()


@pytest.mark.both
@pytest.mark.parametrize(
    "change",
    [
        {"action": {}},
        {"condition": MX4},
        {"applicability": ALWAYS},
        {"frozen_at": None},
    ],
)
def test_the_database_refuses_to_change_a_frozen_rule(
    confirmed: Any, change: dict[str, Any]
) -> None:
    rule = confirmed().provisions.get(order=1).rules.get()
    with pytest.raises(DatabaseError, match="A frozen rule stays"), atomic():
        RuleVersion.objects.filter(pk=rule.pk).update(**change)
    RuleVersion.objects.filter(pk=rule.pk).update(current=False)
    rule.refresh_from_db()
    assert rule.action == WITHIN_50_HOURS


@pytest.mark.parametrize(
    ("change", "path"),
    [
        ({"condition": {"serial": ["5..1"]}}, "condition.serial[0]"),
        ({"applicability": {}}, "applicability"),
        (
            {"action": {"initial": {"hours": "x", "after": "new"}}},
            "action.initial.hours",
        ),
        ({"condition": ALWAYS, "reason": ""}, "reason"),
    ],
)
def test_a_wrong_change_of_a_rule_changes_nothing(
    confirmed: Any, writer: User, now: datetime, change: dict[str, Any], path: str
) -> None:
    provision = confirmed().provisions.get(order=1)
    with pytest.raises(RuleError) as refused:
        change_rule(
            provision, **{"number": 1, "reason": "Why.", **change}, by=writer, at=now
        )
    assert paths_of(refused) == [path]
    assert provision.rules.get().number == 1


def test_a_rule_is_only_changed_where_it_can_hold(
    drafted: Any, confirmed: Any, writer: User, now: datetime
) -> None:
    said: dict[str, Any] = {"number": 1, "reason": "Why.", "by": writer, "at": now}
    information = confirmed().provisions.get(order=2)
    with pytest.raises(RuleError, match="Compliance times do not go with information"):
        change_rule(information, action=WITHIN_50_HOURS, **said)
    with pytest.raises(RuleError, match="the provision is about the engine"):
        change_rule(information, condition={"this": {"serial": ["1"]}}, **said)
    with pytest.raises(LibraryRefused, match="Nothing of the rule was changed"):
        change_rule(information, **said)
    draft = drafted(replace(STATED, label="2"))
    with pytest.raises(LibraryRefused, match="Change the draft instead"):
        change_rule(draft.provisions.get(order=1), condition=ALWAYS, **said)


def test_a_document_is_attached_and_stays_once_the_revision_is_confirmed(
    drafted: Any, station: Station, writer: User, now: datetime
) -> None:
    draft = drafted()
    first, second = (DocumentFactory(station=station) for _ in range(2))
    assert attach_document(draft, first).document == first
    assert attach_document(draft, second).version == 3
    confirm_revision(draft, version=3, second_person=False, by=writer, at=now)
    assert attach_document(draft, second).document == second
    with pytest.raises(LibraryRefused, match="stays as its proof"):
        attach_document(draft, first)
    with pytest.raises(LibraryRefused, match="another station"):
        attach_document(draft, DocumentFactory())


def test_a_confirmed_revision_without_a_document_may_still_get_one(
    confirmed: Any, station: Station
) -> None:
    document = DocumentFactory(station=station)
    assert attach_document(confirmed(), document).document == document
