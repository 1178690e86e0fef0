"""The leaded share of the fuel as one rule asks for it: what it rests on, what it moves."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import cached_property
from itertools import groupby
from typing import Final

from notices.models import Provision
from notices.rules.compliance_time import DuePoint, due_point
from notices.rules.facts import UNKNOWN, Asked, EngineFacts, Hours, Unknown
from notices.rules.operating import (
    Crossing,
    Fuel,
    Mix,
    PointAt,
    Threshold,
    crossings,
    mix_since,
    point_at,
    points_by_share,
    share_classes,
    since_last_done,
    thresholds,
)
from notices.rules.operating_wording import (
    class_words,
    crossing_sentence,
    limit_sizes,
    mix_sentence,
)
from notices.rules.times.history import History
from notices.rules.times.points import Branch, Tree
from tracker.compliance.rules import CompiledRule

Since = tuple[date | Unknown | None, Hours | Unknown]
"""A day and hours; None where it never was."""

NOWHERE: Final[Since] = (UNKNOWN, UNKNOWN)


@dataclass(frozen=True, kw_only=True)
class RuleMix:
    """The fuel since the action of a rule was last done, for an engine or a part of it.

    `since`: None where it was never done, unknown where nobody has said. `declared`:
    the share that stands in where no fuel is recorded. `asked`: without the share.

    No slots, so that what is worked out once is kept with it.
    """

    rule: CompiledRule
    facts: EngineFacts
    asked: Asked
    past: History
    fuel: tuple[Fuel, ...]
    since: date | Unknown | None
    since_hours: Hours | Unknown
    declared: Fraction | Unknown
    mix: Mix

    @property
    def share(self) -> Fraction | Unknown:
        return self.mix.share

    @cached_property
    def limits(self) -> tuple[Threshold, ...]:
        """Shares at which the limit is another one, not only whether the rule applies."""
        return () if self.rule.action is None else thresholds(self.rule.action)

    @cached_property
    def points(self) -> tuple[PointAt, ...]:
        """Where the action falls due in each class of shares that its times tell apart."""
        if self.rule.action is None or not self.limits:
            return ()
        return points_by_share(self.rule.action, self.facts, self.asked, self.past)

    @cached_property
    def crossed(self) -> tuple[tuple[Crossing, ...], ...]:
        """The records with which the share came to the other side, oldest first."""
        assert isinstance(self.asked.on, date)
        found = crossings(
            self.fuel,
            self.rule.thresholds,
            since=self.since,
            since_hours=self.since_hours,
            on=self.asked.on,
            declared=self.declared,
        )
        by_record = groupby(found, key=lambda crossing: crossing.index)
        return tuple(tuple(of_one) for _, of_one in by_record)

    @cached_property
    def moved(self) -> tuple[Crossing, ...]:
        """What the last record that moved the limit crossed; empty where none did."""
        return next((one for one in reversed(self.crossed) if self._moves(one)), ())

    def reasons(self, point: DuePoint) -> tuple[str, ...]:
        """Return the share, what it rests on, and the limit that goes with it.

        `point`: what the action came to with this share.
        """
        said = [mix_sentence(self.mix)]
        if not self.limits:
            said += [self.told(one) for one in self.crossed[-1:]]
        elif point.closed is None and point.tree is not None:
            limit = limit_words(point.tree)
            said.append(self.told(self.moved) if self.moved else self._limit(limit))
        return tuple(said)

    def grounds(self, point: DuePoint) -> tuple[str, ...]:
        """Return in short why this one of its limits holds, nothing where none does."""
        if not self.limits or point.closed is not None or point.tree is None:
            return ()
        return (self.told(self.moved),) if self.moved else self.reasons(point)

    def told(self, crossed: tuple[Crossing, ...]) -> str:
        """Return what one record of fuel changed."""
        return crossing_sentence(crossed, self.points)

    def _moves(self, crossed: tuple[Crossing, ...]) -> bool:
        """Whether the limit after a record is another one than before it."""
        last = crossed[-1]
        now = point_at(self.points, last.after)
        before = point_at(self.points, last.before)
        return now is not None and (before is None or before.tree != now.tree)

    def _limit(self, limit: str) -> str:
        """Return the limit that holds, where no record of fuel has moved it."""
        if isinstance(self.share, Unknown):
            return (
                f"The limit is {limit}: the shortest counts until the share is known."
            )
        classes = share_classes(self.limits)
        held = next(one for one in classes if one.holds(self.share))
        return f"The share is {class_words(held)}, so the limit is {limit}."


def limit_words(tree: Tree) -> str:
    """Return the sizes of a limit; where it is not known which holds, of each of them."""
    if isinstance(tree, Branch) and tree.joined == "one_of":
        return f"one of these: {'; '.join(map(limit_sizes, tree.members))}"
    return limit_sizes(tree)


def mix_of(
    rule: CompiledRule,
    facts: EngineFacts,
    asked: Asked,
    past: History,
    *,
    fuel: tuple[Fuel, ...],
    declared: Fraction | Unknown,
) -> RuleMix:
    """Return the mix since the action was last done. `declared`: the owner's habit.

    An overhaul interval goes by the fuel since the last overhaul. Of a part on which
    the action was never done, fuel counts from when the part was fitted.
    """
    assert isinstance(asked.on, date)
    since, since_hours = _since(rule, facts, asked, past) if fuel else NOWHERE
    return RuleMix(
        rule=rule,
        facts=facts,
        asked=asked,
        past=past,
        fuel=fuel,
        since=since,
        since_hours=since_hours,
        declared=declared,
        mix=mix_since(
            fuel,
            since=since,
            since_hours=since_hours,
            on=asked.on,
            declared=declared,
        ),
    )


def _since(
    rule: CompiledRule, facts: EngineFacts, asked: Asked, past: History
) -> Since:
    if rule.provision.kind == Provision.Kind.INTERVAL:
        return _since_overhaul(facts)
    if rule.action is None:
        return None, UNKNOWN
    point = due_point(rule.action, facts, asked, past)
    since, hours = since_last_done(point, past)
    if since is None and asked.part is not None and asked.part.fitted != "new":
        since = asked.part.fitted
    return since, hours


def _since_overhaul(facts: EngineFacts) -> Since:
    if isinstance(facts.overhauls, Unknown):
        return NOWHERE
    if not facts.overhauls:
        return None, UNKNOWN
    return facts.overhauls[-1].on, facts.overhauls[-1].hours
