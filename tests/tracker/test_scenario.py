"""The demo scenario says something of every kind, and loads the same way each time."""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Iterator
from datetime import UTC, date, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.db import transaction

from notices.models import Provision
from notices.rules.applicability import nodes
from notices.rules.conditions import parse_condition
from notices.rules.fluids import CLASSES, parse_rows
from notices.rules.temperatures import UNITS
from notices.rules.times import limits
from notices.rules.times.actions import Action, parse_action
from tracker.accounts.access import Viewer
from tracker.accounts.models import Station
from tracker.compliance.due import WORDS, counts, due_of, due_rows
from tracker.compliance.fuel_use import Hanging, fuel_use_of
from tracker.compliance.ledger import verify_chain
from tracker.compliance.models import (
    Closed,
    Finding,
    LongerInterval,
    Record,
    Standing,
)
from tracker.compliance.scenario import files
from tracker.compliance.scenario.life import life
from tracker.compliance.scenario.load import LoadedInPart, load
from tracker.compliance.scenario.stage import Stage
from tracker.compliance.states import lead_of
from tracker.compliance.summary import status_of
from tracker.fleet.models import Engine, FuelKind, FuelRecord, FuelUnit, Reading

TODAY = date(2026, 11, 24)
NOW = datetime(2026, 11, 24, 10, 0, tzinfo=UTC)


def provisions() -> list[dict[str, Any]]:
    return [
        provision
        for publication in files.publications(TODAY)
        for revision in publication["revisions"]
        for provision in revision["provisions"]
    ]


def conditions() -> list[nodes.Condition]:
    stated = [p["condition"] for p in provisions() if "condition" in p]
    stated += [row["when"] for row in oils() if "when" in row]
    for publication in files.publications(TODAY):
        stated += [revision["applicability"] for revision in publication["revisions"]]
    return [parse_condition(raw) for raw in stated]


def actions() -> list[Action]:
    return [parse_action(p["action"]) for p in provisions() if "action" in p]


def intervals() -> list[dict[str, Any]]:
    return [p["interval"] for p in provisions() if "interval" in p]


def oils() -> list[dict[str, Any]]:
    return [row for p in provisions() for row in p.get("fluids", ())]


def inside(value: object) -> Iterator[object]:
    """Yield a rule and everything it is made of."""
    yield value
    if isinstance(value, tuple):
        for member in value:
            yield from inside(member)
    elif dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from inside(getattr(value, field.name))


def about_a_part(
    condition: object, *, part: bool = False
) -> Iterator[tuple[type, bool]]:
    """Yield each node's class and whether it tests a part."""
    here = part or isinstance(condition, nodes.PartWhere | nodes.ThisPart)
    if dataclasses.is_dataclass(condition):
        yield type(condition), part
        for field in dataclasses.fields(condition):
            yield from about_a_part(getattr(condition, field.name), part=here)
    elif isinstance(condition, tuple):
        for member in condition:
            yield from about_a_part(member, part=part)


def test_there_are_publications_of_all_kinds_in_every_standing() -> None:
    publications = files.publications(TODAY)
    revisions = [row for each in publications for row in each["revisions"]]
    assert len(publications) == 28
    assert len(revisions) == 43
    assert {each["kind"] for each in publications} == {
        "AD", "SD", "SB", "SI", "SL", "ALS", "manual", "scheduled",
    }  # fmt: skip
    assert sum("cancelled" in row for row in revisions) == 1
    assert sum("draft" in row for row in revisions) == 1
    waiting = [r for r in revisions if r.get("effective", "") > TODAY.isoformat()]
    assert len(waiting) == 1


def test_there_are_forty_engines_of_twelve_owners() -> None:
    engines = files.rows("engines", TODAY)
    owners = files.rows("owners", TODAY)
    assert len(engines) == 40
    assert {engine["owner"] for engine in engines} == {o["name"] for o in owners}
    assert len(owners) == 12
    assert {o["kind"] for o in owners} == {"private", "club", "school", "company"}
    assert len({engine["type"] for engine in engines}) >= 4


@pytest.mark.parametrize("leaf", nodes.ENGINE_LEAVES, ids=lambda node: node.__name__)
def test_every_test_of_an_engine_occurs(leaf: type) -> None:
    rules = [*conditions(), *actions()]
    assert (leaf, False) in {found for rule in rules for found in about_a_part(rule)}


@pytest.mark.parametrize("leaf", nodes.PART_LEAVES, ids=lambda node: node.__name__)
def test_every_test_of_a_part_occurs(leaf: type) -> None:
    rules = [*conditions(), *actions()]
    assert (leaf, True) in {found for rule in rules for found in about_a_part(rule)}


