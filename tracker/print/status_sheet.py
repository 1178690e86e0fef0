"""The status of an engine -> the sheet that a page and a print show. No query."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, datetime
from typing import Final
from zoneinfo import ZoneInfo

from notices.rules.intervals.wording import PAST_RECOMMENDED
from tracker.compliance.overhaul_words import answer_sentences, source_sentence
from tracker.compliance.states import counted_as
from tracker.compliance.summary import NotApplicable, SearchStatus, StatusOfEngine
from tracker.figures.states import BY_URGENCY
from tracker.figures.wording import day, due_hours, long_day, used_hours
from tracker.print.items import Now, capital, grouped, item_of
from tracker.print.sheet import Fact, Group, Mark, Reason, Section, Sheet
from tracker.print.tables import (
    declined_table,
    intervals_table,
    parts_table,
    records_table,
    searches_table,
)

NOT_KNOWN: Final = "not known"
PRESSING: Final = BY_URGENCY[:2]
"""Past a limit: an interval that is only recommended stands right after these."""
SHORT_HEAD: Final = 16
"""So much of the chain's head names it on a loose sheet."""


def sheet_of(status: StatusOfEngine, *, made_at: datetime, zone: str) -> Sheet:
    """Return the words of a status. `zone`: the reader's time zone, by its name."""
    now = Now(on=status.on, tsn=status.tsn, zone=ZoneInfo(zone))
    subject = str(status.engine)
    return Sheet(
        title=f"Compliance status of {subject}",
        subject=subject,
        station=status.engine.station.name,
        as_of=as_of_words(status.on, status.known_at, made_at, now.zone),
        warning=status.not_yet,
        running=_running(status),
        head=status.head.hash[:SHORT_HEAD] if status.head else "none",
        facts=_facts(status),
        counts=(*counts_of(status), *_closed_counts(status)),
        sections=_sections(status, now),
        made=made_words(made_at, zone),
        chain_note=_chain_note(status),
        chain=status.head.hash if status.head else "",
    )


def as_of_words(
    on: date, known_at: datetime | None, made_at: datetime, zone: ZoneInfo
) -> str:
    """Return the day asked for, and what of it was known."""
    if known_at is not None:
        known = "as it was known at the end of that day"
    else:
        today = long_day(made_at.astimezone(zone).date())
        known = f"with all that is known on {today}"
    return f"As of {long_day(on)}, {known}."


def made_words(made_at: datetime, zone: str) -> str:
    local = made_at.astimezone(ZoneInfo(zone))
    return f"Computed on {long_day(local.date())} at {local:%H:%M} ({zone})"


def aircraft_words(status: StatusOfEngine) -> str:
    """Return what the engine was fitted in on that day."""
    fitting = status.fitting
    if fitting is None:
        return ""
    if not fitting.fitted:
        return "no aircraft"
    named = f"{fitting.aircraft_type} {fitting.registration}".strip()
    return f"{named}, {fitting.position}" if fitting.position else named


def counts_of(status: StatusOfEngine) -> tuple[Mark, ...]:
    """Return how many items stand in which state, the most urgent first."""
    lines = (*status.lines, *status.undetermined)
    words = Counter(
        (line.state, counted_as(line.state, may_apply=line.due.point.undetermined))
        for line in lines
    )
    said = [
        Mark(state, f"{words[state, word]} {word}")
        for state in BY_URGENCY
        for word in dict.fromkeys((state, counted_as(state, may_apply=True)))
        if words[state, word]
    ]
    pressing = [mark for mark in said if mark.state in PRESSING]
    return (*pressing, *_past_recommended(status), *said[len(pressing) :])


def _past_recommended(status: StatusOfEngine) -> tuple[Mark, ...]:
    """Say of the interval as a whole since when the engine is past it."""
    found = status.overhaul
    if found is None or found.word != PAST_RECOMMENDED:
        return ()
    due, since = found.due.due, []
    if due.hours is not None and (due.remaining_hours or 0) < 0:
        since.append(due_hours(due.hours))
    if due.on is not None and (due.remaining_days or 0) < 0:
        since.append(day(due.on))
    said = f"past the recommended overhaul interval since {' and '.join(since)}"
    return (Mark(PAST_RECOMMENDED, said),)


def _closed_counts(status: StatusOfEngine) -> tuple[Mark, ...]:
    declined, rest = len(status.not_adopted), len(status.not_applicable)
    said = [Mark("", f"{declined} not adopted")] if declined else []
    said += (
        [Mark("does not apply", f"{rest} do not apply, listed below")] if rest else []
    )
    return tuple(said)


def _running(status: StatusOfEngine) -> tuple[str, ...]:
    fitting = status.fitting
    fitted = f"in {aircraft_words(status)}" if fitting and fitting.fitted else ""
    tsn = used_hours(status.tsn) if status.tsn is not None else NOT_KNOWN
    said = (str(status.engine), fitted, f"as of {day(status.on)}", f"TSN {tsn}")
    return tuple(word for word in said if word)


def _facts(status: StatusOfEngine) -> tuple[Fact, ...]:
    engine, kind = status.engine, status.engine.engine_type
    in_part = "" if engine.type_complete else " (recorded in part)"
    read = f"{day(status.reading_on)}, {status.meter}" if status.reading_on else ""
    built = day(engine.built) if engine.built else ""
    reviewed = day(status.reviewed_on) if status.reviewed_on else ""
    return (
        _fact("Maker", kind.maker),
        _fact("Type designation", f"{kind.designation}{in_part}"),
        _fact("Serial number", engine.serial),
        _fact("Date of manufacture", built),
        _fact("Fitted in", aircraft_words(status)),
        _fact("Owner", status.owner.name if status.owner else ""),
        _fact("Operation", ", ".join(status.uses)),
        _fact("Last reading", read, missing="never read"),
        _fact("TSN", _hours(status.tsn)),
        _fact("TSO", _tso(status)),
        _fact("Airframe hours", _hours(status.airframe_hours)),
        _fact("History reviewed", reviewed, missing="not reviewed"),
    )


