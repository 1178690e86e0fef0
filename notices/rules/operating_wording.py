"""The mix of fuel, what it moves and what lies ahead, as plain English sentences."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil

from notices.rules.applicability.wording import percent_words, rule_words, sentence
from notices.rules.conditions import LeadedShareIn
from notices.rules.facts import Hours, Unknown
from notices.rules.operating import (
    Ahead,
    Crossing,
    Mix,
    PointAt,
    ShareClass,
    Threshold,
    moves_limit,
    point_at,
)
from notices.rules.phrases import (
    NO_BREAK,
    counted,
    date_words,
    grouped,
    interval_words,
    listed,
    used_hours_words,
)
from notices.rules.times.limits import (
    DateLimit,
    DaysLimit,
    EventLimit,
    HoursLimit,
    MonthsLimit,
    event_key,
)
from notices.rules.times.points import Leaf, PointKind, Tree, leaves


def class_words(shares: ShareClass) -> str:
    """Return a class of shares: "over 30 % and at most 50 %"."""
    if shares.bounds is None:
        return "any share"
    return rule_words(LeadedShareIn(bounds=shares.bounds))


def fuel_words(leaded: Fraction) -> str:
    """Return a fuel by its leaded share: "leaded fuel"."""
    if leaded in (0, 1):
        return "leaded fuel" if leaded else "unleaded fuel"
    return f"fuel that is {percent_words(leaded)} leaded"


def mix_sentence(mix: Mix) -> str:
    """Return the leaded share and what it rests on."""
    short = _too_little(mix)
    if isinstance(mix.share, Unknown):
        return f"{short}The leaded share of the fuel is not known."
    words = f"{percent_words(mix.share)} of the fuel is leaded"
    if mix.source == "declared":
        return f"{short}{words}, as declared{'' if short else ': no fuel is recorded since'}."
    assert mix.first_on is not None
    assert mix.last_on is not None
    days = date_words(mix.first_on)
    if mix.last_on != mix.first_on:
        days += f" to {date_words(mix.last_on)}"
    return f"{words}, by {counted(mix.count, 'fuel record')}, {days}."


def _too_little(mix: Mix) -> str:
    """Return why the fuel on record does not tell, empty where it does."""
    if mix.too_little_for is None:
        return ""
    return (
        f"{litres_words(mix.litres)} on record for "
        f"{used_hours_words(mix.too_little_for)} run: too little to be the fuel of "
        "that time. "
    )


def litres_words(litres: Fraction) -> str:
    """Return litres to a tenth, rounded up."""
    whole, tenth = divmod(ceil(litres * 10), 10)
    decimals = f".{tenth}" if tenth else ""
    return f"{grouped(whole)}{decimals}{NO_BREAK}L"


def limit_sizes(tree: Tree) -> str:
    """Return the sizes of the limits in a tree: "50 h or 12 months"."""
    sizes = dict.fromkeys(_size(leaf) for leaf in leaves(tree))
    return listed(list(sizes), "or")


def _size(leaf: Leaf) -> str:
    match leaf.limit:
        case HoursLimit(hours=hours):
            return interval_words(hours)
        case MonthsLimit(months=months, calendar=calendar):
            return counted(months, "calendar month" if calendar else "month")
        case DaysLimit(days=days):
            return counted(days, "day")
        case DateLimit(on=on):
            return date_words(on)
        case EventLimit(name=name):
            return event_key(name)
    return "none" if leaf.kind is PointKind.NOTHING_DUE else "not known"


def crossing_sentence(
    crossed: Sequence[Crossing], points: Sequence[PointAt] = ()
) -> str:
    """Return what one record of fuel changed. `crossed`: at least one, all of it.

    `points`: where the action falls due by classes of shares, so that the limit before
    and after is named.
    """
    last = crossed[-1]
    sides = dict.fromkeys(_side(one.threshold, upward=one.upward) for one in crossed)
    after = percent_words(last.after)
    if isinstance(last.before, Unknown):
        moved = f"is {after}"
    else:
        verb = "rose" if last.after > last.before else "fell"
        habit = " as declared" if last.was_declared else ""
        moved = f"{verb} from {percent_words(last.before)}{habit} to {after}"
    words = (
        f"with the fuel of {date_words(last.on)} the leaded share {moved}, "
        f"{listed(list(sides), 'and')}"
    )
    return sentence(f"{words}{_moved_limit(last, points)}")


def _side(threshold: Threshold, *, upward: bool) -> str:
    words = {
        (True, False): "over",
        (True, True): "at least",
        (False, False): "at most",
        (False, True): "under",
    }
    return f"{words[upward, threshold.inclusive]} {percent_words(threshold.share)}"


def _moved_limit(crossing: Crossing, points: Sequence[PointAt]) -> str:
    now = point_at(points, crossing.after)
    before = point_at(points, crossing.before)
    if now is None or now.tree is None or not moves_limit(crossing, points):
        return ""
    limit = f", so the limit is {limit_sizes(now.tree)}"
    if before is None or before.tree is None:
        return limit
    return f"{limit} instead of {limit_sizes(before.tree)}"


def ahead_sentence(one: Ahead, next_leaded: Fraction) -> str:
    """Return after how much more of a fuel the share crosses a threshold."""
    verbs = {
        (True, False): "comes over",
        (True, True): "reaches",
        (False, False): "comes down to",
        (False, True): "comes under",
    }
    crosses = f"{verbs[one.upward, one.threshold.inclusive]} {percent_words(one.threshold.share)}"
    start = f"if only {fuel_words(next_leaded)} is taken on, the leaded share"
    if one.litres is None:
        return sentence(f"{start} never {crosses}")
    if one.litres == 0:
        return sentence(f"{start} {crosses} at once")
    words = f"{start} {crosses} after about {counted(ceil(one.litres), 'litre')}"
    if one.hours is not None:
        hours = used_hours_words(Hours(ceil(one.hours * 100)))
        words += f", about {hours} of running"
    return sentence(words)
