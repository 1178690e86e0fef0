"""Whether a longer interval applies: the answer in a few words, and what it hangs on.

There is no published source for these sentences; what is held is that nothing is claimed
that an unknown fact could turn, and that an end which has passed is said first.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from fractions import Fraction
from typing import Any
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from notices.rules.designations import designation
from notices.rules.facts import UNKNOWN, EngineFacts, Hours, HoursKept
from notices.rules.facts import Overhaul as Done
from notices.rules.overhaul import Holding
from tests.overhauls import provisions
from tests.tracker.compliance.test_interval_laws import (
    answered,
    file_with,
    files,
    rules_of,
)
from tracker.compliance.facts import EngineFile
from tracker.compliance.intervals import interval_rules
from tracker.compliance.longer_words import longer_sentence, verdict_of
from tracker.compliance.overhaul_words import (
    answer_sentences,
    interval_sentence,
    law_sentence,
)
from tracker.compliance.overhauls import IntervalLibrary, Overhaul, Work

BASE = {
    "id": "base",
    "kind": "base",
    "hours": 1500,
    "years": 12,
    "since": "overhaul",
    "binding": ["commercial"],
    "when": {"always": True},
}
LONGER = {"kind": "extension", "since": "overhaul", "hours": 1800}
SHORTER = {"id": "short", "kind": "restriction", "since": "overhaul", "hours": 1200}
EXTENSIONS: dict[str, Any] = {
    "holds": {"embodied": "M-1"},
    "within reach": {"embodied": "M-2"},
    "undetermined": {"ask": "Is it listed?"},
    "does not hold": {"serial": ["9000.."]},
}
SHARE: Any = {"leaded_share": {"over": 0.5}}
RESTRICTIONS: dict[str, Any] = {
    "none": None,
    "holds": {"operation": ["commercial"]},
    "undetermined": SHARE,
    "does not hold": {"operation": ["club"]},
}
FACTS = EngineFacts(
    type="MX-4",
    serial="4731",
    built=date(2018, 3, 1),
    operation=frozenset({"commercial"}),
    hours=HoursKept(new=Hours(82_000), overhaul=Hours(82_000)),
    overhauls=(),
    embodied=frozenset({"M-1"}),
    not_embodied=frozenset({"M-2"}),
)


def engine(**given: Any) -> EngineFile:
    return file_with(replace(FACTS, **given), 82_000)


def told(
    *given: dict[str, Any] | None, base: dict[str, Any] = BASE, **facts: Any
) -> Overhaul:
    found = answered([base, *(one for one in given if one)], engine(**facts))
    assert found is not None
    return found


def longer(how: str, **given: Any) -> dict[str, Any]:
    return {"id": f"longer-{how}", **LONGER, "when": EXTENSIONS[how], **given}


def shorter(how: str) -> dict[str, Any] | None:
    when = RESTRICTIONS[how]
    return None if when is None else {**SHORTER, "when": when}


YES = "Yes, a longer interval applies"
NOT_YET = "Not yet, but a longer interval is within reach"
OPEN = "That cannot be said yet"
NO = "No, a longer interval does not apply"
NOT_WHILE = "No, not while a restriction holds"


@pytest.mark.parametrize(
    ("extension", "restriction", "words", "holding"),
    [
        ("holds", "none", YES, Holding.HOLDS),
        ("holds", "does not hold", YES, Holding.HOLDS),
        ("holds", "holds", NOT_WHILE, Holding.DOES_NOT_HOLD),
        ("holds", "undetermined", OPEN, Holding.UNDETERMINED),
        ("within reach", "none", NOT_YET, Holding.WITHIN_REACH),
        ("within reach", "does not hold", NOT_YET, Holding.WITHIN_REACH),
        ("within reach", "holds", NOT_WHILE, Holding.DOES_NOT_HOLD),
        ("within reach", "undetermined", OPEN, Holding.UNDETERMINED),
        ("undetermined", "none", OPEN, Holding.UNDETERMINED),
        ("undetermined", "does not hold", OPEN, Holding.UNDETERMINED),
        ("undetermined", "holds", NOT_WHILE, Holding.DOES_NOT_HOLD),
        ("undetermined", "undetermined", OPEN, Holding.UNDETERMINED),
        ("does not hold", "none", NO, Holding.DOES_NOT_HOLD),
        ("does not hold", "does not hold", NO, Holding.DOES_NOT_HOLD),
        ("does not hold", "holds", NO, Holding.DOES_NOT_HOLD),
        ("does not hold", "undetermined", NO, Holding.DOES_NOT_HOLD),
    ],
)
def test_the_verdict_claims_nothing_that_a_fact_could_turn(
    extension: str, restriction: str, words: str, holding: Holding
) -> None:
    found = told(longer(extension), shorter(restriction))
    assert verdict_of(found).words == words
    assert verdict_of(found).holding is holding
    assert found.found.ends.longer is holding  # what lists select by says the same


def test_on_a_declared_mix_the_share_is_named_and_settles_it() -> None:
    both = (longer("holds"), shorter("undetermined"))
    assert (
        "Whether a longer interval applies cannot be said until this is known: share of "
        "leaded fuel."
    ) in answer_sentences(told(*both))
    half = told(*both, leaded_share=Fraction(1, 2))
    assert verdict_of(half).words == YES
    assert half.now.hours == 180_000
    more = told(*both, leaded_share=Fraction(51, 100))
    assert verdict_of(more).words == NOT_WHILE
    assert "It no longer holds once share of leaded fuel is at most 50 %." in (
        longer_sentence(more)
    )


def test_facts_that_decide_nothing_here_are_not_asked_for() -> None:
    """Hours and restriction count from one mark: where that is does not matter."""
    unknown = Done(on=UNKNOWN, hours=UNKNOWN, by="shop")
    found = told(longer("holds"), shorter("undetermined"), overhauls=(unknown,))
    assert longer_sentence(found) == (
        "Whether a longer interval applies cannot be said until this is known: share of "
        "leaded fuel."
    )


def test_two_equal_extensions_that_hold_make_the_interval_longer() -> None:
    twice = (longer("holds"), longer("holds", id="again"))
    assert verdict_of(told(*twice)).words == YES


def test_beside_one_within_reach_another_may_hold_already() -> None:
    found = told(longer("within reach"), longer("undetermined"))
    words = "That cannot be said yet, but a longer interval is within reach"
    assert verdict_of(found).words == words
    assert "cannot be said until this is known" in longer_sentence(found)
    assert "A longer interval is within reach: 1\u00a0800\u00a0h" in longer_sentence(
        found
    )


def test_without_a_base_that_is_known_it_cannot_be_said() -> None:
    unknown = {**BASE, "when": {"ask": "Is it one of the first?"}}
    assert verdict_of(told(longer("holds"), base=unknown)).words == OPEN


@pytest.mark.parametrize(
    ("extension", "words"),
    [
        ("holds", "; a longer one applies in hours only"),
        ("within reach", ", and none that is longer applies"),
        ("undetermined", ", and none that is longer applies"),
        ("does not hold", ", and none that is longer applies"),
    ],
)
def test_that_the_years_have_ended_stands_first(extension: str, words: str) -> None:
    found = told(longer(extension), built=date(2008, 3, 1))
    ended = "The years of the interval have ended"
    assert verdict_of(found).words == ended + words
    if extension in ("holds", "within reach"):
        assert "hours only: the years ended on 1 March 2020." in longer_sentence(found)
        assert "man-hours" not in longer_sentence(found)


@pytest.mark.parametrize(
    ("extension", "words"),
    [
        ("within reach", ", but a longer one is within reach"),
        ("undetermined", "; whether a longer one applies cannot be said yet"),
    ],
)
def test_an_extension_that_moves_what_has_ended_is_told(
    extension: str, words: str
) -> None:
    found = told(longer(extension, years=20), built=date(2008, 3, 1))
    assert verdict_of(found).words == f"The years of the interval have ended{words}"


def test_past_the_longer_interval_it_does_not_say_yes() -> None:
    found = told(longer("holds", hours=1600), built=date(2018, 3, 1))
    past = answered(
        [BASE, longer("holds", hours=1600)],
        file_with(FACTS, 160_001),
    )
    assert verdict_of(found).words == YES
    assert past is not None
    assert verdict_of(past).words == "The longer interval that applies has ended"


@given(provisions(), files(), st.sets(st.integers(0, 5)))
def test_learning_what_is_not_known_never_turns_an_answer(
    given: list[dict[str, Any]], file: EngineFile, done: set[int]
) -> None:
    before = answered(given, file)
    if before is None or not before.offers:
        return
    facts = file.facts
    unknown = {f"M-{n}" for n in range(6)} - facts.embodied - facts.not_embodied
    learned = unknown & {f"M-{n}" for n in done}
    known = replace(
        facts,
        embodied=facts.embodied | learned,
        not_embodied=facts.not_embodied | (unknown - learned),
    )
    after = answered(given, file_with(known, file.core_hours or Hours(0)))
    later = Holding.DOES_NOT_HOLD if after is None else after.found.ends.longer
    assert (
        later
        in {
            Holding.HOLDS: [Holding.HOLDS],
            Holding.WITHIN_REACH: [Holding.HOLDS, Holding.WITHIN_REACH],
            Holding.UNDETERMINED: list(Holding),
            Holding.DOES_NOT_HOLD: [Holding.DOES_NOT_HOLD],
        }[before.found.ends.longer]
    )


# Where the interval ends, and where it is law


@pytest.mark.parametrize(
    ("facts", "end"),
    [
        (
            {"built": UNKNOWN},
            "It ends at 1\u00a0500.0\u00a0h TSN, in 680.0\u00a0h, or earlier, by date: "
            "date of manufacture not known.",
        ),
        ({}, "or on 1 March 2030, whichever comes first."),
    ],
)
def test_an_end_that_is_not_known_may_come_first(
    facts: dict[str, Any], end: str
) -> None:
    assert interval_sentence(told(**facts)).endswith(end)


def test_hours_that_are_not_known_may_come_first() -> None:
    overhauled = Done(on=date(2020, 1, 1), hours=UNKNOWN, by="shop")
    found = told(overhauls=(overhauled,), hours=HoursKept(new=Hours(82_000)))
    assert interval_sentence(found).endswith(
        "It ends on 1 January 2032, or earlier, by hours: hours at the last overhaul "
        "not known."
    )


@pytest.mark.parametrize(
    ("uses", "words"),
    [
        ({"commercial"}, "It is law in commercial operation."),
        (
            {"commercial", "private"},
            "It is law in commercial operation (this engine is also used privately).",
        ),
        (
            {"Commercial", "club", "private"},
            "It is law in Commercial operation (this engine is also used in club "
            "operation and privately).",
        ),
    ],
)
def test_it_is_law_just_where_a_document_says_so(uses: set[str], words: str) -> None:
    assert law_sentence(told(operation=frozenset(uses))) == words
    by_extension = told(longer("holds", years=14), operation=frozenset(uses))
    assert law_sentence(by_extension) == words


def test_law_in_every_operation_names_none() -> None:
    always = {**BASE, "binding": True}
    assert law_sentence(told(base=always)) == "It is law in every operation."


@pytest.mark.parametrize("others", [(), ("again",)])
def test_an_extension_of_a_law_is_law_whether_it_counts_now_or_not(
    others: tuple[str, ...],
) -> None:
    """Alone it decides; beside a longer one it does not, and is as much the law."""
    further = [longer("holds", id=name, hours=2000) for name in others]
    commercial = told(longer("holds"), *further)
    assert [commercial.is_law(one.said.id) for one in commercial.offers] == [
        True for _ in commercial.offers
    ]
    private = told(longer("holds"), *further, operation=frozenset({"private"}))
    assert {private.is_law(one.said.id) for one in private.offers} == {False}


# What stands in the row of an extension


def test_each_extension_shows_its_own_end_and_the_cheapest_stands_first() -> None:
    found = told(longer("holds"), longer("holds", id="again", hours=2000))
    ends = {one.said.id: one.ending.hours for one in found.offers}
    assert set(ends.values()) == {180_000, 200_000}
    assert {one.with_it.hours for one in found.offers} == {200_000}


def test_extensions_on_offer_stand_by_man_hours_those_not_known_last() -> None:
    ways = {"M-2": 4000, "M-3": 1400, "M-4": None}
    several = [
        longer("within reach", id=key, hours=1600 + at, when={"embodied": key})
        for at, key in enumerate(ways)
    ]
    works = {
        designation(key): Work(
            publication=UUID(int=0),
            number="SB-1",
            provision=UUID(int=0),
            title="Fit the pump",
            man_hours=cost,
        )
        for key, cost in ways.items()
    }
    library = IntervalLibrary(
        rules=interval_rules(rules_of([BASE, *several])), works=works
    )
    file = engine(not_embodied=frozenset(ways))
    found = library.overhaul_of(file, on=date(2026, 11, 24))
    assert found is not None
    assert [one.said.id.split()[-1] for one in found.offers] == ["M-3", "M-2", "M-4"]
    assert longer_sentence(found).startswith(
        "Longer intervals are within reach: 1\u00a0600\u00a0h if you embody M-2, “Fit "
        "the pump” of SB-1 (40 man-hours), up to 1\u00a0602\u00a0h if you embody M-4"
    )


def test_of_several_in_reach_each_says_by_when_it_must_be_done() -> None:
    hours, other = {"enter_by": {"hours": 1500}}, {"enter_by": {"hours": 1000}}
    near = longer("within reach", **hours)
    far = longer("within reach", id="far", hours=2000, **hours)
    assert longer_sentence(told(near, far)).endswith(
        "That must be done by 1\u00a0500.0\u00a0h."
    )
    assert longer_sentence(told(near, {**far, **other})).endswith(
        "For 1\u00a0800\u00a0h, that must be done by 1\u00a0500.0\u00a0h. For "
        "2\u00a0000\u00a0h, that must be done by 1\u00a0000.0\u00a0h."
    )


def test_a_restriction_says_in_words_what_would_end_it() -> None:
    inside: Any = {"oil_temperature": {"from": 70, "to": 110}}
    hard = {"all": [RESTRICTIONS["holds"], {"any": [SHARE, {"not": inside}]}]}
    found = told(
        longer("within reach"), {**SHORTER, "when": hard}, leaded_share=Fraction(1)
    )
    assert longer_sentence(found).endswith(
        "holds. It no longer holds once kind of operation is not commercial or (share "
        "of leaded fuel is at most 50 % and oil temperature is at least 70 °C and at "
        "most 110 °C throughout)."
    )
