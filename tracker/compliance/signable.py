"""What may be signed for in one go: open actions of one engine, or one action of many.

What was not adopted is among them: it may have been done all the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from notices.models import Provision
from tracker.accounts.access import Viewer
from tracker.compliance.models import Closed, Finding, FindingQuerySet
from tracker.fleet.models import Engine, Part, PartDescription, PartFitting
from tracker.fleet.parts import named

MOST: Final = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Signable:
    """One open action of one engine, or of one of its parts as `part` words it."""

    finding: Finding
    part: str

    @property
    def engine(self) -> Engine:
        return self.finding.engine

    @property
    def provision(self) -> Provision:
        return self.finding.provision

    @property
    def on_part(self) -> Part | None:
        return self.finding.part


def open_for_engines(viewer: Viewer, provision: Provision) -> tuple[Signable, ...]:
    """Return the engines and parts for which an action is open, by type and serial.

    At most 200, as many as can be signed at once; three queries.
    """
    findings = Finding.objects.visible_to(viewer).filter(provision=provision)
    order = ("engine__engine_type__designation", "engine__serial_order", "pk")
    return _signable(findings.order_by(*order))


def open_of_engine(viewer: Viewer, engine: Engine) -> tuple[Signable, ...]:
    """Return the actions that are open for an engine, by document; three queries."""
    findings = Finding.objects.visible_to(viewer).filter(engine=engine)
    order = (
        "provision__revision__publication__kind",
        "provision__revision__publication__number_key",
        "provision__order",
        "pk",
    )
    return _signable(findings.order_by(*order))


def _signable(findings: FindingQuerySet) -> tuple[Signable, ...]:
    rows = list(
        findings.filter(
            closed__in=(Closed.OPEN, Closed.NOT_ADOPTED),
            provision__kind=Provision.Kind.ACTION,
        ).select_related(
            "engine__engine_type", "part", "provision__revision__publication"
        )[:MOST]
    )
    names = _names_of({row.part_id for row in rows if row.part_id is not None})
    return tuple(
        Signable(finding=row, part=names.get(row.part_id or 0, "")) for row in rows
    )


def _names_of(parts: set[int]) -> dict[int, str]:
    """The parts in words, with the place where each is fitted now. Two queries."""
    if not parts:
        return {}
    held = PartFitting.objects.filter(part__in=parts, current=True, removed=False)
    places = dict(held.values_list("part", "place"))
    rows = PartDescription.objects.filter(part__in=parts, current=True)
    return {row.part_id: named(row, places.get(row.part_id, "")) for row in rows}
