"""Parts that do not go together, as the section of fitted parts shows them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from tracker.compliance.conflicts import Conflict
from tracker.compliance.overview import PartNow
from tracker.fleet.models import Engine
from tracker.web.lines import Shown, shown
from tracker.web.remedies import Remedy, remedy


@dataclass(frozen=True, slots=True, kw_only=True)
class ConflictShown:
    """One conflict. `said`: the sentence that names the parts; `missing`: each fact on
    which it hangs, with the form that takes it, if there is one; `parts`: those of
    which one is to be replaced.
    """

    shown: Shown
    said: str
    missing: tuple[tuple[str, Remedy | None], ...]
    parts: tuple[PartNow, ...]


def shown_conflicts(
    conflicts: Iterable[Conflict], engine: Engine, parts: Sequence[PartNow]
) -> list[ConflictShown]:
    found = []
    for conflict in conflicts:
        [line] = shown([conflict.row])
        facts = conflict.row.missing
        found.append(
            ConflictShown(
                shown=line,
                said=conflict_sentence(conflict),
                missing=tuple((fact, remedy(fact, engine, parts)) for fact in facts),
                parts=conflict.parts,
            )
        )
    return found


def conflict_sentence(conflict: Conflict) -> str:
    names = [f"the {part.label}" for part in conflict.parts]
    names += [f"the {role}, of which none is recorded" for role in conflict.unrecorded]
    together = _joined(names)
    if conflict.row.finding.undetermined:
        return f"It cannot be said whether these go together: {together}."
    return f"These do not go together: {together}."


def _joined(names: Sequence[str]) -> str:
    """The names hold commas, so that each is set off by one."""
    return ", and ".join([", ".join(names[:-1]), names[-1]] if names[1:] else names)
