"""Conditions as stored: JSON, schema version 1.

`parse_condition` names every fault with its path and what was expected there;
`to_json` writes what reads as the same condition; `condition_schema` describes it.
"""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from typing import Final

from notices.rules.applicability.bounds import (
    ChangeBounds,
    EngineHours,
    OverhaulTest,
    PartHours,
    Period,
    ShareBounds,
    TemperatureBounds,
)
from notices.rules.applicability.nodes import (
    ENGINE_LEAVES,
    PART_LEAVES,
    AircraftIn,
    AllOf,
    Always,
    AnyOf,
    Ask,
    AttributeIn,
    Built,
    ChangeIn,
    Complied,
    Condition,
    Embodied,
    EngineLeaf,
    Fitted,
    HoursIn,
    LeadedShareIn,
    Leaf,
    Not,
    NumberIn,
    OilTemperatureIn,
    OperationIn,
    Overhauled,
    PartHoursIn,
    PartLeaf,
    PartWhere,
    Rebuilt,
    RegistryIn,
    ResultIn,
    SerialIn,
    Shipped,
    ThisPart,
    TypeIn,
    leaves_of,
    members_of,
)
from notices.rules.errors import Fault, RuleError, child_path
from notices.rules.forms import (
    Json,
    ObjectOf,
    RefusedError,
    Text,
    Words,
    keyed_fields,
    note_unknown_keys,
    refuse,
    shown,
)
from notices.rules.serials import parse_range

__all__ = [
    "SCHEMA_VERSION",
    "AircraftIn",
    "AllOf",
    "Always",
    "AnyOf",
    "Ask",
    "AttributeIn",
    "Built",
    "ChangeBounds",
    "ChangeIn",
    "Complied",
    "Condition",
    "Embodied",
    "EngineHours",
    "EngineLeaf",
    "Fitted",
    "HoursIn",
    "LeadedShareIn",
    "Leaf",
    "Not",
    "NumberIn",
    "OilTemperatureIn",
    "OperationIn",
    "OverhaulTest",
    "Overhauled",
    "PartHours",
    "PartHoursIn",
    "PartLeaf",
    "PartWhere",
    "Period",
    "Rebuilt",
    "RegistryIn",
    "ResultIn",
    "SerialIn",
    "ShareBounds",
    "Shipped",
    "TemperatureBounds",
    "ThisPart",
    "TypeIn",
    "condition_schema",
    "leaves_of",
    "members_of",
    "parse_condition",
    "to_json",
]

SCHEMA_VERSION: Final = 1
DEEPEST: Final = 40
MOST_NODES: Final = 5000

_JOINTS: Final = ("all", "any", "not", "always")
_ABOUT_PARTS: Final = ("part", "this")


def _by_first_key(kinds: tuple[type, ...]) -> dict[str, type]:
    return {keyed_fields(kind)[0][0]: kind for kind in kinds}


_ENGINE_KINDS: Final = _by_first_key(ENGINE_LEAVES)
_PART_KINDS: Final = _by_first_key(PART_LEAVES)


def parse_condition(raw: Json, *, path: str = "") -> Condition:
    """Return the condition that the JSON value states.

    `path`: where the value stands, put in front of every path. Raises RuleError with
    all faults; each says what was found and what was expected there.
    """
    faults: list[Fault] = []
    try:
        return _Reader(faults).read(raw, path, about_part=False, depth=1)
    except RefusedError as refused:
        raise RuleError(faults) from refused


def to_json(condition: Condition) -> dict[str, Json]:
    """Return the JSON value that `parse_condition` reads as the same condition."""
    match condition:
        case AllOf():
            return {"all": [to_json(member) for member in condition.members]}
        case AnyOf():
            return {"any": [to_json(member) for member in condition.members]}
        case Not():
            return {"not": to_json(condition.member)}
        case ThisPart():
            return {"this": to_json(condition.where)}
        case PartWhere():
            body: dict[str, Json] = {"role": condition.role}
            if condition.count != "some":
                body["count"] = condition.count
            if condition.where is not None:
                body["where"] = to_json(condition.where)
            return {"part": body}
    written = ObjectOf(type(condition), "a test").write(condition)
    assert isinstance(written, dict)
    return written


