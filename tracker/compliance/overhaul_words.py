"""What is said of an engine's overhaul interval, in sentences for page, print and API."""

from __future__ import annotations

from typing import Final

from notices.rules.compliance_time import Due, State
from notices.rules.facts import Unknown
from notices.rules.overhaul import Holding, OverhaulPoint
from notices.rules.phrases import (
    counted,
    date_words,
    due_hours_words,
    interval_words,
    listed,
    used_hours_words,
)
from notices.rules.times.limits import DateAnchor, HoursLimit, MonthsLimit
from notices.rules.times.points import Leaf, leaves
from tracker.compliance.intervals import provision_words
from tracker.compliance.longer_words import longer_sentence, titles
from tracker.compliance.overhauls import HOURS, YEARS, Ending, Overhaul

_BY: Final = {HOURS: "by hours", YEARS: "by date"}
_USED: Final = {"private": "privately", "commercial": "commercially"}
DEFER: Final = (
    "Whether an overhaul is required is for the authority that the aircraft is under to "
    "say, and for the maintenance programme that it approved; ask it where in doubt."
)


def answer_sentences(overhaul: Overhaul) -> tuple[str, ...]:
    """Return the whole answer: the interval, whether it is law, and a longer one."""
    said = (interval_sentence(overhaul), law_sentence(overhaul))
    return tuple(text for text in (*said, longer_sentence(overhaul)) if text)


def interval_sentence(overhaul: Overhaul) -> str:
    """Return which interval it is, where it ends, and how far that is away."""
    due, length = overhaul.due.due, length_words(overhaul)
    if not length:
        lacking = listed(overhaul.found.point.missing, "and")
        return f"The overhaul interval cannot be said: {lacking} not known."
    if overhaul.due.is_past:
        return _past_sentence(overhaul, length)
    ends = _ends(overhaul)
    if not ends:
        lacking = listed(due.missing, "and")
        return (
            f"The overhaul interval is {length}; where it ends cannot be said: {lacking} "
            "not known."
        )
    first = ", whichever comes first" if len(ends) > 1 else ""
    return (
        f"The overhaul interval is {length}. It ends {listed(ends, 'or')}{first}"
        f"{_or_earlier(overhaul)}.{_doubt(overhaul)}"
    )


def _or_earlier(overhaul: Overhaul) -> str:
    said = [
        f"{_BY[end.of]}: {listed(end.facts, 'and')} not known"
        for end in overhaul.ends_unknown
    ]
    return f", or earlier, {'; '.join(said)}" if said else ""


def earlier_words(ending: Ending) -> str:
    """Return by what an end may come earlier than is told: "or earlier, by hours"."""
    if ending.hours is None and ending.on is None:
        return ""
    said = [_BY[end.of] for end in ending.lacking]
    return f"or earlier, {' and '.join(said)}" if said else ""


def _doubt(overhaul: Overhaul) -> str:
    """Say so where the interval is as short as it is only because something may hold."""
    unsure = [
        one
        for one in (*overhaul.bases, *overhaul.restrictions)
        if one.holding is Holding.UNDETERMINED and one.said.id in overhaul.found.sources
    ]
    if not unsure:
        return ""
    return f" That counts {titles(unsure)} as holding, which is not known."


def _past_sentence(overhaul: Overhaul, length: str) -> str:
    due = overhaul.due.due
    kind = "overhaul interval"
    if due.state is State.OUTSTANDING:
        kind = "recommended overhaul interval"
    past, ended = listed(_past(due), "and"), listed(_past_ends(overhaul), "and")
    return (
        f"This engine is {past} past its {kind} of {length}, which ended {ended}"
        f"{_or_earlier(overhaul)}.{_doubt(overhaul)}"
    )


def _past(due: Due) -> list[str]:
    past = []
    if _is_past(due.remaining_hours):
        past.append(used_hours_words(-(due.remaining_hours or 0)))
    if _is_past(due.remaining_days):
        past.append(counted(-(due.remaining_days or 0), "day"))
    return past


def _past_ends(overhaul: Overhaul) -> list[str]:
    due, ends = overhaul.due.due, []
    if due.hours is not None and _is_past(due.remaining_hours):
        ends.append(f"at {due_hours_words(due.hours)}{_axis(overhaul)}")
    if due.on is not None and _is_past(due.remaining_days):
        ends.append(f"on {date_words(due.on)}")
    return ends


def _is_past(remaining: int | None) -> bool:
    return remaining is not None and remaining < 0


