"""Parts that do not go together: two of them are named, and no record makes them fit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest

from notices.library import (
    ProvisionInput,
    RevisionInput,
    add_draft,
    change_rule,
    confirm_revision,
)
from notices.models import Provision, Publication, Revision
from notices.rules.errors import RuleError
from tests.factories.accounts import UserFactory
from tests.factories.notices import PublicationFactory
from tracker.accounts.models import Station

PASSIVE = {"attribute": "signal", "in": ["passive"]}
FED = {"attribute": "signal", "in": ["compensated"]}
TRANSMITTER = {"part": {"role": "pressure transmitter", "where": PASSIVE}}
INDICATOR = {"part": {"role": "pressure indicator", "where": FED}}
CONFLICT = {"all": [TRANSMITTER, INDICATOR]}
NOW_DUE = {"initial": {"event": "further flight"}}
TOGETHER = ProvisionInput(
    kind="parts together",
    title="The gauge does not read this transmitter",
    condition=CONFLICT,
    action=NOW_DUE,
)
STATED = RevisionInput(
    label="0",
    issued_on=date(2026, 1, 5),
    applicability={"type": ["MX-4*"]},
    provisions=(TOGETHER,),
)
Enter = Callable[..., Revision]


@pytest.fixture
def enter(station: Station, now: datetime) -> Enter:
    """Return a confirmed revision with this one provision, of the stated revision."""
    publication: Publication = PublicationFactory(station=station)

    def make(provision: ProvisionInput, **of_revision: Any) -> Revision:
        stated = replace(STATED, provisions=(provision,), **of_revision)
        by = UserFactory()
        draft = add_draft(publication=publication, stated=stated, by=by, at=now)
        return confirm_revision(draft, version=1, second_person=False, by=by, at=now)

    return make


def paths_of(refused: pytest.ExceptionInfo[RuleError]) -> list[str]:
    return [fault.path for fault in refused.value.faults]


def test_two_parts_and_what_to_do_are_kept(enter: Enter) -> None:
    rule = enter(TOGETHER).provisions.get().rules.get()
    assert rule.condition == CONFLICT
    assert rule.action == NOW_DUE


@pytest.mark.parametrize(
    ("condition", "found"),
    [
        (None, "Named here: none."),
        ({"attribute": "signal", "in": ["passive"]}, "Named here: none."),
        (TRANSMITTER, 'Named here: only "pressure transmitter".'),
        # The same part twice is one part, however its role is written.
        (
            {"any": [TRANSMITTER, {"part": {"role": "Pressure  Transmitter"}}]},
            'Named here: only "pressure transmitter".',
        ),
    ],
)
def test_a_rule_that_does_not_name_two_parts_is_refused(
    enter: Enter, condition: dict[str, Any] | None, found: str
) -> None:
    with pytest.raises(RuleError) as refused:
        enter(replace(TOGETHER, condition=condition))
    assert paths_of(refused) == ["provisions[0].condition"]
    assert "It takes two parts that do not go together" in str(refused.value)
    assert found in str(refused.value)


@pytest.mark.parametrize(
    "given",
    [
        # One in the applicability, the other in the condition; or under "not".
        {"condition": INDICATOR, "applicability": {"all": [TRANSMITTER]}},
        {"condition": {"all": [TRANSMITTER, {"not": INDICATOR}]}},
    ],
)
def test_the_two_parts_may_stand_anywhere_in_the_rule(
    enter: Enter, given: dict[str, Any]
) -> None:
    condition = given.pop("condition")
    assert enter(replace(TOGETHER, condition=condition), **given).confirmed_at


def test_the_part_it_is_about_is_one_of_the_two(enter: Enter) -> None:
    about = replace(TOGETHER, role="pressure transmitter")
    this = {"all": [{"this": PASSIVE}, INDICATOR]}
    assert enter(replace(about, condition=this)).confirmed_at
    with pytest.raises(RuleError):
        enter(replace(about, condition=INDICATOR), label="1")


@pytest.mark.parametrize(
    "said",
    [
        {"credit": True},
        {"repeat": {"hours": 50, "after": "last done"}},
        {"ends_with": ["SB-1"]},
        {"counts": ["annual inspection"]},
    ],
)
def test_no_work_done_is_asked_about(enter: Enter, said: dict[str, Any]) -> None:
    with pytest.raises(RuleError) as refused:
        enter(replace(TOGETHER, action={**NOW_DUE, **said}))
    [name] = said
    assert paths_of(refused) == [f"provisions[0].action.{name}"]
    assert "until one of them is changed" in str(refused.value)


def test_it_is_not_confirmed_before_it_says_by_when(enter: Enter) -> None:
    with pytest.raises(RuleError) as refused:
        enter(replace(TOGETHER, action=None))
    assert paths_of(refused) == ["provisions[0].action"]


def test_a_change_of_the_rule_is_looked_at_as_a_whole(
    enter: Enter, now: datetime
) -> None:
    provision = enter(TOGETHER).provisions.get()
    who: dict[str, Any] = {"reason": "Misread.", "by": UserFactory(), "at": now}
    for change, path in (
        ({"condition": TRANSMITTER}, "condition"),
        ({"action": {**NOW_DUE, "credit": True}}, "action.credit"),
    ):
        with pytest.raises(RuleError) as refused:
            change_rule(provision, number=1, **change, **who)
        assert paths_of(refused) == [path]
    moved = {"applicability": TRANSMITTER, "condition": INDICATOR}
    assert change_rule(provision, number=1, **moved, **who).number == 2


def test_its_kind_is_named_by_what_stands_under_it() -> None:
    assert Provision.Kind.TOGETHER.label == "parts that do not go together"
    assert Provision.Kind.TOGETHER.value == "parts together"
