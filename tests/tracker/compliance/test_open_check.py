"""What is said of an engine that somebody without an account describes.

There is no published source for such a page; what is held here is that it evaluates as
the engine in care is evaluated, that what was not told stays unknown, and that each
fact which is missing is asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from fractions import Fraction
from typing import Any

import pytest

from notices.models import Provision
from notices.rules.facts import Hours, Overhaul, TemperatureRange
from tests.factories.fleet import EngineTypeFactory, PartRoleFactory
from tests.factories.notices import RevisionFactory
from tracker.accounts.models import Station
from tracker.compliance.open_check import (
    Described,
    Fact,
    Found,
    Happened,
    Kind,
    Of,
    OpenAnswer,
    Told,
    answer_for,
    open_library,
    types_spoken_of,
)
from tracker.compliance.overhaul_words import answer_sentences

pytestmark = pytest.mark.django_db

TYPE = {"type": ["MX-4*"]}
MODIFIED = Fact(kind=Kind.WORK, name="MOD-41")
YES, NO = Happened(ever=True), Happened(ever=False)

Ask = Callable[..., OpenAnswer]


@pytest.fixture
def ask(station: Station, today: date) -> Ask:
    """Return what is said of an engine MX-4, of which only this is told."""

    def answer(told: dict[Fact, Told] | None = None, **given: Any) -> OpenAnswer:
        described = Described(type="MX-4", told=told or {}, **given)
        library = open_library(station, described.type, today)
        return answer_for(described, station, library, today)

    return answer


def only(found: tuple[Found, ...]) -> Found:
    [one] = found
    return one


def missing(found: Found) -> list[str]:
    return [one.words for one in found.missing]


# What applies, what does not, and what hangs on a fact


def test_a_serial_decides_as_it_does_for_an_engine_in_care(
    ask: Ask, make_provision: Any
) -> None:
    make_provision(rule__condition={"serial": ["4001..4987"]})
    assert only(ask(serial="4118").applies).line.outcome == "applies"
    assert only(ask(serial="4118").applies).line.reasons == (
        "Serial number 4118 is from 4001 to 4987.",
    )
    [left_out] = ask(serial="5000").not_applicable
    assert left_out.reason == "Serial number 5000 is not from 4001 to 4987."


def test_what_was_not_told_is_not_known_and_asked_for(
    ask: Ask, make_provision: Any
) -> None:
    make_provision(
        rule__condition={
            "all": [
                {"serial": ["4001..4987"]},
                {"built": {"from": "2015-01-01"}},
                {"embodied": "MOD-41"},
                {"operation": ["commercial"]},
                {"leaded_share": {"over": 0.25}},
                {"oil_temperature": {"from": 80}},
                {"overhauled": False},
            ]
        }
    )
    found = only(ask().undetermined)
    fields = {
        one.words: one.first or [wanted.fact for wanted in one.wanted]
        for one in found.missing
    }
    assert fields == {
        "serial number": "serial",
        "date of manufacture": "built",
        "whether MOD-41 is embodied": [MODIFIED],
        "kind of operation": "uses",
        "share of leaded fuel": "fuel",
        "oil temperature": "oil_low",
        "overhaul history": "overhauled",
    }


def test_all_that_is_told_settles_it(ask: Ask, make_provision: Any) -> None:
    make_provision(
        rule__condition={
            "all": [
                {"built": {"from": "2015-01-01"}},
                {"embodied": "MOD-41"},
                {"operation": ["commercial"]},
                {"leaded_share": {"over": 0.25}},
                {"oil_temperature": {"from": 80, "to": 110}},
                {"overhauled": {"by": ["maker"], "after": "2019-01-01"}},
                {"hours": {"since": "overhaul", "under": 700}},
            ]
        }
    )
    answer = ask(
        {MODIFIED: YES},
        built=date(2015, 3, 2),
        hours=Hours(150_000),
        overhauls=(Overhaul(on=date(2020, 5, 4), hours=Hours(90_000), by="maker"),),
        uses=frozenset({"commercial"}),
        leaded_share=Fraction(3, 10),
        oil_temperature=TemperatureRange(low=Fraction(85), high=Fraction(101)),
    )
    assert only(answer.applies).line.outcome == "applies"


@pytest.mark.parametrize(
    ("told", "outcome"),
    [
        ({}, "undetermined"),
        ({MODIFIED: YES}, "applies"),
        ({MODIFIED: NO}, "does not apply"),
        ({Fact(kind=Kind.WORK, name="MOD 41"): YES}, "applies"),
    ],
)
@pytest.mark.parametrize("test", ["embodied", "complied"])
def test_what_was_done_counts_as_embodied_and_as_complied_with(
    ask: Ask, make_provision: Any, test: str, told: Any, outcome: str
) -> None:
    make_provision(rule__condition={test: "MOD-41"}, rule__action={})
    answer = ask(told)
    counts = {
        "applies": len(answer.applies),
        "undetermined": len(answer.undetermined),
        "does not apply": len(answer.not_applicable),
    }
    assert counts.pop(outcome) == 1
    assert set(counts.values()) == {0}


def test_to_deny_all_that_a_rule_asks_to_have_been_done_settles_it(
    ask: Ask, make_provision: Any
) -> None:
    """Nobody has to go through a whole history to say no to one question."""
    both = {"any": [{"complied": "SB-1"}, {"complied": "SB-2", "revisions": ["2"]}]}
    make_provision(rule__condition={"not": both}, rule__action={})
    first, second = (Fact(kind=Kind.WORK, name=name) for name in ("SB-1", "SB-2"))
    assert ask({first: NO}).undetermined
    assert ask({first: NO, second: NO}).applies


def test_a_property_a_question_and_the_registry_are_asked_for_and_taken(
    ask: Ask, make_provision: Any
) -> None:
    make_provision(
        rule__condition={
            "all": [
                {"attribute": "drive", "in": ["geared"]},
                {"ask": "Is the case stamped R?"},
                {"registry": ["NO"]},
                {"aircraft": ["TR-2*"]},
                {"shipped": {"before": "2016-01-01"}},
                {"rebuilt": False},
            ]
        },
        rule__action={},
    )
    told: dict[Fact, Told] = {
        Fact(kind=Kind.ATTRIBUTE, name="drive"): "geared",
        Fact(kind=Kind.QUESTION, name="Is the case stamped R?"): True,
        Fact(kind=Kind.REGISTRY): "NO",
        Fact(kind=Kind.AIRCRAFT): "TR-20",
        Fact(kind=Kind.SHIPPED): date(2015, 2, 3),
        Fact(kind=Kind.REBUILT): NO,
    }
    wanted = {w.fact for one in only(ask().undetermined).missing for w in one.wanted}
    assert wanted == set(told)
    assert ask(told).applies


def test_one_answer_to_a_question_holds_for_every_document_that_asks_it(
    ask: Ask, make_provision: Any
) -> None:
    question = "Is the case stamped R?"
    for _ in range(2):
        make_provision(rule__condition={"ask": question}, rule__action={})
    answer = ask({Fact(kind=Kind.QUESTION, name=question): True})
    assert len(answer.applies) == 2


def test_a_type_that_nobody_names_has_only_what_is_for_every_type(
    ask: Ask, station: Station, today: date, make_provision: Any
) -> None:
    make_provision(rule__applicability={"type": ["LMX-4"]}, title="Of another type")
    make_provision(title="Of every type", rule__action={})
    answer = ask()
    assert only(answer.applies).line.subject == "Of every type"
    assert answer.of_other_types == 1
    assert answer.not_applicable == ()


# Parts


def test_a_part_is_asked_for_by_place_and_decides(
    ask: Ask, station: Station, make_provision: Any
) -> None:
    kind = EngineTypeFactory(station=station, designation="MX-4")
    PartRoleFactory(engine_type=kind, role="magneto", count=2)
    make_provision(
        role="magneto",
        rule__condition={"this": {"number": ["M-20*"]}},
        rule__action={},
    )
    found = only(ask().undetermined)
    assert missing(found)[0] == "magneto fitted"
    places = {w.fact.place for w in found.missing[0].wanted if w.fact.of is Of.NUMBER}
    assert places == {"no. 1", "no. 2"}

    def number(place: str) -> Fact:
        return Fact(kind=Kind.PART, role="magneto", place=place, of=Of.NUMBER)

    answer = ask({number("no. 1"): "M-201", number("no. 2"): "M-24"})
    assert only(answer.applies).line.part == "magneto, no. 1, M-201"
    assert [row.part for row in answer.not_applicable] == ["magneto, no. 2, M-24"]
    half = ask({number("no. 2"): "M-24"})
    assert missing(only(half.undetermined))[0] == "magneto fitted"


def test_none_is_fitted_settles_a_role(ask: Ask, make_provision: Any) -> None:
    make_provision(role="turbocharger", rule__action={})
    assert ask().undetermined
    none = Fact(kind=Kind.PART, role="turbocharger", of=Of.NONE)
    [row] = ask({none: True}).not_applicable
    assert row.reason == "No turbocharger is fitted."


def test_a_fact_of_a_part_that_was_named_is_asked_for_by_its_name(
    ask: Ask, make_provision: Any
) -> None:
    make_provision(
        role="fuel pump",
        rule__condition={"this": {"shipped": {"before": "2020-01-01"}}},
        rule__action={},
    )
    number = Fact(kind=Kind.PART, role="fuel pump", of=Of.NUMBER)
    serial = Fact(kind=Kind.PART, role="fuel pump", of=Of.SERIAL)
    shipped = Fact(kind=Kind.PART, role="fuel pump", of=Of.SHIPPED)
    told: dict[Fact, Told] = {number: "P-8801", serial: "A-17"}
    found = only(ask(told).undetermined)
    assert missing(found) == ["shipping date of fuel pump P-8801, serial A-17"]
    assert [w.fact for w in found.missing[0].wanted] == [shipped]
    assert ask({**told, shipped: date(2019, 1, 1)}).applies


# Times


def within(hours: float) -> dict[str, Any]:
    return {"initial": {"hours": hours, "after": "effective"}, "credit": True}


def test_a_due_point_is_there_as_far_as_what_was_told_gives_one(
    ask: Ask, make_provision: Any
) -> None:
    made = make_provision(
        rule__action={
            "initial": {"hours": 100, "after": "new"},
            "repeat": {"hours": 100, "after": "last done"},
        }
    )
    done = Fact(kind=Kind.WORK, name=made.revision.publication.number)
    unsaid = only(ask(hours=Hours(50_000)).applies)
    assert unsaid.line.state == "undetermined"
    assert "whether and when it was done" in missing(unsaid)
    never = only(ask({done: NO}, hours=Hours(50_000)).applies).line
    assert (never.state, never.next_hours) == ("overdue", 10_000)
    lately = Happened(ever=True, on=date(2026, 11, 1), hours=Hours(49_000))
    last = only(ask({done: lately}, hours=Hours(50_000)).applies).line
    assert (last.state, last.next_hours) == ("outstanding", 59_000)


def test_hours_on_the_effective_date_are_asked_for_and_used(
    ask: Ask, make_provision: Any
) -> None:
    made = make_provision(rule__action=within(50))
    done = Fact(kind=Kind.WORK, name=made.revision.publication.number)
    then = Fact(kind=Kind.HOURS_ON, on=date(2026, 1, 10))
    found = only(ask({done: NO}, hours=Hours(50_000)).applies)
    assert [w.fact for one in found.missing for w in one.wanted] == [then]
    answer = ask({done: NO, then: Hours(48_000)}, hours=Hours(50_000))
    assert only(answer.applies).line.next_hours == 53_000


def test_one_of_several_actions_of_a_document_is_not_the_others(
    ask: Ask, make_provision: Any, station: Station
) -> None:
    """To have measured the journals says nothing of an inspection after a strike."""
    first = make_provision(kind="SI", title="Measure", rule__action=within(50))
    make_provision(revision=first.revision, title="Inspect", rule__action=within(50))
    number = first.revision.publication.number
    measured = Fact(kind=Kind.DONE, name=number, order=first.order)
    answer = ask({measured: YES, Fact(kind=Kind.WORK, name=number): YES})
    states = {one.line.subject: one.line.state for one in answer.applies}
    assert states == {"Measure": "complied with", "Inspect": "undetermined"}


@pytest.mark.parametrize(
    ("told", "outcome"), [({}, "applies"), ({MODIFIED: NO}, "does not apply")]
)
def test_an_action_embodies_what_it_names_unless_that_was_denied(
    ask: Ask, make_provision: Any, told: Any, outcome: str
) -> None:
    first = make_provision(embodies=["MOD-41"], rule__action=within(50))
    make_provision(revision=first.revision, rule__action=within(50))
    make_provision(title="Asks", rule__condition={"embodied": "MOD-41"})
    number = first.revision.publication.number
    done = Fact(kind=Kind.DONE, name=number, order=first.order)
    answer = ask({done: YES, **told})
    asking = [one.line.subject for one in answer.applies]
    assert ("Asks" in asking) is (outcome == "applies")


def test_work_under_a_credited_document_counts_as_its_own(
    ask: Ask, make_provision: Any
) -> None:
    make_provision(
        rule__condition={"not": {"embodied": "SB-1"}},
        rule__action={
            "initial": {"hours": 100, "after": "new"},
            "credit": {"of": ["SB-2"]},
        },
    )
    credited = {Fact(kind=Kind.WORK, name="SB-2"): YES}
    one = only(ask({**credited, Fact(kind=Kind.WORK, name="SB-1"): NO}).applies)
    assert one.line.state == "complied with"


def test_events_are_asked_for_one_by_one(ask: Ask, make_provision: Any) -> None:
    made = make_provision(
        rule__action={"initial": {"hours": 1, "after": {"event": "propeller strike"}}}
    )
    strike = Fact(kind=Kind.EVENT, name="propeller strike")
    done = {Fact(kind=Kind.WORK, name=made.revision.publication.number): NO}
    wanted = [w.fact for m in only(ask(done).applies).missing for w in m.wanted]
    assert wanted == [strike]
    assert only(ask({**done, strike: NO}).applies).line.state == "nothing due"
    struck = Happened(ever=True, on=date(2026, 6, 1), hours=Hours(40_000))
    after = only(ask({**done, strike: struck}, hours=Hours(50_000)).applies).line
    assert (after.state, after.next_hours) == ("overdue", 40_100)


def test_overhauls_that_were_not_told_are_not_taken_for_none(
    ask: Ask, make_provision: Any
) -> None:
    made = make_provision(rule__action={"initial": {"hours": 200, "after": "overhaul"}})
    done = {Fact(kind=Kind.WORK, name=made.revision.publication.number): NO}
    found = only(ask(done, hours=Hours(50_000)).applies)
    assert found.line.next_hours is None
    assert [one.first for one in found.missing] == ["overhauled"]
    never = only(ask(done, hours=Hours(50_000), overhauls=()).applies)
    assert never.line.next_hours == 20_000


# The library


def test_a_draft_and_another_stations_documents_are_not_asked(
    ask: Ask, make_provision: Any, other_station: Station, station: Station
) -> None:
    made = make_provision(title="Confirmed", rule__action={})
    draft = RevisionFactory(publication=made.revision.publication)
    make_provision(revision=draft, title="Draft", rule__action={})
    foreign = make_provision(title="Foreign", rule__action={})
    publication = foreign.revision.publication
    publication.station = other_station
    publication.save(update_fields=["station"])
    for row in (foreign, foreign.revision):
        row.station = other_station
        row.save(update_fields=["station"])
    assert [one.line.subject for one in ask().applies] == ["Confirmed"]


@pytest.mark.parametrize("notices", [1, 12])
def test_as_many_queries_for_many_notices_as_for_one(
    ask: Ask, make_provision: Any, django_assert_num_queries: Any, notices: int
) -> None:
    for _ in range(notices):
        make_provision(
            rule__condition={"part": {"role": "fuel pump", "where": {"ask": "Old?"}}}
        )
    # keys of the rules, the rules; provisions about the interval, works they name; type
    with django_assert_num_queries(5):
        ask(serial="4118", hours=Hours(50_000))


def test_types_are_those_that_a_current_document_names(
    station: Station, other_station: Station, today: date, make_provision: Any
) -> None:
    for name in ("MX-4", "MX-4T", "LMX-4", "MX-6"):
        EngineTypeFactory(station=station, designation=name)
    EngineTypeFactory(station=other_station, designation="MX-4X")
    revision = make_provision().revision
    revision.applicability = {"all": [TYPE, {"serial": ["1.."]}]}
    revision.save(update_fields=["applicability"])
    make_provision()  # for every type: it names none
    assert types_spoken_of(station, today) == ["MX-4", "MX-4T"]


# The overhaul interval


BASE = {"id": "base", "kind": "base", "hours": 1500, "years": 12, "since": "overhaul"}
LONGER = {
    "id": "oil-feed",
    "kind": "extension",
    "hours": 1800,
    "years": 12,
    "since": "overhaul",
}


@pytest.fixture
def intervals(make_provision: Any) -> None:
    base = make_provision(
        kind="SI",
        number="SI-1",
        title="1,500 h",
        rule__interval=BASE,
        rule__action={},
    )
    longer = make_provision(
        revision=base.revision,
        title="1,800 h with the modified oil feed",
        rule__interval=LONGER,
        rule__condition={"embodied": "SB-1"},
        rule__action={},
    )
    for one in (base, longer):
        Provision.objects.filter(pk=one.pk).update(kind=Provision.Kind.INTERVAL)
    make_provision(number="SB-1", embodies=["SB-1"], man_hours=1400)


OIL_FEED = Fact(kind=Kind.WORK, name="SB-1")
WHOLE: dict[str, Any] = {
    "built": date(2020, 1, 1),
    "hours": Hours(100_000),
    "overhauls": (),
    "uses": frozenset({"private"}),
}


@pytest.mark.parametrize(
    ("done", "sentence"),
    [
        (YES, "The overhaul interval is 1 800 h or 12 years since new."),
        (NO, "The overhaul interval is 1 500 h or 12 years since new."),
    ],
)
@pytest.mark.usefixtures("intervals")
def test_the_interval_is_that_of_an_engine_in_care(
    ask: Ask, done: Happened, sentence: str
) -> None:
    overhaul = ask({OIL_FEED: done}, **WHOLE).overhaul
    assert overhaul is not None
    said = " ".join(answer_sentences(overhaul)).replace("\u00a0", " ")
    assert sentence in said.replace("\u202f", " ")


@pytest.mark.usefixtures("intervals")
def test_a_longer_interval_is_within_reach_with_its_man_hours(ask: Ask) -> None:
    overhaul = ask({OIL_FEED: NO}, **WHOLE).overhaul
    assert overhaul is not None
    [offer] = overhaul.offers
    [reach] = offer.said.reach  # type: ignore[union-attr]  # an extension
    assert offer.holding.value == "within reach"
    assert [step.words for step in reach.steps] == ["embody SB-1"]
    assert reach.man_hours == 1400


@pytest.mark.usefixtures("intervals")
def test_the_fact_that_the_longer_interval_hangs_on_is_asked_for(ask: Ask) -> None:
    answer = ask(**WHOLE)
    assert [one.words for one in answer.interval_missing] == [
        "whether SB-1 is embodied"
    ]
    assert [w.fact for w in answer.interval_missing[0].wanted] == [OIL_FEED]


@pytest.mark.usefixtures("intervals")
def test_provisions_about_the_interval_are_not_listed_once_more(ask: Ask) -> None:
    answer = ask({OIL_FEED: YES}, **WHOLE)
    assert [one.line.number for one in answer.applies] == ["SB-1"]


@pytest.mark.usefixtures("intervals")
def test_of_an_engine_of_which_nothing_is_told_the_interval_is_still_named(
    ask: Ask,
) -> None:
    answer = ask()
    assert answer.overhaul is not None
    assert {one.first for one in answer.interval_missing} >= {"overhauled"}
