"""What is said of an engine's overhaul interval, in sentences for page, print and API."""

from __future__ import annotations

from typing import Final

from notices.rules.compliance_time import Forecast, State
from notices.rules.facts import Hours, Unknown
from notices.rules.overhaul import Holding, Offer, OverhaulPoint, Reach
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
    return f"The overhaul interval is {length}. It ends {listed(ends, 'or')}{first}."


def _past_sentence(overhaul: Overhaul, length: str) -> str:
    due = overhaul.due.due
    past = []
    if due.remaining_hours is not None and due.remaining_hours < 0:
        past.append(used_hours_words(-due.remaining_hours))
    if due.remaining_days is not None and due.remaining_days < 0:
        past.append(counted(-due.remaining_days, "day"))
    ended = listed(_ends(overhaul), "or")
    kind = "overhaul interval"
    if overhaul.due.due.state is State.OUTSTANDING:
        kind = "recommended overhaul interval"
    by = f"{listed(past, 'and')} past" if past else "past"
    return f"This engine is {by} its {kind} of {length}, which ended {ended}."


def _ends(overhaul: Overhaul) -> list[str]:
    due = overhaul.due.due
    ends = []
    if due.hours is not None:
        away = ""
        if due.remaining_hours is not None and due.remaining_hours >= 0:
            away = f", in {due_hours_words(due.remaining_hours)},"
        about = "about " if due.estimated else ""
        ends.append(f"at {about}{due_hours_words(due.hours)}{_axis(overhaul)}{away}")
    if due.on is not None:
        ends.append(f"on {date_words(due.on)}")
    return [*(end for end in ends[:-1]), *(end.rstrip(",") for end in ends[-1:])]


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
    held = [o for o in offers if o.holding is Holding.HOLDS and o.lengthens]
    reach = [o for o in offers if o.holding is Holding.WITHIN_REACH and o.lengthens]
    said = []
    if held:
        said.append(f"A longer interval holds already, by {_titles(held)}.")
    if reach:
        more = "A still longer one" if held else "A longer interval"
        said.append(f"{more} is within reach: {_reach_words(reach[0])}")
    if said:
        return " ".join(said)
    unsure = [o for o in offers if o.holding is Holding.UNDETERMINED]
    if unsure:
        facts = dict.fromkeys(fact for o in unsure for fact in o.said.missing)
        return (
            "Whether a longer interval applies cannot be said: "
            f"{listed(list(facts), 'and')} not known."
        )
    return f"No longer interval applies: {_against(offers)}"


def _titles(several: list[Provided]) -> str:
    return listed([title_of(one) for one in several], "and")


def title_of(one: Provided) -> str:
    return f"{one.rule.publication.number}, {one.rule.provision.title}"


def _reach_words(one: Provided) -> str:
    assert isinstance(one.said, Offer)
    best = one.said.reach[0]
    hours = "" if one.said.hours is None else interval_words(one.said.hours)
    years = "" if one.said.years is None else counted(one.said.years, "year")
    length = listed([word for word in (hours, years) if word], "or")
    return (
        f"{length}, by {one.rule.publication.number}, {reach_words(best)}.{_entry(one)}"
    )


def reach_words(reach: Reach) -> str:
    """Return a set of things to do: "if you embody SB-24-011, about 14 man-hours"."""
    steps = listed([step.words for step in reach.steps], "and")
    if reach.man_hours is None:
        return f"if you {steps} (man-hours not known)"
    return f"if you {steps}, {interval_words(reach.man_hours)[:-2]} man-hours"


def _entry(one: Provided) -> str:
    """Return by when an extension must be entered."""
    bounds = entry_bounds(one)
    return f" That must be done {listed(bounds, 'and')}." if bounds else ""


def entry_bounds(one: Provided) -> list[str]:
    assert isinstance(one.said, Offer)
    bounds = []
    if one.said.enter_hours is not None:
        bounds.append(f"by {due_hours_words(one.said.enter_hours)}")
    if one.said.enter_on is not None:
        bounds.append(f"by {date_words(one.said.enter_on)}")
    return bounds


def _against(offers: tuple[Provided, ...]) -> str:
    holding = [o for o in offers if o.holding is Holding.HOLDS]
    if holding:
        return f"{_titles(holding)} holds, and another provision is shorter."
    for one in offers:
        assert isinstance(one.said, Offer)
        if one.said.fixed:
            return one.said.fixed[0]
    reasons = [reason for o in offers for reason in o.said.reasons]
    return reasons[0] if reasons else "none of them holds."


def forecast_words(forecast: Forecast | None) -> str:
    """Return when the hours will be reached as the engine is run; empty without basis."""
    if forecast is None or forecast.on is None:
        return ""
    said = f"about {date_words(forecast.on)}"
    if forecast.earliest is not None and forecast.latest is not None:
        said += (
            f", between {date_words(forecast.earliest)} and "
            f"{date_words(forecast.latest)}"
        )
    return said


def man_hours_words(hours: Hours | None) -> str:
    if hours is None:
        return "man-hours not known"
    return f"{interval_words(hours)[:-2]} man-hours"
