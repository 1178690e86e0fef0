"""A line of a status -> the words of one row, in the fields of a directive record.

Fields: 14 CFR 91.417(a)(2)(v), and beyond that those of the authority's suggested
directive compliance record (AC 43-9), from memory.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Final
from zoneinfo import ZoneInfo

from notices.models import Kind, Provision
from notices.rules.applicability.wording import sentence
from notices.rules.intervals.wording import PAST_RECOMMENDED
from tracker.compliance.summary import Line
from tracker.figures.due_words import doubt_words, point_words, state_words
from tracker.figures.states import BY_URGENCY
from tracker.figures.wording import day, days, hours, used_hours
from tracker.print.sheet import Group, Item, Mark

OPEN: Final = (*BY_URGENCY[:6], PAST_RECOMMENDED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Now:
    """What "since" counts to, and the reader's time zone."""

    on: date
    tsn: int | None
    zone: ZoneInfo


def grouped(lines: Iterable[Line], now: Now) -> tuple[Group, ...]:
    """Return the items under the kind of their document, as the lines are sorted."""
    return tuple(
        Group(kind_words(kind), tuple(item_of(line, now) for line in some))
        for kind, some in groupby(lines, key=lambda line: line.publication.kind)
    )


def kind_words(kind: str) -> str:
    label = Kind(kind).label
    plural = label if label.endswith("s") else f"{label}s"
    return f"{plural[:1].upper()}{plural[1:]}"


def item_of(line: Line, now: Now) -> Item:
    is_open = line.state in OPEN
    at, other = _point(line) if is_open else ("", "")
    return Item(
        mark=Mark(
            line.state, state_words(line.due, line.state) if is_open else line.state
        ),
        number=line.number,
        revision=revision_words(line),
        received=day(line.revision.entered_at.astimezone(now.zone).date()),
        subject=line.subject,
        part=capital(line.part),
        missing=_missing(line),
        asks=line.asks,
        grounds=" ".join(filter(None, (_counted(line), line.due.point.all_grounds))),
        method=_method(line),
        done_on=day(line.complied_on) if line.complied_on else "",
        since=_since(line, now),
        airframe=_hours(line.airframe_hours),
        component=_hours(
            line.complied_hours if line.complied_tsn is None else line.complied_tsn
        ),
        part_hours=_part_hours(line),
        recurring=_recurring(line),
        next_hours=at,
        next_other=other,
        next_note=line.next_note,
        signatory=line.signatory,
        remarks=line.remarks,
        record=str(line.record_number) if line.record_number else "",
    )


def revision_words(line: Line) -> str:
    """The revision with its date, and which one: a list elsewhere may name the other."""
    if line.revision_date is None:
        return f"rev. {line.revision.label}, date not known"
    is_effective = line.revision_date == line.revision.effective_on
    kind = "effective" if is_effective else "issued"
    return f"rev. {line.revision.label}, {kind} {day(line.revision_date)}"


def capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _point(line: Line) -> tuple[str, str]:
    """Return the next due point: its hours, and its date or event."""
    stands = line.provision.kind == Provision.Kind.PROHIBITION
    when, also = point_words(line.due, line.state, stands=stands)
    if line.due.hours is None or not when.endswith("h"):
        return "", f"{when} {also}".strip()
    return when, also


def _missing(line: Line) -> str:
    """What keeps it open: facts that are not known, or hours that are old."""
    if line.missing and line.is_undetermined:
        said = sentence(f"Missing: {'; '.join(line.missing)}")
        return f"{said} Treat as open."
    doubt = doubt_words(line.due) if line.state in OPEN else ""
    return f"{doubt}." if doubt else ""


def _counted(line: Line) -> str:
    """From what the next point counts, where that is other work than its own."""
    counted = line.counted_from
    if counted is None or line.state not in OPEN:
        return ""
    tsn = "" if counted.tsn is None else f" at {used_hours(counted.tsn)}"
    return f"Counted from {counted.name} of {day(counted.on)}{tsn}."


def _method(line: Line) -> str:
    """What was done; of what has ended without a record, why it has."""
    if line.method:
        return method_words(line.method, line.alternative)
    return line.sentence if line.state == "terminated" else ""


def method_words(method: str, alternative: str) -> str:
    return f"{capital(method)}: {alternative}" if alternative else capital(method)


def _recurring(line: Line) -> str:
    if line.recurring:
        return "recurring"
    return "one-time" if line.provision.kind == Provision.Kind.ACTION else ""


def _since(line: Line, now: Now) -> str:
    """Time since an inspection: 14 CFR 91.417(a)(2)(iv)."""
    if line.publication.kind != Kind.SCHEDULED or line.complied_on is None:
        return ""
    said = [days((now.on - line.complied_on).days)]
    if now.tsn is not None and line.complied_tsn is not None:
        said.insert(0, used_hours(now.tsn - line.complied_tsn))
    return f"{' and '.join(said)} ago"


def _part_hours(line: Line) -> str:
    ran = line.record.part_hours if line.record else None
    return "" if ran is None else f"part {hours(ran)}"


def _hours(hundredths: int | None) -> str:
    return "" if hundredths is None else used_hours(hundredths)
