"""Which serials the revisions of a publication cover -> strips, one for each shape.

A strip is drawn only where it tells the truth: a rule that tests serials under a
`not`, or twice in one `all`, is left to its sentence.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from notices.rules.applicability.nodes import (
    AllOf,
    Always,
    AnyOf,
    Condition,
    SerialIn,
    TypeIn,
    leaves_of,
)
from notices.rules.applicability.wording import clause
from notices.rules.serials import (
    Run,
    SerialRange,
    bounds_at,
    number_at,
    parse_serial,
)
from tracker.figures.strip import Stretch, Strip, StripEngine, StripRow

Shape = tuple[tuple[Run, ...], int]
"""The runs of a serial, nought in place of the number, and where the number stands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StripRevision:
    """What of a revision the strip shows, `standing` being what it is now."""

    name: str
    standing: str
    applicability: Condition


@dataclass(frozen=True, slots=True, kw_only=True)
class StripSerial:
    """One of our engines: its serial as stamped, its state under the publication."""

    serial: str
    state: str


@dataclass(frozen=True, slots=True)
class _Covered:
    """A range of serials, None for every serial, under further conditions in words."""

    span: SerialRange | None
    conditions: tuple[str, ...] = ()


def strips_of(
    number: str,
    revisions: Sequence[StripRevision],
    engines: Sequence[StripSerial],
) -> list[Strip]:
    """Return a strip for each shape of serial that a revision names, often none.

    `revisions`: oldest first.
    """
    covered = [(one, _coverage(one.applicability)) for one in revisions]
    drawable = [(one, found) for one, found in covered if found is not None]
    if len(drawable) < len(covered):
        return []
    shapes = dict.fromkeys(
        shape
        for _, found in drawable
        for part in found
        if part.span is not None and (shape := _shape_of(part.span)) is not None
    )
    return [
        Strip(
            id=f"serials-{place}",
            subject=number,
            shape=_shape_words(shape),
            rows=tuple(_row(one, found, shape) for one, found in drawable),
            engines=_engines(engines, shape),
        )
        for place, shape in enumerate(shapes, 1)
    ]


def _coverage(condition: Condition) -> list[_Covered] | None:
    """What a condition covers; None where it cannot be drawn truly."""
    if not _tests_serials(condition):
        words = "" if isinstance(condition, TypeIn | Always) else clause(condition)
        return [_Covered(None, (words,) if words else ())]
    match condition:
        case SerialIn():
            return [_Covered(span) for span in condition.ranges]
        case AnyOf():
            return _joined(condition)
        case AllOf():
            return _narrowed(condition)
    return None


def _joined(condition: AnyOf) -> list[_Covered] | None:
    """Members that name no serial stand on no scale: such a rule is not drawn."""
    found: list[_Covered] = []
    for member in condition.members:
        part = _coverage(member) if _tests_serials(member) else None
        if part is None:
            return None
        found += part
    return found


def _narrowed(condition: AllOf) -> list[_Covered] | None:
    """One member names the serials, the others are further conditions."""
    serials = [member for member in condition.members if _tests_serials(member)]
    if len(serials) > 1:
        return None
    others = tuple(
        clause(member)
        for member in condition.members
        if not _tests_serials(member) and not isinstance(member, TypeIn | Always)
    )
    inner = _coverage(serials[0])
    if inner is None:
        return None
    return [_Covered(one.span, (*one.conditions, *others)) for one in inner]


def _tests_serials(condition: Condition) -> bool:
    return any(isinstance(leaf, SerialIn) for leaf in leaves_of(condition))


def _shape_of(span: SerialRange) -> Shape | None:
    """None for a serial without any digits: it has no place on a scale."""
    at = number_at(span, None)
    if at < 0:
        return None
    return (*span.runs[:at], 0, *span.runs[at + 1 :]), at


def _shape_words(shape: Shape) -> str:
    """ "K612-#": as it is compared; empty where the serial is nothing but the number."""
    runs, at = shape
    if len(runs) == 1:
        return ""
    return "".join("#" if place == at else str(run) for place, run in enumerate(runs))


def _row(one: StripRevision, found: Sequence[_Covered], shape: Shape) -> StripRow:
    stretches = [
        _stretch(part)
        for part in found
        if part.span is None or _shape_of(part.span) == shape
    ]
    return StripRow(name=one.name, standing=one.standing, stretches=tuple(stretches))


def _stretch(part: _Covered) -> Stretch:
    first, last = (None, None)
    if part.span is not None:
        first, last = bounds_at(part.span, number_at(part.span, None))
    return Stretch(first=first, last=last, condition=" and ".join(part.conditions))


def _engines(engines: Sequence[StripSerial], shape: Shape) -> tuple[StripEngine, ...]:
    """Those of our engines whose serial has the shape."""
    runs, at = shape
    found = []
    for engine in engines:
        own = parse_serial(engine.serial).runs
        number = own[at] if at < len(own) else None
        if isinstance(number, int) and (*own[:at], 0, *own[at + 1 :]) == runs:
            found.append(
                StripEngine(serial=engine.serial, number=number, state=engine.state)
            )
    return tuple(found)
