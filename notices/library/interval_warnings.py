"""What whoever enters an overhaul interval should look at twice, and what is refused."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from typing import Final

from notices.library.check import Check
from notices.library.intervals import Placed, circles, clashes, meant_by, types_named
from notices.rules.evaluate import Outcome
from notices.rules.phrases import listed

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
    types: Collection[str],
    path: Callable[[Placed], str] = path_in_draft,
) -> None:
    """Note what must not be confirmed: two bases for one engine, circles, one id twice.

    `own`: those that are entered; `others`: all beside them. `types`: designations of
    the station's engine types. `path`: where one of ours stands.
    """
    for clash in clashes(own, others, types):
        if clash.certain:
            check.add(
                path(clash.ours),
                f"{clash.other} is a base interval, too, and both hold for "
                f"{clash.engines}. Narrow one of them, or make this an extension.",
            )
    for way in circles(own, others):
        steps = ", which builds on ".join(
            f'"{one.interval.id}" of {one}' for one in (*way[1:], way[0])
        )
        check.add(
            f"{path(way[0])}.builds_on",
            f"It builds on itself: it builds on {steps}. Take one of these out.",
        )
    for index, one in enumerate(own):
        for other in (*own[:index], *others):
            if other.document == one.document and other.interval.id == one.interval.id:
                check.add(
                    f"{path(one)}.id",
                    f'Provision {other.order} is called "{other.interval.id}", too. '
                    "Give each its own.",
                )


def interval_warnings(
    own: Sequence[Placed], others: Sequence[Placed], types: Collection[str]
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
    types: Collection[str],
) -> Iterator[str]:
    everything = (*own, *others)
    if one.interval.kind in _WITHOUT_BASE:
        yield from _without_base(one, everything, types)
    if one.interval.builds_on is not None:
        yield from _built_on_nothing(one, one.interval.builds_on, everything)
    for other in others:
        if other.interval.id == one.interval.id:
            yield (
                f'{other} is called "{one.interval.id}", too. A third document that '
                "builds on it could not tell which one is meant."
            )


def _without_base(
    one: Placed, everything: Sequence[Placed], types: Collection[str]
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
