"""The facts of one engine or part made ready for many conditions.

Texts are normalised, dates are ordinals, what follows from other facts is filled in. A
subject is made once for an engine and asked by every condition; `with_` gives a copy in
which one more fact is known.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from fractions import Fraction
from typing import Any, ClassVar, Final, Literal, Self

from notices.rules.designations import Designation, designation, plain_text
from notices.rules.facts import (
    UNKNOWN,
    Asked,
    EngineFacts,
    Hours,
    HoursKept,
    Overhaul,
    PartFacts,
    Unknown,
)
from notices.rules.serials import Serial, parse_serial

ENDLESS: Final = 10**12
"""An ordinal or number of hundredths above every real one."""

Window = tuple[int, int]
History = tuple[tuple[int | Unknown, str | Unknown], ...]
"""Overhauls, oldest first: the day as an ordinal, and by whom (plain text)."""


class Subject:
    """What an engine and a part have in common. Shared ones are never changed."""

    __slots__ = (
        "_windows",
        "answers",
        "attributes",
        "built",
        "hours_overhaul",
        "label",
        "never_overhauled",
        "new_hours",
        "overhauls",
        "serial",
        "serial_pattern",
        "serial_run",
        "shipped",
    )

    _names: ClassVar[tuple[str, ...]] = __slots__
    _windows: list[Window] | None
    label: str
    serial: Serial | Unknown
    serial_pattern: str | None
    serial_run: int | None
    built: int | Unknown
    shipped: int | Unknown
    overhauls: History | Unknown
    new_hours: int | Unknown
    hours_overhaul: int | Unknown
    never_overhauled: bool
    attributes: Mapping[str, str]
    answers: Mapping[str, bool]

    def with_(self, **known: Any) -> Self:
        """Return a copy in which these attributes have these values."""
        other = object.__new__(type(self))
        for name in self._names:
            setattr(other, name, getattr(self, name))
        other.settle(known)
        return other

    def settle(self, known: Mapping[str, Any]) -> None:
        """Give these attributes these values; only for a copy that nobody else holds."""
        for name, value in known.items():
            setattr(self, name, value)
        self._windows = None

    def of_it(self, words: str) -> str:
        """Return the words, with the part's name where it is a part."""
        return f"{words} of {self.label}" if self.label else words

    def window(self, which: Literal["built", "shipped"]) -> Window:
        """Return the first and last day an unknown date can be: built, shipped, overhauled."""
        if self._windows is None:
            self._windows = self._date_windows()
        return self._windows[0] if which == "built" else self._windows[1]

    def overhaul_window(self, index: int) -> Window:
        """Return the first and last day the overhaul at `index` can have been done."""
        if self._windows is None:
            self._windows = self._date_windows()
        return self._windows[2 + index]

    def _date_windows(self) -> list[Window]:
        """Windows of built, shipped, each overhaul; one more for an unrecorded one."""
        done = () if isinstance(self.overhauls, Unknown) else self.overhauls
        line = [self.built, self.shipped, *(on for on, _ in done), UNKNOWN]
        known = [day for day in line if not isinstance(day, Unknown)]
        if known != sorted(known):
            return [(0, ENDLESS)] * len(line)
        return [
            (
                max((d for d in line[:at] if not isinstance(d, Unknown)), default=0),
                min(
                    (d for d in line[at:] if not isinstance(d, Unknown)),
                    default=ENDLESS,
                ),
            )
            for at in range(len(line))
        ]

    def _take_hours(
        self, kept: HoursKept, last: Overhaul | None, shown: int | Unknown
    ) -> None:
        """Fill in hours since overhaul: from new if never, else from the last one.

        `shown`: the hours now, counted as those of the overhaul are.
        """
        new, since = kept.new, kept.overhaul
        if self.never_overhauled:
            self.new_hours = since if isinstance(new, Unknown) else new
            self.hours_overhaul = self.new_hours
            return
        if isinstance(since, Unknown) and last is not None:
            since = _hours_between(last.hours, shown)
        self.new_hours, self.hours_overhaul = new, since