@pytest.mark.parametrize(
    "node",
    [
        nodes.AllOf,
        nodes.AnyOf,
        nodes.Not,
        nodes.Always,
        nodes.PartWhere,
        nodes.ThisPart,
        limits.HoursLimit,
        limits.MonthsLimit,
        limits.DaysLimit,
        limits.DateLimit,
        limits.EventLimit,
        limits.UnknownLimit,
        limits.FirstOf,
        limits.LastOf,
        limits.Cases,
        limits.PartAnchor,
        limits.EventAnchor,
        limits.DateAnchor,
    ],
    ids=lambda node: node.__name__,
)
def test_every_form_of_a_rule_occurs(node: type) -> None:
    rules = [*conditions(), *actions()]
    assert any(isinstance(found, node) for rule in rules for found in inside(rule))


def test_every_choice_inside_a_test_occurs() -> None:
    found = [value for rule in conditions() for value in inside(rule)]
    serials = [value for value in found if isinstance(value, nodes.SerialIn)]
    assert {serial.suffix for serial in serials} == {None, "any", "same"}
    assert any(serial.run for serial in serials)
    texts = [text for serial in serials for text in serial.serials]
    assert any(text.endswith("..") for text in texts)
    assert any(".." not in text for text in texts)
    hours = [value.hours for value in found if isinstance(value, nodes.HoursIn)]
    assert {bounds.at for bounds in hours} == {"now", "effective"}
    assert {bounds.since for bounds in hours} == {"new", "overhaul"}
    parts = [value for value in found if isinstance(value, nodes.PartWhere)]
    assert {part.count for part in parts} == {"some", "every"}


def test_every_choice_inside_a_time_occurs() -> None:
    found = [value for action in actions() for value in inside(action)]
    months = [value for value in found if isinstance(value, limits.MonthsLimit)]
    assert {limit.calendar for limit in months} == {True, False}
    anchors = [v.after for v in found if hasattr(v, "after") and v.after is not None]
    marks = {anchor for anchor in anchors if isinstance(anchor, str)}
    assert marks == set(limits.MARKS)
    since = {value.since for value in found if isinstance(value, limits.PartAnchor)}
    assert since == {"new", "fitted", "overhaul"}
    cases = [value for value in found if isinstance(value, limits.Cases)]
    assert {case.otherwise is None for case in cases} == {True, False}
    nested = [v for v in found if isinstance(v, limits.LastOf)]
    assert any(isinstance(m, limits.FirstOf) for each in nested for m in each.members)


def test_every_choice_of_an_action_occurs() -> None:
    stated = actions()
    credits = [action.credit for action in stated if action.credit]
    assert any(credit.of is None for credit in credits)
    assert any(credit.of and credit.within for credit in credits)
    assert any(action.until for action in stated)
    assert {action.restart for action in stated} == {"done", "planned"}
    tolerances = [action.tolerance for action in stated if action.tolerance]
    assert any(t.hours and t.en_route for t in tolerances)
    assert any(t.days and t.early for t in tolerances)
    ends = [end for action in stated for end in action.ends_with]
    assert any(isinstance(end, str) for end in ends)
    assert any(not isinstance(end, str) for end in ends)
    assert any(action.counts for action in stated)


def test_provisions_are_of_every_kind() -> None:
    kinds = {provision.get("kind", "action") for provision in provisions()}
    assert kinds == set(Provision.Kind.values)
    assert any("effective" in p for p in provisions()), "a retained effective date"
    assert any(p.get("ferry") == "barred" for p in provisions())


def test_every_choice_inside_an_interval_occurs() -> None:
    stated = intervals()
    assert {one["kind"] for one in stated} == {"base", "extension", "restriction"}
    bounds = [one["enter_by"] for one in stated if "enter_by" in one]
    assert {key for bound in bounds for key in bound} == {"hours", "years"}
    assert {type(one["binding"]) for one in stated if "binding" in one} == {bool, list}
    own = {
        name
        for publication in files.publications(TODAY)
        for revision in publication["revisions"]
        for name in _built_on_another_document(revision["provisions"])
    }
    assert own == {"base interval"}, "one document builds on another's interval"
    assert any("years" not in one for one in stated)


def _built_on_another_document(provisions: list[dict[str, Any]]) -> Iterator[str]:
    stated = [p["interval"] for p in provisions if "interval" in p]
    named = {one["id"] for one in stated}
    yield from {one["builds_on"] for one in stated if "builds_on" in one} - named


def test_every_choice_inside_a_table_of_oils_occurs() -> None:
    rows = parse_rows(oils())
    assert {row.kind for row in rows} == set(CLASSES)
    assert {row.ambient.unit for row in rows} == set(UNITS)
    assert {row.fuel for row in rows} == {
        ("unleaded",), ("leaded",), ("unleaded", "leaded"),
    }  # fmt: skip
    assert any(row.when for row in rows)
    assert any(row.note for row in rows)


