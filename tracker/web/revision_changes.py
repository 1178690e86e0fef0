"""What a draft changes against the revision that holds, provision by provision."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from notices.library import current_revision, paired
from notices.models import Provision, Revision, RuleVersion
from notices.rules.applicability.wording import condition_sentence
from notices.rules.conditions import parse_condition
from tracker.compliance.rule_words import RuleWords, words_of
from tracker.compliance.rules import rules_of
from tracker.figures import wording
from tracker.web.forms.rules import rule_text

_OF_RULE: Final = {
    "condition": "Only where",
    "action": "Compliance time",
    "interval": "Interval",
    "fluids": "Oils",
}
"""What each column of a rule is called, in the order in which they are told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """One thing that is said otherwise. Empty where one of the two says nothing."""

    label: str
    before: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangedProvision:
    """A provision beside the one it comes from. `word`: what became of it.

    `order`: in the draft; of one that is taken out, in the revision that holds.
    """

    word: str
    order: int
    title: str
    changed: tuple[Changed, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionChanges:
    """`engines`: what it changes of whom it is about, None for nothing."""

    current: Revision
    engines: Changed | None
    provisions: tuple[ChangedProvision, ...]

    @property
    def is_empty(self) -> bool:
        taken_over = all(one.word == TAKEN_OVER for one in self.provisions)
        return self.engines is None and taken_over


TAKEN_OVER: Final = "taken over unchanged"
CHANGED: Final = "changed"
ADDED: Final = "added"
TAKEN_OUT: Final = "taken out"


def changes_of(draft: Revision, on: date) -> RevisionChanges | None:
    """Return what a draft changes; None where no revision holds on the day."""
    current = current_revision(draft.publication, on)
    if current is None:
        return None
    before, after = ([r.version for r in rules_of(one)] for one in (current, draft))
    engines = _engines(before, after)
    return RevisionChanges(
        current=current,
        engines=None if engines is None or engines.before == engines.after else engines,
        provisions=tuple(_provisions(before, after, each=engines is None)),
    )


def _engines(
    before: Sequence[RuleVersion], after: Sequence[RuleVersion]
) -> Changed | None:
    """Return whom the two are about; None where that differs within one of them."""
    both = [{_sentence(one.applicability) for one in own} for own in (before, after)]
    if any(len(own) > 1 for own in both):
        return None
    old, new = (next(iter(own), "") for own in both)
    return Changed(label="Which engines", before=old, after=new)


def _sentence(raw: Any) -> str:
    return condition_sentence(parse_condition(raw)) if raw else ""


def _provisions(
    before: Sequence[RuleVersion], after: Sequence[RuleVersion], *, each: bool
) -> Iterator[ChangedProvision]:
    """`each`: whom it is about is told provision by provision."""
    for old, new in paired(before, after):
        held = new or old
        assert held is not None, "one of the two is there"
        changed: tuple[Changed, ...] = ()
        if old is not None and new is not None:
            changed = tuple(_differences(old, new, each=each))
            word = CHANGED if changed else TAKEN_OVER
        else:
            word = ADDED if old is None else TAKEN_OUT
        yield ChangedProvision(
            word=word,
            order=held.provision.order,
            title=held.provision.title,
            changed=changed,
        )


def _differences(
    old: RuleVersion, new: RuleVersion, *, each: bool
) -> Iterator[Changed]:
    both = zip(_of_provision(old.provision), _of_provision(new.provision), strict=True)
    for (label, before), (_, after) in both:
        if before != after:
            yield Changed(label=label, before=before, after=after)
    words = words_of(old), words_of(new)
    if each and words[0].applicability != words[1].applicability:
        yield Changed(
            label="Which engines",
            before=words[0].applicability,
            after=words[1].applicability,
        )
    for name, label in _OF_RULE.items():
        raw = getattr(old, name), getattr(new, name)
        if raw[0] != raw[1]:
            before, after = (_words(one, name) for one in words)
            if before == after:
                # Such as the short name of an interval, which no sentence tells.
                before, after = map(rule_text, raw)
            yield Changed(label=label, before=before, after=after)


def _words(words: RuleWords, name: str) -> str:
    said: str | tuple[str, ...] = getattr(words, name)
    return said if isinstance(said, str) else " ".join(said)


def _of_provision(provision: Provision) -> list[tuple[str, str]]:
    hours, day = provision.man_hours, provision.effective_on
    return [
        ("Kind", provision.get_kind_display()),
        ("In a few words", provision.title),
        ("What it says", provision.description),
        ("Category", provision.get_category_display()),
        ("For each fitted", provision.role),
        ("Own effective date", "" if day is None else wording.day(day)),
        ("Doing it embodies", ", ".join(provision.embodies)),
        ("Hours of work", "" if hours is None else wording.hours(hours)),
        ("Parts needed", provision.parts_needed),
        ("Ferry flight", provision.get_ferry_display()),
        ("Report to", provision.report_to),
    ]
