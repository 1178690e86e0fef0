"""An answer of the open check as its page shows it: words, and fields for what is open.

Each fact has its fields once on the page: beside the first answer that they would settle,
or, where they only say when something is due, in one list below.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

from django import forms

from tracker.compliance.longer_words import verdict_of
from tracker.compliance.open_check import Fact, Found, Kind, Missing, Of, Wanted
from tracker.compliance.overhauls import Overhaul
from tracker.compliance.states import WORDS
from tracker.figures.due_words import NOT_KNOWN, point_words
from tracker.web.forms import told_facts
from tracker.web.forms.open_check import CheckForm
from tracker.web.overhauls import WORDS as INTERVAL_WORDS

MOST_ASKED: Final = 100
"""So many facts are asked for at once: the rest once some of these are known."""

APPLIES: Final = "applies"
_NOT_SAID: Final = {"whether and when it was done", "when it was last done"}
UNDETERMINED: Final = "undetermined"
_QUESTION: Final = "the answer to the question: "


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A fact with its fields, and the numbers of the documents that it would settle."""

    fields: tuple[forms.BoundField, ...]
    settles: tuple[str, ...] = ()

    @property
    def label(self) -> str:
        """What is asked about; that it is asked whether it was done is said above."""
        return str(self.fields[0].label).removesuffix(told_facts.WAS_DONE)

    @property
    def on(self) -> forms.BoundField | None:
        return self._ending_with(told_facts.ON)

    @property
    def hours(self) -> forms.BoundField | None:
        return self._ending_with(told_facts.HOURS_THEN)

    @property
    def revision(self) -> forms.BoundField | None:
        return self._ending_with(told_facts.REVISION)

    @property
    def beside_it(self) -> str:
        """What it is about, and for which documents it would say when; none twice."""
        hint = str(self.fields[0].help_text)
        others = [number for number in self.settles if number not in (hint, self.label)]
        settles = f"Would say when for {', '.join(others)}" if others else ""
        return ". ".join(filter(None, (hint, settles)))

    @property
    def is_dated(self) -> bool:
        """Whether it is told as something that happened, else in one field."""
        return len(self.fields) > 1 or str(self.fields[0].label) != self.label

    def _ending_with(self, suffix: str) -> forms.BoundField | None:
        key = self.fields[0].name
        return next((f for f in self.fields if f.name == f"{key}{suffix}"), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lacking:
    """A fact that is missing, without fields here.

    `field`: the id of the field that takes it, elsewhere on the page; empty where only
    the station can find it out. `later`: it is asked for once others are known.
    """

    words: str
    field: str
    later: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One provision. `word`: its state, or that it applies where no more can be said.

    `when`, `also`: its due point, as far as what was told gives one. `hangs_on`: the
    facts that would say more, `fields` those of them that are asked for here, and
    `lacking` the others.
    """

    found: Found
    word: str
    when: str
    also: str
    hangs_on: tuple[str, ...]
    fields: tuple[forms.BoundField, ...] = ()
    lacking: tuple[Lacking, ...] = ()

    @property
    def proviso(self) -> str:
        """Under what the due point stands: that it applies, or that it was not done."""
        if self.when in ("", NOT_KNOWN):
            return ""
        if self.found.line.outcome != APPLIES:
            return "if it applies"
        asked = {one.words for one in self.found.missing}
        return "if it was not done" if asked & _NOT_SAID else ""


@dataclass(frozen=True, slots=True)
class Verdict:
    """The answer to the owner's question in a few words; `word` gives it its shape."""

    word: str
    words: str


def verdict_on(overhaul: Overhaul | None) -> Verdict:
    """Return whether a longer interval applies to the engine."""
    found = verdict_of(overhaul)
    return Verdict(INTERVAL_WORDS[found.holding], found.words)


class Page:
    """What is placed on one page, from top to bottom: no fact twice."""

    def __init__(self, form: CheckForm) -> None:
        self.form = form
        self.placed: dict[str, str] = {}
        self._shown: set[str] = set()
        self._first: set[str] = set()

    def undetermined(self, found: Iterable[Found]) -> tuple[Shown, ...]:
        """What may apply, with the fields of the facts that it hangs on."""
        return tuple(_shown(one, *self.beside(one.missing)) for one in found)

    def beside(
        self, missing: Iterable[Missing]
    ) -> tuple[tuple[forms.BoundField, ...], tuple[Lacking, ...]]:
        """Return the fields of the facts that are asked for here, and the other facts."""
        rows, lacking = self.rows_beside(missing)
        return tuple(field for row in rows for field in row.fields), lacking

    def rows_beside(
        self, missing: Iterable[Missing]
    ) -> tuple[tuple[Asked, ...], tuple[Lacking, ...]]:
        """Return the same, the fields of each fact by themselves."""
        rows: list[Asked] = []
        lacking: list[Lacking] = []
        for one in missing:
            new = [w for w in one.wanted if w.fact.key not in self.placed]
            if new and self._is_full:
                lacking.append(Lacking(words=one.words, field="", later=True))
                continue
            rows += [Asked(fields=tuple(self._place(w, [one.words]))) for w in new]
            if not new and not self._stands_beside(one, rows):
                lacking.append(self._elsewhere(one))
        return tuple(rows), _once(lacking)

    @property
    def _is_full(self) -> bool:
        return len(self.placed) >= MOST_ASKED

    def _stands_beside(self, missing: Missing, rows: Sequence[Asked]) -> bool:
        ids = {row.fields[0].id_for_label for row in rows}
        return any(self.placed.get(w.fact.key) in ids for w in missing.wanted)

    def _place(self, wanted: Wanted, words: Sequence[str]) -> list[forms.BoundField]:
        """Offer the fields of a fact, those that the missing words do not need left out."""
        self.form.offer(wanted)
        fields = self.form.fields_for(wanted.fact)
        self.placed[wanted.fact.key] = fields[0].id_for_label
        needed = {end for said in words for end in told_facts.suffixes_for(said)}
        return self._needed(wanted.fact, fields, needed)

    def _needed(
        self, fact: Fact, fields: Sequence[forms.BoundField], needed: set[str]
    ) -> list[forms.BoundField]:
        """Return the fields that are needed and those that were filled.

        When work was done is asked for where it must be done by some point; of work
        that was not done nothing more is asked.
        """
        if fact.key in self.form.library.dated:
            needed = needed | {told_facts.ON, told_facts.HOURS_THEN}
        if fields[0].data == "no":
            needed = {""}
        shown = [
            field
            for field in fields
            if field.name.removeprefix(fact.key) in needed or _is_filled(field)
        ]
        self._shown.update(field.name for field in shown)
        return shown

    def _elsewhere(self, missing: Missing) -> Lacking:
        ids = [self.placed[one.fact.key] for one in missing.wanted]
        if missing.first:
            self._first.add(missing.first)
            ids.append(self.form[missing.first].id_for_label)
        return Lacking(words=missing.words, field=ids[0] if ids else "")

    def applies(self, found: Iterable[Found]) -> tuple[Shown, ...]:
        """What applies; the facts that its time hangs on are asked for in one list."""
        return tuple(_shown(one) for one in found)

    def times(self, found: Sequence[Found]) -> tuple[Asked, ...]:
        """Return the facts that would say when something is due, each once.

        That which settles most stands first.
        """
        settles: dict[str, list[str]] = defaultdict(list)
        words: dict[str, list[str]] = defaultdict(list)
        facts: dict[str, Wanted] = {}
        for one in found:
            for missing in one.missing:
                if missing.first:
                    self._first.add(missing.first)
                for wanted in _first_to_ask(missing, one.missing):
                    key = wanted.fact.key
                    facts.setdefault(key, wanted)
                    settles[key].append(one.line.number)
                    words[key].append(missing.words)
        ordered = sorted(settles, key=lambda key: -len(set(settles[key])))
        return tuple(
            Asked(fields=tuple(fields), settles=tuple(dict.fromkeys(settles[key])))
            for key in ordered
            if key not in self.placed and not self._is_full
            for fields in [self._place(facts[key], words[key])]
        )

    @property
    def works_left(self) -> list[Asked]:
        """What may have been done and is not asked for beside an answer."""
        return [
            Asked(fields=tuple(self._needed(fact, self.form.fields_for(fact), {""})))
            for fact in self.form.library.works
            if fact.key not in self.placed
        ]

    @property
    def often_left(self) -> list[forms.BoundField]:
        """The properties that several provisions go by, not asked for by an answer."""
        facts = [f for f in self.form.library.often if f.key not in self.placed]
        return [field for fact in facts for field in self.form.fields_for(fact)]

    @cached_property
    def left_out(self) -> list[list[forms.BoundField]]:
        """The rows of the first form that take what an answer above hangs on."""
        rows = [row for _, _, rows in self.form.grouped for row in rows]
        return [row for row in rows if self._first & {field.name for field in row}]

    @property
    def carried(self) -> list[tuple[str, str]]:
        """What was entered and stands in no field of the answer."""
        shown = self._shown | {field.name for row in self.left_out for field in row}
        return [(n, said) for n, said in self.form.sent_again() if n not in shown]

    @property
    def others_left(self) -> list[forms.BoundField]:
        """What was told beyond that and does not stand beside an answer."""
        facts = [fact for fact in self.form.others if fact.key not in self.placed]
        fields = [self.form.fields_for(fact) for fact in facts]
        return [one for some in fields if any(map(_is_filled, some)) for one in some]


def _shown(
    found: Found,
    fields: tuple[forms.BoundField, ...] = (),
    lacking: tuple[Lacking, ...] = (),
) -> Shown:
    line, word = found.line, found.line.state
    when, also = "", ""
    if word in WORDS:
        stands = line.provision.kind == line.provision.Kind.PROHIBITION
        when, also = point_words(line.due, word, stands=stands)
    if word == UNDETERMINED and line.outcome == APPLIES:
        word = APPLIES
    return Shown(
        found=found,
        word=word,
        when=when,
        also=also,
        hangs_on=tuple(dict.fromkeys(map(plain_words, found.missing))),
        fields=fields,
        lacking=lacking,
    )


def plain_words(missing: Missing) -> str:
    """Return a missing fact as it is spoken of; what was done is named once."""
    asked = missing.words.removeprefix(_QUESTION)
    if asked != missing.words:
        return f"the answer to “{asked}”"
    if not missing.wanted:
        return missing.words
    fact = missing.wanted[0].fact
    if fact.kind is Kind.WORK and missing.words.startswith("whether "):
        return f"whether and when {fact.name} was done"
    if fact.of is Of.NUMBER and not missing.words.startswith("part number"):
        return f"which {fact.role} is fitted"
    return missing.words


def _first_to_ask(missing: Missing, among: Sequence[Missing]) -> tuple[Wanted, ...]:
    """Return what is asked for a time; hours long ago only once a record is not enough."""
    works = any(_is_of(Kind.WORK, one.wanted) for one in among)
    if works and _is_of(Kind.HOURS_ON, missing.wanted):
        return ()
    return missing.wanted


def _is_of(kind: Kind, wanted: Sequence[Wanted]) -> bool:
    facts: list[Fact] = [one.fact for one in wanted]
    return any(fact.kind is kind for fact in facts)


def _once(lacking: Iterable[Lacking]) -> tuple[Lacking, ...]:
    return tuple({one.words: one for one in lacking}.values())


def _is_filled(field: forms.BoundField) -> bool:
    return bool(field.data)
