"""Questions that only a person can answer, and what each answer would decide."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final

from notices.models import Revision
from notices.rules.facts import EngineFacts
from tracker.compliance.alternatives import approved_for
from tracker.compliance.facts import EngineFile, PartFile, engine_files
from tracker.compliance.findings import assess
from tracker.compliance.findings.standings import rate_of
from tracker.compliance.models import Answer
from tracker.compliance.models.findings import Closed
from tracker.compliance.rules import CompiledRule, rules_in_force
from tracker.compliance.states import word_of
from tracker.compliance.summary.lines import state_of
from tracker.fleet.models import Engine, Part

TRUTHS: Final = (True, False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Decides:
    """What one provision comes to under each answer: a word of a state, a sentence."""

    title: str
    now: str
    if_yes: str
    yes_sentence: str
    if_no: str
    no_sentence: str

    @property
    def matters(self) -> bool:
        return (self.if_yes, self.yes_sentence) != (self.if_no, self.no_sentence)


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """A question of a revision about the engine, or about one fitted part of it."""

    revision: Revision
    text: str
    part: PartFile | None
    given: Answer | None
    decides: tuple[Decides, ...]

    @property
    def about(self) -> Part | None:
        return self.part.fitted.part if self.part else None

    @property
    def part_id(self) -> str:
        return str(self.part.fitted.part.public_id) if self.part else ""

    @property
    def is_open(self) -> bool:
        """Nobody has answered yes or no, and one of them would change something."""
        settled = self.given is not None and self.given.yes is not None
        return not settled and any(one.matters for one in self.decides)


def questions_of(
    engine: Engine, on: date, *, revision: Revision | None = None
) -> list[Question]:
    """Return what current revisions ask about an engine, open questions first.

    `revision`: only what this one asks. `engine`: with its type and station.
    """
    rules = rules_in_force(engine.station, on)
    if revision is not None:
        rules = tuple(rule for rule in rules if rule.revision.pk == revision.pk)
    [file] = engine_files([engine], on=on).values()
    asking: dict[tuple[int, str, str], list[CompiledRule]] = defaultdict(list)
    for rule in rules:
        holding = approved_for(rule, file, on=on).holding
        times = None if holding is None else holding.times
        for text, role in dict.fromkeys(_asked_by(rule, times)):
            asking[rule.revision.pk, text, role.casefold()].append(rule)
    given = _answers(engine)
    found = [
        _question(text, part, some, file, given, on)
        for (_, text, role), some in asking.items()
        for part in (file.parts_of(role) if role else [None])
    ]
    return sorted(found, key=lambda one: not one.is_open)


def _asked_by(rule: CompiledRule, times: Any) -> Iterator[tuple[str, str]]:
    """Yield each question with the role of the part it is about, "" for the engine.

    `times`: approved in place of those of its action, None where there are none.
    """
    version = rule.version
    for raw in (version.applicability, version.condition, version.action, times):
        yield from _asked_in(raw, "", rule.provision.role)


def _asked_in(raw: Any, role: str, this: str) -> Iterator[tuple[str, str]]:
    if isinstance(raw, list):
        for member in raw:
            yield from _asked_in(member, role, this)
    elif isinstance(raw, Mapping):
        if isinstance(raw.get("ask"), str):
            yield raw["ask"], role
        for key, value in raw.items():
            about = role
            if key == "part" and isinstance(value, Mapping):
                about = value["role"]
            elif key == "this":
                about = this
            yield from _asked_in(value, about, this)


def _answers(engine: Engine) -> dict[tuple[int, str, int | None], Answer]:
    rows = Answer.objects.filter(engine=engine, current=True)
    return {
        (row.revision_id, row.question, row.part_id): row
        for row in rows.select_related("recorded_by")
    }


def _question(
    text: str,
    part: PartFile | None,
    rules: Sequence[CompiledRule],
    file: EngineFile,
    given: Mapping[tuple[int, str, int | None], Answer],
    on: date,
) -> Question:
    revision = rules[0].revision
    return Question(
        revision=revision,
        text=text,
        part=part,
        given=given.get((revision.pk, text, part.key if part else None)),
        decides=tuple(
            decided
            for rule in rules
            for decided in _decided(rule, text, part, file, on)
        ),
    )


def _decided(
    rule: CompiledRule, text: str, part: PartFile | None, file: EngineFile, on: date
) -> Iterator[Decides]:
    """Yield what a rule comes to now, if yes and if no; for each part it is about."""
    key = (rule.scope, text)
    yes, no = (_outcomes(rule, _with(file, part, key, t), on) for t in TRUTHS)
    for about, (now, _) in _outcomes(rule, file, on).items():
        if_yes, if_no = yes.get(about, ("", "")), no.get(about, ("", ""))
        yield Decides(
            title=f"{rule.provision.title}{f', {about}' if about else ''}",
            now=now,
            if_yes=if_yes[0],
            yes_sentence=if_yes[1],
            if_no=if_no[0],
            no_sentence=if_no[1],
        )


def _outcomes(
    rule: CompiledRule, file: EngineFile, on: date
) -> dict[str, tuple[str, str]]:
    """Return word and sentence by the part that it is about, "" for the engine."""
    found = {}
    for assessed in assess(rule, file, on=on):
        due = state_of(assessed, file, on=on, rate=rate_of(file, on=on))
        word = word_of(due)
        if assessed.closed == Closed.NOT_ADOPTED:
            word = Closed.NOT_ADOPTED.value
        found[str(assessed.part or "")] = (word, due.sentence)
    return found


def _with(
    file: EngineFile, part: PartFile | None, key: tuple[str, str], truth: bool
) -> EngineFile:
    """Return the file as if the question had been answered so."""
    if part is None:
        facts = _answered(file.facts, key, truth)
        return replace(file, facts=facts)
    part_facts = replace(part.facts, answers={**part.facts.answers, key: truth})
    parts = tuple(
        replace(one, facts=part_facts) if one.key == part.key else one
        for one in file.parts
    )
    facts = replace(file.facts, parts=tuple(one.facts for one in parts))
    return replace(file, parts=parts, facts=facts)


def _answered(facts: EngineFacts, key: tuple[str, str], truth: bool) -> EngineFacts:
    return replace(facts, answers={**facts.answers, key: truth})
