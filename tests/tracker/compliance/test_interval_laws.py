"""What findings carry of an interval agrees with the whole answer of the core.

The core works the interval out as one; each finding carries its own provision's limits.
Past law in one is past law in the other, whatever the provisions are.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from notices.models import Provision, Publication, Revision, RuleVersion
from notices.rules.compliance_time import State, state_at
from notices.rules.evaluate import Outcome
from notices.rules.facts import UNKNOWN, EngineFacts, Hours, HoursKept, Overhaul
from notices.rules.overhaul import Holding
from tests.overhauls import USE, provisions
from tracker.accounts.models import Station
from tracker.compliance.facts import EngineFile
from tracker.compliance.intervals import interval_rules
from tracker.compliance.overhauls import IntervalLibrary
from tracker.compliance.overhauls import Overhaul as Answer
from tracker.compliance.rules import CompiledRule, compiled_rule
from tracker.fleet.models import Engine, EngineType

TODAY = date(2026, 11, 24)
OVERHAUL = Overhaul(on=date(2020, 1, 1), hours=Hours(1_000), by="shop")


def rules_of(given: list[dict[str, Any]]) -> list[CompiledRule]:
    """The provisions as rules of one document, not stored."""
    publication = Publication(pk=1, kind="SI", number="SI-1", number_key="SI1")
    revision = Revision(pk=1, publication=publication, label="1")
    rules = []
    for key, one in enumerate(given, 1):
        stored = {name: value for name, value in one.items() if name != "when"}
        version = RuleVersion(
            pk=key,
            provision=Provision(pk=key, revision=revision, kind="overhaul interval"),
            applicability={"always": True},
            condition=one["when"],
            interval=stored,
        )
        rules.append(compiled_rule(version))
    return rules


@st.composite
def files(draw: st.DrawFn) -> EngineFile:
    """An engine of which some modifications are known to be embodied or absent."""
    known = draw(st.sets(st.integers(0, 5)))
    embodied = {f"M-{n}" for n in known if draw(st.booleans())}
    hours = draw(st.integers(1_000, 9_000))
    overhauls = draw(st.sampled_from([UNKNOWN, (), (OVERHAUL,)]))
    since = {UNKNOWN: UNKNOWN, (): Hours(hours)}.get(overhauls, Hours(hours - 1_000))
    facts = EngineFacts(
        type="MX-4",
        built=draw(st.sampled_from([UNKNOWN, date(2015, 1, 1)])),
        operation=draw(st.sampled_from([UNKNOWN, frozenset({USE}), frozenset({"x"})])),
        hours=HoursKept(new=Hours(hours), overhaul=since),
        overhauls=overhauls,
        embodied=frozenset(embodied),
        not_embodied=frozenset({f"M-{n}" for n in known} - embodied),
    )
    return file_with(facts, hours)


def file_with(facts: EngineFacts, hours: int) -> EngineFile:
    """An engine of these facts and nothing else, not stored."""
    return EngineFile(
        engine=Engine(
            pk=1,
            serial="1",
            engine_type=EngineType(designation="MX-4"),
            station=Station(lead_hours=0, lead_days=0),
        ),
        tsn_zero=0,
        hours=hours,
        reading=None,
        facts=facts,
        readings=(),
        events=(),
        fuel=(),
        reviewed_on=None,
        parts=(),
        records=(),
        declined={},
        alternatives=(),
        searches=(),
        fitting=None,
        operation=None,
    )


def answered(given: list[dict[str, Any]], file: EngineFile) -> Answer | None:
    library = IntervalLibrary(rules=interval_rules(rules_of(given)), works={})
    return library.overhaul_of(file, on=TODAY)


def overdue_by_a_finding(answer: Answer) -> bool:
    """Whether the finding of a provision that certainly holds is overdue."""
    hours = answer.file.core_hours
    assert hours is not None
    said = [answer.found.provision_of(rule) for rule in answer.found.by_id.values()]
    return any(
        one is not None
        and one.outcome is Outcome.APPLIES
        and state_at(one.point, on=TODAY, hours=hours).state is State.OVERDUE
        for one in said
    )


@given(provisions(), files())
@settings(max_examples=200)
def test_a_finding_is_overdue_just_where_the_whole_answer_is(
    given: list[dict[str, Any]], file: EngineFile
) -> None:
    """Where it is not known which base holds, the whole may be sure and no part is."""
    answer = answered(given, file)
    if answer is None:
        return
    by_finding, by_answer = overdue_by_a_finding(answer), answer.word == "overdue"
    unsure = any(b.holding is Holding.UNDETERMINED for b in answer.found.point.bases)
    assert by_answer or not by_finding
    assert by_finding or not by_answer or unsure


def test_what_counts_under_one_base_alone_is_not_surely_overdue() -> None:
    """The longer interval is law and shorter than a base that may hold."""
    law = {"binding": [USE], "hours": 1, "years": 1, "when": {"embodied": "M-0"}}
    may = {"binding": [], "hours": 2, "when": {"embodied": "M-1"}}
    longer = {"id": "e", "kind": "extension", "since": "new", **law}
    base = {"id": "b", "kind": "base", "since": "new", **may}
    facts = EngineFacts(
        type="MX-4",
        operation=frozenset({USE}),
        hours=HoursKept(new=Hours(1_000)),
        embodied=frozenset({"M-0"}),
    )
    answer = answered([longer, base], file_with(facts, 1_000))
    assert answer is not None
    assert answer.word == "past the interval, not known whether past the law"
    assert not overdue_by_a_finding(answer)
    decided = replace(facts, not_embodied=frozenset({"M-1"}))
    sure = answered([longer, base], file_with(decided, 1_000))
    assert sure is not None
    assert "not known" not in sure.word


@given(provisions(), files())
def test_what_is_not_law_falls_due_by_no_finding(
    given: list[dict[str, Any]], file: EngineFile
) -> None:
    answer = answered(given, file)
    if answer is None:
        return
    for name, rule in answer.found.by_id.items():
        said = answer.found.provision_of(rule)
        assert said is not None
        if answer.is_law(name) is False:
            assert said.point.closed == "nothing due"


@given(provisions(), files())
def test_the_interval_ends_where_the_core_says_that_it_does(
    given: list[dict[str, Any]], file: EngineFile
) -> None:
    answer = answered(given, file)
    if answer is None:
        return
    point = answer.found.point.point
    assert answer.now.hours == point.earliest_hours
    assert answer.now.on == point.earliest_date
    assert answer.now.sources == frozenset(answer.found.sources)


def is_later(one: Any, other: Any) -> bool:
    return one is not None and other is not None and one > other


@given(provisions(), files())
def test_an_extension_in_reach_lengthens_just_where_an_end_would_come_later(
    given: list[dict[str, Any]], file: EngineFile
) -> None:
    answer = answered(given, file)
    if answer is None:
        return
    now = answer.now
    for offer in answer.offers:
        if offer.holding is Holding.HOLDS or None in (now.hours, now.on):
            continue
        would = offer.with_it
        later = is_later(would.hours, now.hours) or is_later(would.on, now.on)
        if all(one.holding is Holding.HOLDS for one in answer.found.point.bases):
            assert offer.lengthens is (later and answer.found.has_base)
        elif offer.lengthens:  # under each base that may be the one
            assert later