def _fact(name: str, value: str, *, missing: str = NOT_KNOWN) -> Fact:
    return Fact(name=name, value=value or missing, known=bool(value))


def _tso(status: StatusOfEngine) -> str:
    """An engine that was never overhauled has no hours since, whatever rules count."""
    return "never overhauled" if status.never_overhauled else _hours(status.tso)


def _hours(hundredths: int | None) -> str:
    return "" if hundredths is None else used_hours(hundredths)


def _sections(status: StatusOfEngine, now: Now) -> tuple[Section, ...]:
    return (
        _undetermined(status, now),
        _applying(status, now),
        _overhaul(status),
        _not_adopted(status),
        _not_applicable(status),
        _parts(status),
        _history(status),
        _basis(status),
    )


def _undetermined(status: StatusOfEngine, now: Now) -> Section:
    items = tuple(item_of(line, now) for line in status.undetermined)
    return Section(
        key="undetermined",
        heading="Undetermined",
        note="Treat each of these as open.",
        says=tuple(_open_search(search, status) for search in status.open_searches),
        groups=(Group("", items),) if items else (),
        empty=f"Nothing is undetermined, over {status.evaluated} of {status.current} "
        "current publications.",
        is_open=True,
    )


def _open_search(search: SearchStatus, status: StatusOfEngine) -> str:
    if search.searched_to is None:
        return str(search)
    about = f" for the {search.part}" if search.part else ""
    oldest = status.engine.station.reading_age_days
    return (
        f"{capital(search.kind)}{about} were searched to "
        f"{long_day(search.searched_to)} ({search.source}, {search.person}). That is "
        f"older than {oldest} days."
    )


def _applying(status: StatusOfEngine, now: Now) -> Section:
    return Section(
        key="applies",
        heading="What applies",
        note="Current confirmed revisions, by kind and number. Hours are TSN. Reaching "
        "a limit exactly is still in time.",
        groups=grouped(status.lines, now),
        empty=f"No provision of {status.current} current publications applies with "
        "certainty.",
    )


def _overhaul(status: StatusOfEngine) -> Section:
    found = status.overhaul
    heading = "Overhaul interval"
    if found is None:
        empty = "No document in force says anything of an overhaul interval."
        return Section(key="overhaul", heading=heading, empty=empty)
    interval, *others = answer_sentences(found)
    return Section(
        key="overhaul",
        heading=heading,
        note="What is law hangs on how the engine is operated. Past an interval that is "
        "only recommended nothing is overdue; the authority decides.",
        says=tuple(
            text for text in (interval, source_sentence(found), *others) if text
        ),
        table=intervals_table(found),
    )


def _not_adopted(status: StatusOfEngine) -> Section:
    return Section(
        key="not-adopted",
        heading="Not adopted",
        note="Advisory documents that the owner or operator has not adopted.",
        table=declined_table(status.not_adopted),
        empty="No advisory document is marked as not adopted.",
    )


def _not_applicable(status: StatusOfEngine) -> Section:
    return Section(
        key="not-applicable",
        heading="Does not apply",
        note="Evaluated for this engine and found not to apply, with the reason.",
        reasons=_reasons(status.not_applicable),
        empty="Every provision applies to this engine or may apply.",
    )


def _reasons(rows: Sequence[NotApplicable]) -> tuple[Reason, ...]:
    """A document that says several things which do not apply names each of them."""
    several = Counter(row.revision.pk for row in rows)
    return tuple(
        Reason(
            row.publication.number, _about(row, several[row.revision.pk]), row.reason
        )
        for row in rows
    )


def _about(row: NotApplicable, times: int) -> str:
    said = [f"rev. {row.revision.label}"]
    said += [row.provision.title] if times > 1 else []
    part = f" ({row.part})" if row.part else ""
    return f"{', '.join(said)}{part}"


def _parts(status: StatusOfEngine) -> Section:
    return Section(
        key="parts",
        heading="Fitted parts",
        note="As they were fitted on that day; a part with a limited life has its "
        "limit among what applies.",
        table=parts_table(status.parts),
        empty="No fitted part is recorded.",
    )


def _history(status: StatusOfEngine) -> Section:
    return Section(
        key="history",
        heading="History",
        note="Valid records of the engine’s ledger, newest first. A number that is "
        "missing was voided, or voids another, or is of a later day.",
        table=records_table(status),
        empty="No record is in the ledger.",
    )


def _basis(status: StatusOfEngine) -> Section:
    reviewed = "is not reviewed, so what is not recorded is not known"
    if status.reviewed_on is not None:
        reviewed = f"was reviewed on {long_day(status.reviewed_on)}"
    stands = "The library is empty."
    if status.library_on is not None:
        stands = f"The library stands at {long_day(status.library_on)}."
    return Section(
        key="basis",
        heading="Basis",
        note="How far the search for documents went, and what was looked at.",
        says=(
            f"{status.evaluated} of {status.current} current publications were "
            f"evaluated, {status.listed} provisions are listed above. {stands} "
            f"The history of the engine {reviewed}.",
        ),
        table=searches_table(status.searches),
    )


def _chain_note(status: StatusOfEngine) -> str:
    if status.head is None:
        return "No record is in the ledger."
    plural = "" if status.head.sequence == 1 else "s"
    return f"From {status.head.sequence} record{plural}. Head of the chain:"
