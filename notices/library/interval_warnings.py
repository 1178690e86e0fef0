"""What whoever enters an overhaul interval should look at twice, and what is refused."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Final

from notices.library.check import Check
from notices.library.intervals import (
    Placed,
    Types,
    circles,
    clashes,
    meant_by,
    rows_too_long,
    types_named,
)
from notices.rules.evaluate import Outcome
from notices.rules.intervals.provisions import MOST_IN_A_ROW
from notices.rules.phrases import counted, interval_words, listed

MOST_TYPES: Final = 5
_WITHOUT_BASE: Final = {
    "extension": "there is nothing that it would lengthen",
    "restriction": "there it stands alone, and without it no interval is known",
}


def path_in_draft(one: Placed) -> str:
    """Return where an interval stands in a revision as it is entered."""
    return f"provisions[{one.order - 1}].interval"


def refuse_intervals(
    check: Check,
    own: Sequence[Placed],
    others: Sequence[Placed],
    types: Types,
    path: Callable[[Placed], str] = path_in_draft,
) -> None:
    """Note what must not be confirmed: two bases for one engine, circles, one id twice,
    and rows too long.

    `own`: those that are entered; `others`: all beside them. `types`: designations of
    the station's engine types. `path`: where one of ours stands.
    """
    for clash in clashes(own, others, types):
        if clash.certain:
            check.add(
                path(clash.ours),
                f"Provision {clash.ours.order} and {_named(clash.other, clash.ours)} "
                f"are both base intervals for {clash.engines}. Narrow one of them, or "
                "make one an extension.",
            )
    for way in circles(own, others):
        steps = ", which builds on ".join(
            f'"{one.interval.id}" of {_named(one, way[0])}'
            for one in (*way[1:], way[0])
        )
        check.add(
            f"{path(way[0])}.builds_on",
            f"Provision {way[0].order} builds on itself: it builds on {steps}. Take one "
            "of these out.",
        )
    for way in rows_too_long(own, others):
        check.add(
            f"{path(way[0])}.builds_on",
            f"With provision {way[0].order} {len(way)} intervals build on each other in "
            f"a row; at most {MOST_IN_A_ROW} may.",
        )
    for index, one in enumerate(own):
        for other in (*own[:index], *others):
            if other.document == one.document and other.interval.id == one.interval.id:
                check.add(
                    f"{path(one)}.id",
                    f"Provision {one.order} and provision {other.order} are both called "
                    f'"{other.interval.id}". Give each its own short name.',
                )


def _named(other: Placed, one: Placed) -> str:
    """Return where an interval stands, without the document where that is the same."""
    if other.document == one.document:
        return f"provision {other.order}"
    return str(other)


def interval_warnings(
    own: Sequence[Placed], others: Sequence[Placed], types: Types
) -> list[str]:
    """Return sentences about the intervals of a revision, each with its provision."""
    check = Check()
    refuse_intervals(check, own, others, types)
    refused = [f"{fault.message} It is not confirmed so." for fault in check.faults]
    told = [
        f"Provision {one.order}: {words}"
        for one in own
        for words in _warnings(one, own, others, types)
    ]
    doubtful = [
        f"Provision {clash.ours.order}: {clash.other} is a base interval, too, and "
        f"both may hold for {clash.engines}. Where both do, the shorter counts."
        for clash in clashes(own, others, types)
        if not clash.certain
    ]
    return [*refused, *told, *doubtful]


def _warnings(
    one: Placed,
    own: Sequence[Placed],
    others: Sequence[Placed],
    types: Types,
) -> Iterator[str]:
    everything = (*own, *others)
    if one.interval.kind in _WITHOUT_BASE:
        yield from _without_base(one, everything, types)
        yield from _beside_bases(one, everything, types)
    yield from _entered_too_late(one)
    if one.interval.builds_on is not None:
        yield from _built_on_nothing(one, one.interval.builds_on, everything)
    for other in others:
        if other.interval.id == one.interval.id:
            yield (
                f'{other} is called "{one.interval.id}", too. A third document that '
                "builds on it could not tell which one is meant."
            )


def _without_base(
    one: Placed, everything: Sequence[Placed], types: Types
) -> Iterator[str]:
    """Warn of the types that it may concern and for which no base interval may hold."""
    bases = [base for base in everything if base.interval.kind == "base"]
    asked: list[str | None] = [*sorted({*types, *types_named([one])})]
    lacking = [
        type_
        for type_ in asked or [None]
        if one.outcome_for(type_) is not Outcome.DOES_NOT_APPLY
        and all(base.outcome_for(type_) is Outcome.DOES_NOT_APPLY for base in bases)
    ]
    if lacking:
        named = [type_ for type_ in lacking if type_ is not None]
        of = f" for {_some(named)}" if named else ""
        yield f"No base interval is known{of}: {_WITHOUT_BASE[one.interval.kind]}."


def _beside_bases(
    one: Placed, everything: Sequence[Placed], types: Types
) -> Iterator[str]:
    """Warn of an extension or restriction that changes nothing of its base intervals."""
    asked: list[str | None] = [*sorted({*types, *types_named(everything)})] or [None]
    concerned = [
        type_ for type_ in asked if one.outcome_for(type_) is not Outcome.DOES_NOT_APPLY
    ]

    def beside(kind: str) -> list[Placed]:
        return [
            other
            for other in everything
            if other.interval.kind == kind
            and any(
                other.outcome_for(type_) is not Outcome.DOES_NOT_APPLY
                for type_ in concerned
            )
        ]

    bases = beside("base")
    if one.interval.kind == "restriction":
        yield from _restricting_nothing(one, bases, beside("extension"))
        return
    if one.interval.builds_on is not None:
        meant = meant_by(one.interval.builds_on, one, everything)
        bases = meant if len(meant) == 1 else []
    yield from _lengthening_nothing(one, bases)
    if one.interval.enter_by is None and bases and _always_holds(one, bases, asked):
        yield (
            "It has no condition of its own, so it holds for every engine that "
            f"{listed([_named(base, one) for base in bases], 'or')} speaks of. Say where "
            "it holds only, or make it the base interval."
        )


def _always_holds(
    one: Placed, bases: Sequence[Placed], types: Sequence[str | None]
) -> bool:
    """Whether an extension holds for certain wherever a base may that it lengthens."""
    return all(
        one.outcome_for(type_) is Outcome.APPLIES
        for type_ in types
        if any(base.outcome_for(type_) is not Outcome.DOES_NOT_APPLY for base in bases)
    )


def _lengths(one: Placed) -> dict[str, tuple[int, str]]:
    """Return hours and years as numbers and in words, as far as it has them."""
    hours, years = one.interval.hours, one.interval.years
    found: dict[str, tuple[int, str]] = {}
    if hours is not None:
        found["hours"] = (hours, interval_words(hours))
    if years is not None:
        found["years"] = (years, counted(years, "year"))
    return found


def _compared(
    one: Placed, other: Placed
) -> Iterator[tuple[tuple[int, str], tuple[int, str]]]:
    """Yield hours, then years of both where both have them and count from the same."""
    if one.interval.since != other.interval.since:
        return
    own, others = _lengths(one), _lengths(other)
    for name in own:
        if name in others:
            yield own[name], others[name]


def _lengthening_nothing(one: Placed, bases: Sequence[Placed]) -> Iterator[str]:
    for base in bases:
        for (own, words), (most, base_words) in _compared(one, base):
            if own <= most:
                yield (
                    f"{words} are not more than the {base_words} of "
                    f"{_named(base, one)}: it lengthens nothing there."
                )


def _restricting_nothing(
    one: Placed, bases: Sequence[Placed], extensions: Sequence[Placed]
) -> Iterator[str]:
    """Warn where it is no less than a base, nor than an extension of that."""
    for base in bases:
        if any(
            own < most
            for other in (base, *extensions)
            for (own, _), (most, _) in _compared(one, other)
        ):
            continue
        for (_, words), (_, base_words) in _compared(one, base):
            yield (
                f"{words} are not less than the {base_words} of "
                f"{_named(base, one)}: it restricts nothing there."
            )


def _entered_too_late(one: Placed) -> Iterator[str]:
    bound, ends = one.interval.enter_by, _lengths(one)
    if bound is None:
        return
    late = "It may be entered up to {}, but ends at {} itself. Enter it earlier."
    if bound.hours is not None and "hours" in ends and bound.hours > ends["hours"][0]:
        yield late.format(interval_words(bound.hours), ends["hours"][1])
    if bound.years is not None and "years" in ends and bound.years > ends["years"][0]:
        yield late.format(counted(bound.years, "year"), ends["years"][1])


def _some(types: Sequence[str]) -> str:
    if len(types) <= MOST_TYPES:
        return listed(types, "and")
    return f"{', '.join(types[:MOST_TYPES])} and {len(types) - MOST_TYPES} more types"


def _built_on_nothing(
    one: Placed, name: str, everything: Sequence[Placed]
) -> Iterator[str]:
    found = meant_by(name, one, everything)
    if not found:
        yield (
            f'It builds on "{name}", and no current document has an interval of that '
            "name: whether it holds cannot be said."
        )
    elif len(found) > 1:
        where = listed([str(other) for other in found], "and")
        yield (
            f'It builds on "{name}", which {where} are all called: whether it holds '
            "cannot be said."
        )
