"""Whether provisions hold for one engine, each asked in its own circumstances."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from notices.rules.applicability.subjects import EngineSubject, prepare
from notices.rules.conditions import AllOf, AnyOf, Condition
from notices.rules.evaluate import Answer, CompiledCondition, Outcome, compile_condition
from notices.rules.facts import Asked, EngineFacts
from notices.rules.intervals.provisions import MOST_IN_A_ROW, Interval
from notices.rules.times.history import History
from notices.rules.times.situations import Situation

KEPT = 10_000
_ALWAYS = Answer(outcome=Outcome.APPLIES, reasons=(), missing=(), sharp=True)


@lru_cache(maxsize=KEPT)
def compiled(condition: Condition) -> CompiledCondition:
    """Return a condition ready to be asked: many engines have the same."""
    return compile_condition(condition)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """Whether a provision holds, with all that it builds on."""

    outcome: Outcome
    reasons: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """A provision and all that it builds on, nearest first.

    `lacking`: why its end is not known, where it names what is not there.
    """

    members: tuple[Interval, ...]
    lacking: tuple[str, ...] = ()


class Inquiry:
    """One engine and the provisions that are asked about it.

    `asked_of`: the circumstances of a provision, by id, where they differ from `asked`.
    """

    def __init__(
        self,
        intervals: Sequence[Interval],
        facts: EngineFacts,
        asked: Asked,
        history: History,
        asked_of: Mapping[str, Asked],
    ) -> None:
        self.intervals = tuple(intervals)
        self.facts = facts
        self.asked = asked
        self.asked_of = asked_of
        self.situation = Situation(
            facts=facts, asked=asked, history=history.up_to(asked.on)
        )
        self._by_id = {one.id: one for one in reversed(self.intervals)}
        self._answers: dict[int, Answer] = {}
        self._subjects: dict[int, EngineSubject] = {}

    def of_kind(self, kind: str) -> tuple[Interval, ...]:
        """Return the provisions of one kind, in order."""
        return tuple(one for one in self.intervals if one.kind == kind)

    def asked_for(self, one: Interval) -> Asked:
        """Return the circumstances under which a provision is asked."""
        return self.asked_of.get(one.id, self.asked)

    def subject_for(self, one: Interval) -> EngineSubject:
        """Return the engine as a provision sees it."""
        return self.subject(self.asked_for(one))

    def subject(self, asked: Asked) -> EngineSubject:
        """Return the engine under these circumstances, prepared once."""
        if id(asked) not in self._subjects:
            self._subjects[id(asked)] = prepare(self.facts, asked)
        return self._subjects[id(asked)]

    def chain(self, one: Interval) -> Chain:
        """Return what must hold for the provision to hold."""
        members = [one]
        while (below := members[-1].builds_on) is not None:
            following = self._by_id.get(below)
            if following is None:
                lacking = f"the provision {below}, on which {members[-1].id} builds"
                return Chain(members=tuple(members), lacking=(lacking,))
            if following in members:
                lacking = f"what {one.id} builds on: it leads back to {below}"
                return Chain(members=tuple(members), lacking=(lacking,))
            if len(members) == MOST_IN_A_ROW:
                lacking = f"what {one.id} builds on: more in a row than are looked at"
                return Chain(members=tuple(members), lacking=(lacking,))
            members.append(following)
        return Chain(members=tuple(members))

    def verdict(self, one: Interval) -> Verdict:
        """Return whether the provision holds, with the reasons that decide it."""
        chain = self.chain(one)
        answers = [(member, self._answer(member)) for member in chain.members]
        outcome = all_of([answer.outcome for _, answer in answers], chain.lacking)
        telling = [
            (member, answer)
            for member, answer in answers
            if outcome is Outcome.APPLIES or answer.outcome is outcome
        ]
        reasons = once(
            reason if member is one else f"{member.id}, on which it builds: {reason}"
            for member, answer in telling
            for reason in answer.reasons
        )
        if outcome is not Outcome.UNDETERMINED:
            return Verdict(outcome=outcome, reasons=reasons)
        joint = [
            asked.answer_of(subject)
            for asked, subject in self._together([member for member, _ in telling])
        ]
        for answer in joint:
            if answer.outcome is Outcome.DOES_NOT_APPLY:
                return Verdict(outcome=answer.outcome, reasons=answer.reasons)
        missing = [fact for answer in joint for fact in answer.missing]
        return Verdict(
            outcome=outcome, reasons=reasons, missing=once([*missing, *chain.lacking])
        )

    def _answer(self, one: Interval) -> Answer:
        if one.compiled_when is None:
            return _ALWAYS
        if id(one) not in self._answers:
            subject = self.subject_for(one)
            self._answers[id(one)] = one.compiled_when.answer_of(subject)
        return self._answers[id(one)]

    def outcome_with(self, chain: Chain, facts: EngineFacts) -> Outcome:
        """Return whether a chain would hold for changed facts."""
        changed = self if facts is self.facts else self._with(facts)
        open_ones = changed._left_open(chain)
        if open_ones is None or changed._exclude_each_other(open_ones):
            return Outcome.DOES_NOT_APPLY
        is_open = bool(open_ones or chain.lacking)
        return Outcome.UNDETERMINED if is_open else Outcome.APPLIES

    def missing_with(self, chain: Chain, facts: EngineFacts) -> tuple[str, ...]:
        """Return on which facts it hangs whether a chain would hold for changed facts."""
        changed = self if facts is self.facts else self._with(facts)
        missing = [
            fact
            for asked, subject in changed._together(changed._left_open(chain) or ())
            for fact in asked.missing_of(subject)
        ]
        return once([*missing, *chain.lacking])

    def _left_open(self, chain: Chain) -> list[Interval] | None:
        """Return the members of a chain that are undetermined; None if one is false."""
        open_ones = []
        for member in chain.members:
            if member.compiled_when is None:
                continue
            outcome = member.compiled_when.outcome_of(self.subject_for(member))
            if outcome is Outcome.DOES_NOT_APPLY:
                return None
            if outcome is Outcome.UNDETERMINED:
                open_ones.append(member)
        return open_ones

    def _exclude_each_other(self, several: Sequence[Interval]) -> bool:
        """Return whether provisions that are open alone cannot hold together."""
        return len(several) > 1 and any(
            asked.outcome_of(subject) is Outcome.DOES_NOT_APPLY
            for asked, subject in self._together(several)
        )

    def _together(
        self, several: Iterable[Interval]
    ) -> Iterator[tuple[CompiledCondition, EngineSubject]]:
        """Yield what provisions ask together, once for each circumstances.

        What each leaves open alone may be settled for all: they may exclude each other.
        """
        alike: dict[int, list[Interval]] = {}
        for one in several:
            alike.setdefault(id(self.asked_for(one)), []).append(one)
        for members in alike.values():
            conditions = tuple(one.when for one in members if one.when is not None)
            if conditions:
                yield _all_of(conditions), self.subject_for(members[0])

    def _with(self, facts: EngineFacts) -> Inquiry:
        """Return the same questions about changed facts."""
        past = self.situation.history
        return Inquiry(self.intervals, facts, self.asked, past, self.asked_of)

    def at_least_one(self, several: Sequence[Interval]) -> bool:
        """Return whether one of several provisions certainly holds, whichever it is."""
        conditions = [one.when for one in several if one.when is not None]
        if len(conditions) < len(several):
            return True
        if not conditions or len({id(self.asked_for(one)) for one in several}) > 1:
            return False
        subject = self.subject_for(several[0])
        outcome = _any_of(tuple(conditions)).outcome_of(subject)
        return outcome is Outcome.APPLIES


def once(texts: Iterable[str]) -> tuple[str, ...]:
    """Return the texts in order, each once."""
    return tuple(dict.fromkeys(texts))


def all_of(outcomes: Sequence[Outcome], lacking: Sequence[str] = ()) -> Outcome:
    """Return the outcome of several together; what is lacking leaves it open."""
    if Outcome.DOES_NOT_APPLY in outcomes:
        return Outcome.DOES_NOT_APPLY
    if lacking or Outcome.UNDETERMINED in outcomes:
        return Outcome.UNDETERMINED
    return Outcome.APPLIES


@lru_cache(maxsize=KEPT)
def _all_of(conditions: tuple[Condition, ...]) -> CompiledCondition:
    return compile_condition(AllOf(members=conditions))


@lru_cache(maxsize=KEPT)
def _any_of(conditions: tuple[Condition, ...]) -> CompiledCondition:
    return compile_condition(AnyOf(members=conditions))
