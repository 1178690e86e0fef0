"""An answer of the open check as its page shows it: words, and fields for what is open.

Each fact has its fields once on the page: beside the first answer that they would settle,
or, where they only say when something is due, in one list below.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A fact with its fields, and the numbers of the documents that it would settle."""

    fields: tuple[forms.BoundField, ...]
    settles: tuple[str, ...]


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

    def undetermined(self, found: Iterable[Found]) -> tuple[Shown, ...]:
        """What may apply, with the fields of the facts that it hangs on."""
        return tuple(_shown(one, *self.beside(one.missing)) for one in found)

    def beside(
        self, missing: Iterable[Missing]
    ) -> tuple[tuple[forms.BoundField, ...], tuple[Lacking, ...]]:
        """Return the fields of the facts that are asked for here, and the other facts."""
        fields: list[forms.BoundField] = []
        lacking: list[Lacking] = []
        for one in missing:
            new = [w for w in one.wanted if w.fact.key not in self.placed]
            if new and self._is_full:
                lacking.append(Lacking(words=one.words, field="", later=True))
                continue
            fields += [field for w in new for field in self._place(w, [one.words])]
            if not new and not self._stands_beside(one, fields):
                lacking.append(self._elsewhere(one))
        return tuple(fields), _once(lacking)

    @property
    def _is_full(self) -> bool:
        return len(self.placed) >= MOST_ASKED

    def _stands_beside(
        self, missing: Missing, fields: Sequence[forms.BoundField]
    ) -> bool:
        ids = {field.id_for_label for field in fields}
        return any(self.placed.get(w.fact.key) in ids for w in missing.wanted)

    def _place(self, wanted: Wanted, words: Sequence[str]) -> list[forms.BoundField]:
        """Offer the fields of a fact, those that the missing words do not need left out."""
        self.form.offer(wanted)
        fields = self.form.fields_for(wanted.fact)
        self.placed[wanted.fact.key] = fields[0].id_for_label
        needed = {end for said in words for end in told_facts.suffixes_for(said)}
        key = wanted.fact.key
        return [
            field
            for field in fields
            if field.name.removeprefix(key) in needed or _is_filled(field)
        ]

    def _elsewhere(self, missing: Missing) -> Lacking:
        ids = [self.placed[one.fact.key] for one in missing.wanted]
        if missing.first:
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
    def works_left(self) -> list[tuple[str, list[forms.BoundField]]]:
        """What may have been done and is not asked for beside an answer, by number.

        Each with the field that says whether, and those further ones that were filled.
        """
        left = []
        for fact in self.form.library.works:
            if fact.key not in self.placed:
                whether, *details = self.form.fields_for(fact)
                left.append((fact.name, [whether, *filter(_is_filled, details)]))
        return left

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
