"""What stands in a mail, in final words: the same for its text and for its HTML.

Everything that anybody entered goes through `one_line` here, so that nothing of it can
begin a line, a header or a direction of writing of its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from django.conf import settings
from django.urls import reverse

from notices.models import Kind, Provision
from notices.rules.compliance_time import State
from tracker.compliance.due import DueRow
from tracker.compliance.models import EventKind
from tracker.figures.due_words import doubt_words, point_words
from tracker.figures.wording import long_day, used_hours
from tracker.fleet.models import Engine, Owner
from tracker.print.sheet import CAUTION
from tracker.print.status_sheet import SHORT_HEAD
from tracker.watch.outbox import one_line
from tracker.watch.telling.heads import Heads
from tracker.watch.telling.reading import Item
from tracker.watch.telling.words import (
    MARKS,
    OTHER_MARK,
    Left,
    engine_words,
    foreseen_words,
    is_new,
    left_words,
    lines,
    longer_words,
    paragraphs,
    said_state,
    state_of,
)

MOST_IN_FULL: Final = 30
"""So many matters are told with everything; of more, a line in the table and a link."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Matter:
    """One matter. `word`: its state as it is shown, `state`: as it is listed.

    `title`: document and revision, `subject`: what of it. `due` and `also`: its point
    and what stands beside that. `todo`: what to do next, in paragraphs.
    """

    engine: str
    mark: str
    word: str
    state: str
    is_new: bool
    title: str
    subject: str
    kind: str
    part: str = ""
    due: str = ""
    also: str = ""
    left: tuple[Left, ...] = ()
    foreseen: str = ""
    doubt: str = ""
    sentence: str = ""
    reasons: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    todo: tuple[str, ...] = ()
    source: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """One engine with its matters. `left_out`: how many are only in the table."""

    name: str
    fitted: str
    reading: str
    hours_url: str
    page_url: str
    head: str
    matters: tuple[Matter, ...]
    left_out: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Content:
    """A whole mail. `note`: what a person of the station wrote, in paragraphs.

    `table`: every matter in one line, most pressing first; empty where there is one.
    `several`: whether it is about more than one engine.
    """

    heading: str
    station: str
    owner: str
    day: str
    note: tuple[str, ...]
    lead: str
    table: tuple[Matter, ...]
    blocks: tuple[Block, ...]
    several: bool
    why_you: str
    mandatory: str
    unsubscribe_url: str
    preferences_url: str
    caution: tuple[str, ...] = CAUTION


def blocks_of(
    items: Sequence[Item],
    *,
    hours_urls: Mapping[int, str],
    heads: Heads | None,
) -> tuple[Block, ...]:
    """Return the engines of these items in the order of their first one.

    `hours_urls`: by engine, where the owner enters its hours. `heads`: number and hash
    of the last record by engine; None where the ledger is not spoken of.
    """
    in_full = set(map(id, items[:MOST_IN_FULL]))
    engines = {item.engine.pk: item.engine for item in items}
    blocks = []
    for engine in engines.values():
        own = [item for item in items if item.engine.pk == engine.pk]
        told = tuple(matter_of(item) for item in own if id(item) in in_full)
        blocks.append(
            Block(
                name=engine_name(engine),
                fitted=_fitted(engine),
                reading=reading_words(engine),
                hours_url=hours_urls[engine.pk],
                page_url=page_url(engine),
                head="" if heads is None else _head(heads.get(engine.pk)),
                matters=told,
                left_out=len(own) - len(told),
            )
        )
    return tuple(blocks)


def matter_of(item: Item) -> Matter:
    """Return a matter in words: a document's, an interval's, or that hours are old."""
    if EventKind.READING.value in item.kinds:
        return _of_reading(item)
    if EventKind.LONGER.value in item.kinds:
        return _of_interval(item)
    return _of_document(item)


def engine_name(engine: Engine) -> str:
    return one_line(f"{engine.engine_type.designation}, serial {engine.serial}")


def reading_words(engine: Engine) -> str:
    """Return the last reading with its date: since new, or as the meter shows."""
    if engine.hours_now is None or engine.read_on is None:
        return "no hours have been read yet"
    axis = "TSN" if engine.tsn is not None else "on its meter"
    shown = engine.hours_now if engine.tsn is None else engine.tsn
    return f"{used_hours(shown)} {axis} on {long_day(engine.read_on)}"


def page_url(engine: Engine) -> str:
    return f"{settings.BASE_URL}{reverse('web:engine', args=[engine.public_id])}"


def preferences_url(owner: Owner) -> str:
    path = reverse("web:owner-preferences", args=[owner.public_id])
    return f"{settings.BASE_URL}{path}"


def why_you(owner: Owner, engines: int) -> str:
    station, name = one_line(owner.station.name), one_line(owner.name)
    what = "this engine" if engines == 1 else "these engines"
    return (
        f"{station} sends this by itself, because it keeps {what} for {name} and this "
        "address stands there for messages."
    )


