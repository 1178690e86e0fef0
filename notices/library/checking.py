"""The check that every entry of a revision passes, and the form in which it is kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from notices.library.check import Check, Json
from notices.library.contents import (
    CONTENTS,
    check_rule,
    names_this_part,
    stored_condition,
    stored_content,
)
from notices.library.inputs import ProvisionInput, ReferenceInput, RevisionInput
from notices.models import Provision, Reference
from notices.rules.designations import designation

ALWAYS: Final[Mapping[str, Json]] = {"always": True}
MOST_MAN_HOURS: Final = 1_000_000


def checked(stated: RevisionInput) -> RevisionInput:
    """Return the revision with every text trimmed and every rule in its stored form.

    Raises RuleError with all faults. What a draft may still lack is not among them.
    """
    check = Check()
    applicability = None
    if stated.applicability is not None:
        applicability = stored_condition(check, "applicability", stated.applicability)
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
    for index, provision in enumerate(tidy.provisions):
        check_rule(
            check,
            f"provisions[{index}].",
            kind=provision.kind,
            role=provision.role,
            rule=rule_of(tidy, provision),
        )
    _check_ids(check, tidy.provisions)
    check.done()
    return tidy


def _check_ids(check: Check, provisions: Sequence[ProvisionInput]) -> None:
    """Each interval of a revision has an id of its own, by which others build on it."""
    first: dict[str, int] = {}
    for number, provision in enumerate(provisions, start=1):
        if provision.interval is None:
            continue
        name = provision.interval["id"]
        if name in first:
            check.add(
                f"provisions[{number - 1}].interval.id",
                f"Provision {number} and provision {first[name]} are both called "
                f'"{name}". Give each its own short name.',
            )
        first.setdefault(name, number)


def rule_of(stated: RevisionInput, provision: ProvisionInput) -> dict[str, Json]:
    """Return the whole rule of a checked provision; what it does not hold is None."""
    contents = {name: getattr(provision, name) for name in CONTENTS}
    return {
        "applicability": stated.applicability,
        "condition": provision.condition,
        **contents,
    }


def _checked_provision(check: Check, at: str, given: ProvisionInput) -> ProvisionInput:
    def line(name: str, *, longest: int, needed: str = "") -> str:
        raw: str = getattr(given, name)
        return check.text(f"{at}.{name}", raw, longest=longest, needed=needed)

    check.choice(f"{at}.kind", given.kind, Provision.Kind.values)
    check.choice(f"{at}.category", given.category, Provision.Category.values)
    check.choice(f"{at}.ferry", given.ferry, Provision.Ferry.values)
    if given.man_hours is not None and not 0 <= given.man_hours <= MOST_MAN_HOURS:
        check.add(f"{at}.man_hours", "Write hours from 0 to 10000.")
    contents = {
        name: stored_content(
            check, f"{at}.{name}", given.kind, name, getattr(given, name)
        )
        for name in CONTENTS
    }
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
        condition=stored_condition(check, f"{at}.condition", given.condition or ALWAYS),
        **contents,
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
        if names_this_part([provision.condition, provision.action, provision.fluids]):
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