class PartSubject(Subject):
    """One part."""

    __slots__ = (
        "change",
        "effective_hours_overhaul",
        "effective_new_hours",
        "facts",
        "fitted",
        "fitted_hours",
        "number",
        "role",
    )

    _names: ClassVar[tuple[str, ...]] = (*Subject.__slots__, *__slots__)
    facts: PartFacts
    role: str
    number: Designation | Unknown
    change: str | Unknown
    fitted: int | Literal["new"] | Unknown
    fitted_hours: int | Unknown
    effective_new_hours: int | Unknown
    effective_hours_overhaul: int | Unknown

    def __init__(self, part: PartFacts, scope: str) -> None:
        self._windows = None
        self.facts = part
        self.role = plain_text(part.role)
        self.label = part_label(part)
        self.number = _designation(part.number)
        self.serial = _serial(part.serial)
        self.serial_pattern = None
        self.serial_run = None
        self.change = part.change
        self.built = _ordinal(part.built)
        self.shipped = _ordinal(part.shipped)
        self.fitted = "new" if part.fitted == "new" else _ordinal(part.fitted)
        self.overhauls = _history(part.overhauls)
        self.never_overhauled = part.overhauls == ()
        self._take_hours(part.hours, _last(part.overhauls), part.hours.new)
        self.fitted_hours = part.hours.fitted
        self.effective_new_hours = self.effective_hours_overhaul = UNKNOWN
        self.attributes = _plain_map(part.attributes)
        self.answers = _answers(part.answers, scope)

    def take_effective_hours(
        self, now: int | Unknown, then: int | Unknown, day: int | Unknown
    ) -> None:
        """Fill in hours on the effective date, `day`; made later, it had none then.

        They are its hours now less the engine's hours since (from `then` to `now`),
        if it stayed fitted.
        """
        built = self.built
        if isinstance(built, int) and isinstance(day, int) and built > day:
            self.effective_new_hours = self.effective_hours_overhaul = 0
            return
        if isinstance(now, Unknown) or isinstance(then, Unknown):
            return
        if self._has_stayed(now, then, day):
            run = now - then
            self.effective_new_hours = _before(self.new_hours, run)
            self.effective_hours_overhaul = _before(self.hours_overhaul, run)

    def _has_stayed(self, now: int, then: int, day: int | Unknown) -> bool:
        if self.fitted == "new":
            return True
        if isinstance(self.fitted, int) and isinstance(day, int):
            return self.fitted <= day
        fitted = self.fitted_hours
        return not isinstance(fitted, Unknown) and now - fitted <= then


class EngineSubject(Subject):
    """One engine, under the circumstances asked."""

    __slots__ = (
        "aircraft",
        "complied",
        "effective_hours_overhaul",
        "effective_new_hours",
        "embodied",
        "facts",
        "history_reviewed",
        "leaded_share",
        "oil_temperature",
        "operation",
        "rebuilt",
        "registry",
        "result",
        "role_counts",
        "roles",
        "roles_reviewed",
        "this",
        "type",
        "type_complete",
    )

    _names: ClassVar[tuple[str, ...]] = (*Subject.__slots__, *__slots__)
    facts: EngineFacts
    type: Designation | Unknown
    type_complete: bool
    rebuilt: int | Literal[True] | Unknown | None
    effective_new_hours: int | Unknown
    effective_hours_overhaul: int | Unknown
    aircraft: Designation | Unknown | None
    registry: Designation | Unknown | None
    operation: frozenset[str] | Unknown
    embodied: Mapping[Designation, bool]
    complied: Mapping[Designation, tuple[tuple[str | Unknown, int | Unknown], ...]]
    history_reviewed: bool
    leaded_share: Fraction | Unknown
    oil_temperature: tuple[Fraction, Fraction] | Unknown
    roles: Mapping[str, tuple[PartSubject, ...]]
    roles_reviewed: frozenset[str]
    role_counts: Mapping[str, int]
    this: PartSubject | None
    result: str | Unknown | None

    def __init__(self, engine: EngineFacts, asked: Asked) -> None:
        self._windows = None
        self.facts = engine
        self.label = ""
        self.type = _designation(engine.type)
        self.type_complete = engine.type_complete
        self.serial = _serial(engine.serial)
        self.serial_pattern = engine.serial_pattern
        self.serial_run = engine.serial_run
        self.built = _ordinal(engine.built)
        self.shipped = _ordinal(engine.shipped)
        self.rebuilt = (
            engine.rebuilt
            if engine.rebuilt is None or engine.rebuilt is True
            else _ordinal(engine.rebuilt)
        )
        self.overhauls = _history(engine.overhauls)
        self.never_overhauled = engine.overhauls == ()
        self._take_hours(engine.hours, _last(engine.overhauls), engine.axis_now)
        self._take_effective_hours(engine, asked)
        self.aircraft = (
            None if engine.aircraft is None else _designation(engine.aircraft)
        )
        self.registry = (
            None if engine.registry is None else _designation(engine.registry)
        )
        self.operation = (
            UNKNOWN
            if isinstance(engine.operation, Unknown)
            else frozenset(plain_text(use) for use in engine.operation)
        )
        self._take_history(engine)
        self._take_parts(engine, asked)
        self.attributes = _plain_map(engine.attributes)
        self.answers = _answers(engine.answers, asked.scope)
        self.leaded_share = (
            engine.leaded_share
            if isinstance(asked.leaded_share, Unknown)
            else asked.leaded_share
        )
        oil = engine.oil_temperature
        self.oil_temperature = oil if isinstance(oil, Unknown) else (oil.low, oil.high)
        self.result = (
            plain_text(asked.result) if isinstance(asked.result, str) else asked.result
        )

    def _take_effective_hours(self, engine: EngineFacts, asked: Asked) -> None:
        """Fill in hours on the effective date; what was made later had none then.

        Neither had what its maker has rebuilt since, with a new record.
        """
        new, since = engine.at_effective.new, engine.at_effective.overhaul
        if not isinstance(asked.effective_hours, Unknown):
            new = _since_new(engine, asked.effective_hours)
        effective = _ordinal(asked.effective_on)
        made_later = (
            not isinstance(effective, Unknown)
            and not isinstance(self.built, Unknown)
            and self.built > effective
        )
        if made_later and isinstance(new, Unknown):
            self.effective_new_hours = self.effective_hours_overhaul = 0
            return
        if self.never_overhauled:
            new = since if isinstance(new, Unknown) else new
            since = new
        self.effective_new_hours, self.effective_hours_overhaul = new, since

    def _take_history(self, engine: EngineFacts) -> None:
        absent = {designation(name): False for name in engine.not_embodied}
        self.embodied = {**absent, **{designation(n): True for n in engine.embodied}}
        records: dict[Designation, tuple[tuple[str | Unknown, int | Unknown], ...]] = {}
        for record in engine.complied:
            number = designation(record.number)
            revision = (
                record.revision
                if isinstance(record.revision, Unknown)
                else designation(record.revision)
            )
            found = (revision, _ordinal(record.on))
            records[number] = (*records.get(number, ()), found)
        self.complied = records
        self.history_reviewed = engine.history_reviewed

    def _take_parts(self, engine: EngineFacts, asked: Asked) -> None:
        roles: dict[str, tuple[PartSubject, ...]] = {}
        this = None
        for part in engine.parts:
            subject = self._part(part, engine, asked)
            roles[subject.role] = (*roles.get(subject.role, ()), subject)
            if this is None and _is_same(part, asked.part):
                this = subject
        if this is None and asked.part is not None:
            this = self._part(asked.part, engine, asked)
        self.roles = roles
        self.this = this
        self.roles_reviewed = frozenset(plain_text(r) for r in engine.roles_reviewed)
        self.role_counts = {plain_text(r): n for r, n in engine.role_counts.items()}

    def _part(self, part: PartFacts, engine: EngineFacts, asked: Asked) -> PartSubject:
        subject = PartSubject(part, asked.scope)
        now: int | Unknown = self.new_hours
        then: int | Unknown = self.effective_new_hours
        if engine.axis is not None:
            now, then = engine.axis.now, _plus(engine.axis.new, then)
            if not isinstance(asked.effective_hours, Unknown):
                then = asked.effective_hours
        subject.take_effective_hours(now, then, _ordinal(asked.effective_on))
        return subject


