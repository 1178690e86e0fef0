"""How many findings a draft would make, and how many of the current revision end."""

from __future__ import annotations

from dataclasses import dataclass

from notices.library import paired
from notices.models import Revision
from tracker.accounts.access import Right, Viewer
from tracker.compliance.models import Finding
from tracker.compliance.rules import rules_of
from tracker.compliance.trials import Trial


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
    viewer: Viewer, draft: Revision, current: Revision, trial: Trial
) -> FindingChanges | None:
    """Return the changes; None where more engines may be concerned than are tried.

    `trial`: what the draft was found to come to.
    """
    viewer.require(Right.SEE_NOTICES)
    if trial.untried:
        return None
    before, after = rules_of(current), rules_of(draft)
    pairs = paired([one.version for one in before], [one.version for one in after])
    from_order = {
        new.provision.order: old.provision.order if old else None
        for old, new in pairs
        if new is not None
    }
    then = [(from_order[order], *about) for order, *about in trial.kept]
    held = set(
        Finding.objects.visible_to(viewer)
        .filter(provision__revision=current)
        .values_list("provision__order", "engine", "part")
    )
    stay = sum(key in held for key in then)
    return FindingChanges(new=len(then) - stay, stay=stay, end=len(held - set(then)))