class _Reader:
    """Reads nested conditions and keeps count, so that nothing endless gets in."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = faults
        self.nodes = 0

    def read(self, raw: Json, path: str, *, about_part: bool, depth: int) -> Condition:
        """Return one condition; about an engine, or about one part of it."""
        self.nodes += 1
        if depth > DEEPEST or self.nodes > MOST_NODES:
            raise refuse(
                self.faults,
                path,
                f"A condition has at most {MOST_NODES} nodes, {DEEPEST} deep. "
                "Split the rule into several provisions.",
            )
        if not isinstance(raw, Mapping):
            raise refuse(
                self.faults,
                path,
                f'Expected a condition such as {{"type": ["MX-4"]}}, not {shown(raw)}.',
            )
        kinds = _PART_KINDS if about_part else _ENGINE_KINDS
        known = [*_JOINTS, *kinds, *(() if about_part else _ABOUT_PARTS)]
        named = [key for key in raw if key in known]
        if len(named) != 1:
            raise self._not_one_test(raw, path, known, named, about_part)
        return self._node(named[0], raw, path, about_part=about_part, depth=depth)

    def _not_one_test(
        self,
        raw: Mapping[str, Json],
        path: str,
        known: list[str],
        named: list[str],
        about_part: bool,
    ) -> RefusedError:
        thing = "a part" if about_part else "an engine"
        if len(named) > 1:
            found = ", ".join(f'"{key}"' for key in named)
            return refuse(
                self.faults,
                path,
                f'One node holds one test, but here are {found}. Join them with "all".',
            )
        listed = ", ".join(f'"{key}"' for key in known)
        for key in raw:
            refuse(
                self.faults,
                child_path(path, str(key)),
                f'"{key}" is not a test of {thing}. Expected one of: {listed}.',
            )
        if not raw:
            refuse(
                self.faults, path, f"The condition is empty. Expected one of: {listed}."
            )
        return RefusedError(path)

    def _node(
        self,
        key: str,
        raw: Mapping[str, Json],
        path: str,
        *,
        about_part: bool,
        depth: int,
    ) -> Condition:
        inner = child_path(path, key)
        if key in ("all", "any", "not", "this", "part"):
            before = len(self.faults)
            note_unknown_keys(raw, [key], path, self.faults)
            node = self._joint(key, raw[key], inner, about_part=about_part, depth=depth)
            if len(self.faults) > before:
                raise RefusedError(path)
            return node
        if key == "always":
            kind: type = Always
        else:
            kind = (_PART_KINDS if about_part else _ENGINE_KINDS)[key]
        before = len(self.faults)
        if key == "serial":
            self._check_serials(raw, inner)
        node = ObjectOf(kind, "a test").read(raw, path, self.faults)
        if len(self.faults) > before:
            raise RefusedError(path)
        assert isinstance(node, Condition)
        return node

    def _joint(
        self, key: str, body: Json, path: str, *, about_part: bool, depth: int
    ) -> Condition:
        match key:
            case "not":
                member = self.read(body, path, about_part=about_part, depth=depth + 1)
                return Not(member=member)
            case "this":
                return ThisPart(
                    where=self.read(body, path, about_part=True, depth=depth + 1)
                )
            case "part":
                return self._part(body, path, depth)
        members = self._members(body, path, about_part=about_part, depth=depth)
        return AllOf(members=members) if key == "all" else AnyOf(members=members)

    def _members(
        self, body: Json, path: str, *, about_part: bool, depth: int
    ) -> tuple[Condition, ...]:
        if not isinstance(body, list | tuple) or not body:
            raise refuse(
                self.faults,
                path,
                f"Expected a list of at least one condition, not {shown(body)}."
                if body != []
                else "Expected at least one condition; the list is empty.",
            )
        members: list[Condition] = []
        failed = False
        for index, member in enumerate(body):
            try:
                members.append(
                    self.read(
                        member,
                        child_path(path, index),
                        about_part=about_part,
                        depth=depth + 1,
                    )
                )
            except RefusedError:
                failed = True
        if failed:
            raise RefusedError(path)
        return tuple(members)

    def _part(self, body: Json, path: str, depth: int) -> PartWhere:
        if not isinstance(body, Mapping):
            raise refuse(
                self.faults,
                path,
                f'Expected an object such as {{"role": "fuel pump"}}, not {shown(body)}.',
            )
        before = len(self.faults)
        head = {key: value for key, value in body.items() if key != "where"}
        known = ["role", "count", "where"]
        note_unknown_keys(body, known, path, self.faults)
        role, count = "", "some"
        with contextlib.suppress(RefusedError):
            role = _ROLE.read(head.get("role"), child_path(path, "role"), self.faults)
        if "count" in head:
            with contextlib.suppress(RefusedError):
                count = _COUNT.read(
                    head["count"], child_path(path, "count"), self.faults
                )
        where = None
        if "where" in body:
            where = self.read(
                body["where"],
                child_path(path, "where"),
                about_part=True,
                depth=depth + 1,
            )
        if len(self.faults) > before:
            raise RefusedError(path)
        return PartWhere(
            role=role, count="every" if count == "every" else "some", where=where
        )

    def _check_serials(self, raw: Mapping[str, Json], path: str) -> None:
        """Note every serial that cannot be read, beside whatever else is wrong."""
        texts, run = raw["serial"], raw.get("run")
        for index, text in enumerate(texts if isinstance(texts, list | tuple) else ()):
            if isinstance(text, str) and text.strip():
                try:
                    parse_range(text, run=run if run in _RUNS else None)
                except ValueError as error:
                    refuse(self.faults, child_path(path, index), str(error))


_RUNS = range(1, 21)
_ROLE = Text('a role such as "fuel pump"')
_COUNT = Words(("some", "every"))


def condition_schema() -> dict[str, Json]:
    """Return the JSON Schema (2020-12) of a stored condition, with its version.

    It is made from the node dataclasses. What a schema cannot say (that both ends of a
    serial range have one shape, that a period is not empty) `parse_condition` checks.
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:condition:{SCHEMA_VERSION}",
        "version": SCHEMA_VERSION,
        "title": "Condition on an engine",
        "$ref": "#/$defs/engine",
        "$defs": {
            "engine": {
                "oneOf": [
                    *_joint_schemas("engine"),
                    *_about_parts_schemas(),
                    *_leaf_schemas(ENGINE_LEAVES),
                ]
            },
            "part": {"oneOf": [*_joint_schemas("part"), *_leaf_schemas(PART_LEAVES)]},
        },
    }


def _object(properties: dict[str, Json], required: list[str]) -> dict[str, Json]:
    return {
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": False,
    }


def _joint_schemas(about: str) -> list[dict[str, Json]]:
    ref = {"$ref": f"#/$defs/{about}"}
    several = {"type": "array", "items": ref, "minItems": 1}
    return [
        _object({"all": several}, ["all"]),
        _object({"any": several}, ["any"]),
        _object({"not": ref}, ["not"]),
        ObjectOf(Always, "a test").schema(),
    ]


def _about_parts_schemas() -> list[dict[str, Json]]:
    ref = {"$ref": "#/$defs/part"}
    body = _object(
        {"role": _ROLE.schema(), "count": _COUNT.schema(), "where": ref}, ["role"]
    )
    return [_object({"part": body}, ["part"]), _object({"this": ref}, ["this"])]


def _leaf_schemas(kinds: tuple[type, ...]) -> list[dict[str, Json]]:
    return [
        {**ObjectOf(kind, "a test").schema(), "description": kind.__doc__ or ""}
        for kind in kinds
    ]
