"""Which alternative method of compliance holds for a rule and an engine on a day.

What is approved takes the place of what the document says, for the engine that it was
approved for and as long as it holds: 14 CFR 39.19.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Final

from notices.models import Provision
from notices.rules.phrases import date_words
from tracker.compliance.facts import EngineFile
from tracker.compliance.models import AlternativeMethod
from tracker.compliance.rules import CompiledRule, compiled_rule
from tracker.fleet.models import Engine


@dataclass(frozen=True, slots=True, kw_only=True)
class Approved:
    """What was approved in place of what a rule asks.

    `holding`: None where nothing holds. `ended`: why one that was approved does not.
    `earlier`: approved for an earlier revision, and nobody has said whether it still is.
    """

    holding: AlternativeMethod | None = None
    ended: str = ""
    earlier: AlternativeMethod | None = None

    @property
    def approval(self) -> str:
        return "" if self.holding is None else approval_words(self.holding)


NOTHING: Final = Approved()


def approved_for(rule: CompiledRule, file: EngineFile, *, on: date) -> Approved:
    """Return what holds for a rule on a day. No query."""
    if not file.alternatives or rule.provision.kind != Provision.Kind.ACTION:
        return NOTHING
    own = _own(rule, file.alternatives)
    if own is not None:
        return _standing(own, on) if own.valid else NOTHING
    before = _before(rule, file.alternatives)
    if before is None or not before.valid:
        return NOTHING
    found = _standing(before, on)
    if found.holding is None or before.later_revisions:
        return found
    return Approved(ended=_for_another(before, rule), earlier=before)


def by_approval(rule: CompiledRule, approved: Approved) -> CompiledRule:
    """Return the rule with the times that were approved in place of its own."""
    row = approved.holding
    if row is None or not row.times:
        return rule
    return compiled_rule(rule.version, times=row.times)


def newest_approved(engine: Engine, provision: Provision) -> AlternativeMethod | None:
    """Return what was approved last for a provision, in this revision or an earlier one.

    One query. Its end by `valid_until` is not looked at.
    """
    revision = provision.revision
    rows = AlternativeMethod.objects.filter(
        engine=engine,
        current=True,
        provision__order=provision.order,
        provision__revision__publication=revision.publication_id,
        provision__revision__sequence__lte=revision.sequence,
    )
    found = (
        rows.select_related("provision__revision")
        .order_by("-provision__revision__sequence")
        .first()
    )
    return found if found is not None and found.valid else None


def approval_words(row: AlternativeMethod) -> str:
    """Return under what approval something else counts, as a sentence."""
    until = f", valid until {date_words(row.valid_until)}" if row.valid_until else ""
    return (
        f"By alternative method {row.reference}, approved by {row.approved_by} on "
        f"{date_words(row.approved_on)}{until}."
    )


def _standing(row: AlternativeMethod, on: date) -> Approved:
    if row.valid_until is None or on <= row.valid_until:
        return Approved(holding=row)
    return Approved(
        ended=f"Alternative method {row.reference} was valid until "
        f"{date_words(row.valid_until)}. What the document says counts again."
    )


def _for_another(row: AlternativeMethod, rule: CompiledRule) -> str:
    return (
        f"Alternative method {row.reference} was approved for revision "
        f"{row.provision.revision.label}. Until somebody enters that it is approved for "
        f"revision {rule.revision.label}, too, what this one says counts."
    )


def _own(
    rule: CompiledRule, rows: Iterable[AlternativeMethod]
) -> AlternativeMethod | None:
    key = rule.provision.pk
    return next((row for row in rows if row.provision_id == key), None)


def _before(
    rule: CompiledRule, rows: Iterable[AlternativeMethod]
) -> AlternativeMethod | None:
    """The one of the latest earlier revision, for the provision of the same order."""
    found = [
        row
        for row in rows
        if row.provision.revision.publication_id == rule.publication.pk
        and row.provision.order == rule.provision.order
        and _is_before(row, rule)
    ]
    return max(found, key=lambda row: row.provision.revision.sequence, default=None)


def _is_before(row: AlternativeMethod, rule: CompiledRule) -> bool:
    """A revision that is only tried out has no place yet: it comes after all others."""
    if rule.version._state.adding:
        return True
    return row.provision.revision.sequence < rule.revision.sequence
