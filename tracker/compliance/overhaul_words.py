"""What is said of an engine's overhaul interval, in sentences for page, print and API."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from notices.rules.compliance_time import Due, State
from notices.rules.facts import Hours, Unknown
from notices.rules.overhaul import Holding, Offer, OverhaulPoint, Reach
from notices.rules.phrases import (
    NO_BREAK,
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
from tracker.compliance.overhauls import Overhaul, Provided

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
        f"The overhaul interval is {length}. It ends {listed(ends, 'or')}{first}."
        f"{_doubt(overhaul)}"
    )


def _doubt(overhaul: Overhaul) -> str:
    """Say so where the interval is as short as it is only because something may hold."""
    unsure = [
        one
        for one in (*overhaul.bases, *overhaul.restrictions)
        if one.holding is Holding.UNDETERMINED and one.said.id in overhaul.found.sources
    ]
    if not unsure:
        return ""
    return f" That counts {_titles(unsure)} as holding, which is not known."


def _past_sentence(overhaul: Overhaul, length: str) -> str:
    due = overhaul.due.due
    kind = "overhaul interval"
    if due.state is State.OUTSTANDING:
        kind = "recommended overhaul interval"
    past, ended = listed(_past(due), "and"), listed(_past_ends(overhaul), "and")
    return (
        f"This engine is {past} past its {kind} of {length}, which ended {ended}."
        f"{_doubt(overhaul)}"
    )


def _past(due: Due) -> list[str]:
    past = []
    if _is_past(due.remaining_hours):
        past.append(used_hours_words(-(due.remaining_hours or 0)))
    if _is_past(due.remaining_days):
        days = -(due.remaining_days or 0)
        past.append(f"{days:,} day{'' if days == 1 else 's'}".replace(",", NO_BREAK))
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
    if due.hours is not None:
        about = "about " if due.estimated else ""
        ends.append(f"at {about}{due_hours_words(due.hours)}{_axis(overhaul)}")
        if due.remaining_hours is not None:
            ends[0] += f", in {due_hours_words(due.remaining_hours)}"
            ends[0] += "," if due.on is not None else ""
    if due.on is not None:
        ends.append(f"on {date_words(due.on)}")
    return ends


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
    where = (
        ""
        if isinstance(uses, Unknown)
        else f"in {listed(sorted(uses), 'and')} operation"
    )
    if binding is True:
        return f"It is law {where or 'in every operation'}{_partly(point)}."
    advice = "it is the maker's recommendation, and nothing falls due by it."
    return f"{where} {advice}".strip().capitalize()


def _partly(point: OverhaulPoint) -> str:
    """Which of hours and years is law, where only one of them is."""
    if point.hours is None or point.years is None:
        return ""
    if point.hours_bind is True and point.years_bind is True:
        return ""
    return ", in hours only" if point.hours_bind is True else ", in years only"


def longer_sentence(overhaul: Overhaul) -> str:
    """Return whether a longer interval applies, and if not, what would make it apply."""
    offers = overhaul.offers
    if not offers:
        return "No document in force offers a longer interval."
    said = []
    sources = overhaul.found.sources
    held = [one for one in _of(offers, Holding.HOLDS) if one.said.id in sources]
    if held:
        said.append(f"A longer interval holds already, by {_titles(held)}.")
    reach = [one for one in _of(offers, Holding.WITHIN_REACH) if one.lengthens]
    if reach:
        said.append(_reach_sentence(reach, still=bool(said)))
    return " ".join(said) or _no_longer(overhaul, offers)


def _of(offers: Iterable[Provided], holding: Holding) -> list[Provided]:
    return [one for one in offers if one.holding is holding]


def _reach_sentence(reach: Sequence[Provided], *, still: bool) -> str:
    """Name what is in reach with its cheapest way: of several the shortest and longest."""
    nearest, *others = sorted(reach, key=lambda one: one.said.hours or 0)
    more = "still longer" if still else "longer"
    if not others:
        way = f"{length_of(nearest)} {_way(nearest)}"
        return f"A {more} interval is within reach: {way}.{_entry(nearest)}"
    longest = others[-1]
    joint = "and" if len(others) == 1 else "up to"
    return (
        f"{more.capitalize()} intervals are within reach: {length_of(nearest)} "
        f"{_way(nearest)}, {joint} {length_of(longest)} {_way(longest)}."
    )


def _way(one: Provided) -> str:
    assert isinstance(one.said, Offer)
    return f"if you {reach_words(one.said.reach[0])}"


def _no_longer(overhaul: Overhaul, offers: Sequence[Provided]) -> str:
    idle = [*_of(offers, Holding.HOLDS), *_of(offers, Holding.WITHIN_REACH)]
    shorter = [
        provision_words(overhaul.found.by_id[name])
        for name in overhaul.found.ends.restrictions
        if any(name in one.ending.sources for one in idle)
    ]
    if shorter:
        return f"No extension lengthens it while {listed(shorter, 'and')} holds."
    unsure = _of(offers, Holding.UNDETERMINED)
    if unsure:
        facts = list(dict.fromkeys(fact for one in unsure for fact in one.said.missing))
        return (
            "Whether a longer interval applies cannot be said until this is known: "
            f"{listed(facts, 'and')}."
        )
    if idle:
        return f"No longer interval applies: {_titles(idle)} is not longer."
    return f"No longer interval applies. {_against(offers)}".strip()


def length_of(one: Provided) -> str:
    """Return how long an interval is by one provision: "1 800 h or 12 years"."""
    said = one.said
    hours = [] if said.hours is None else [interval_words(said.hours)]
    years = [] if said.years is None else [counted(said.years, "year")]
    return listed([*hours, *years], "or")


def _titles(several: Sequence[Provided]) -> str:
    return listed([provision_words(one.rule) for one in several], "and")


def reach_words(reach: Reach) -> str:
    """Return a set of things to do: "embody SB-24-011 (14 man-hours)"."""
    steps = listed([step.words for step in reach.steps], "and")
    return f"{steps} ({man_hours_words(reach.man_hours)})"


def _entry(one: Provided) -> str:
    bounds = entry_words(one)
    return f" That must be done {bounds}." if bounds else ""


def entry_words(one: Provided) -> str:
    """Return by when an extension must be entered, empty where it may be at any time."""
    said = one.said
    if not isinstance(said, Offer):
        return ""
    hours = [] if said.enter_hours is None else [due_hours_words(said.enter_hours)]
    day = [] if said.enter_on is None else [date_words(said.enter_on)]
    first = ", whichever comes first" if hours and day else ""
    return f"by {listed([*hours, *day], 'or')}{first}" if hours or day else ""


def _against(offers: Sequence[Provided]) -> str:
    """Return what stands against extensions: of those that are about the type, if any."""
    fixed = [
        text for one in offers if isinstance(one.said, Offer) for text in one.said.fixed
    ]
    telling = [text for text in fixed if not text.startswith("Type designation")]
    reasons = [reason for one in offers for reason in one.said.reasons]
    return " ".join(dict.fromkeys(telling or fixed or reasons))


def man_hours_words(hours: Hours | None) -> str:
    if hours is None:
        return "man-hours not known"
    return f"{interval_words(hours)[:-2]} man-hours"
