"""The demo scenario says something of every kind, and loads the same way each time."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from datetime import date
from typing import Any

import pytest

from notices.rules import condition_nodes as nodes
from notices.rules import limits
from notices.rules.actions import Action, parse_action
from notices.rules.conditions import parse_condition
from tracker.compliance.scenario import files

TODAY = date(2026, 11, 24)


def provisions() -> list[dict[str, Any]]:
    return [
        provision
        for publication in files.publications(TODAY)
        for revision in publication["revisions"]
        for provision in revision["provisions"]
    ]


def conditions() -> list[nodes.Condition]:
    stated = [p["condition"] for p in provisions() if "condition" in p]
    for publication in files.publications(TODAY):
        stated += [revision["applicability"] for revision in publication["revisions"]]
    return [parse_condition(raw) for raw in stated]


def actions() -> list[Action]:
    return [parse_action(p["action"]) for p in provisions() if "action" in p]


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


def test_there_are_twenty_five_publications_of_all_kinds_with_forty_revisions() -> None:
    publications = files.publications(TODAY)
    revisions = [row for each in publications for row in each["revisions"]]
    assert len(publications) == 25
    assert len(revisions) == 40
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
    assert kinds == {
        "action",
        "prohibition",
        "overhaul interval",
        "oils and fluids",
        "information",
    }
    assert any("effective" in p for p in provisions()), "a retained effective date"
    assert any(p.get("ferry") == "barred" for p in provisions())
