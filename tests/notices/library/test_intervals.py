"""Overhaul intervals and oils in the library: what goes with what, alone and together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import pytest
from django.db import DatabaseError
from django.db.transaction import atomic

from notices.library import (
    Placed,
    ProvisionInput,
    ReferenceInput,
    RevisionInput,
    add_draft,
    beside_revision,
    cancel_revision,
    change_rule,
    confirm_revision,
    interval_warnings,
    intervals_in,
    stated_in,
)
from notices.models import Publication, Revision, RuleVersion
from notices.rules.errors import RuleError
from tests.factories.accounts import UserFactory
from tests.factories.notices import WITHIN_50_HOURS, PublicationFactory
from tracker.accounts.models import Station

MX4 = {"type": ["MX-4*"]}
BASE = {"id": "base", "kind": "base", "hours": 1500, "years": 12, "since": "overhaul"}
LONGER = {"id": "feed", "kind": "extension", "hours": 2000, "since": "overhaul"}
SHORTER = {"id": "tow", "kind": "restriction", "hours": 1200, "since": "overhaul"}
FITTED = {"embodied": "SB-24-011"}
ROW = {
    "id": "all-year",
    "grade": "10W-40",
    "class": "semi-synthetic",
    "ambient": {"from": -25, "to": 40},
    "fuel": ["unleaded", "leaded"],
}
STATED = RevisionInput(label="0", effective_on=date(2026, 1, 15), applicability=MX4)
Entering = Callable[..., Revision]


def interval(raw: dict[str, Any], **given: Any) -> ProvisionInput:
    title = f"{raw['kind']}, {raw.get('hours')} h"
    return ProvisionInput(kind="overhaul interval", title=title, interval=raw, **given)


def oils(*rows: dict[str, Any], **given: Any) -> ProvisionInput:
    return ProvisionInput(
        kind="oils and fluids", title="Oils", fluids=list(rows), **given
    )


@pytest.fixture
def entering(station: Station, now: datetime) -> Entering:
    """Return a revision with provisions, confirmed unless `draft`."""
    known: dict[str, Publication] = {}

    def enter(
        *provisions: ProvisionInput,
        number: str = "SI-18-001",
        draft: bool = False,
        types: tuple[str, ...] = (),
        **of_revision: Any,
    ) -> Revision:
        if number not in known:
            known[number] = PublicationFactory(station=station, number=number)
        stated = replace(STATED, provisions=provisions, **of_revision)
        by = UserFactory()
        entered = add_draft(publication=known[number], stated=stated, by=by, at=now)
        if draft:
            return entered
        return confirm_revision(
            entered,
            version=1,
            second_person=False,
            by=by,
            at=now,
            types=dict.fromkeys(types, ""),
        )

    return enter


def faults_of(refused: pytest.ExceptionInfo[RuleError]) -> dict[str, str]:
    return {fault.path: fault.message for fault in refused.value.faults}


def warned(revision: Revision, *types: str) -> list[str]:
    beside = beside_revision(revision, date(2026, 11, 24))
    return interval_warnings(intervals_in(revision), beside, dict.fromkeys(types, ""))


# -- one provision


def test_an_interval_and_rows_of_oils_are_kept_in_their_stored_form(
    entering: Entering,
) -> None:
    revision = entering(interval({**BASE, "hours": 1500.0}), oils(ROW))
    first, second = RuleVersion.objects.filter(provision__revision=revision)
    assert (first.interval, first.fluids, first.action) == (BASE, [], {})
    assert (second.interval, second.fluids, second.action) == ({}, [ROW], {})


def test_what_a_draft_says_of_them_can_be_entered_again(entering: Entering) -> None:
    draft = entering(interval(BASE), oils(ROW), draft=True)
    again = entering(*stated_in(draft).provisions, draft=True, label="1")
    assert stated_in(again).provisions == stated_in(draft).provisions


@pytest.mark.parametrize(
    ("provision", "path", "message"),
    [
        (
            replace(interval(BASE), kind="information"),
            "interval",
            "An overhaul interval does not go with information. Take it out.",
        ),
        (
            replace(oils(ROW), kind="action"),
            "fluids",
            "Rows of oils do not go with action. Take them out.",
        ),
        (
            replace(interval(BASE), action=WITHIN_50_HOURS),
            "action",
            "Compliance times do not go with overhaul interval. Take them out.",
        ),
        (
            interval({**BASE, "when": MX4}),
            "interval.when",
            "Write it as the condition of the provision.",
        ),
        (
            interval({**BASE, "hours": 0}),
            "interval.hours",
            "An interval has more than 0 h. Leave hours out if there are none.",
        ),
        (
            interval(BASE, role="magneto"),
            "role",
            "An overhaul interval is about the engine. Leave the role empty.",
        ),
        (
            oils(ROW, role="magneto"),
            "role",
            "Oils and fluids are about the engine. Leave the role empty.",
        ),
        (
            oils(ROW, {**ROW, "id": "b", "ambient": {"from": 40, "to": -25}}),
            "fluids[1].ambient",
            'The lowest temperature "from" is above the highest "to".',
        ),
        (
            oils({**ROW, "note": "a\x00b"}),
            "fluids",
            "Contains a control character. Type the rule again.",
        ),
    ],
)
def test_what_does_not_go_together_is_refused(
    entering: Entering, provision: ProvisionInput, path: str, message: str
) -> None:
    with pytest.raises(RuleError) as refused:
        entering(provision, draft=True)
    assert faults_of(refused) == {f"provisions[0].{path}": message}
    assert not Revision.objects.exists()


def test_a_row_of_oils_may_have_a_condition_of_its_own(entering: Entering) -> None:
    row = {**ROW, "when": {"leaded_share": {"over": 0.3}}}
    assert entering(oils(row)).provisions.get().rules.get().fluids == [row]
    this = {**ROW, "when": {"this": {"number": ["P-1"]}}}
    with pytest.raises(RuleError) as refused:
        entering(oils(this), draft=True, label="1")
    assert list(faults_of(refused)) == ["provisions[0].role"]


@pytest.mark.parametrize(
    ("provision", "path", "said"),
    [
        (replace(interval(BASE), interval=None), "interval", "a base, an extension"),
        (replace(oils(ROW), fluids=None), "fluids", "Enter at least one row"),
    ],
)
def test_a_draft_may_lack_them_and_is_then_not_confirmed(
    entering: Entering, provision: ProvisionInput, path: str, said: str
) -> None:
    entering(provision, draft=True)
    with pytest.raises(RuleError) as refused:
        entering(provision, label="1")
    assert list(faults_of(refused)) == [f"provisions[0].{path}"]
    assert said in str(refused.value)


# -- what is frozen


@pytest.mark.both
@pytest.mark.parametrize(
    "change", [{"interval": {**BASE, "hours": 9000}}, {"fluids": [ROW]}]
)
@pytest.mark.django_db
def test_the_database_keeps_a_frozen_interval_and_frozen_rows(
    entering: Entering, change: dict[str, Any]
) -> None:
    rule = entering(interval(BASE)).provisions.get().rules.get()
    with pytest.raises(DatabaseError, match="stays as it is"), atomic():
        RuleVersion.objects.filter(pk=rule.pk).update(**change)
    rule.refresh_from_db()
    assert (rule.interval, rule.fluids) == (BASE, [])


def test_a_rule_is_changed_by_a_new_version(entering: Entering, now: datetime) -> None:
    revision = entering(interval(BASE), oils(ROW))
    first, second = revision.provisions.all()
    who: dict[str, Any] = {"reason": "Misread.", "by": UserFactory(), "at": now}
    longer = change_rule(first, number=1, interval={**BASE, "hours": 1600}, **who)
    other = change_rule(second, number=1, fluids=[{**ROW, "grade": "20W-50"}], **who)
    assert longer.interval["hours"] == 1600
    assert other.fluids[0]["grade"] == "20W-50"
    assert (longer.fluids, other.interval) == ([], {})
    for given in ({"fluids": [ROW]}, {"action": WITHIN_50_HOURS}):
        with pytest.raises(RuleError, match="not go with overhaul interval"):
            change_rule(first, number=2, **given, **who)


# -- several in one revision


def test_two_intervals_of_a_revision_have_different_ids(entering: Entering) -> None:
    with pytest.raises(RuleError) as refused:
        entering(interval(BASE), oils(ROW), interval({**LONGER, "id": "base"}))
    assert faults_of(refused) == {
        "provisions[2].interval.id": "Provision 3 and provision 1 are both called "
        '"base". Give each its own short name.'
    }


def test_two_bases_that_certainly_hold_for_one_type_are_not_confirmed(
    entering: Entering,
) -> None:
    narrower = interval({**BASE, "id": "b"}, condition={"type": ["MX-4T"]})
    with pytest.raises(RuleError) as refused:
        entering(interval(BASE), narrower)
    assert faults_of(refused) == {
        "provisions[1].interval": "Provision 2 and provision 1 are both base intervals "
        "for engines of type MX-4T. Narrow one of them, or make one an extension."
    }


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ({"type": ["MX-4"]}, {"type": ["MX-4T"]}),
        ({"type": ["MX-4"]}, {"not": {"type": ["MX-4"]}}),
    ],
)
def test_bases_for_different_types_stand_side_by_side(
    entering: Entering, one: dict[str, Any], other: dict[str, Any]
) -> None:
    revision = entering(
        interval(BASE, condition=one),
        interval({**BASE, "id": "b"}, condition=other),
        types=("MX-4", "MX-4T"),
    )
    assert warned(revision, "MX-4", "MX-4T") == []


def test_bases_told_apart_by_more_than_the_type_are_warned_of(
    entering: Entering,
) -> None:
    early = {"serial": ["4001..4987"]}
    revision = entering(
        interval(BASE, condition=early),
        interval({**BASE, "id": "b"}, condition={"not": early}),
    )
    assert warned(revision, "MX-4") == [
        "Provision 2: SI-18-001 rev. 0, provision 1 is a base interval, too, and both "
        "may hold for engines of type MX-4. Where both do, the shorter counts."
    ]


def test_bases_with_the_same_condition_are_not_confirmed(entering: Entering) -> None:
    early = {"serial": ["4001..4987"]}
    with pytest.raises(RuleError, match="both base intervals for the same engines"):
        entering(
            interval(BASE, condition=early),
            interval({**BASE, "id": "b"}, condition=early),
        )


@pytest.mark.parametrize(
    ("one", "other", "serial"),
    [
        ({"always": True}, {"serial": ["Q1550.."]}, "Q1550"),
        ({"always": True}, {"serial": ["..K-612"]}, "K612"),
        ({"serial": ["1500..1600"]}, {"not": {"serial": ["1400..1550"]}}, "1551"),
        ({"not": {"serial": ["..1499"]}}, {"serial": ["1400..1550"]}, "1550"),
        ({"serial": ["1500..1600"]}, {"not": {"serial": ["1501..1600"]}}, "1500"),
        ({"not": {"serial": ["1500"]}}, {"not": {"serial": ["1700"]}}, "1699"),
    ],
)
def test_two_bases_that_one_serial_certainly_has_are_not_confirmed(
    entering: Entering, one: dict[str, Any], other: dict[str, Any], serial: str
) -> None:
    with pytest.raises(RuleError) as refused:
        entering(
            interval(BASE, condition=one),
            oils(ROW),
            interval({**BASE, "id": "b"}, condition=other),
            types=("MX-4",),
        )
    assert faults_of(refused)["provisions[2].interval"] == (
        "Provision 3 and provision 1 are both base intervals for an engine of type MX-4 "
        f"with serial number {serial}. Narrow one of them, or make one an extension."
    )


def test_a_serial_that_no_engine_of_the_type_has_proves_nothing(
    entering: Entering,
) -> None:
    draft = entering(
        interval(BASE),
        interval({**BASE, "id": "b"}, condition={"serial": ["Q1550.."]}),
        draft=True,
    )
    own = intervals_in(draft)
    [fits] = interval_warnings(own, [], {"MX-4": "Q#"})
    assert fits.endswith("It is not confirmed so.")
    [other] = interval_warnings(own, [], {"MX-4": "L-#-#"})
    assert other.endswith("Where both do, the shorter counts.")


def test_a_circle_in_one_revision_is_not_confirmed(entering: Entering) -> None:
    first = interval({**LONGER, "id": "a", "builds_on": "b"})
    second = interval({**LONGER, "id": "b", "builds_on": "a"})
    with pytest.raises(RuleError) as refused:
        entering(interval(BASE), first, second)
    assert set(faults_of(refused)) == {
        "provisions[1].interval.builds_on",
        "provisions[2].interval.builds_on",
    }
    assert (
        'Provision 2 builds on itself: it builds on "b" of provision 3, which builds on '
        '"a" of provision 2. Take one of these out.'
    ) in str(refused.value)


# -- documents beside each other


def test_a_base_of_another_document_that_holds_is_named(entering: Entering) -> None:
    entering(interval(BASE))
    with pytest.raises(RuleError) as refused:
        entering(interval(BASE), number="AD-7", types=("MX-4",))
    [message] = faults_of(refused).values()
    assert message.startswith(
        "Provision 1 and SI-18-001 rev. 0, provision 1 are both base intervals for "
    )


def test_a_type_that_only_the_station_names_is_looked_at(entering: Entering) -> None:
    everyone: dict[str, Any] = {"applicability": {"always": True}}
    entering(interval(BASE, condition={"not": {"type": ["MX-6"]}}), **everyone)
    second = interval(BASE, condition={"not": {"type": ["MX-9"]}})
    with pytest.raises(RuleError, match="engines of type LMX-4"):
        entering(second, number="AD-7", types=("LMX-4",), **everyone)


@pytest.mark.both
@pytest.mark.django_db
def test_a_base_that_is_replaced_or_gone_does_not_stand_in_the_way(
    entering: Entering, now: datetime
) -> None:
    first = entering(interval(BASE))
    next_issue = entering(interval(BASE), label="1", effective_on=date(2026, 2, 1))
    superseding = entering(
        interval(BASE),
        number="SI-26-002",
        references=(ReferenceInput(kind="supersedes", number="si 18 001"),),
        effective_on=date(2026, 3, 1),
    )
    assert first.confirmed_at
    assert next_issue.confirmed_at
    cancel_revision(
        superseding,
        on=now.date() - timedelta(1),
        reason="Withdrawn.",
        by=UserFactory(),
        at=now,
    )
    assert entering(interval(BASE), number="AD-7").confirmed_at


def test_a_base_that_took_over_after_its_successor_is_not_replaced_by_it(
    entering: Entering,
) -> None:
    entering(interval(BASE), effective_on=date(2026, 3, 1))
    with pytest.raises(RuleError, match="are both base intervals"):
        entering(
            interval(BASE),
            number="SI-26-002",
            references=(ReferenceInput(kind="supersedes", number="SI-18-001"),),
        )


def test_a_base_that_takes_over_later_stands_in_the_way_already(
    entering: Entering, now: datetime
) -> None:
    entering(interval(BASE), effective_on=now.date() + timedelta(30))
    with pytest.raises(RuleError, match="are both base intervals"):
        entering(interval(BASE), number="AD-7")


def test_another_stations_base_does_not_count(
    entering: Entering, other_station: Station
) -> None:
    revision = entering(interval(BASE))
    Publication.objects.update(station=other_station)
    Revision.objects.update(station=other_station)
    assert entering(interval(BASE), number="AD-7").confirmed_at
    assert revision.confirmed_at


def test_a_row_longer_than_is_looked_at_is_not_confirmed(entering: Entering) -> None:
    below = [
        interval({**LONGER, "id": f"e{n}", "builds_on": f"e{n - 1}" if n else "base"})
        for n in range(11)
    ]
    assert entering(interval(BASE), *below, number="SI-1").confirmed_at
    top = interval({**LONGER, "id": "top", "builds_on": "e10"})
    with pytest.raises(RuleError) as refused:
        entering(top, number="SI-2")
    assert faults_of(refused)["provisions[0].interval.builds_on"] == (
        "With provision 1 13 intervals build on each other in a row; at most 12 may."
    )


def test_a_circle_across_documents_is_not_confirmed(entering: Entering) -> None:
    entering(interval(BASE), interval({**LONGER, "id": "a", "builds_on": "b"}))
    closing = interval({**LONGER, "id": "b", "builds_on": "a"})
    with pytest.raises(RuleError) as refused:
        entering(closing, number="SB-2")
    assert faults_of(refused) == {
        "provisions[0].interval.builds_on": "Provision 1 builds on itself: it builds on "
        '"a" of SI-18-001 rev. 0, provision 2, which builds on "b" of provision 1. Take '
        "one of these out."
    }


def test_an_own_interval_is_meant_before_another_documents(
    entering: Entering,
) -> None:
    """Both documents call theirs "base", and each builds on its own: no circle."""
    entering(
        interval(BASE, condition={"type": ["MX-4"]}),
        interval({**LONGER, "builds_on": "base"}),
    )
    revision = entering(
        interval(BASE, condition={"type": ["MX-4T"]}),
        interval({**LONGER, "id": "more", "builds_on": "base"}, condition=FITTED),
        number="SB-2",
    )
    assert warned(revision) == [
        'Provision 1: SI-18-001 rev. 0, provision 1 is called "base", too. A third '
        "document that builds on it could not tell which one is meant."
    ]


def test_a_changed_rule_is_looked_at_beside_the_others(
    entering: Entering, now: datetime
) -> None:
    revision = entering(interval(BASE), interval({**LONGER, "builds_on": "base"}))
    _, longer = revision.provisions.all()
    who: dict[str, Any] = {"reason": "Misread.", "by": UserFactory(), "at": now}
    for change, path in (
        ({**BASE, "id": "b"}, "interval"),
        ({**LONGER, "id": "base"}, "interval.id"),
    ):
        with pytest.raises(RuleError) as refused:
            change_rule(longer, number=1, interval=change, **who)
        assert list(faults_of(refused)) == [path]
    entering(interval(BASE), label="1", effective_on=date(2026, 2, 1))
    # What has been superseded concerns no engine any more.
    assert change_rule(longer, number=1, interval={**BASE, "id": "b"}, **who)


# -- what is to be looked at twice


def test_an_extension_or_restriction_without_a_base_is_warned_of(
    entering: Entering,
) -> None:
    entering(interval(BASE, condition={"type": ["MX-4"]}))
    longer = interval(LONGER, condition=FITTED)
    revision = entering(longer, interval(SHORTER), number="SB-2")
    assert warned(revision, "MX-4", "MX-4T", "MX-6") == [
        "Provision 1: No base interval is known for MX-4T: there is nothing that it "
        "would lengthen.",
        "Provision 2: No base interval is known for MX-4T: there it stands alone, and "
        "without it no interval is known.",
    ]


def test_without_any_type_known_a_missing_base_is_still_warned_of(
    entering: Entering,
) -> None:
    revision = entering(interval(LONGER), applicability={"always": True})
    assert warned(revision) == [
        "Provision 1: No base interval is known: there is nothing that it would "
        "lengthen."
    ]


def test_what_builds_on_nothing_or_on_several_is_warned_of(
    entering: Entering,
) -> None:
    entering(interval(BASE))
    built = interval({**LONGER, "builds_on": "more"})
    revision = entering(built, number="SB-2")
    assert warned(revision) == [
        'Provision 1: It builds on "more", and no current document has an interval of '
        "that name: whether it holds cannot be said."
    ]
    for number in ("SB-3", "SB-4"):
        entering(interval({**LONGER, "id": "more"}), number=number)
    assert warned(revision) == [
        'Provision 1: It builds on "more", which SB-3 rev. 0, provision 1 and SB-4 '
        "rev. 0, provision 1 are all called: whether it holds cannot be said."
    ]


BUILT = {**LONGER, "builds_on": "base"}


@pytest.mark.parametrize(
    ("raw", "condition", "words"),
    [
        (
            {**BUILT, "hours": 1500},
            FITTED,
            "1 500 h are not more than the 1 500 h of provision 1: it lengthens nothing "
            "there.",
        ),
        (
            {**BUILT, "years": 10},
            FITTED,
            "10 years are not more than the 12 years of provision 1: it lengthens nothing "
            "there.",
        ),
        (
            {**SHORTER, "hours": 1700},
            FITTED,
            "1 700 h are not less than the 1 500 h of provision 1: it restricts nothing "
            "there.",
        ),
        (
            {**BUILT, "hours": 1700, "enter_by": {"hours": 1800}},
            FITTED,
            "It may be entered up to 1 800 h, but ends at 1 700 h itself. Enter it "
            "earlier.",
        ),
        (
            {**BUILT, "years": 15, "enter_by": {"years": 16}},
            FITTED,
            "It may be entered up to 16 years, but ends at 15 years itself. Enter it "
            "earlier.",
        ),
        (
            LONGER,
            None,
            "It has no condition of its own, so it holds for every engine that provision "
            "1 speaks of. Say where it holds only, or make it the base interval.",
        ),
        # What changes something, or is entered in time, is sound.
        (BUILT, FITTED, ""),
        ({**BUILT, "hours": 1501}, FITTED, ""),
        ({**SHORTER, "hours": 1499}, FITTED, ""),
        ({**BUILT, "enter_by": {"hours": 2000}}, None, ""),
        ({**LONGER, "hours": 900, "since": "new"}, FITTED, ""),
    ],
)
def test_what_changes_nothing_of_its_base_is_warned_of(
    entering: Entering,
    raw: dict[str, Any],
    condition: dict[str, Any] | None,
    words: str,
) -> None:
    revision = entering(interval(BASE), interval(raw, condition=condition), draft=True)
    told = [one.replace("\u00a0", " ") for one in warned(revision, "MX-4")]
    assert told == ([f"Provision 2: {words}"] if words else [])


def test_a_restriction_above_the_base_restricts_a_longer_extension(
    entering: Entering,
) -> None:
    revision = entering(
        interval(BASE),
        interval(LONGER, condition=FITTED),
        interval({**SHORTER, "hours": 1700}),
    )
    assert warned(revision, "MX-4") == []


def test_an_extension_for_one_of_several_types_needs_no_other_condition(
    entering: Entering,
) -> None:
    revision = entering(interval(BASE), interval(LONGER, condition={"type": ["MX-4T"]}))
    assert warned(revision, "MX-4", "MX-4T") == []


def test_a_sound_set_of_intervals_gives_no_warning(entering: Entering) -> None:
    revision = entering(
        interval(BASE),
        interval({**LONGER, "builds_on": "base"}, condition=FITTED),
        interval(SHORTER),
        types=("MX-4", "MX-6"),
    )
    assert warned(revision, "MX-4", "MX-6") == []


def test_what_will_be_refused_is_told_before(entering: Entering) -> None:
    entering(interval(BASE))
    draft = entering(interval(BASE), number="AD-7", draft=True)
    [warning] = [words for words in warned(draft) if "base interval" in words]
    assert warning.endswith("make one an extension. It is not confirmed so.")


@pytest.mark.parametrize("documents", [1, 12])
def test_looking_beside_takes_two_queries(
    entering: Entering, django_assert_num_queries: Any, documents: int
) -> None:
    for number in range(documents):
        on = {"type": [f"MX-{number}"]}
        entering(interval(BASE), number=f"SI-{number}", applicability=on)
    draft = entering(interval(BASE), number="AD-7", draft=True)
    with django_assert_num_queries(2):  # numbers superseded, rules with their rows
        beside: list[Placed] = beside_revision(draft, date(2026, 11, 24))
    assert len(beside) == documents
