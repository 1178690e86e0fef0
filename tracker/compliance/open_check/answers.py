"""What the current documents say of an engine that somebody described.

The rules are evaluated as for an engine in care: by `findings.assess`. Only the file is
another one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

from notices.models import Provision
from notices.rules.designations import designation
from notices.rules.evaluate import Outcome
from notices.rules.facts import Unknown
from tracker.accounts.models import Station
from tracker.compliance.findings import Assessment, assess
from tracker.compliance.fluids import EngineOils, oils_for
from tracker.compliance.open_check.described import (
    Described,
    DescribedFile,
    file_of,
)
from tracker.compliance.open_check.library import OpenLibrary
from tracker.compliance.open_check.wanted import Wanted, first_field, works_asked_for
from tracker.compliance.overhauls import Overhaul
from tracker.compliance.rules import CompiledRule
from tracker.compliance.states import WORDS
from tracker.compliance.summary import Line, NotApplicable
from tracker.compliance.summary.lines import line_of, not_applicable, sort_key

_ANSWERED_ELSEWHERE: Final = {Provision.Kind.INTERVAL, Provision.Kind.FLUIDS}
_CLOSED: Final = len(WORDS)


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """A fact that an answer hangs on, in words, and what takes it.

    `wanted`: fields of its own; `first`: a field that the form has from the first.
    Where there is neither, only the station can find it out.
    """

    words: str
    wanted: tuple[Wanted, ...]
    first: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A provision that applies, or may, and which facts would say more."""

    line: Line
    missing: tuple[Missing, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenAnswer:
    """All that is said of a described engine on a day.

    `overhaul`: None where no provision about the interval concerns it, or may.
    `of_other_types`: provisions of the library that name types of which this is none.
    """

    station: Station
    described: Described
    library: OpenLibrary
    file: DescribedFile
    on: date
    overhaul: Overhaul | None
    interval_missing: tuple[Missing, ...]
    oils: EngineOils
    oils_missing: tuple[Missing, ...]
    applies: tuple[Found, ...]
    undetermined: tuple[Found, ...]
    not_applicable: tuple[NotApplicable, ...]

    @property
    def of_other_types(self) -> int:
        return self.library.provisions - len(self.library.rules)


def answer_for(
    described: Described, station: Station, library: OpenLibrary, on: date
) -> OpenAnswer:
    """Return what holds for a described engine. No query."""
    file = file_of(described, station, library, on=on)
    assessed = [
        each
        for rule in library.rules
        if rule.provision.kind not in _ANSWERED_ELSEWHERE
        for each in assess(rule, file_for([rule], file), on=on)
    ]
    found = sorted(_found(assessed, file, library, on), key=_place)
    undetermined = Outcome.UNDETERMINED.value
    overhaul = library.intervals.overhaul_of(_for_intervals(library, file), on=on)
    oils = _oils(library, file, on)
    return OpenAnswer(
        station=station,
        described=described,
        library=library,
        file=file,
        on=on,
        overhaul=overhaul,
        interval_missing=_interval_missing(overhaul, library, file),
        oils=oils,
        oils_missing=_oils_missing(oils, library, file),
        applies=tuple(one for one in found if one.line.outcome != undetermined),
        undetermined=tuple(one for one in found if one.line.outcome == undetermined),
        not_applicable=tuple(
            sorted(
                (not_applicable(each) for each in assessed if not each.is_kept),
                key=sort_key,
            )
        ),
    )


def file_for(rules: Iterable[CompiledRule], file: DescribedFile) -> DescribedFile:
    """Return the file as these rules ask it.

    Where all that they ask to have been done was told, done or not, nothing about it is
    left to find in the history.
    """
    told = file.described.works
    asked = {designation(fact.name) for fact in works_asked_for(rules)}
    if not asked or not asked <= told.keys():
        return file
    return replace(file, facts=replace(file.facts, history_reviewed=True))


def _for_intervals(library: OpenLibrary, file: DescribedFile) -> DescribedFile:
    """All provisions about the interval are asked together."""
    rules = library.intervals.rules.by_id.values()
    return file_for([r for r in rules if r.may_concern(file.facts)], file)


def _interval_missing(
    overhaul: Overhaul | None, library: OpenLibrary, file: DescribedFile
) -> tuple[Missing, ...]:
    """Return the facts that the interval hangs on, of each provision in turn."""
    if overhaul is None:
        return ()
    found: dict[str, Missing] = {}
    for one in (*overhaul.bases, *overhaul.restrictions, *overhaul.offers):
        wanted = library.wanted_by(one.rule, file.described.parts)
        for missing in missing_of(one.said.missing, wanted):
            found.setdefault(missing.words, missing)
    for missing in missing_of(overhaul.due.due.missing, ()):
        found.setdefault(missing.words, missing)
    return tuple(found.values())


def _oils(library: OpenLibrary, file: DescribedFile, on: date) -> EngineOils:
    tables = [r for r in library.rules if r.provision.kind == Provision.Kind.FLUIDS]
    climate = file.described.climate
    unit = None if isinstance(climate, Unknown) else file.described.climate_unit
    return oils_for(file_for(tables, file), tables, climate=climate, unit=unit, on=on)


def _oils_missing(
    oils: EngineOils, library: OpenLibrary, file: DescribedFile
) -> tuple[Missing, ...]:
    """Return the facts that rows of a table hang on, each once."""
    found: dict[str, Missing] = {}
    for table in oils.tables:
        wanted = library.wanted_by(table.rule, file.described.parts)
        lacking = dict.fromkeys(f for row in table.advice for f in row.missing)
        for missing in missing_of(lacking, wanted):
            found.setdefault(missing.words, missing)
    return tuple(found.values())


def _found(
    assessed: Iterable[Assessment], file: DescribedFile, library: OpenLibrary, on: date
) -> Iterator[Found]:
    for each in assessed:
        if each.is_kept:
            wanted = library.wanted_by(each.rule, file.described.parts)
            yield Found(
                line=line_of(each, file, on=on, rate=None),
                # When it is due is asked once it applies.
                missing=missing_of(each.unsettled or each.missing, wanted),
            )


def missing_of(words: Iterable[str], wanted: Sequence[Wanted]) -> tuple[Missing, ...]:
    """Return for each missing fact what takes it."""
    return tuple(
        Missing(
            words=said,
            wanted=tuple(one for one in wanted if one.settles(said)),
            first=first_field(said),
        )
        for said in words
    )


def _place(found: Found) -> tuple[int, tuple[int, str, int, str]]:
    """What presses most stands first, then as in a status."""
    state = found.line.state
    urgency = WORDS.index(state) if state in WORDS else _CLOSED
    return urgency, sort_key(found.line)
