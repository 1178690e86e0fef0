"""The overhaul intervals of a library, and what they must not say together.

Two documents may call an interval by the same id, and one may build on another's. What
an engine is told is looked at with nothing known of it but its type, and its serial
number where one of the documents names some.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final

from django.db.models import Q

from notices.models import Provision, Publication, Reference, Revision, RuleVersion
from notices.rules.conditions import SerialIn, TypeIn, leaves_of
from notices.rules.designations import designation
from notices.rules.evaluate import CompiledCondition, Outcome
from notices.rules.facts import UNKNOWN, Asked, EngineFacts
from notices.rules.intervals.provisions import MOST_IN_A_ROW
from notices.rules.overhaul import Interval, parse_interval
from notices.rules.serials import (
    SerialRange,
    bounds_at,
    fits_pattern,
    parse_serial,
    runs_with_number,
)

ALWAYS: Final = {"always": True}
Types = Mapping[str, str]
"""The shape of the serials of each engine type by its designation, "" where unknown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Witness:
    """An engine of which only this is known; "" where it is not. `pattern`: its type's."""

    type: str
    serial: str = ""
    pattern: str = ""

    def __str__(self) -> str:
        of_type = f" of type {self.type}" if self.type else ""
        if not self.serial:
            return f"engines{of_type}"
        return f"an engine{of_type} with serial number {self.serial}"

    @property
    def facts(self) -> EngineFacts:
        return EngineFacts(
            type=self.type or UNKNOWN,
            serial=self.serial or UNKNOWN,
            serial_pattern=self.pattern or None,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """An interval with where it stands. Its `when` is the whole condition.

    `document`: number and revision in words. `order`: of the provision in it.
    """

    document: str
    order: int
    interval: Interval

    def __str__(self) -> str:
        return f"{self.document}, provision {self.order}"

    @property
    def condition(self) -> CompiledCondition:
        compiled = self.interval.compiled_when
        assert compiled is not None, "placed with its whole condition"
        return compiled

    def outcome_for(self, type_: str | None) -> Outcome:
        """What it says of an engine of which nothing but the type is known."""
        return self.outcome_of(Witness(type=type_ or ""))

    def outcome_of(self, witness: Witness) -> Outcome:
        return self.condition.outcome(witness.facts, Asked())


def placed(version: RuleVersion) -> Placed:
    """Return the interval of a rule, saved or not; its rows are at hand."""
    provision = version.provision
    whole = {"all": [version.applicability or ALWAYS, version.condition]}
    return Placed(
        document=str(provision.revision),
        order=provision.order,
        interval=parse_interval({**version.interval, "when": whole}),
    )


def intervals_beside(
    publication: Publication, on: date, *, superseded: Collection[str], by: date
) -> list[Placed]:
    """Return the intervals of the other documents that hold on a day, or later.

    `superseded`: numbers of documents of which everything is left out that took over on
    the day `by` or before: it is then replaced. One query.
    """
    ours = Revision.objects.filter(station=publication.station_id)
    later = ours.filter(
        confirmed_at__isnull=False, takes_over_on__gt=on, cancelled_at=None
    )
    holding = Q(provision__revision__in=ours.current(on).values("pk"))
    replaced = Q(
        provision__revision__publication__number_key__in=map(designation, superseded),
        provision__revision__takes_over_on__lte=by,
    )
    versions = RuleVersion.objects.valid().filter(
        holding | Q(provision__revision__in=later.values("pk")),
        ~replaced,
        provision__kind=Provision.Kind.INTERVAL,
    )
    return _read(versions.exclude(provision__revision__publication=publication))


def beside_revision(revision: Revision, on: date) -> list[Placed]:
    """Return the intervals of the documents beside a stored revision. Two queries."""
    rows = revision.references.filter(kind=Reference.Kind.SUPERSEDES)
    return intervals_beside(
        revision.publication,
        on,
        superseded=list(rows.values_list("number", flat=True)),
        by=revision.effective_on or revision.issued_on or on,
    )


def intervals_in(revision: Revision) -> list[Placed]:
    """Return the intervals of a revision as its rules stand now. One query."""
    return _read(
        RuleVersion.objects.filter(
            current=True,
            provision__revision=revision,
            provision__kind=Provision.Kind.INTERVAL,
        )
    )


def holds_or_will(revision: Revision, on: date) -> bool:
    """Whether a confirmed revision is current on a day, or takes over later."""
    assert revision.takes_over_on is not None, "of a confirmed revision"
    if revision.takes_over_on > on:
        return revision.cancelled_at is None
    return revision.publication.revisions.current(on).filter(pk=revision.pk).exists()


def _read(versions: Any) -> list[Placed]:
    rows = versions.select_related("provision__revision__publication").order_by(
        "provision__revision__publication__number_key", "provision__order"
    )
    return [placed(version) for version in rows if version.interval]


def meant_by(name: str, of: Placed, among: Iterable[Placed]) -> list[Placed]:
    """Return the intervals that `builds_on` of one may mean: exactly one, if all is well.

    Those of its own document come first; only without one there are others meant.
    """
    named = [one for one in among if one.interval.id == name]
    own = [one for one in named if one.document == of.document]
    return own or named


def types_named(intervals: Iterable[Placed]) -> set[str]:
    """Return the designations that these intervals name; of a series its stem."""
    return {
        pattern.text.rstrip().removesuffix("*").rstrip()
        for one in intervals
        for leaf in leaves_of(one.condition.condition)
        if isinstance(leaf, TypeIn)
        for pattern in leaf.designations
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """Two base intervals of which both hold for an engine, or may.

    `engine`: one for which they do; None where their conditions are the same.
    """

    ours: Placed
    other: Placed
    engine: Witness | None
    certain: bool

    @property
    def engines(self) -> str:
        return "the same engines" if self.engine is None else str(self.engine)


def clashes(
    own: Sequence[Placed], others: Sequence[Placed], types: Types
) -> Iterator[Clash]:
    """Yield each pair of base intervals, one of them ours, of which both may hold.

    `types`: the station's; those that the intervals name are looked at, too.
    """
    ours = [one for one in own if one.interval.kind == "base"]
    theirs = [one for one in others if one.interval.kind == "base"]
    asked = sorted({*types, *types_named([*ours, *theirs])}) or [""]
    of_types = [Witness(type=name, pattern=types.get(name, "")) for name in asked]
    for index, base in enumerate(ours):
        for other in (*ours[:index], *theirs):
            found = _clash(base, other, of_types)
            if found is not None:
                yield found


def _clash(ours: Placed, other: Placed, of_types: Sequence[Witness]) -> Clash | None:
    if ours.condition.condition == other.condition.condition:
        return Clash(ours=ours, other=other, engine=None, certain=True)
    serials = _serials_at_ends([ours, other])
    possible = None
    for witness in of_types:
        outcomes = {ours.outcome_of(witness), other.outcome_of(witness)}
        if Outcome.DOES_NOT_APPLY in outcomes:
            continue
        for closer in (witness, *_with_serials(witness, serials)):
            if {ours.outcome_of(closer), other.outcome_of(closer)} == {Outcome.APPLIES}:
                return Clash(ours=ours, other=other, engine=closer, certain=True)
        if possible is None:
            possible = Clash(ours=ours, other=other, engine=witness, certain=False)
    return possible


def _with_serials(witness: Witness, serials: Iterable[str]) -> Iterator[Witness]:
    for serial in serials:
        if not witness.pattern or fits_pattern(parse_serial(serial), witness.pattern):
            yield replace(witness, serial=serial)


def _serials_at_ends(intervals: Iterable[Placed]) -> list[str]:
    """Return the serials at the ends of every range named, just inside and outside."""
    found = (
        serial
        for one in intervals
        for leaf in leaves_of(one.condition.condition)
        if isinstance(leaf, SerialIn)
        for span in leaf.ranges
        for serial in serials_at_ends(span)
    )
    return list(dict.fromkeys(found))


def serials_at_ends(span: SerialRange) -> Iterator[str]:
    """Yield the first and the last serial of a range, then those beside them."""
    low, high = bounds_at(span, span.at) if span.at >= 0 else (0, 0)
    inside = [end for end in (low, high) if end is not None]
    outside = [] if low is None or low == 0 else [low - 1]
    outside += [] if high is None else [high + 1]
    for number in (*inside, *outside):
        yield "".join(str(run) for run in runs_with_number(span, span.at, number))


def circles(
    own: Sequence[Placed], others: Sequence[Placed]
) -> Iterator[tuple[Placed, ...]]:
    """Yield each way on which an interval of ours builds on itself in the end."""
    for one in own:
        way, leads_to = _way_down(one, (*own, *others))
        if leads_to == one:
            yield way


def rows_too_long(
    own: Sequence[Placed], others: Sequence[Placed]
) -> Iterator[tuple[Placed, ...]]:
    """Yield each row below an interval of ours that is longer than is looked at."""
    for one in own:
        way, leads_to = _way_down(one, (*own, *others))
        if leads_to is None and len(way) > MOST_IN_A_ROW:
            yield way


def _way_down(
    one: Placed, among: Sequence[Placed]
) -> tuple[tuple[Placed, ...], Placed | None]:
    """Return what an interval builds on, itself first, and to which of these it leads."""
    way = [one]
    following = _below(one, among)
    while following is not None and following not in way:
        way.append(following)
        following = _below(following, among)
    return tuple(way), following


def _below(one: Placed, among: Sequence[Placed]) -> Placed | None:
    if one.interval.builds_on is None:
        return None
    found = meant_by(one.interval.builds_on, one, among)
    return found[0] if len(found) == 1 else None
