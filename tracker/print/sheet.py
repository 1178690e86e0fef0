"""A compliance status as it is read: plain words in their order, for page and paper alike.

Nothing here knows markup, a row of the database or a clock. An empty text is what has
no value: a page and a print show a dash for it where a value is expected.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One name with its value. `known` False: the value says that it is not known."""

    name: str
    value: str
    known: bool = True


@dataclass(frozen=True, slots=True)
class Mark:
    """A state: the word that picks its shape, and what is said beside the shape.

    Without a word there is no shape: what was not adopted stands in no state.
    """

    state: str
    said: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One line of what applies, or may, in the fields of a directive compliance record.

    `revision`: label and date. `received`: when the station entered it. `asks`: the
    compliance time as the document says it, `grounds` why one of its limits holds.
    `component`: total time of the engine at compliance, `part_hours` that of the part.
    `since`: time since it was done, for inspections. `next_hours`, `next_other`: the
    next due point; `next_note`: why one of the two is lacking. `record`: number in the
    ledger.
    """

    mark: Mark
    number: str
    revision: str
    received: str
    subject: str
    part: str
    missing: str
    asks: str
    grounds: str
    method: str
    done_on: str
    since: str
    airframe: str
    component: str
    part_hours: str
    recurring: str
    next_hours: str
    next_other: str
    next_note: str
    signatory: str
    remarks: str
    record: str


@dataclass(frozen=True, slots=True)
class Group:
    """Items under one heading; the heading may be empty."""

    heading: str
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Reason:
    """A document that does not apply: its number, what of it, and why."""

    number: str
    about: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One value of a table under its head. `is_figure`: it is set flush right."""

    head: str
    words: str
    is_figure: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """A plain table; the first cell names its row. `figures`: columns set flush right."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    figures: tuple[int, ...] = ()

    @property
    def heads(self) -> tuple[Cell, ...]:
        return self._cells(self.columns)

    @property
    def lines(self) -> tuple[tuple[Cell, ...], ...]:
        """The rows, each cell with its head."""
        return tuple(map(self._cells, self.rows))

    def _cells(self, row: tuple[str, ...]) -> tuple[Cell, ...]:
        return tuple(
            Cell(head=self.columns[place], words=words, is_figure=place in self.figures)
            for place, words in enumerate(row)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One part of a status. What is empty in it is left out; `empty` is said if all is.

    `key`: names it in a page. `note`: stands in the margin. `says`: sentences.
    `is_open`: to be treated as open, and framed.
    """

    key: str
    heading: str
    note: str = ""
    says: tuple[str, ...] = ()
    groups: tuple[Group, ...] = ()
    table: Table | None = None
    reasons: tuple[Reason, ...] = ()
    empty: str = ""
    is_open: bool = False

    @property
    def is_empty(self) -> bool:
        rows = self.table is not None and self.table.rows
        return not (self.says or self.groups or self.reasons or rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The whole status of one engine.

    `subject`: names the engine. `warning`: why there is no status on that day, else
    empty. `running`: what a loose sheet must say, with `head`, the
    begin of the chain's head. `chain`: that head in full, empty without a record.
    `made`: when and in which time zone it was made.
    """

    title: str
    subject: str
    station: str
    as_of: str
    warning: str
    running: tuple[str, ...]
    head: str
    facts: tuple[Fact, ...]
    counts: tuple[Mark, ...]
    sections: tuple[Section, ...]
    made: str
    chain_note: str
    chain: str

    def items(self) -> Iterator[Item]:
        """Yield every item, in the order in which it is read."""
        for section in self.sections:
            for group in section.groups:
                yield from group.items


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """An engine on the first page of a print of several.

    `note`: what beside its findings is to be treated as open.
    """

    subject: str
    aircraft: str
    tsn: str
    counts: tuple[Mark, ...]
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cover:
    """The first page of a print of several engines."""

    title: str
    station: str
    as_of: str
    made: str
    engines: tuple[Listed, ...]
    empty: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """A whole document: one sheet, or several behind a cover. `station` made it."""

    title: str
    station: str
    sheets: tuple[Sheet, ...]
    cover: Cover | None = None


# The heads of the columns of items, in the order of the fields of a directive record.
HEADS = {
    "state": "State",
    "document": "Document, revision and date",
    "received": "Received",
    "subject": "Subject",
    "asks": "Compliance due",
    "method": "Method of compliance",
    "done_on": "Done",
    "airframe": "Airframe",
    "component": "TSN",
    "recurring": "One-time or recurring",
    "next": "Next due",
    "signatory": "Authorised signature, certificate",
    "remarks": "Remarks",
    "record": "Record",
}
COVER_HEADS = ("Engine", "Aircraft", "TSN", "What applies, or may", "Page")
SIGN = ("Name, kind and number of certificate", "Signature", "Place and date")
CAUTION = (
    "What is shown here is only computed from what was entered. The current document "
    "and the rules of the authority prevail over it. Whether an aircraft is airworthy "
    "is decided by its owner or operator and by appropriately licensed persons.",
    "Treat an undetermined item as open. Hours are only as current as the last reading, "
    "and the status is only as complete as the documents that were entered.",
)
SHORT_CAUTION = (
    "Computed from what was entered. The current document and the authority’s rules "
    "prevail. Treat undetermined as open."
)