def prepare(facts: EngineFacts, asked: Asked) -> EngineSubject:
    """Return the engine ready to be asked by any number of conditions."""
    return EngineSubject(facts, asked)


def _since_new(engine: EngineFacts, shown: Hours) -> Hours | Unknown:
    """Return TSN where the engine's axis shows so much; 0 before a maker's rebuild."""
    if isinstance(engine.axis_new, Unknown):
        return UNKNOWN
    return Hours(max(shown - engine.axis_new, 0))


def _plus(hours: int | Unknown, more: int | Unknown) -> int | Unknown:
    if isinstance(hours, Unknown) or isinstance(more, Unknown):
        return UNKNOWN
    return hours + more


def _before(hours: int | Unknown, run: int) -> int | Unknown:
    """Return the hours before so many were run; unknown if it had not as many."""
    if isinstance(hours, Unknown) or hours < run:
        return UNKNOWN
    return hours - run


def part_label(part: PartFacts) -> str:
    """Return how a part is named in a sentence: `fuel pump P-8801, serial A-17`."""
    words = [part.role]
    if part.place:
        words.append(f"({part.place})")
    if not isinstance(part.number, Unknown):
        words.append(part.number)
    if isinstance(part.serial, Unknown):
        return " ".join(words)
    return f"{' '.join(words)}, serial {part.serial}"


def _is_same(part: PartFacts, asked: PartFacts | None) -> bool:
    if asked is None:
        return False
    return part is asked or (part.key == asked.key != "") or part == asked


def _hours_between(before: int | Unknown, now: int | Unknown) -> Any:
    if isinstance(before, Unknown) or isinstance(now, Unknown) or before > now:
        return UNKNOWN
    return now - before


def _designation(text: str | Unknown) -> Designation | Unknown:
    return text if isinstance(text, Unknown) else designation(text)


def _serial(text: str | Unknown) -> Serial | Unknown:
    return text if isinstance(text, Unknown) else parse_serial(text)


def _ordinal(day: date | Unknown | str) -> int | Unknown:
    return day.toordinal() if isinstance(day, date) else UNKNOWN


def _last(overhauls: tuple[Overhaul, ...] | Unknown) -> Overhaul | None:
    return None if isinstance(overhauls, Unknown) or not overhauls else overhauls[-1]


def _history(overhauls: Iterable[Overhaul] | Unknown) -> History | Unknown:
    if isinstance(overhauls, Unknown):
        return UNKNOWN
    return tuple(
        (_ordinal(o.on), o.by if isinstance(o.by, Unknown) else plain_text(o.by))
        for o in overhauls
    )


def _plain_map(values: Mapping[str, str]) -> dict[str, str]:
    return {plain_text(name): plain_text(value) for name, value in values.items()}


def _answers(answers: Mapping[tuple[str, str], bool], scope: str) -> dict[str, bool]:
    return {
        plain_text(question): answer
        for (asked_by, question), answer in answers.items()
        if asked_by == scope
    }