def _ends(overhaul: Overhaul) -> list[str]:
    due = overhaul.due.due
    ends = []
    if at := hours_end_words(overhaul):
        ends.append(at)
        if due.remaining_hours is not None:
            ends[0] += f", in {due_hours_words(due.remaining_hours)}"
            ends[0] += "," if due.on is not None else ""
    if due.on is not None:
        ends.append(f"on {date_words(due.on)}")
    return ends


def hours_end_words(overhaul: Overhaul) -> str:
    """Return where the hours end: "at about 1 500.0 h TSN"; empty where not known."""
    due = overhaul.due.due
    if due.hours is None:
        return ""
    about = "about " if due.estimated else ""
    return f"at {about}{due_hours_words(due.hours)}{_axis(overhaul)}"


def _axis(overhaul: Overhaul) -> str:
    """What the hours are: TSN, or what the kept meter counts where TSN is not known."""
    return " TSN" if overhaul.file.tsn_zero is not None else " on its meter"


def length_words(overhaul: Overhaul) -> str:
    """Return the interval: "1 500 h or 12 years since overhaul"; empty if unknown."""
    point = overhaul.found.point
    tree = point.point.tree
    several = () if tree is None else tuple(leaves(tree))
    by_hours = next((x for x in several if isinstance(x.limit, HoursLimit)), None)
    by_years = next((x for x in several if isinstance(x.limit, MonthsLimit)), None)
    said: list[tuple[str, str]] = []
    if point.hours is not None:
        said.append((interval_words(point.hours), _since(by_hours)))
    if point.years is not None:
        said.append((counted(point.years, "year"), _since(by_years)))
    if len({since for _, since in said}) == 1:
        return f"{listed([length for length, _ in said], 'or')} {said[0][1]}"
    return listed([f"{length} {since}" for length, since in said], "or")


def _since(leaf: Leaf | None) -> str:
    limit = None if leaf is None else leaf.limit
    if not isinstance(limit, HoursLimit | MonthsLimit):
        return "since overhaul"
    if isinstance(limit.after, DateAnchor):
        return "since the maker's rebuild"
    return "since new" if limit.after == "new" else "since overhaul"


def source_sentence(overhaul: Overhaul) -> str:
    """Return the provisions that hours and years come from, with their revisions."""
    point = overhaul.found.point
    hours, years = point.from_hours, point.from_years
    if hours is None and years is None:
        return ""
    if hours is None or years is None or hours == years:
        return f"It comes from {_source(overhaul, hours or years or '')}."
    return (
        f"The hours come from {_source(overhaul, hours)}, the years from "
        f"{_source(overhaul, years)}."
    )


def _source(overhaul: Overhaul, name: str) -> str:
    rule = overhaul.found.by_id[name]
    return f"{provision_words(rule)} revision {rule.revision.label}"


def law_sentence(overhaul: Overhaul) -> str:
    """Return whether it is law in the engine's operation, and whom to ask."""
    point = overhaul.found.point
    if not overhaul.found.sources:
        return ""
    binding = point.binding
    if isinstance(binding, Unknown):
        return (
            "Whether it is law for this engine is not known, because it is not recorded "
            "how it is operated; treat it as law until then."
        )
    uses = overhaul.file.facts.operation
    if binding is True:
        return f"It is law {_where_law(overhaul)}{_partly(point)}."
    where = (
        ""
        if isinstance(uses, Unknown)
        else f"in {listed(sorted(uses), 'and')} operation"
    )
    advice = "it is the maker's recommendation, and nothing falls due by it."
    return f"{where} {advice}".strip().capitalize()


def _where_law(overhaul: Overhaul) -> str:
    """In which of the engine's operations it is law, and what else it is used for."""
    uses, law_in = overhaul.file.facts.operation, overhaul.law_in
    if law_in is None or isinstance(uses, Unknown):
        return "in every operation"
    others = [_USED.get(use, f"in {use} operation") for use in sorted(uses - law_in)]
    also = f" (this engine is also used {listed(others, 'and')})" if others else ""
    return f"in {listed(sorted(law_in), 'and')} operation{also}"


def _partly(point: OverhaulPoint) -> str:
    """Which of hours and years is law, where only one of them is."""
    if point.hours is None or point.years is None:
        return ""
    if point.hours_bind is True and point.years_bind is True:
        return ""
    return ", in hours only" if point.hours_bind is True else ", in years only"
