"""What is due after the records made so far: the due point of an action, computed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from notices.rules.evaluate import Outcome
from notices.rules.facts import Asked, EngineFacts, Hours, Unknown
from notices.rules.times.actions import Action, Tolerance
from notices.rules.times.due_points import Closed, DuePoint, Late, one_of
from notices.rules.times.grids import Grid, Steps, first_steps
from notices.rules.times.history import History
from notices.rules.times.limits import Time
from notices.rules.times.placing import placed
from notices.rules.times.points import (
    Allowance,
    Branch,
    Leaf,
    PointKind,
    Tree,
    branches,
    folded_hours,
    folded_on,
    join,
    leaves,
    same_points,
    waits,
)
from notices.rules.times.records import Counted, counted_records, ending, unsaid
from notices.rules.times.situations import Place, Situation
from notices.rules.times.standing import Moment, Standing, standing

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Outlook:
    """What is due after one list of records."""

    tree: Tree
    closed: Closed | None = None
    until: Tree | None = None
    late: Late | None = None
    last: Place | None = None


def due_point(
    action: Action, facts: EngineFacts, asked: Asked, history: History
) -> DuePoint:
    """Return where the action falls due for this engine, or for `asked.part`.

    What is dated after `asked.on` is a plan and does not count. The effective date and
    hours of `history` win over those of `asked`, these over `facts.at_effective`.
    Raises RuleError where an event contradicts the engine's own data.
    """
    now = _situation(facts, asked, history)
    end = ending(action, now)
    if end.ended:
        return DuePoint(
            closed="terminated", reasons=end.reasons, repeats=_repeats(action)
        )
    reasons: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    open_question = end.ended is None
    if action.compiled_when is not None:
        answer = action.compiled_when.answer_of(now.subject)
        if answer.outcome is Outcome.DOES_NOT_APPLY:
            return DuePoint(
                closed="does not apply",
                reasons=answer.reasons,
                repeats=_repeats(action),
            )
        reasons = answer.reasons
        if answer.outcome is Outcome.UNDETERMINED:
            open_question, missing = True, answer.missing
    point = _timed(action, now)
    if not (open_question or missing or reasons or end.missing):
        return point
    return replace(
        point,
        undetermined=point.undetermined or open_question,
        missing=tuple(dict.fromkeys((*missing, *end.missing, *point.missing))),
        reasons=reasons + point.reasons,
    )


def _repeats(action: Action) -> bool:
    return action.repeat is not None


def _situation(facts: EngineFacts, asked: Asked, history: History) -> Situation:
    """Return the engine's past as far as it is known on the day asked for."""
    on, hours = history.effective_on, history.effective_hours
    if isinstance(on, Unknown):
        on = asked.effective_on
    if isinstance(hours, Unknown):
        hours = asked.effective_hours
    history = replace(history.up_to(asked.on), effective_on=on, effective_hours=hours)
    last, result = None, asked.result
    if not isinstance(history.done, Unknown):
        last = history.done[-1] if history.done else None
        result = None if last is None else last.result
    asked = replace(
        asked,
        effective_on=asked.effective_on if on is None else on,
        effective_hours=hours,
        result=result,
    )
    return Situation(facts=facts, asked=asked, history=history, last=last)


def _timed(action: Action, now: Situation) -> DuePoint:
    """Return the point of an action that applies and has not been ended."""
    records = counted_records(action, now)
    certain = tuple(one for one in records if one.counts is True)
    possible = tuple(one for one in records if one.counts is not False)
    outlook = _outlook(action, now, possible)
    lacking = () if _is_never_due(action, outlook) else unsaid(action, now)
    undetermined = bool(lacking)
    if certain != possible:
        other = _outlook(action, now, certain)
        if not _same(outlook, other):
            lacking += tuple(x for one in possible for x in one.missing)
            undetermined, outlook = True, _either(outlook, other, lacking)
    return _as_point(action, now, outlook, undetermined, lacking)