def life_of_an_engine(name: str) -> Any:
    return life(
        name,
        today=TODAY,
        built=date(2015, 3, 14),
        hours=271160,
        monthly=1800,
        last_read=3,
        known=[(date(2021, 6, 2), 149800)],
    )


def test_the_hours_of_a_life_never_fall() -> None:
    knots = life_of_an_engine("RHO").knots
    assert list(knots) == sorted(knots)
    assert [hours for _, hours in knots] == sorted(hours for _, hours in knots)


def test_a_life_ends_with_the_hours_that_were_asked_for() -> None:
    lived = life_of_an_engine("RHO")
    assert lived.readings[-1] == (date(2026, 11, 21), 271160)
    assert lived.hours_on(TODAY) == 271160


def test_a_life_goes_through_what_is_known_of_it() -> None:
    lived = life_of_an_engine("RHO")
    assert lived.hours_on(date(2021, 6, 2)) == 149800
    assert lived.day_at(149800) == date(2021, 6, 2)


def test_the_day_of_some_hours_is_not_after_a_day_with_more() -> None:
    lived = life_of_an_engine("RHO")
    for hours in range(0, 271160, 9970):
        assert lived.hours_on(lived.day_at(hours)) <= hours


def test_two_engines_live_differently_and_one_always_the_same() -> None:
    assert life_of_an_engine("RHO") == life_of_an_engine("RHO")
    assert life_of_an_engine("RHO") != life_of_an_engine("TAU")


def told() -> tuple[list[Any], ...]:
    """Return what the scenario says, without ids and passwords."""
    findings = Finding.objects.values_list(
        "engine__engine_type__designation",
        "engine__serial",
        "provision__revision__publication__number",
        "provision__order",
        "part__descriptions__serial",
        "undetermined",
        "closed",
        "point",
        "reasons",
        "missing",
    )
    records = Record.objects.values_list(
        "engine__serial", "sequence", "kind", "document_number", "on", "hours", "method"
    )
    readings = Reading.objects.values_list("engine__serial", "on", "shown", "hours")
    return tuple(sorted(map(repr, rows)) for rows in (findings, records, readings))


def row_counts() -> dict[str, int]:
    return {
        model._meta.label: model._default_manager.count() for model in apps.get_models()
    }


@pytest.fixture
def documents(settings: Any, tmp_path: Path) -> None:
    settings.DOCUMENT_DIR = tmp_path


