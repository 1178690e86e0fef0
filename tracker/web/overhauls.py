"""The overhaul interval of an engine as its pages show it: rows of provisions, figures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Final

from django.urls import reverse

from notices.rules.applicability.wording import percent_words
from notices.rules.overhaul import Holding, Judged, Offer, Step
from notices.rules.phrases import NO_BREAK, listed
from tracker.compliance.intervals import provision_words
from tracker.compliance.longer_words import (
    entry_words,
    length_of,
    lifted_words,
    man_hours_words,
    step_words,
    vain_words,
    verdict_of,
    work_of,
)
from tracker.compliance.overhaul_words import (
    answer_sentences,
    earlier_words,
    length_words,
)
from tracker.compliance.overhauls import Overhaul, Provided, Work
from tracker.compliance.overview import Gap
from tracker.figures.states import BY_URGENCY, OUTCOMES
from tracker.fleet.models import Engine
from tracker.web.remedies import FLEET, WORK, Remedy

WORDS: Final[Mapping[Holding, str]] = {
    Holding.HOLDS: "holds",
    Holding.WITHIN_REACH: "within reach",
    Holding.UNDETERMINED: "undetermined",
    Holding.DOES_NOT_HOLD: "does not hold",
}
APPLIES: Final = "applies"
UNDETERMINED: Final = "undetermined"
_ENTERED: Final = {
    "embody": ("engine-modification-add", "Say that it is embodied", FLEET),
    "comply": ("engine-record-past", "Transcribe the work", WORK),
}
_CHANGED_PART: Final = ("engine-history", "Change the part", FLEET)


@dataclass(frozen=True, slots=True)
class StepShown:
    """One thing to do, and where it is entered once it is done."""

    words: str
    remedy: Remedy


@dataclass(frozen=True, slots=True)
class Way:
    """One smallest set of things to do that makes an extension hold."""

    steps: tuple[StepShown, ...]
    man_hours: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProvisionShown:
    """One provision as a row. `length`: as published. `at_hours`: TSN.

    `against`: what nobody can change; `reasons`: the other sentences. `entry`: by when
    an extension must be entered. `is_law`: in this operation, None where not known.
    `decides`: what of the interval now comes from it, empty for nothing. `earlier`: by
    what it may end earlier than is told. `lifted`: what would end a restriction.
    """

    provided: Provided
    kind: str
    word: str
    length: str
    at_hours: int | None
    at_on: date | None
    reasons: tuple[str, ...]
    against: tuple[str, ...]
    missing: tuple[str, ...]
    ways: tuple[Way, ...]
    entry: str
    is_law: bool | None
    decides: str
    note: str
    earlier: str
    lifted: str


def shape_of(overhaul: Overhaul) -> str:
    """Return the word whose shape stands for how an engine stands to its interval."""
    word = overhaul.word
    return word if word in (*BY_URGENCY, *OUTCOMES) else UNDETERMINED


def sources_shown(overhaul: Overhaul) -> list[ProvisionShown]:
    """Return what holds for the engine, or may; of extensions those that hold."""
    held = [one for one in overhaul.offers if one.holding is Holding.HOLDS]
    others = [*overhaul.bases, *held, *overhaul.restrictions]
    return [
        _shown(one, overhaul)
        for one in others
        if one.holding is not Holding.DOES_NOT_HOLD
    ]


def offers_shown(overhaul: Overhaul) -> list[ProvisionShown]:
    """Return the extensions on offer, the best outcome first."""
    return [_shown(one, overhaul) for one in overhaul.offers]


def _shown(one: Provided, overhaul: Overhaul) -> ProvisionShown:
    said = one.said
    is_offer, is_held = isinstance(said, Offer), one.holding is Holding.HOLDS
    fixed = said.fixed if isinstance(said, Offer) else ()
    return ProvisionShown(
        provided=one,
        kind=said.kind if isinstance(said, Judged) else "extension",
        word=WORDS[one.holding] if is_offer or not is_held else APPLIES,
        length=length_of(one),
        at_hours=one.ending.hours,
        at_on=one.ending.on,
        reasons=tuple(text for text in said.reasons if text not in fixed),
        against=fixed,
        missing=said.missing,
        ways=_ways(said, overhaul) if isinstance(said, Offer) else (),
        entry=_entry(one, overhaul),
        is_law=overhaul.is_law(said.id),
        decides=_decides(said.id, overhaul),
        note=_note(one, overhaul),
        earlier=earlier_words(one.ending),
        lifted=lifted_words(one) if one in overhaul.restrictions else "",
    )


def _entry(one: Provided, overhaul: Overhaul) -> str:
    """By when it must be entered; where it does not hold, only if that is over."""
    said = one.said
    if not isinstance(said, Offer) or one.holding is Holding.HOLDS:
        return ""
    if one.holding is Holding.DOES_NOT_HOLD and not _is_over(said, overhaul):
        return ""
    return entry_words(one)


def _is_over(offer: Offer, overhaul: Overhaul) -> bool:
    now, last = overhaul.file.core_hours, offer.enter_hours
    by_hours = now is not None and last is not None and now > last
    return by_hours or (offer.enter_on is not None and overhaul.on > offer.enter_on)


def _decides(name: str, overhaul: Overhaul) -> str:
    point = overhaul.found.point
    hours = ["the hours"] if point.from_hours == name else []
    years = ["the years"] if point.from_years == name else []
    return " and ".join([*hours, *years])


def _note(one: Provided, overhaul: Overhaul) -> str:
    """Why a provision that holds, or could, makes no difference, or only some."""
    if not isinstance(one.said, Offer) or one.holding is Holding.DOES_NOT_HOLD:
        return ""
    if one.lengthens:
        return f"It {vain_words(one, overhaul)}" if one.in_vain else ""
    shorter = [
        f"{provision_words(other.rule)} {_holds_words(other)}"
        for other in overhaul.restrictions
        if other.said.id in one.with_it.sources
    ]
    if shorter and overhaul.found.ends.unrestricted(one.said.id):
        return f"It lengthens nothing while {listed(shorter, 'and')}."
    if None in one.gain or one.said.id in overhaul.found.sources:
        return ""
    longer = {offer.id for offer in overhaul.found.point.offers} & one.with_it.sources
    others = [
        provision_words(overhaul.found.by_id[name])
        for name in sorted(longer or one.with_it.sources)
    ]
    verb = "is" if len(others) == 1 else "are"
    return f"It does not decide: {listed(others, 'and')} {verb} as long, or longer."


def _holds_words(restriction: Provided) -> str:
    in_doubt = restriction.holding is Holding.UNDETERMINED
    return "holds, or may hold" if in_doubt else "holds"


def _ways(offer: Offer, overhaul: Overhaul) -> tuple[Way, ...]:
    return tuple(
        Way(
            steps=tuple(_step(step, overhaul) for step in reach.steps),
            man_hours=man_hours_words(reach.man_hours),
        )
        for reach in offer.reach
    )


def _step(step: Step, overhaul: Overhaul) -> StepShown:
    works = overhaul.works
    return StepShown(step_words(step, works), _remedy(step, overhaul.engine, works))


def _remedy(step: Step, engine: Engine, works: Mapping[str, Work]) -> Remedy:
    """Where a step is entered once it is done."""
    work = work_of(step, works)
    if work is not None:
        address = reverse(
            "web:engine-record-done", args=[engine.public_id, work.provision]
        )
        return Remedy(words="Record the work", address=address, right=WORK)
    route, words, right = _ENTERED.get(step.kind, _CHANGED_PART)
    address = reverse(f"web:{route}", args=[engine.public_id])
    return Remedy(words=words, address=address, right=right)


@dataclass(frozen=True, slots=True, kw_only=True)
class Brief:
    """An engine's interval in few words. `end_hours`: TSN, as all hours on pages.

    `shape`: the state whose shape stands before them. `said`: interval, law, longer one.
    `used`: as in "81 % of the hours, 46 % of the years". `earlier`: by what it may end
    earlier than is told.
    """

    overhaul: Overhaul
    shape: str
    said: tuple[str, ...]
    length: str
    end_hours: int | None
    used: str
    earlier: str

    @property
    def by_days(self) -> bool:
        """Whether days say more than hours: years have ended while hours are left."""
        due = self.overhaul.due.due
        hours, days = due.remaining_hours, due.remaining_days
        return days is not None and (hours is None or days < 0 <= hours)

    @property
    def engine(self) -> Engine:
        return self.overhaul.engine

    @property
    def longer(self) -> str:
        """Whether a longer one applies today, in a word; empty where none is offered."""
        if not self.overhaul.offers:
            return ""
        return WORDS[verdict_of(self.overhaul).holding]


def brief_of(overhaul: Overhaul) -> Brief:
    due = overhaul.due.due
    return Brief(
        overhaul=overhaul,
        shape=shape_of(overhaul),
        said=answer_sentences(overhaul),
        length=length_words(overhaul),
        end_hours=due.hours,
        used=_used_words(overhaul),
        earlier=earlier_words(overhaul.now),
    )


def _used_words(found: Overhaul) -> str:
    shares = [(found.due.used, "hours"), (found.due.used_years, "years")]
    said = [
        f"{_percent(share)} of the {of}" for share, of in shares if share is not None
    ]
    return ", ".join(said)


def _percent(share: Fraction) -> str:
    """A share in whole per cent, rounded up: never less used than it is.

    Just under the whole with decimals, so that it is not used up before it is.
    """
    hundredths = -(-share.numerator * 100 // share.denominator)
    words = f"{hundredths} %"
    if share < 1 and hundredths == 100:
        words = percent_words(share)
    return words.replace(" ", NO_BREAK)


def gaps_of(found: Overhaul) -> list[Gap]:
    """Each fact that is missing, with the documents that hang on it."""
    return [
        Gap(
            fact=fact,
            decides=tuple(
                dict.fromkeys(
                    found.found.by_id[one.id].publication.number
                    for one in found.found.judged
                    if fact in one.missing
                )
            )
            or ("the overhaul interval",),
        )
        for fact in found.found.point.missing
    ]


def with_gaps(gaps: Iterable[Gap], overhaul: Overhaul | None) -> tuple[Gap, ...]:
    """Return the facts that findings or the interval lack, each once."""
    decides: dict[str, list[str]] = {}
    for gap in (*gaps, *(() if overhaul is None else gaps_of(overhaul))):
        decides.setdefault(gap.fact, []).extend(gap.decides)
    return tuple(
        Gap(fact=fact, decides=tuple(dict.fromkeys(numbers)))
        for fact, numbers in decides.items()
    )
