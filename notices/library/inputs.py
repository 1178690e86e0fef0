"""What somebody enters about a revision, and the check that every entry passes."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any, Final, TypeVar

from notices.models import Provision, Reference
from notices.rules.applicability.nodes import Condition
from notices.rules.conditions import parse_condition, to_json
from notices.rules.designations import designation, plain_text
from notices.rules.errors import Fault, RuleError
from notices.rules.times.actions import Action, parse_action

Json = Any
T = TypeVar("T")
ALWAYS: Final[Mapping[str, Json]] = {"always": True}
MOST_MAN_HOURS: Final = 1_000_000
TO_BE_DONE: Final = {Provision.Kind.ACTION, Provision.Kind.TOGETHER}
TIMED: Final = {*TO_BE_DONE, Provision.Kind.PROHIBITION}
_DONE_ONLY: Final = ("credit", "repeat", "ends_with", "counts")
"""What an action says of work that was done, which is nothing where none completes it."""


class LibraryRefused(ValueError):  # noqa: N818  # said so in every sentence
    """What was asked for cannot be done as things stand; the message says why."""


class ChangedMeanwhile(LibraryRefused):
    """Somebody else has changed it since it was looked at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceInput:
    """`kind`: a value of `Reference.Kind`. `number`: as printed."""

    kind: str
    number: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProvisionInput:
    """One provision as entered. `man_hours`: whole hundredths of an hour.

    `condition`: what narrows the applicability of the revision here, None for nothing.
    `action`: compliance times as JSON, None for none.
    """

    title: str
    kind: str = Provision.Kind.ACTION
    description: str = ""
    category: str = Provision.Category.MANDATORY
    role: str = ""
    effective_on: date | None = None
    ferry: str = Provision.Ferry.UNSAID
    report_to: str = ""
    man_hours: int | None = None
    parts_needed: str = ""
    embodies: Sequence[str] = ()
    condition: Mapping[str, Json] | None = None
    action: Mapping[str, Json] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionInput:
    """One revision as entered. `applicability`: None while it is not stated yet."""

    label: str
    issued_on: date | None = None
    effective_on: date | None = None
    summary: str = ""
    applicability: Mapping[str, Json] | None = None
    provisions: Sequence[ProvisionInput] = field(default=())
    references: Sequence[ReferenceInput] = field(default=())