def _is_never_due(action: Action, outlook: _Outlook) -> bool:
    """Return whether nothing is due of work that is done once, was it done or not."""
    within = action.credit is not None and action.credit.within is not None
    return action.repeat is None and not within and waits(outlook.tree)


def _same(one: _Outlook, other: _Outlook) -> bool:
    return one.closed == other.closed and same_points(one.tree, other.tree)


def _either(one: _Outlook, other: _Outlook, lacking: tuple[str, ...]) -> _Outlook:
    trees = tuple(
        outlook.tree
        if outlook.closed is None
        else Leaf(kind=PointKind.NOTHING_DUE, note=outlook.closed)
        for outlook in (one, other)
    )
    return replace(one, closed=None, tree=one_of(trees, lacking), until=None)


def _as_point(
    action: Action,
    now: Situation,
    outlook: _Outlook,
    undetermined: bool,
    lacking: tuple[str, ...],
) -> DuePoint:
    closed = outlook.closed
    if closed is None and waits(outlook.tree):
        closed = "nothing due"
    tolerance = action.tolerance
    allowance = _allowance(tolerance)
    on = hours = None
    if outlook.last is not None:
        on = _known(outlook.last.on)
        hours = _known(outlook.last.hours)
    return DuePoint(
        closed=closed,
        tree=None if closed in ("complied with", "terminated") else outlook.tree,
        until=outlook.until if closed is None else None,
        undetermined=undetermined,
        missing=tuple(dict.fromkeys(lacking)),
        reasons=_notes(outlook.tree),
        late=outlook.late,
        repeats=_repeats(action),
        last_on=on,
        last_hours=hours,
        tolerance_hours=allowance.hours,
        tolerance_days=allowance.days,
        tolerance_en_route=tolerance is not None and tolerance.en_route,
    )


def _known(value: T | Unknown) -> T | None:
    return None if isinstance(value, Unknown) else value


def _notes(tree: Tree) -> tuple[str, ...]:
    """Return what is said about single limits; the sentence itself says "no case"."""
    notes = [x.note for x in leaves(tree) if x.kind is not PointKind.NOTHING_DUE]
    return tuple(dict.fromkeys(note for note in notes if note))


def _allowance(tolerance: Tolerance | None) -> Allowance:
    if tolerance is None:
        return Allowance()
    return Allowance(hours=tolerance.hours or Hours(0), days=tolerance.days or 0)


def _outlook(action: Action, now: Situation, records: Sequence[Counted]) -> _Outlook:
    """Return what is due after these records, taken one by one in order.

    Under restart "done" the last two decide: the last one is judged by the point that
    the one before it has set. What was due before the last record, and under which
    case, is past; only what is due now goes by the case that holds now.
    """
    tree = placed(action.initial, _before_records(now, records))
    if not records:
        return _Outlook(tree=tree)
    steps = first_steps(tree)
    outlook = _Outlook(tree=tree)
    taken = records if action.restart == "planned" else records[-2:]
    if len(taken) < len(records):
        outlook = _Outlook(tree=Leaf(kind=PointKind.UNKNOWN))
    for one in taken:
        then = replace(now, is_past=one is not taken[-1])
        outlook, steps = _after_record(action, then, one, outlook.tree, steps)
    if action.until is None or outlook.closed is not None:
        return outlook
    return _ended_by(action.until, now, outlook)


def _before_records(now: Situation, records: Sequence[Counted]) -> Situation:
    """Return the situation in which the initial time runs: no record has counted yet."""
    if not records:
        return now
    asked = replace(now.asked, result=None)
    return replace(now, asked=asked, last=None, is_past=True)


