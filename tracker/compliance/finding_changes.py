"""How many findings a draft would make, and how many of the current revision end."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from notices.library import paired
from notices.models import Revision
from tracker.accounts.access import Right, Viewer
from tracker.compliance.facts import engine_files, fleet_of
from tracker.compliance.findings import assessments
from tracker.compliance.models import Finding
from tracker.compliance.rules import rules_of
from tracker.compliance.trials import MOST_TRIED
from tracker.fleet.models import Engine

Key = tuple[int | None, int, int | None]
"""A finding by the order of its provision, its engine and its part."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingChanges:
    """Findings of a draft against those of the revision that holds.

    A finding stays where the provision that it came from has a counterpart in the
    draft that applies, or may apply, to the same engine or part.
    """

    new: int
    stay: int
    end: int

    @property
    def total(self) -> int:
        return self.new + self.stay


def finding_changes(
    viewer: Viewer, draft: Revision, current: Revision, on: date
) -> FindingChanges | None:
    """Return the changes; None where more engines may be concerned than are tried."""
    viewer.require(Right.SEE_NOTICES)
    before, after = rules_of(current), rules_of(draft)
    pairs = paired([one.version for one in before], [one.version for one in after])
    from_order = {
        new.provision.order: old.provision.order if old else None
        for old, new in pairs
        if new is not None
    }
    everyone = Engine.objects.visible_to(viewer)
    left = fleet_of(everyone, on=on).concerned_by(
        one.condition.condition for one in after
    )
    if len(left) > MOST_TRIED:
        return None
    chosen = everyone.filter(pk__in=left).for_list().select_related("station")
    then: list[Key] = [
        (
            from_order[found.rule.provision.order],
            file.engine.pk,
            found.part.key if found.part else None,
        )
        for file in engine_files(list(chosen), on=on).values()
        for found in assessments(after, file, on=on)
        if found.is_kept
    ]
    held: set[Key] = set(
        Finding.objects.visible_to(viewer)
        .filter(provision__revision=current)
        .values_list("provision__order", "engine", "part")
    )
    stay = sum(key in held for key in then)
    return FindingChanges(new=len(then) - stay, stay=stay, end=len(held - set(then)))