@pytest.fixture
def few_engines(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave out most engines: what makes two loads differ would do so with these."""
    kept = {"RHO", "TAU", "IOTA", "SIGMA", "ALPHA"}
    whole = files.rows

    def rows(name: str, today: date) -> list[dict[str, Any]]:
        read = whole(name, today)
        return [row for row in read if row.get("engine", row.get("id", "RHO")) in kept]

    monkeypatch.setattr(files, "rows", rows)


@pytest.mark.django_db
@pytest.mark.usefixtures("documents", "few_engines")
def test_two_loads_of_one_day_say_the_same() -> None:
    before = transaction.savepoint()
    load(NOW)
    first = told()
    transaction.savepoint_rollback(before)
    load(NOW)
    assert told() == first
    assert all(first)


@pytest.mark.django_db
@pytest.mark.usefixtures("documents")
def test_every_state_is_to_be_seen_and_a_second_load_changes_nothing() -> None:
    """One test for all that needs the whole scenario: loading takes many seconds."""
    stage = load(NOW)
    assert stage is not None
    loaded = row_counts()
    assert load(NOW) is None
    assert row_counts() == loaded, "a second load changed something"
    every_state_is_to_be_seen(stage.team.administrator)
    every_closed_kind_is_to_be_seen()
    every_outcome_of_an_interval_is_to_be_seen()
    parts_that_fit_and_parts_that_do_not_are_to_be_seen(stage.team.administrator)
    each_chain_of_the_ledger_holds()
    each_way_of_knowing_the_fuel_is_to_be_seen(stage)
    alternative_methods_are_to_be_seen(stage)
    what_is_shown_is_plausible(stage.team.station)


def alternative_methods_are_to_be_seen(stage: Stage) -> None:
    """One holds, another was approved for the revision before."""
    ash, chi = (
        Finding.objects.get(
            engine=stage.members[name].engine,
            provision__revision__publication=stage.publications["AD X-26-014"],
            provision__kind=Provision.Kind.ACTION,
        )
        for name in ("ASH", "CHI")
    )
    assert "alternative method AMC 26-031, approved by Zephyra" in ash.point["approval"]
    assert ash.overdue_hours == stage.members["ASH"].hours_ago(84) + 150_00
    assert chi.point["approval"] == ""
    assert any("AMC 26-017 was approved for revision 0" in r for r in chi.reasons)


def each_way_of_knowing_the_fuel_is_to_be_seen(stage: Stage) -> None:
    """Crossed inside an interval, exactly on a threshold, only declared, nothing."""
    told = {name: oil_change_of(stage, name) for name in ("BETA", "NU", "RHO", "FIR")}
    mixes = {name: one.mix for name, one in told.items()}
    assert mixes["BETA"].moved[-1].upward
    assert mixes["BETA"].moved[-1].threshold.share == Fraction("0.3")
    assert mixes["NU"].share == Fraction("0.3")
    assert [one.words for one in told["NU"].classes if one.holds] == ["at most 30 %"]
    assert mixes["RHO"].mix.source == "declared"
    assert mixes["FIR"].mix.source == "unknown"
    assert told["FIR"].due.state.value == "undetermined"
    withdrawn = FuelRecord.objects.exclude(withdrawn_at=None)
    assert {row.kind for row in FuelRecord.objects.all()} == set(FuelKind.values)
    assert {row.unit for row in FuelRecord.objects.all()} == set(FuelUnit.values)
    assert withdrawn.exists()


def oil_change_of(stage: Stage, name: str) -> Hanging:
    engine = stage.members[name].engine.public_id
    use = fuel_use_of(stage.team.administrator, engine, TODAY)
    [found] = [
        one
        for one in use.hanging
        if one.assessed.rule.publication.number == "Oil change"
    ]
    return found


def every_state_is_to_be_seen(viewer: Viewer) -> None:
    seen = counts(viewer, TODAY)
    assert {word for word in WORDS if seen[word]} == set(WORDS)
    # A shop that looks after its engines: most of what applies is in order.
    open_now = sum(seen.values())
    assert seen["overdue"] < open_now / 8
    assert seen["undetermined"] < open_now / 4


def every_closed_kind_is_to_be_seen() -> None:
    seen = Counter(Finding.objects.values_list("closed", flat=True))
    assert set(seen) == set(Closed.values)


def every_outcome_of_an_interval_is_to_be_seen() -> None:
    standings = Standing.objects.select_related("engine")
    assert {one.longer_interval for one in standings} == set(LongerInterval.values)
    missing = [one.overhaul_missing for one in standings]
    assert any(missing)
    assert not all(missing)
    past = {
        (one.engine.serial, one.overhaul_binds)
        for one in standings
        if (one.overhaul_on is not None and one.overhaul_on < TODAY)
        or (
            one.overhaul_hours is not None
            and one.engine.hours_now is not None
            and one.overhaul_hours < one.engine.hours_now
        )
    }
    assert ("K-612-62B", True) in past, "one overdue by law"
    assert ("4118", False) in past, "one past a recommendation"
    assert len(past) <= 4, "most engines are inside their interval"


def parts_that_fit_and_parts_that_do_not_are_to_be_seen(viewer: Viewer) -> None:
    found = Finding.objects.filter(provision__kind=Provision.Kind.TOGETHER)
    words = {
        (row.engine.serial, row.word, row.finding.undetermined)
        for row in due_rows(list(found.for_list()), viewer, TODAY)
    }
    assert ("4866", "before further flight", False) in words
    assert ("5188", "coming due", False) in words
    assert {serial for serial, _, unknown in words if unknown} >= {"5304", "4620"}
    assert not {serial for serial, _, _ in words} & {"4731", "4977"}, "these fit"


def what_is_shown_is_plausible(station: Station) -> None:
    """Work is done about when it is due, pages are pages, airframes have their hours."""
    findings = Finding.objects.select_related("engine__standing", "engine__engine_type")
    late = {
        str(finding): due.late.hours
        for finding in findings
        if (due := due_of(finding, on=TODAY, lead=lead_of(station))).late
        and due.late.hours
    }
    assert all(hours <= 10_000 for hours in late.values()), late
    pages = Record.objects.filter(payload__contains="transcribed from logbook, page")
    assert pages.exists()
    assert not pages.filter(payload__contains="page logbook").exists()
    fitted = Engine.objects.exclude(registration="").exclude(hours_now=None)
    known = [status_of(e, on=TODAY).airframe_hours is not None for e in fitted[:4]]
    assert any(known)


def each_chain_of_the_ledger_holds() -> None:
    assert Record.objects.filter(kind="void").count() == 1
    assert Record.objects.filter(kind="transcribed").exists()
    for engine in Engine.objects.all():
        assert verify_chain(engine) is None


@pytest.mark.django_db
@pytest.mark.usefixtures("documents")
def test_a_load_that_broke_off_is_not_taken_for_a_whole_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("tracker.compliance.scenario.load.ACTS", ())
    assert load(NOW) is not None
    with pytest.raises(LoadedInPart, match="Begin with a new database"):
        load(NOW)
