"""The overhaul interval of one engine, from its file and the provisions in force."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from notices.rules.compliance_time import DuePoint, History
from notices.rules.evaluate import Outcome
from notices.rules.facts import UNKNOWN, Asked, EngineFacts, Hours, Unknown
from notices.rules.intervals.falling import falls
from notices.rules.intervals.judging import Inquiry
from notices.rules.intervals.shortest import Falls
from notices.rules.overhaul import (
    Holding,
    Interval,
    Judged,
    Offer,
    OverhaulPoint,
    overhaul_point,
)
from tracker.compliance.asking import circumstances, history_asked
from tracker.compliance.facts import EngineFile
from tracker.compliance.intervals.ends import Ends, carried
from tracker.compliance.intervals.notes import note_of
from tracker.compliance.models import LongerInterval
from tracker.compliance.rules import CompiledRule

_OUTCOMES = {
    Holding.HOLDS: Outcome.APPLIES,
    Holding.UNDETERMINED: Outcome.UNDETERMINED,
    Holding.WITHIN_REACH: Outcome.DOES_NOT_APPLY,
    Holding.DOES_NOT_HOLD: Outcome.DOES_NOT_APPLY,
}
NOTHING_DUE = DuePoint(closed="nothing due")
_LONGER = {
    Holding.HOLDS: LongerInterval.HOLDS,
    Holding.WITHIN_REACH: LongerInterval.WITHIN_REACH,
    Holding.UNDETERMINED: LongerInterval.UNDETERMINED,
    Holding.DOES_NOT_HOLD: LongerInterval.DOES_NOT_HOLD,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalRules:
    """The interval provisions of a library, made ready for many engines.

    `by_id`: each rule by the name that its provision goes by here, which holds the
    number of its document: two documents may both call something "base". `intervals`:
    by that name, but what one builds on is still named as in its document.
    """

    by_id: Mapping[str, CompiledRule]
    intervals: tuple[Interval, ...]
    _built: dict[tuple[str, str], Interval] = field(default_factory=dict, repr=False)

    def of(
        self, file: EngineFile, *, on: date, costs: Mapping[str, Hours] | None = None
    ) -> EngineInterval | None:
        """Return what they come to for an engine; None if none of them concerns it.

        `costs`: man-hours by the number of what a step embodies or complies with.
        """
        chosen = [
            one for one in self.intervals if self.by_id[one.id].may_concern(file.facts)
        ]
        if not chosen:
            return None
        asked_of = self._asked_of(chosen, file, on=on)
        chosen = self._built_on(chosen, file.facts, asked_of)
        asked, past = asked_of[chosen[0].id], _history(file)
        point = overhaul_point(
            chosen, file.facts, asked, past, costs=costs or {}, asked_of=asked_of
        )
        inquiry = Inquiry(chosen, file.facts, asked, past, asked_of)
        situation = inquiry.situation
        found = EngineInterval(
            point=point,
            has_base=_has_base(point, inquiry),
            by_id={one.id: self.by_id[one.id] for one in chosen},
            falls={one.id: falls(one, situation) for one in chosen},
        )
        return found if found.concerns else None

    def _built_on(
        self,
        chosen: Sequence[Interval],
        facts: EngineFacts,
        asked_of: Mapping[str, Asked],
    ) -> list[Interval]:
        """Return the intervals with the names of those that they build on.

        One of the same revision is meant first. Of another document, the one is meant
        that may hold for the engine: what speaks of other engines only is never meant.
        Where several may, nothing is, and whether the provision holds cannot be said.
        """
        found: list[Interval] = []
        for one in chosen:
            below = one.builds_on
            if below is not None:
                below = self._meant(below, one, chosen, facts, asked_of)
                key = (one.id, below)
                if key not in self._built:
                    self._built[key] = replace(one, builds_on=below)
                one = self._built[key]
            found.append(one)
        return found

    def _meant(
        self,
        below: str,
        of: Interval,
        chosen: Sequence[Interval],
        facts: EngineFacts,
        asked_of: Mapping[str, Asked],
    ) -> str:
        revision = self.by_id[of.id].revision.pk
        called = [one for one in chosen if self._called(one) == below]
        own = [one for one in called if self.by_id[one.id].revision.pk == revision]
        if own:
            return own[0].id
        if len(called) > 1:
            held = [one for one in called if _may_hold(one, facts, asked_of[one.id])]
            called = held or called[:1]
        return called[0].id if len(called) == 1 else below

    def _called(self, one: Interval) -> str:
        """What an interval is called in its own document."""
        own = self.by_id[one.id].interval
        assert own is not None
        return own.id

    def _asked_of(
        self, chosen: Iterable[Interval], file: EngineFile, *, on: date
    ) -> dict[str, Asked]:
        """Return the circumstances of each, the same object where they are the same."""
        known: dict[Asked, Asked] = {}
        asked_of = {}
        for one in chosen:
            rule = self.by_id[one.id]
            asked = circumstances(rule, file, history_asked(rule, file), on=on)
            asked_of[one.id] = known.setdefault(asked, asked)
        return asked_of


def _may_hold(one: Interval, facts: EngineFacts, asked: Asked) -> bool:
    if one.compiled_when is None:
        return True
    return one.compiled_when.outcome(facts, asked) is not Outcome.DOES_NOT_APPLY


def _has_base(point: OverhaulPoint, inquiry: Inquiry) -> bool:
    """Whether a base interval certainly holds, be it known which one or not."""
    if any(base.holding is Holding.HOLDS for base in point.bases):
        return True
    doubtful = {b.id for b in point.bases if b.holding is Holding.UNDETERMINED}
    several = [one for one in inquiry.intervals if one.id in doubtful]
    return bool(several) and inquiry.at_least_one(several)


def _history(file: EngineFile) -> History:
    """The past as intervals look at it; an overhaul may stand among the events, too."""
    unknown = isinstance(file.facts.overhauls, Unknown)
    return History(
        effective_on=UNKNOWN,
        done=(),
        events=UNKNOWN if unknown else file.events,
        readings=file.readings,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineInterval:
    """What the interval provisions come to for one engine.

    `by_id`: each rule by the name that its provision goes by in the point. `falls`:
    where the limits of each provision would fall by themselves. `has_base`: a base
    interval certainly holds, be it known which one or not.
    """

    point: OverhaulPoint
    has_base: bool
    by_id: Mapping[str, CompiledRule]
    falls: Mapping[str, Falls]

    @property
    def judged(self) -> tuple[Judged | Offer, ...]:
        """Every provision as it stands to the engine: bases, restrictions, extensions."""
        return (*self.point.bases, *self.point.restrictions, *self.point.offers)

    @property
    def sources(self) -> tuple[str, ...]:
        """The provisions from which hours and years of the interval come."""
        both = (self.point.from_hours, self.point.from_years)
        return tuple(dict.fromkeys(name for name in both if name is not None))

    @property
    def concerns(self) -> bool:
        """Whether any provision says or may say something of this engine."""
        return any(one.holding is not Holding.DOES_NOT_HOLD for one in self.judged)

    @property
    def longer(self) -> str:
        """Whether a longer interval applies, empty where none is on offer."""
        return _LONGER[self.ends.longer].value if self.point.offers else ""

    @property
    def ends(self) -> Ends:
        """Where the interval would end under other provisions."""
        return Ends(point=self.point, falls=self.falls, has_base=self.has_base)

    def provision_of(self, rule: CompiledRule) -> ProvisionOutcome | None:
        """Return what becomes of a rule's provision; None if it is not among these.

        Each finding carries the limits of its own provision, so that each is as certain
        as the provision is.
        """
        name = self._names.get(rule.version.pk)
        if name is None:
            return None
        one = next(judged for judged in self.judged if judged.id == name)
        note = note_of(self, one)
        point = carried(self.ends, name) or NOTHING_DUE
        return ProvisionOutcome(
            outcome=_OUTCOMES[one.holding],
            reasons=one.reasons,
            missing=one.missing,
            point=replace(point, reasons=(note,)) if note else point,
            is_law=any(
                f is not None and f.binds is not False for f in self.falls[name]
            ),
        )

    @property
    def _names(self) -> dict[int, str]:
        return {rule.version.pk: name for name, rule in self.by_id.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class ProvisionOutcome:
    """One provision for one engine: how it stands, and what falls due by it.

    `is_law`: it is law in the engine's operation, or may be.
    """

    outcome: Outcome
    reasons: tuple[str, ...]
    missing: tuple[str, ...]
    point: DuePoint
    is_law: bool


def interval_rules(rules: Iterable[CompiledRule]) -> IntervalRules:
    """Return the interval provisions among rules, each with a name of its own."""
    named = {
        _name(rule, rule.interval): (rule, rule.interval)
        for rule in rules
        if rule.interval is not None
    }
    return IntervalRules(
        by_id={name: rule for name, (rule, _) in named.items()},
        intervals=tuple(
            _renamed(rule, interval, name) for name, (rule, interval) in named.items()
        ),
    )


def interval_of(
    rules: Iterable[CompiledRule],
    file: EngineFile,
    *,
    on: date,
    costs: Mapping[str, Hours] | None = None,
) -> EngineInterval | None:
    """Return the overhaul interval of an engine; None if no provision concerns it."""
    return interval_rules(rules).of(file, on=on, costs=costs)


def _name(rule: CompiledRule, interval: Interval) -> str:
    return f"{rule.publication.number} {interval.id}"


def _renamed(rule: CompiledRule, interval: Interval, name: str) -> Interval:
    """The interval under its name; what a binding document says is law everywhere."""
    binding = True if rule.publication.binds else interval.binding
    return replace(interval, id=name, binding=binding)
