"""The smallest sets of things to do that make conditions hold.

The conditions are taken apart test by test: what is met asks for nothing, what can be
made so asks for one of its acts, what is not known is left open, what nobody can change
ends the way. What that leads to is only a candidate: each is tried on the facts as they
would be, and stands if the conditions then hold for certain. Sets that leave them open,
each for itself, are tried together, too: two of them may hold whatever the fact is.

The work is bounded. At most 256 candidates are kept at any place of a condition, 256 are
tried, and 6 open ones are tried together; with at most 64 ways of fitting out a role
(`acts.py`). All extensions of one engine share one amount of work in equal parts, so that
their order decides nothing. Beyond that `cut` says that sets may be left out; those
found still hold.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations, islice
from typing import Final

from notices.rules.applicability.leaf_tests import NO, OPEN
from notices.rules.applicability.nodes import (
    AllOf,
    Always,
    AnyOf,
    Complied,
    Condition,
    Embodied,
    Not,
    PartWhere,
    leaves_of,
)
from notices.rules.applicability.subjects import EngineSubject, prepare
from notices.rules.applicability.trees import joined
from notices.rules.designations import Designation, designation
from notices.rules.evaluate import Outcome
from notices.rules.facts import Asked, EngineFacts
from notices.rules.intervals.acts import (
    DOABLE,
    Act,
    Acts,
    Choice,
    Fit,
    Fitment,
    acts_in,
    changed,
    wanted_of,
)
from notices.rules.intervals.judging import Chain, Inquiry, compiled, once
from notices.rules.intervals.provisions import Interval

MOST_CANDIDATES: Final = 256
MOST_JOINED: Final = 4096
MOST_TRIED: Final = 256
MOST_OPEN: Final = 6
MOST_WORK: Final = 300_000
"""Comparisons of two candidates, for all extensions; what else is done is reckoned in it."""
_WORK_OF_TRYING: Final = 150
_WORK_OF_A_TEST: Final = 5
_TESTS_OF_A_PART: Final = 3


@dataclass(frozen=True, slots=True)
class Candidate:
    """Choices that may do. `is_open`: something not known may still be against it.

    `without`: what must not be done beside them, for it would undo what is met now.
    """

    choices: frozenset[Choice]
    without: frozenset[Choice] = frozenset()
    is_open: bool = False

    def makes_needless(self, other: Candidate) -> bool:
        """Return whether the other asks for the same and more.

        One that is left open makes none needless: only together they may do.
        """
        return (
            not self.is_open
            and self.choices <= other.choices
            and self.without <= other.without
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """What makes a chain of conditions hold.

    `sure`: the smallest sets that do, whatever is not known. `open`: the facts on which
    it hangs whether a set does that may; None where there is no such set.
    """

    sure: tuple[tuple[Act, ...], ...]
    open: tuple[str, ...] | None = None
    cut: bool = False


_NOTHING_TO_DO: Final = (Candidate(frozenset()),)


def reach_of(chain: Chain, inquiry: Inquiry) -> Found:
    """Return the smallest sets of things to do that make a chain hold."""
    if not all(_may_be_made(one, inquiry) for one in chain.members):
        return Found(sure=())
    search = _Search(chain, inquiry)
    return search.found()


def _may_be_made(one: Interval, inquiry: Inquiry) -> bool:
    """Return whether a provision could hold if everything to be done were as wished."""
    if one.compiled_when is None:
        return True
    tree = one.compiled_when.tree
    values = tree.values(inquiry.subject_for(one))
    for place, leaf in enumerate(tree.leaves):
        if isinstance(leaf, DOABLE):
            values[place] = OPEN
    return joined(tree.shape, values) != NO


class _Search:
    def __init__(self, chain: Chain, inquiry: Inquiry) -> None:
        self._chain = chain
        self._inquiry = inquiry
        self._asked = [
            (one.when, inquiry.asked_for(one))
            for one in chain.members
            if one.when is not None
        ]
        wanted = [w for when, asked in self._asked for w in wanted_of(when, asked)]
        self._acts = Acts(wanted, inquiry.facts)
        self._unwanted = {_fact_of(one.leaf) for one in wanted if not one.met}
        self._subjects: dict[tuple[int, int], EngineSubject] = {}
        self._sure: dict[frozenset[Act], Candidate] = {}
        self._open: dict[frozenset[Act], Candidate] = {}
        self._left = MOST_WORK // max(1, len(inquiry.of_kind("extension")))
        tests = sum(_tests_of(one.leaf, inquiry.facts) for one in wanted)
        self._trying = _WORK_OF_TRYING + _WORK_OF_A_TEST * tests
        self.cut = self._acts.cut

    def found(self) -> Found:
        several = [self._candidates(when, asked, True) for when, asked in self._asked]
        candidates = sorted(self._together(several), key=_size)
        self.cut = self.cut or len(candidates) > MOST_TRIED
        self._try(candidates[:MOST_TRIED])
        self._try(self._unions())
        sure = tuple(acts_in(one.choices) for one in self._sure.values())
        if sure or not self._open:
            return Found(sure=sure, open=() if self._open else None, cut=self.cut)
        return Found(sure=(), open=self._missing(), cut=self.cut)

    def _can_spend(self, work: int) -> bool:
        """Return whether so much work may still be done, and reckon it."""
        self._left -= work
        self.cut = self.cut or self._left < 0
        return self._left >= 0

    def _missing(self) -> tuple[str, ...]:
        """Return on what the sets left open hang.

        What hangs on more facts than a set that does the same and more decides nothing.
        """
        several = [
            (acts_in(one.choices), self._missing_with(one))
            for one in self._open.values()
            if self._can_spend(2 * self._trying)
        ]
        return once(
            fact
            for acts, missing in several
            if not any(
                set(fewer) < set(missing) and _does_all_of(more, acts)
                for more, fewer in several
            )
            for fact in missing
        )

    def _try(self, candidates: Iterable[Candidate]) -> None:
        """Sort candidates, the smallest first, into those that do and those left open."""
        for candidate in candidates:
            acts = frozenset(acts_in(candidate.choices))
            if acts in self._open or any(sure <= acts for sure in self._sure):
                continue
            if not self._can_spend(self._trying):
                return
            outcome = self._inquiry.outcome_with(self._chain, self._facts(candidate))
            if outcome is Outcome.APPLIES:
                self._sure[acts] = candidate
            elif outcome is Outcome.UNDETERMINED:
                self._open[acts] = candidate

    def _facts(self, candidate: Candidate) -> EngineFacts:
        facts = self._inquiry.facts
        return changed(facts, candidate.choices) if candidate.choices else facts

    def _missing_with(self, candidate: Candidate) -> tuple[str, ...]:
        return self._inquiry.missing_with(self._chain, self._facts(candidate))

    def _unions(self) -> list[Candidate]:
        """Return the sets left open, two and more at a time."""
        several = [Candidate(one.choices, is_open=True) for one in self._open.values()]
        self.cut = self.cut or len(several) > MOST_OPEN
        unions = [
            joint
            for size in range(2, MOST_OPEN + 1)
            for chosen in combinations(several[:MOST_OPEN], size)
            if (joint := _union(chosen)) is not None
        ]
        return sorted(dict.fromkeys(unions), key=_size)

    def _candidates(
        self, condition: Condition, asked: Asked, met: bool
    ) -> tuple[Candidate, ...]:
        """Return what may be done so that the condition is met, or is not met."""
        match condition:
            case Not():
                return self._candidates(condition.member, asked, not met)
            case AllOf() | AnyOf():
                several = [
                    self._candidates(one, asked, met) for one in condition.members
                ]
                if isinstance(condition, AllOf) is met:
                    return self._together(several)
                return self._kept(one for options in several for one in options)
            case Always():
                return _NOTHING_TO_DO if met else ()
            case PartWhere():
                return self._of_role(condition, asked, met)
        return self._of_fact(condition, asked, met)

    def _of_fact(
        self, leaf: Condition, asked: Asked, met: bool
    ) -> tuple[Candidate, ...]:
        """Return what may be done about a test of the engine itself."""
        doable: Sequence[Choice] = ()
        if isinstance(leaf, Embodied):
            doable = (self._acts.for_embodied(leaf),)
        elif isinstance(leaf, Complied):
            doable = self._acts.for_complied(leaf)
        outcome = compiled(leaf).outcome_of(self._inquiry.subject(asked))
        is_open = outcome is Outcome.UNDETERMINED
        if met and doable and not _is(outcome, met):
            made = tuple(Candidate(frozenset({choice})) for choice in doable)
            if is_open and _fact_of(leaf) in self._unwanted:
                # Elsewhere it serves not to be so: neither may be needed.
                return (*made, Candidate(frozenset(), is_open=True))
            return made
        if _is(outcome, met) or is_open:
            without = frozenset(() if met else doable)
            return (Candidate(frozenset(), without, is_open),)
        return ()

    def _of_role(
        self, leaf: PartWhere, asked: Asked, met: bool
    ) -> tuple[Candidate, ...]:
        """Return the ways of fitting out the role that meet the test or leave it open."""
        found = []
        for made, fitment in enumerate(self._acts.for_role(leaf)):
            if made and not self._can_spend(self._trying):
                break
            outcome = compiled(leaf).outcome_of(self._subject(fitment, asked))
            if _is(outcome, met) or outcome is Outcome.UNDETERMINED:
                is_open = outcome is Outcome.UNDETERMINED
                found.append(Candidate(frozenset({fitment}), is_open=is_open))
        return tuple(found)

    def _subject(self, fitment: Fitment, asked: Asked) -> EngineSubject:
        """Return the engine with a role fitted out so."""
        if not fitment.acts:
            return self._inquiry.subject(asked)
        key = (id(fitment), id(asked))
        if key not in self._subjects:
            facts = fitment.done(self._inquiry.facts)
            self._subjects[key] = prepare(facts, asked)
        return self._subjects[key]

    def _together(
        self, several: Sequence[Sequence[Candidate]]
    ) -> tuple[Candidate, ...]:
        """Return what meets several at once."""
        found: tuple[Candidate, ...] = _NOTHING_TO_DO
        for options in several:
            size = min(len(found) * len(options), MOST_JOINED)
            self.cut = self.cut or len(found) * len(options) > MOST_JOINED
            pairs = ((one, other) for one in found for other in options)
            most = size if self._can_spend(size) else 1
            joint = (_union(pair) for pair in islice(pairs, most))
            found = self._kept(one for one in joint if one is not None)
        return found

    def _kept(self, candidates: Iterable[Candidate]) -> tuple[Candidate, ...]:
        """Return the candidates, smallest first, without those that ask for more."""
        kept: list[Candidate] = []
        for one in sorted(dict.fromkeys(candidates), key=_size):
            if not self._can_spend(len(kept)):
                break
            if any(earlier.makes_needless(one) for earlier in kept):
                continue
            if len(kept) == MOST_CANDIDATES:
                self.cut = True
                break
            kept.append(one)
        return tuple(kept)


def _tests_of(leaf: Condition, facts: EngineFacts) -> int:
    """Return about how many single tests one test of an engine is."""
    if not isinstance(leaf, PartWhere):
        return 1
    inner = 1 if leaf.where is None else sum(1 for _ in leaves_of(leaf.where))
    return _TESTS_OF_A_PART * inner * (1 + len(facts.parts))


def _fact_of(leaf: Condition) -> tuple[type[Condition], Designation] | None:
    """Return what a test of a modification or a record asks for, None for another."""
    match leaf:
        case Embodied(number=number) | Complied(number=number):
            return type(leaf), designation(number)
    return None


def _is(outcome: Outcome, met: bool) -> bool:
    return outcome is (Outcome.APPLIES if met else Outcome.DOES_NOT_APPLY)


def _size(candidate: Candidate) -> int:
    return sum(
        len(choice.acts) if isinstance(choice, Fitment) else 1
        for choice in candidate.choices
    )


def _does_all_of(more: Sequence[Act], acts: Sequence[Act]) -> bool:
    """Return whether whoever does more has done all of these acts, too."""
    return all(any(_does(one, act) for one in more) for act in acts)


def _does(one: Act, other: Act) -> bool:
    if not (isinstance(one, Fit) and isinstance(other, Fit)):
        return one is other
    in_one_place = one.instead is other.instead and one.part.role == other.part.role
    return in_one_place and set(other.way) <= set(one.way)


def _union(several: Sequence[Candidate]) -> Candidate | None:
    """Return all choices together, None where they do not go together."""
    choices = frozenset(choice for one in several for choice in one.choices)
    without = frozenset(choice for one in several for choice in one.without)
    roles = [choice.role for choice in choices if isinstance(choice, Fitment)]
    if len(set(roles)) < len(roles) or choices & without:
        return None
    return Candidate(choices, without, any(one.is_open for one in several))