class Check:
    """Reads entries and collects what is wrong with them, each fault with its path."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []

    def add(self, path: str, message: str) -> None:
        self.faults.append(Fault(path, message))

    def done(self) -> None:
        """Raise RuleError with everything found, if anything was."""
        if self.faults:
            raise RuleError(self.faults)

    def text(
        self,
        path: str,
        raw: str,
        *,
        longest: int,
        needed: str = "",
        lines: bool = False,
    ) -> str:
        """Return the text without needless blanks. `needed`: what to say if empty."""
        text = raw.strip() if lines else " ".join(raw.split())
        if not text and needed:
            self.add(path, needed)
        if len(text) > longest:
            self.add(path, f"At most {longest} characters, found {len(text)}.")
        if _has_unseen(text):
            self.add(path, "Contains a control character. Type the text again.")
        return text

    def number(self, path: str, raw: str) -> str:
        """Return the number of a document, trimmed."""
        number = self.text(path, raw, longest=60)
        if not designation(number):
            self.add(path, "Write the number of the document, as in SB-24-011.")
        return number

    def choice(self, path: str, raw: str, words: Sequence[str]) -> str:
        if raw not in words:
            known = ", ".join(f'"{word}"' for word in words)
            self.add(path, f'"{raw}" is not known here. Write one of {known}.')
        return raw

    def condition(self, path: str, raw: Json) -> Condition | None:
        """Return the condition, None with its faults noted."""
        return self._rule(path, raw, parse_condition)

    def action(self, path: str, raw: Json) -> Action | None:
        """Return the action, None with its faults noted."""
        return self._rule(path, raw, parse_action)

    def _rule(self, path: str, raw: Json, parse: Callable[..., T]) -> T | None:
        try:
            unseen = any(_has_unseen(text) for text in _texts_in(raw))
            parsed = parse(raw, path=path)
        except RuleError as refused:
            self.faults += refused.faults
        except RecursionError:
            self.add(path, "Nested too deeply. Split the rule into several provisions.")
        else:
            if not unseen:
                return parsed
            self.add(path, "Contains a control character. Type the rule again.")
        return None


def _has_unseen(text: str) -> bool:
    return any(
        unicodedata.category(character) in {"Cc", "Cs"} and character not in "\n\r\t"
        for character in text
    )


def _texts_in(raw: Json) -> Iterator[str]:
    if isinstance(raw, str):
        yield raw
    elif isinstance(raw, Mapping):
        for key, value in raw.items():
            yield from _texts_in(key)
            yield from _texts_in(value)
    elif isinstance(raw, list | tuple):
        for value in raw:
            yield from _texts_in(value)


def checked(stated: RevisionInput) -> RevisionInput:
    """Return the revision with every text trimmed and every rule in its stored form.

    Raises RuleError with all faults. What a draft may still lack is not among them.
    """
    check = Check()
    applicability = None
    if stated.applicability is not None:
        applicability = _stored_condition(check, "applicability", stated.applicability)
    tidy = replace(
        stated,
        label=check.text(
            "label", stated.label, longest=20, needed="Write the revision as printed."
        ),
        summary=check.text("summary", stated.summary, longest=300),
        applicability=applicability,
        provisions=[
            _checked_provision(check, f"provisions[{index}]", provision)
            for index, provision in enumerate(stated.provisions)
        ],
        references=_checked_references(check, stated.references),
    )
    _check_this_part(check, tidy)
    _check_parts_together(check, tidy)
    check.done()
    return tidy


def _stored_condition(
    check: Check, path: str, raw: Mapping[str, Json]
) -> Mapping[str, Json] | None:
    condition = check.condition(path, raw)
    return None if condition is None else to_json(condition)


def _checked_provision(check: Check, at: str, given: ProvisionInput) -> ProvisionInput:
    def line(name: str, *, longest: int, needed: str = "") -> str:
        raw: str = getattr(given, name)
        return check.text(f"{at}.{name}", raw, longest=longest, needed=needed)

    check.choice(f"{at}.kind", given.kind, Provision.Kind.values)
    check.choice(f"{at}.category", given.category, Provision.Category.values)
    check.choice(f"{at}.ferry", given.ferry, Provision.Ferry.values)
    if given.man_hours is not None and not 0 <= given.man_hours <= MOST_MAN_HOURS:
        check.add(f"{at}.man_hours", "Write hours from 0 to 10000.")
    return replace(
        given,
        title=line("title", longest=160, needed="Say in a few words what it asks."),
        description=check.text(
            f"{at}.description", given.description, longest=20_000, lines=True
        ),
        role=line("role", longest=60),
        report_to=line("report_to", longest=120),
        parts_needed=line("parts_needed", longest=200),
        embodies=[
            check.number(f"{at}.embodies[{index}]", number)
            for index, number in enumerate(given.embodies)
        ],
        condition=_stored_condition(
            check, f"{at}.condition", given.condition or ALWAYS
        ),
        action=_stored_action(check, f"{at}.action", given),
    )


def _stored_action(
    check: Check, path: str, given: ProvisionInput
) -> Mapping[str, Json] | None:
    if given.action is None:
        return None
    if given.kind not in TIMED:
        check.add(path, f"Compliance times do not go with {given.kind}. Take them out.")
        return None
    action = check.action(path, given.action)
    if action is None:
        return None
    written = action.to_json()
    if given.kind == Provision.Kind.TOGETHER:
        refuse_done(check, path, written)
    return written


def refuse_done(check: Check, path: str, action: Mapping[str, Json]) -> None:
    """Note what an action about parts that go together says of work that was done."""
    for name in _DONE_ONLY:
        if name in action:
            check.add(
                f"{path}.{name}",
                "Parts that do not go together stay so whatever is recorded, until one "
                "of them is changed. Take this out; what ends it stands in the "
                "condition.",
            )


def _checked_references(
    check: Check, given: Sequence[ReferenceInput]
) -> list[ReferenceInput]:
    found: dict[tuple[str, str], ReferenceInput] = {}
    for index, reference in enumerate(given):
        at = f"references[{index}]"
        kind = check.choice(f"{at}.kind", reference.kind, Reference.Kind.values)
        number = check.number(f"{at}.number", reference.number)
        key = (kind, designation(number))
        if key in found:
            check.add(f"{at}.number", f'"{kind} {number}" stands there twice.')
        found[key] = ReferenceInput(kind=kind, number=number)
    return list(found.values())


def _check_this_part(check: Check, stated: RevisionInput) -> None:
    """Without a role there is no "this part", and the rule could never be decided."""
    for index, provision in enumerate(stated.provisions):
        if provision.role:
            continue
        if names_this_part([provision.condition, provision.action]):
            check.add(
                f"provisions[{index}].role",
                'The rule tests "this" part. Name the role of the part that is meant.',
            )
        if names_this_part(stated.applicability):
            check.add(
                "applicability",
                f'Tests "this" part, but provision {index + 1} is about the engine. '
                "Move the test to the provisions about a part.",
            )


def _check_parts_together(check: Check, stated: RevisionInput) -> None:
    for index, provision in enumerate(stated.provisions):
        if provision.kind == Provision.Kind.TOGETHER:
            rule = [stated.applicability, provision.condition]
            at = f"provisions[{index}].condition"
            refuse_one_part(check, at, rule, role=provision.role)


def refuse_one_part(
    check: Check, path: str, rule: Sequence[Json], *, role: str
) -> None:
    """Note that a rule does not name two parts, by their roles.

    `role`: of the part that the provision is about, which `this` means.
    """
    roles = dict.fromkeys(_roles_named(rule))
    if role and names_this_part(rule):
        roles[plain_text(role)] = None
    if len(roles) < 2:
        found = f'only "{next(iter(roles))}"' if roles else "none"
        check.add(
            path,
            "Parts go together or not by two of them, each with a test "
            f'{{"part": {{"role": ..., "where": ...}}}}. Named here: {found}.',
        )


def _roles_named(raw: Json) -> Iterator[str]:
    """Yield the role, without case, of every fitted part that a stored rule tests."""
    if isinstance(raw, Mapping):
        part = raw.get("part")
        if isinstance(part, Mapping):
            yield plain_text(part["role"])
        for value in raw.values():
            yield from _roles_named(value)
    elif isinstance(raw, list | tuple):
        for value in raw:
            yield from _roles_named(value)


def names_this_part(raw: Json) -> bool:
    """Return whether a stored rule has a node `{"this": ...}`; no other key is so."""
    if isinstance(raw, Mapping):
        return "this" in raw or any(map(names_this_part, raw.values()))
    return isinstance(raw, list | tuple) and any(map(names_this_part, raw))