def _after_record(
    action: Action,
    now: Situation,
    one: Counted,
    due: Tree,
    steps: dict[str, Steps],
) -> tuple[_Outlook, dict[str, Steps]]:
    last = one.place
    after = now.after_record(one.record)
    late = Late() if one.prior else _lateness_by_any(due, one, action)
    within = action.credit.within if one.prior and action.credit else None
    if action.repeat is None:
        if within is not None:
            tree = placed(within, after)
            return _Outlook(tree=tree, late=late, last=last), first_steps(tree)
        done: Closed = "complied with"
        return _Outlook(tree=due, closed=done, late=late, last=last), steps
    grid = Grid(
        action=action,
        record=one.record,
        place=one.place,
        before={} if one.prior else steps,
    )
    tree = placed(action.repeat, after, grid)
    if within is not None:
        tree = join("first_of", (tree, placed(within, after)))
    return _Outlook(tree=tree, late=late, last=last), grid.after


def _lateness_by_any(due: Tree, one: Counted, action: Action) -> Late | None:
    """Return the lateness, None where the points that may have held do not agree."""
    if isinstance(due, Branch) and due.joined == "one_of":
        found = {_lateness_by_any(member, one, action) for member in due.members}
        return found.pop() if len(found) == 1 else None
    if any(branch.joined == "one_of" for branch in branches(due)):
        return None
    return _lateness(due, one, action)


def _lateness(due: Tree, one: Counted, action: Action) -> Late:
    """Return by how much a record was late against the point it answers."""
    record, place = one.record, one.place
    tolerance = action.tolerance
    allowed = tolerance is None or record.en_route or not tolerance.en_route
    moment = Moment(
        on=place.on,
        hours=place.hours,
        allowance=_allowance(tolerance) if allowed else Allowance(),
    )
    if standing(due, moment) is not Standing.PAST:
        return Late()
    hours, days = 0, 0
    limit_hours = folded_hours(due)
    if limit_hours is None:
        limit_hours = max(
            (x.from_hours for x in leaves(due) if x.from_hours is not None),
            default=None,
        )
    limit_on = folded_on(due)
    if limit_hours is not None and not isinstance(place.hours, Unknown):
        hours = max(place.hours - limit_hours, 0)
    if limit_on is not None and not isinstance(place.on, Unknown):
        days = max((place.on - limit_on).days, 0)
    return Late(hours=Hours(hours), days=days)


def _ended_by(until: Time, now: Situation, outlook: _Outlook) -> _Outlook:
    """Return the outlook with the end of repeats: reached before the next point, or not.

    Where hours stand against a date, only the day can tell; then the end is kept.
    """
    end = placed(until, replace(now, default_after="effective"))
    beyond = _lies_past(outlook.tree, end)
    if beyond:
        return replace(outlook, closed="terminated")
    return replace(outlook, until=None if beyond is False else end)


def _lies_past(tree: Tree, end: Tree) -> bool | None:
    """Return whether the tree falls due past the end, None if the day decides."""
    if isinstance(tree, Leaf):
        return _leaf_lies_past(tree, end)
    answers = [_lies_past(member, end) for member in tree.members]
    if tree.joined == "last_of":
        return _any(answers)
    return _all(answers)


def _leaf_lies_past(leaf: Leaf, end: Tree) -> bool | None:
    if isinstance(end, Leaf):
        return _compare(leaf, end)
    answers = [_leaf_lies_past(leaf, member) for member in end.members]
    return _any(answers) if end.joined == "first_of" else _all(answers)


def _compare(leaf: Leaf, end: Leaf) -> bool | None:
    if end.kind is not PointKind.POINT or leaf.kind is not PointKind.POINT:
        return None
    if leaf.hours is not None and end.hours is not None:
        return leaf.hours > end.hours
    if leaf.on is not None and end.on is not None:
        return leaf.on > end.on
    return None


def _any(answers: Sequence[bool | None]) -> bool | None:
    if True in answers:
        return True
    return None if None in answers else False


def _all(answers: Sequence[bool | None]) -> bool | None:
    if False in answers:
        return False
    return None if None in answers else True
