"""What a provision of each kind holds beside its condition, and how that is stored.

To add a kind of provision: what it holds goes into `HOLDS`, how that is read and stored
into `_STORED`, and what must fit together in its rule into `check_rule`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Final

from notices.library.check import Check, Json
from notices.models import Provision
from notices.rules.conditions import parse_condition, to_json
from notices.rules.designations import plain_text
from notices.rules.fluids import parse_rows, rows_to_json
from notices.rules.overhaul import parse_interval
from notices.rules.times.actions import parse_action

Kind = Provision.Kind
HOLDS: Final[Mapping[str, str]] = {
    Kind.ACTION: "action",
    Kind.PROHIBITION: "action",
    Kind.TOGETHER: "action",
    Kind.INTERVAL: "interval",
    Kind.FLUIDS: "fluids",
}
"""The name of what goes with a kind; nothing goes with one that is not here."""

NEEDED: Final[Mapping[str, str]] = {
    Kind.ACTION: "Say by when it is to be done; if that is not known, "
    '{"initial": {"unknown": "..."}} with the reason.',
    Kind.TOGETHER: "Say by when parts that do not go together are to be changed; if "
    'that is not known, {"initial": {"unknown": "..."}} with the reason.',
    Kind.INTERVAL: "Say what it is, a base, an extension or a restriction, and how "
    "many hours or years it comes to.",
    Kind.FLUIDS: "Enter at least one row: a grade, its class, the ambient temperatures "
    "and the fuel.",
}
"""What is to be entered before a provision of a kind can be confirmed."""

ABOUT_THE_ENGINE: Final[Mapping[str, str]] = {
    Kind.INTERVAL: "An overhaul interval is about the engine. Leave the role empty.",
    Kind.FLUIDS: "Oils and fluids are about the engine. Leave the role empty.",
}
CONTENTS: Final = ("action", "interval", "fluids")
_DO_NOT_GO: Final = {
    "action": "Compliance times do not go with {}. Take them out.",
    "interval": "An overhaul interval does not go with {}. Take it out.",
    "fluids": "Rows of oils do not go with {}. Take them out.",
}
_DONE_ONLY: Final = ("credit", "repeat", "ends_with", "counts")
"""What an action says of work that was done, which is nothing where none completes it."""


def stored_condition(check: Check, path: str, raw: Json) -> Mapping[str, Json] | None:
    """Return the condition as it is stored, None with its faults noted."""
    condition = check.rule(path, raw, parse_condition)
    return None if condition is None else to_json(condition)


def stored_content(check: Check, path: str, kind: str, name: str, raw: Json) -> Json:
    """Return an action, an interval or rows as stored, None for none or with faults.

    `name`: of what it is, one of `CONTENTS`. Refuses what does not go with the kind.
    """
    if raw is None:
        return None
    if HOLDS.get(kind) != name:
        words = dict(Kind.choices).get(kind, kind)
        check.add(path, _DO_NOT_GO[name].format(words))
        return None
    return _STORED[name](check, path, raw)


def _stored_action(check: Check, path: str, raw: Json) -> Json:
    action = check.rule(path, raw, parse_action)
    return None if action is None else action.to_json()


def _stored_interval(check: Check, path: str, raw: Json) -> Json:
    interval = check.rule(path, raw, parse_interval)
    if interval is None:
        return None
    if interval.when is not None:
        check.add(f"{path}.when", "Write it as the condition of the provision.")
    return interval.to_json()


def _stored_rows(check: Check, path: str, raw: Json) -> Json:
    rows = check.rule(path, raw, parse_rows)
    return None if rows is None else rows_to_json(rows)


_STORED: Final[Mapping[str, Callable[[Check, str, Json], Json]]] = {
    "action": _stored_action,
    "interval": _stored_interval,
    "fluids": _stored_rows,
}


def check_rule(
    check: Check, at: str, *, kind: str, role: str, rule: Mapping[str, Json]
) -> None:
    """Note what does not fit together in a whole rule, whose parts are stored forms.

    `at`: put in front of every path. `rule`: applicability, condition and contents.
    """
    if role and kind in ABOUT_THE_ENGINE:
        check.add(f"{at}role", ABOUT_THE_ENGINE[kind])
    if kind == Kind.TOGETHER:
        _refuse_done(check, f"{at}action", rule["action"] or {})
        conditions = [rule["applicability"], rule["condition"]]
        _refuse_one_part(check, f"{at}condition", conditions, role)


def _refuse_done(check: Check, path: str, action: Mapping[str, Json]) -> None:
    for name in _DONE_ONLY:
        if name in action:
            check.add(
                f"{path}.{name}",
                "Parts that do not go together stay so whatever is recorded, until one "
                "of them is changed. Take this out; what ends it stands in the "
                "condition.",
            )


def _refuse_one_part(
    check: Check, path: str, conditions: Sequence[Json], role: str
) -> None:
    """Note that two parts are not named. `role`: of the part that `this` means."""
    roles = dict.fromkeys(roles_named(conditions))
    if role and names_this_part(conditions):
        roles[plain_text(role)] = None
    if len(roles) < 2:
        found = f'only "{next(iter(roles))}"' if roles else "none"
        check.add(
            path,
            "It takes two parts that do not go together, each with a test "
            f'{{"part": {{"role": ..., "where": ...}}}}. Named here: {found}.',
        )


def roles_named(raw: Json) -> Iterator[str]:
    """Yield the role, without case, of every fitted part that a stored rule tests."""
    if isinstance(raw, Mapping):
        part = raw.get("part")
        if isinstance(part, Mapping):
            yield plain_text(part["role"])
        for value in raw.values():
            yield from roles_named(value)
    elif isinstance(raw, list | tuple):
        for value in raw:
            yield from roles_named(value)


def names_this_part(raw: Json) -> bool:
    """Return whether a stored rule has a node `{"this": ...}`; no other key is so."""
    if isinstance(raw, Mapping):
        return "this" in raw or any(map(names_this_part, raw.values()))
    return isinstance(raw, list | tuple) and any(map(names_this_part, raw))
