"""How one extension stands to an engine: holds, within reach, undetermined, or not.

It is within reach if what can be done makes it hold for certain, whatever is not known;
if that hangs on a fact as well, it is undetermined and the fact is named.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from notices.rules.applicability.nodes import (
    AttributeIn,
    Built,
    Complied,
    Embodied,
    HoursIn,
    Rebuilt,
    SerialIn,
    Shipped,
    TypeIn,
)
from notices.rules.applicability.subjects import EngineSubject
from notices.rules.designations import Designation, designation
from notices.rules.evaluate import Outcome
from notices.rules.facts import Asked, Hours, Unknown
from notices.rules.intervals.acts import Act, Wanted, wanted_of
from notices.rules.intervals.entering import (
    Bounds,
    Entry,
    bounds_of,
    entry_of,
)
from notices.rules.intervals.judging import Chain, Inquiry, Verdict, compiled, once
from notices.rules.intervals.provisions import Interval
from notices.rules.intervals.reaching import Found, reach_of
from notices.rules.intervals.results import Holding, Offer, Reach, Step

MOST_SETS: Final = 24
"""So many sets are told of one extension, the cheapest of those found."""
_NOTHING_FOUND: Final = Found(sure=())
_ON_PARTS: Final = ("fit", "replace", "remove")
_NEVER_CHANGED: Final = (TypeIn, SerialIn, Built, Shipped, AttributeIn)


def offer_of(one: Interval, inquiry: Inquiry, costs: Mapping[str, Hours]) -> Offer:
    """Return how an extension stands to the engine, and what would make it hold."""
    chain = inquiry.chain(one)
    verdict = inquiry.verdict(one)
    entry = entry_of(bounds_of(chain, inquiry.situation), inquiry)
    if verdict.outcome is Outcome.APPLIES:
        return _entered(one, verdict, entry)
    found = _NOTHING_FOUND
    if entry.in_time is not False:
        found = reach_of(chain, inquiry)
    holding, missing = _holding(verdict, entry, found)
    sure = found.sure if entry.in_time is True else ()
    return _offer(
        one,
        entry.still_open,
        holding,
        reasons=(*verdict.reasons, *entry.told),
        missing=missing,
        fixed=once([*entry.fixed, *_fixed(chain, inquiry)]),
        reach=_cheapest_first(sure, costs)[:MOST_SETS],
        cut=found.cut or len(sure) > MOST_SETS,
    )


def _entered(one: Interval, verdict: Verdict, entry: Entry) -> Offer:
    """Return the offer of an extension whose conditions hold."""
    if entry.in_time is True:
        return _offer(one, entry.still_open, Holding.HOLDS, reasons=verdict.reasons)
    holding = Holding.DOES_NOT_HOLD
    if entry.in_time is None:
        holding = Holding.UNDETERMINED
    return _offer(
        one,
        entry.still_open,
        holding,
        reasons=(*verdict.reasons, *entry.told),
        missing=entry.missing,
        fixed=entry.fixed,
    )


def _holding(
    verdict: Verdict, entry: Entry, found: Found
) -> tuple[Holding, tuple[str, ...]]:
    """Return how an extension stands whose conditions do not hold for certain."""
    if verdict.outcome is Outcome.UNDETERMINED:
        return Holding.UNDETERMINED, once([*verdict.missing, *entry.missing])
    if entry.in_time is False:
        return Holding.DOES_NOT_HOLD, ()
    if found.sure and entry.in_time is True:
        return Holding.WITHIN_REACH, ()
    if found.sure or found.open is not None:
        open_facts = () if found.sure else found.open or ()
        return Holding.UNDETERMINED, once([*open_facts, *entry.missing])
    return Holding.DOES_NOT_HOLD, ()


def _offer(
    one: Interval,
    bounds: Sequence[Bounds],
    holding: Holding,
    *,
    reasons: tuple[str, ...],
    missing: tuple[str, ...] = (),
    fixed: tuple[str, ...] = (),
    reach: tuple[Reach, ...] = (),
    cut: bool = False,
) -> Offer:
    leaves = [leaf for several in bounds for leaf in several.both]
    return Offer(
        id=one.id,
        holding=holding,
        hours=one.hours,
        years=one.years,
        reasons=once(reasons),
        missing=missing,
        fixed=fixed,
        reach=reach,
        cut=cut,
        enter_hours=min((x.hours for x in leaves if x.hours is not None), default=None),
        enter_on=min(
            (x.on for x in leaves if x.on is not None and x.hours is None), default=None
        ),
    )


def _cheapest_first(
    several: Sequence[Sequence[Act]], costs: Mapping[str, Hours]
) -> tuple[Reach, ...]:
    """Return the sets by man-hours, unknown last, then by steps, then by words."""
    by_key = {designation(number): hours for number, hours in costs.items()}
    found = {}
    for acts in several:
        steps = tuple(
            sorted((act.step for act in acts), key=lambda s: (s.kind, s.words))
        )
        found[steps] = Reach(steps=steps, man_hours=_man_hours(steps, by_key))
    return tuple(
        sorted(
            found.values(),
            key=lambda one: (
                one.man_hours is None,
                one.man_hours or 0,
                len(one.steps),
                [step.words for step in one.steps],
            ),
        )
    )


def _man_hours(
    steps: Sequence[Step], by_key: Mapping[Designation, Hours]
) -> Hours | None:
    """Return the man-hours of all steps, None where those of one are not known.

    One document is worked through once, however much it does; each part is fitted by
    itself.
    """
    documents = {designation(s.number) for s in steps if s.kind not in _ON_PARTS}
    parts = [designation(s.number) for s in steps if s.kind in _ON_PARTS]
    jobs = [*documents, *parts]
    known = [by_key[number] for number in jobs if number and number in by_key]
    return Hours(sum(known)) if len(known) == len(jobs) else None


def _fixed(chain: Chain, inquiry: Inquiry) -> Iterator[str]:
    """Yield what stands against a chain and nobody can change, as sentences."""
    for member in chain.members:
        subject, asked = inquiry.subject_for(member), inquiry.asked_for(member)
        for one in () if member.when is None else wanted_of(member.when, asked):
            test = compiled(one.leaf)
            against = Outcome.DOES_NOT_APPLY if one.met else Outcome.APPLIES
            if _is_fixed(one, subject) and test.outcome_of(subject) is against:
                yield from test.answer_of(subject).reasons


def _is_fixed(one: Wanted, subject: EngineSubject) -> bool:
    """Return whether nobody can change the answer to a test that is against it."""
    match one.leaf:
        case Complied() if one.met:
            return _is_over(one.leaf, one.asked)
        case Embodied() | Complied() | Rebuilt():
            return not one.met
        case HoursIn():
            return _stays(one.leaf, subject, met=one.met)
    return isinstance(one.leaf, _NEVER_CHANGED)


def _is_over(leaf: Complied, asked: Asked) -> bool:
    """Return whether a record can no longer be made in time."""
    last = None if leaf.when is None else leaf.when.days[1]
    if last is None or isinstance(asked.on, Unknown):
        return False
    return asked.on.toordinal() > last


def _stays(leaf: HoursIn, subject: EngineSubject, *, met: bool) -> bool:
    """Return whether hours that are against it stay so: since new they only grow."""
    if leaf.hours.at == "effective":
        return True
    if leaf.hours.since == "overhaul" or isinstance(subject.new_hours, Unknown):
        return False
    _, most = leaf.hours.hundredths
    return most is None if not met else most is not None and subject.new_hours > most