def mandatory_words(owner: Owner, *, all_mandatory: bool) -> str:
    """Return what an owner can leave out, and who alone can end the rest."""
    station = one_line(owner.station.name)
    if all_mandatory:
        return (
            "What a directive asks for, or the maker calls mandatory, is always told. "
            f"Only {station} can end that, and has to say why."
        )
    return (
        "What nobody is obliged to do can be left out. What a directive asks for, or "
        f"the maker calls mandatory, is always told; only {station} can end that."
    )


def _of_document(item: Item) -> Matter:
    said = item.events[-1].said if item.events else {}
    row, provision = item.row, item.provision
    assert provision is not None, "a document's matter names its provision"
    publication = provision.revision.publication
    named = _named(publication.number, provision.revision.label)
    state = state_of(item)
    reasons = lines(said.get("reasons", ()))
    if row is not None:
        if EventKind.SUPERSEDED.value not in item.kinds:
            reasons = ()
        reasons += lines(row.reasons)
    subject = one_line(said.get("title") or provision.title)
    return Matter(
        engine=engine_words(item.engine),
        mark=MARKS.get(state, OTHER_MARK),
        word=said_state(item),
        state=state,
        is_new=is_new(item),
        title=named,
        subject=subject,
        kind=f"{Kind(publication.kind).label}, {provision.category}",
        part="" if row is None else one_line(row.part),
        reasons=tuple(dict.fromkeys(reasons)),
        todo=_todo(item, provision, subject),
        source=_source(item, provision),
        **(_point(row) if row is not None and state in MARKS else {}),
    )


def _named(number: str, label: str) -> str:
    return one_line(f"{number} revision {label}")


def _point(row: DueRow) -> dict[str, Any]:
    """Return when something is due, as it stands in the columns of a matter."""
    due, stands = row.due, row.provision.kind == Provision.Kind.PROHIBITION
    when, also = point_words(due, row.word, stands=stands)
    return {
        "due": one_line(when),
        "also": one_line(also),
        "left": () if stands else tuple(left_words(row)),
        "foreseen": foreseen_words(row),
        "doubt": doubt_words(due) if row.word == State.OVERDUE.value else "",
        "sentence": one_line(row.sentence),
        "missing": lines(row.missing),
    }


def _todo(item: Item, provision: Provision, subject: str) -> tuple[str, ...]:
    """Return what to do next: what it asks for, unless the heading has said that."""
    if item.row is None:
        return ()
    if item.row.finding.closed:
        return ("Nothing is to be done for it now.",)
    if provision.kind == Provision.Kind.INTERVAL:
        return (f"Agree on the overhaul with {one_line(item.engine.station.name)}.",)
    title, described = one_line(provision.title), paragraphs(provision.description)
    return described if described and title == subject else (title, *described)


def _source(item: Item, provision: Provision) -> str:
    revision = provision.revision
    publication = revision.publication
    title = one_line(publication.title)
    named = _named(publication.number, revision.label)
    return f"{named}, {one_line(publication.issuer)}: {title}"


def _of_reading(item: Item) -> Matter:
    station = one_line(item.engine.station.name)
    read_on = long_day(date.fromisoformat(item.events[-1].said["on"]))
    return Matter(
        engine=engine_words(item.engine),
        mark=OTHER_MARK,
        word=state_of(item),
        state=state_of(item),
        is_new=False,
        title="Hours of the engine",
        subject=f"last read on {read_on}",
        kind="hours reading",
        sentence=(
            f"Every limit in hours is counted from that reading. {station} lists a "
            f"reading as old after {item.engine.station.reading_age_days} days."
        ),
        todo=("Read the meter and enter what it shows, by the link of this engine.",),
    )


def _of_interval(item: Item) -> Matter:
    said = longer_words(item.events[-1])
    station = one_line(item.engine.station.name)
    return Matter(
        engine=engine_words(item.engine),
        mark=OTHER_MARK,
        word=state_of(item),
        state=state_of(item),
        is_new=False,
        title="Overhaul interval",
        subject=said,
        kind="overhaul interval",
        sentence=f"{said[:1].upper()}{said[1:]} for this engine.",
        todo=(
            "What it asks for, and by when, stands under the overhaul interval on the "
            f"engine's page. {station} can say what it takes.",
        ),
    )


def _fitted(engine: Engine) -> str:
    where = (engine.registration, engine.aircraft_type, engine.position)
    return ", ".join(lines(where)) or "not recorded in an aircraft"


def _head(head: tuple[int, str] | None) -> str:
    if head is None:
        return "no record yet"
    number, digest = head
    plural = "" if number == 1 else "s"
    return f"{number} record{plural}, head of the chain {digest[:SHORT_HEAD]}"
