"""The leaded share of the fuel as one rule asks for it: what it rests on, what it moves."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from functools import cached_property
from itertools import groupby
from typing import Final

from notices.models import Provision
from notices.rules.compliance_time import DuePoint, due_point
from notices.rules.evaluate import Outcome, prepare
from notices.rules.facts import UNKNOWN, Asked, EngineFacts, Hours, PartFacts, Unknown
from notices.rules.operating import (
    Ahead,
    Crossing,
    Fuel,
    Mix,
    PointAt,
    Threshold,
    crossings,
    mix_since,
    moves_limit,
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

_VERBS: Final = {
    Outcome.APPLIES: "applies",
    Outcome.DOES_NOT_APPLY: "does not apply",
    Outcome.UNDETERMINED: "may apply",
}
NOWHERE: Final[Since] = (UNKNOWN, UNKNOWN)


@dataclass(frozen=True, kw_only=True)
class RuleMix:
    """The fuel since the action of a rule was last done, for an engine or a part of it.

    `since`: None where it was never done, unknown where nobody has said. `declared`:
    the share that stands in where no fuel is recorded, or too little for the hours run.
    `asked`: without the share.

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
    def tells(self) -> bool:
        """Whether it falls due elsewhere with some other share, as things stand now."""
        return any(one.point.tree != self.points[0].point.tree for one in self.points)

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
            hours_now=self.facts.axis_now,
            declared=self.declared,
        )
        by_record = groupby(found, key=lambda crossing: crossing.index)
        return tuple(tuple(of_one) for _, of_one in by_record)

    @cached_property
    def moved(self) -> tuple[Crossing, ...]:
        """What the last record that moved the limit crossed; empty where none did."""
        back = reversed(self.crossed)
        return next((one for one in back if moves_limit(one[-1], self.points)), ())

    @property
    def held_since(self) -> tuple[date | None, date | None]:
        """Since when the limit holds, and since when the share is in its class.

        As far as fuel is recorded. The share may pass to a class with the same limit.
        """
        if self.mix.source != "records":
            return None, None
        done = self.since if isinstance(self.since, date) else None
        passed = [
            one.on for crossed in self.crossed for one in crossed if self._parts(one)
        ]
        return self.moved[-1].on if self.moved else done, passed[-1] if passed else done

    def _parts(self, crossing: Crossing) -> bool:
        """Whether the threshold parts two classes of limits."""
        return crossing.threshold in self.limits

    def whether(self) -> tuple[str, ...]:
        """Return with which shares the rule applies; nothing where none decides that."""
        answers = [
            (shares, self._outcome_at(shares.some))
            for shares in share_classes(thresholds(self.rule.condition.condition))
        ]
        if len({outcome for _, outcome in answers}) == 1:
            return ()
        return tuple(
            f"With a share {_of(class_words(shares))} it {_VERBS[outcome]}."
            for shares, outcome in answers
        )

    def changes_with(self, ahead: Ahead) -> bool:
        """Whether another limit holds beyond a threshold, or the rule applies there."""
        classes = share_classes(self.rule.thresholds)
        place = self.rule.thresholds.index(ahead.threshold)
        beyond = classes[place + 1 if ahead.upward else place]
        return self._comes_to(beyond.some) != self._comes_to(self.share)

    def _comes_to(self, share: Fraction | Unknown) -> tuple[Outcome, Tree | None]:
        point = point_at(self.points, share)
        return self._outcome_at(share), None if point is None else point.tree

    def _outcome_at(self, share: Fraction | Unknown) -> Outcome:
        asked = replace(self.asked, leaded_share=share)
        return self.rule.condition.outcome_of(prepare(self.facts, asked))

    def reasons(self, point: DuePoint) -> tuple[str, ...]:
        """Return the share, what it rests on, and the limit that goes with it.

        `point`: what the action came to with this share. Nothing where nothing hangs on
        the share as things stand now.
        """
        said = [mix_sentence(self.mix)]
        if not self.limits:
            return (*said, *(self.told(one) for one in self.crossed[-1:]))
        if self.tells and point.closed is None and point.tree is not None:
            limit = limit_words(point.tree)
            return (*said, self.told(self.moved) if self.moved else self._limit(limit))
        return () if set(self.rule.thresholds) == set(self.limits) else tuple(said)

    def grounds(self, point: DuePoint) -> tuple[str, ...]:
        """Return in short why this one of its limits holds, nothing where none does."""
        if not self.tells or point.closed is not None or point.tree is None:
            return ()
        return (self.told(self.moved),) if self.moved else self.reasons(point)

    def told(self, crossed: tuple[Crossing, ...]) -> str:
        """Return what one record of fuel changed."""
        return crossing_sentence(crossed, self.points)

    def _limit(self, limit: str) -> str:
        """Return the limit that holds, where no record of fuel has moved it."""
        if isinstance(self.share, Unknown):
            return (
                f"The limit is {limit}: the shortest counts until the share is known."
            )
        classes = share_classes(self.limits)
        held = next(one for one in classes if one.holds(self.share))
        return f"With a share {_of(class_words(held))} the limit is {limit}."


def _of(words: str) -> str:
    """Return the words of a class as they follow a share: "of at most 30 %"."""
    return f"of {words}" if words.startswith("at ") else words


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
            hours_now=facts.axis_now,
            declared=declared,
        ),
    )


def _since(
    rule: CompiledRule, facts: EngineFacts, asked: Asked, past: History
) -> Since:
    if rule.provision.kind == Provision.Kind.INTERVAL:
        return _since_overhaul(facts)
    if rule.action is None:
        return None, facts.axis_new
    point = due_point(rule.action, facts, asked, past)
    since, hours = since_last_done(point, past, facts)
    if since is None and asked.part is not None and asked.part.fitted != "new":
        return asked.part.fitted, _hours_when_fitted(asked.part, facts)
    return since, hours


def _hours_when_fitted(part: PartFacts, facts: EngineFacts) -> Hours | Unknown:
    now, run = facts.axis_now, part.hours.fitted
    if isinstance(now, Unknown) or isinstance(run, Unknown):
        return UNKNOWN
    return Hours(now - run)


def _since_overhaul(facts: EngineFacts) -> Since:
    if isinstance(facts.overhauls, Unknown):
        return NOWHERE
    if not facts.overhauls:
        return None, facts.axis_new
    return facts.overhauls[-1].on, facts.overhauls[-1].hours
