"""Whether a longer overhaul interval applies, and what would make it apply, in words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from notices.rules.applicability.bounds import ShareBounds
from notices.rules.applicability.nodes import AllOf, AnyOf, LeadedShareIn, Not
from notices.rules.applicability.wording import clause
from notices.rules.conditions import Condition, parse_condition
from notices.rules.designations import designation
from notices.rules.facts import Hours
from notices.rules.overhaul import Holding, Offer, Reach, Step
from notices.rules.phrases import (
    counted,
    date_words,
    due_hours_words,
    interval_words,
    listed,
)
from tracker.compliance.intervals import provision_words
from tracker.compliance.intervals.ends import gain_of
from tracker.compliance.overhauls import HOURS, YEARS, Overhaul, Provided, Work

CANNOT_BE_SAID: Final = "That cannot be said yet"
_NONE_OFFERED: Final = "No document offers this engine a longer interval"
_WORDS: Final[Mapping[Holding, str]] = {
    Holding.HOLDS: "Yes, a longer interval applies",
    Holding.WITHIN_REACH: "Not yet, but a longer interval is within reach",
    Holding.UNDETERMINED: CANNOT_BE_SAID,
    Holding.DOES_NOT_HOLD: "No, a longer interval does not apply",
}
_IN_REACH: Final = f"{CANNOT_BE_SAID}, but a longer interval is within reach"
_RESTRICTED: Final = "No, not while a restriction holds"
_ENDED: Final[Mapping[Holding, str]] = {
    Holding.WITHIN_REACH: ", but a longer one is within reach",
    Holding.UNDETERMINED: "; whether a longer one applies cannot be said yet",
    Holding.DOES_NOT_HOLD: ", and none that is longer applies",
}


@dataclass(frozen=True, slots=True)
class Verdict:
    """The answer to whether a longer interval applies, and its outcome."""

    holding: Holding
    words: str


def verdict_of(overhaul: Overhaul | None) -> Verdict:
    """Return whether a longer interval applies; that it has ended stands first."""
    if overhaul is None or not overhaul.offers:
        return Verdict(Holding.DOES_NOT_HOLD, _NONE_OFFERED)
    holding = _holding(overhaul)
    if overhaul.ended:
        return _ended_verdict(overhaul, holding)
    words = _WORDS[holding]
    if holding is Holding.WITHIN_REACH and any(_open(overhaul)):
        words = _IN_REACH
    elif holding is Holding.DOES_NOT_HOLD and any(_restricted(overhaul)):
        words = _RESTRICTED
    return Verdict(holding, words)


def _ended_verdict(overhaul: Overhaul, holding: Holding) -> Verdict:
    ended = f"The {listed(overhaul.ended, 'and')} of the interval have ended"
    if holding is not Holding.HOLDS:
        return Verdict(holding, ended + _ENDED[holding])
    only = _gained_beside(overhaul.found.ends.gained, overhaul.ended)
    if only:
        words = f"{ended}; a longer one applies in {only} only"
        return Verdict(Holding.DOES_NOT_HOLD, words)
    return Verdict(Holding.DOES_NOT_HOLD, "The longer interval that applies has ended")


def _gained_beside(gain: Sequence[bool | None], ended: Sequence[str]) -> str:
    """What is gained, where that is nothing that has ended."""
    gained = _moved(gain)
    return "" if set(gained) & set(ended) else listed(gained, "and")


def _moved(gain: Sequence[bool | None]) -> list[str]:
    return [of for of, later in zip((HOURS, YEARS), gain, strict=True) if later]


def _holding(overhaul: Overhaul) -> Holding:
    """Return the outcome today: what has ended all the same helps nobody."""
    by_those_held = gain_of(overhaul.found.ends.gained)
    if by_those_held is True and not overhaul.ended:
        return Holding.HOLDS
    if any(_reached(overhaul)):
        return Holding.WITHIN_REACH
    if any(_open(overhaul)):
        return Holding.UNDETERMINED
    return Holding.HOLDS if by_those_held is True else Holding.DOES_NOT_HOLD


def _reached(overhaul: Overhaul) -> Iterator[Provided]:
    """Yield the extensions within reach that would lengthen the interval."""
    for one in overhaul.offers:
        if one.holding is Holding.WITHIN_REACH and one.lengthens and not one.in_vain:
            yield one


def _open(overhaul: Overhaul) -> Iterator[Provided]:
    """Yield the extensions of which it is not known whether they lengthen it."""
    gained = gain_of(overhaul.found.ends.gained)
    for one in overhaul.offers:
        if one.holding is Holding.DOES_NOT_HOLD or one.in_vain:
            continue
        gain = gain_of(one.gain)
        if one.holding is Holding.HOLDS:
            gain = gained
        if gain is None or (one.holding is Holding.UNDETERMINED and gain is True):
            yield one


def _restricted(overhaul: Overhaul) -> Iterator[Provided]:
    """Yield the extensions that lengthen nothing only because of a restriction."""
    for one in overhaul.offers:
        if one.holding is Holding.DOES_NOT_HOLD or gain_of(one.gain) is not False:
            continue
        if overhaul.found.ends.unrestricted(one.said.id):
            yield one


def longer_sentence(overhaul: Overhaul) -> str:
    """Return whether a longer interval applies, and if not, what would make it apply."""
    offers = overhaul.offers
    if not offers:
        return "No document in force offers a longer interval."
    said = []
    held = [one for one in _of(offers, Holding.HOLDS) if one.lengthens]
    if held:
        said.append(_held_sentence(held, overhaul))
    elif unknown := _open_facts(overhaul):
        said.append(
            "Whether a longer interval applies cannot be said until this is known: "
            f"{listed(unknown, 'and')}."
        )
    reach = list(_reached(overhaul))
    if reach:
        said.append(_reach_sentence(reach, overhaul.works, still=bool(held)))
    said += [
        f"{titles([one])} {vain_words(one, overhaul)}"
        for one in _of(offers, Holding.WITHIN_REACH)
        if one.lengthens and one.in_vain
    ]
    return " ".join(said) or _no_longer(overhaul, offers)


def _held_sentence(held: Sequence[Provided], overhaul: Overhaul) -> str:
    by = f"A longer interval holds already, by {titles(held)}"
    if not overhaul.ended:
        return f"{by}."
    return f"{by}; it {vain_words(held[0], overhaul)}"


def vain_words(one: Provided, overhaul: Overhaul) -> str:
    """Return that an extension moves an end in vain, the other one having passed."""
    moved = _moved(one.gain)
    still = [of for of in one.in_vain if of not in moved]
    would = "" if one.holding is Holding.HOLDS else "would "
    changes = "changes" if one.holding is Holding.HOLDS else "change"
    if not still:
        return f"{would}{changes} the {listed(moved, 'and')}, which have ended, too."
    ended = listed([_ended_words(of, overhaul) for of in still], "and")
    return f"{would}{changes} the {listed(moved, 'and')} only: {ended}."


def _ended_words(of: str, overhaul: Overhaul) -> str:
    now = overhaul.now
    if of == HOURS and now.hours is not None:
        return f"the hours ended at {due_hours_words(now.hours)}"
    if of == YEARS and now.on is not None:
        return f"the years ended on {date_words(now.on)}"
    return f"the {of} have ended"


def _open_facts(overhaul: Overhaul) -> list[str]:
    """Return what is not known and would tell whether a longer interval applies."""
    facts: dict[str, None] = {}
    for one in _open(overhaul):
        if one.holding is Holding.UNDETERMINED:
            facts.update(dict.fromkeys(one.said.missing))
        if one.holding is Holding.HOLDS or gain_of(one.gain) is None:
            facts.update(dict.fromkeys(_in_doubt(overhaul)))
    return list(facts)


def _in_doubt(overhaul: Overhaul) -> Iterator[str]:
    """Yield the facts on which bases and restrictions hang, else those of the ends."""
    several = (*overhaul.restrictions, *overhaul.bases)
    doubtful = [one for one in several if one.holding is Holding.UNDETERMINED]
    for one in doubtful:
        yield from one.said.missing
    if not overhaul.found.has_base and not overhaul.bases:
        yield "the base interval"
    elif not doubtful:
        for end in overhaul.ends_unknown:
            yield from end.facts


def _of(offers: Iterable[Provided], holding: Holding) -> list[Provided]:
    return [one for one in offers if one.holding is holding]


def _reach_sentence(
    reach: Sequence[Provided], works: Mapping[str, Work], *, still: bool
) -> str:
    """Name what is in reach with its cheapest way: of several the shortest and longest."""
    nearest, *others = sorted(reach, key=lambda one: one.said.hours or 0)
    more = "still longer" if still else "longer"
    if not others:
        way = f"{length_of(nearest)} {_way(nearest, works)}"
        return f"A {more} interval is within reach: {way}.{_entry([nearest])}"
    longest = others[-1]
    joint = "and" if len(others) == 1 else "up to"
    return (
        f"{more.capitalize()} intervals are within reach: {length_of(nearest)} "
        f"{_way(nearest, works)}, {joint} {length_of(longest)} {_way(longest, works)}."
        f"{_entry([nearest, longest])}"
    )


def _way(one: Provided, works: Mapping[str, Work]) -> str:
    assert isinstance(one.said, Offer)
    return f"if you {reach_words(one.said.reach[0], works)}"


def _entry(several: Sequence[Provided]) -> str:
    """By when what was named must be done, each for itself where they differ."""
    bounds = [(length_of(one), words) for one in several if (words := entry_words(one))]
    if len(bounds) == len(several) and len({words for _, words in bounds}) == 1:
        return f" That must be done {bounds[0][1]}."
    return "".join(f" For {length}, that must be done {by}." for length, by in bounds)


def _no_longer(overhaul: Overhaul, offers: Sequence[Provided]) -> str:
    restricted = list(_restricted(overhaul))
    shorter = [
        one
        for one in overhaul.restrictions
        if any(one.said.id in offer.with_it.sources for offer in restricted)
    ]
    if shorter:
        unless = " ".join(filter(None, map(lifted_words, shorter)))
        return f"{while_words(shorter)} {unless}".strip()
    idle = [one for one in offers if one.holding is not Holding.DOES_NOT_HOLD]
    none = "There is no longer interval for this engine."
    if idle:
        verb = "is" if len(idle) == 1 else "are"
        return f"{none} {titles(idle)} {verb} not longer."
    return f"{none} {_against(offers)}".strip()


def while_words(shorter: Sequence[Provided]) -> str:
    """Return that restrictions stand against every extension."""
    verb = "hold" if len(shorter) > 1 else "holds"
    in_doubt = any(one.holding is Holding.UNDETERMINED for one in shorter)
    may = ", or may hold" if in_doubt else ""
    return f"No extension lengthens it while {titles(shorter)} {verb}{may}."


def lifted_words(one: Provided) -> str:
    """Return what would end a restriction, as its condition says; "" where nothing."""
    raw = one.rule.version.condition
    if not raw or raw == {"always": True}:
        return ""
    opposite = clause(_opposite(parse_condition(raw)))
    if one.holding is Holding.UNDETERMINED:
        return f"It does not hold where {opposite}."
    return f"It no longer holds once {opposite}."


def _opposite(condition: Condition) -> Condition:
    """Return what holds just where the condition does not, in positive words."""
    match condition:
        case Not():
            return condition.member
        case AllOf():
            return AnyOf(members=tuple(map(_opposite, condition.members)))
        case AnyOf():
            return AllOf(members=tuple(map(_opposite, condition.members)))
        case LeadedShareIn(
            bounds=ShareBounds(first=first, over=over, to=to, under=under)
        ) if len([end for end in (first, over, to, under) if end is not None]) == 1:
            opposite = ShareBounds(under=first, to=over, over=to, first=under)
            return LeadedShareIn(bounds=opposite)
    return Not(member=condition)


def length_of(one: Provided) -> str:
    """Return how long an interval is by one provision: "1 800 h or 12 years"."""
    said = one.said
    hours = [] if said.hours is None else [interval_words(said.hours)]
    years = [] if said.years is None else [counted(said.years, "year")]
    return listed([*hours, *years], "or")


def titles(several: Iterable[Provided]) -> str:
    """Return provisions as they are called, with their documents."""
    return listed([provision_words(one.rule) for one in several], "and")


def reach_words(reach: Reach, works: Mapping[str, Work]) -> str:
    """Return a set of things to do: "embody MOD-9, “Fit the pump” (14 man-hours)"."""
    steps = listed([step_words(step, works) for step in reach.steps], "and")
    return f"{steps} ({man_hours_words(reach.man_hours)})"


def work_of(step: Step, works: Mapping[str, Work]) -> Work | None:
    """Return the work by which something is embodied or complied with, if known."""
    if not step.number or step.kind not in ("embody", "comply"):
        return None
    return works.get(designation(step.number))


def step_words(step: Step, works: Mapping[str, Work]) -> str:
    """Return a thing to do, with the title of the work by which it is done."""
    work = work_of(step, works)
    if work is None or not work.title:
        return step.words
    is_own = designation(work.number) == designation(step.number)
    return f"{step.words}, “{work.title}”{'' if is_own else f' of {work.number}'}"


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
