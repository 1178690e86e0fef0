"""The plain tables of a status: parts, records, searches, what was not adopted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from notices.rules.overhaul import Holding, Offer
from tracker.compliance.facts import PartFile
from tracker.compliance.longer_words import length_of, reach_words
from tracker.compliance.models import Record
from tracker.compliance.overhaul_words import earlier_words
from tracker.compliance.overhauls import Overhaul, Provided
from tracker.compliance.summary import Line, SearchStatus, StatusOfEngine
from tracker.compliance.summary.lines import alternative, signatory
from tracker.figures.wording import day, due_hours, used_hours
from tracker.print.items import capital, method_words
from tracker.print.sheet import Table


def declined_table(lines: Sequence[Line]) -> Table:
    return Table(
        columns=("Document", "Subject", "Not adopted by", "From", "Reason"),
        rows=tuple(_declined(line) for line in lines),
    )


def _declined(line: Line) -> tuple[str, ...]:
    declined = line.declined
    assert declined is not None, "it is listed because it was declined"
    number = f"{line.number} rev. {line.revision.label}"
    return (
        number,
        line.subject,
        declined.person,
        day(declined.true_from),
        declined.reason,
    )


def intervals_table(overhaul: Overhaul) -> Table:
    """What holds for the interval, or may, or is in reach; hours are TSN."""
    others = [
        one
        for one in (*overhaul.bases, *overhaul.restrictions, *overhaul.offers)
        if one.holding is not Holding.DOES_NOT_HOLD
    ]
    return Table(
        columns=(
            "Document",
            "Provision",
            "State",
            "Interval",
            "Ends",
            "Law",
            "Hangs on",
        ),
        rows=tuple(_interval(one, overhaul) for one in others),
        figures=(4,),
    )


def _interval(one: Provided, overhaul: Overhaul) -> tuple[str, ...]:
    rule, ending = one.rule, one.ending
    ends = [] if ending.hours is None else [due_hours(ending.hours)]
    ends += [] if ending.on is None else [day(ending.on)]
    earlier = earlier_words(ending)
    told = f"{' or '.join(ends)}{f', {earlier}' if earlier else ''}"
    law = {True: "law", False: "recommended", None: "not known"}
    return (
        f"{rule.publication.number} rev. {rule.revision.label}",
        rule.provision.title,
        one.holding.value,
        length_of(one),
        told,
        law[overhaul.is_law(one.said.id)],
        "; ".join((*_ways(one, overhaul), *one.said.missing)),
    )


def _ways(one: Provided, overhaul: Overhaul) -> tuple[str, ...]:
    said = one.said
    if not isinstance(said, Offer):
        return ()
    return tuple(
        capital(reach_words(reach, overhaul.works)) for reach in said.reach[:1]
    )


def parts_table(parts: Sequence[PartFile]) -> Table:
    return Table(
        columns=(
            "Part",
            "Number",
            "Serial",
            "Change",
            "Fitted",
            "Since new",
            "Since overhaul",
            "Since fitted",
        ),
        rows=tuple(map(_part, parts)),
        figures=(4, 5, 6, 7),
    )


def _part(part: PartFile) -> tuple[str, ...]:
    fitted = part.fitted
    about, fitting = fitted.description, fitted.fitting
    place = f", {fitting.place}" if fitting.place else ""
    new = "new" if fitting.fitted_new else ""
    return (
        capital(f"{about.role}{place}"),
        about.number,
        about.serial,
        about.change,
        day(fitting.day) if fitting.day else new,
        _hours(fitted.hours_new),
        _hours(fitted.hours_overhaul),
        _hours(fitted.hours_fitted),
    )


def records_table(status: StatusOfEngine) -> Table:
    zero = None
    if status.hours is not None and status.tsn is not None:
        zero = status.hours - status.tsn
    return Table(
        columns=(
            "Record",
            "Date",
            "TSN",
            "Airframe",
            "Document",
            "Work",
            "Method",
            "Done by",
            "Authorised signature, certificate",
        ),
        rows=tuple(_record(record, zero) for record in reversed(status.records)),
        figures=(1, 2, 3),
    )


def _record(record: Record, zero: int | None) -> tuple[str, ...]:
    said = record.text
    hours = record.hours
    revision = f" rev. {record.document_revision}" if record.document_revision else ""
    return (
        str(record.sequence),
        day(record.on),
        _hours(hours if hours is None or zero is None else hours - zero),
        _hours(record.airframe_hours),
        f"{record.document_number}{revision}" if record.document_number else "",
        _work(said),
        method_words(record.method, alternative(said)),
        said["done_by"],
        signatory(said),
    )


def _work(said: dict[str, Any]) -> str:
    """The work, of which part, with what result, what was found and what remarked."""
    part = said["part"] or {}
    named = " ".join(part[key] for key in ("role", "number", "serial") if part.get(key))
    sentences = (
        capital(named),
        said["work"],
        said["result"],
        *_found(said),
        said["remarks"],
    )
    told = [text.strip().rstrip(".") for text in sentences if text.strip()]
    return f"{'. '.join(told)}." if told else ""


def _found(said: dict[str, Any]) -> Iterator[str]:
    """What came of an inspection (14 CFR 43.11), and how much is attached."""
    inspection = said.get("inspection")
    if inspection:
        listed = len(inspection["discrepancies"])
        yield inspection["extent"]
        yield "Found airworthy" if inspection["airworthy"] else "Found unairworthy"
        yield _counted(listed, "discrepancy", "discrepancies") if listed else ""
    attached = len(said.get("attachments") or ())
    yield _counted(attached, "attachment", "attachments") if attached else ""


def _counted(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def searches_table(searches: Sequence[SearchStatus]) -> Table:
    return Table(
        columns=("Searched for", "About", "Searched to", "Source", "By"),
        rows=tuple(map(_search, searches)),
    )


def _search(search: SearchStatus) -> tuple[str, ...]:
    if search.searched_to is None:
        to = "not noted: treat as open"
    else:
        to = day(search.searched_to) + (", old: treat as open" if search.is_old else "")
    about = search.part or "engine"
    return (search.kind, about, to, search.source, search.person)


def _hours(hundredths: int | None) -> str:
    return "" if hundredths is None else used_hours(hundredths)
